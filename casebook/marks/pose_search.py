"""Bodies that the pose model finds in a shot: one look at each frame, more where the first is not believed."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Protocol

import numpy as np

from casebook.marks.pose_body import HIPS, MOST_COST, SHOULDERS, Seen, doubt, middle, oddness, stature, step
from casebook.marks.pose_look import Box, Look, around, looks_for, matrix, places, shown, tiles

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from casebook.clip.shot import Shot

#: A step from the last body that is believed at first sight; see ``pose_body.step``. common practice, no source
EASY_STEP = 0.5
#: A body that the model doubts more is looked for again; see ``pose_body.doubt``: half of the joints in sight.
MOST_DOUBT = 0.5
#: A body that costs less ends the search for the swimmer at once.
PLAIN_COST = 0.25
#: After this long without a body the whole picture is searched. common practice, no source [s]
LOST_S = 0.3
#: Bodies that the next cut-out is taken around.
RECENT = 3
#: How many frames, spread over the shot, are searched for a first body before giving up.
SEEDS = 12


class Sees(Protocol):
    """What shows the model a picture: ``Landmarker``."""

    def see(self, picture: NDArray[np.uint8]) -> NDArray[np.float64]:
        """Landmarks (33, 3): shares of the picture and visibility; NaN if no body was found."""
        ...


@dataclass(slots=True)
class Bodies:
    """What was found on F frames.

    Attributes
    ----------
    found : list of F lists of (33, 3) arrays
        Candidates: x, y [px] and visibility. The first of a frame is the first look's.
    believed : (F,) bool array
        The first look's body was accepted at once.
    looks : (F,) int array
        How often the model was asked.
    size : float
        Stature in the picture; NaN if no body was found. [px]
    """

    found: list[list[NDArray[np.float64]]]
    believed: NDArray[np.bool_]
    looks: NDArray[np.int64]
    size: float = np.nan


@dataclass(slots=True)
class Search:
    """The search over the frames of one shot.

    Parameters
    ----------
    shot : Shot
    frames : (F,) int array, increasing
    model : Sees
    seen : Seen
    dry : callable
        From landmarks (..., 33, 2) on a frame to which of them lie above the water line, (..., 33); None: not known.
    """

    shot: Shot
    frames: NDArray[np.int64]
    model: Sees
    seen: Seen
    dry: Callable[[NDArray[np.float64], int], NDArray[np.bool_] | None]
    bodies: Bodies = field(init=False)
    times: NDArray[np.float64] = field(init=False)
    ways: tuple[Look, ...] = field(init=False)

    def __post_init__(self) -> None:
        n = len(self.frames)
        self.bodies = Bodies([[] for _ in range(n)], np.zeros(n, bool), np.zeros(n, np.int64))
        times = self.shot.times[self.frames]
        self.times = times if np.isfinite(times).all() else self.shot.clip.times[self.frames]
        self.ways = looks_for(self.shot.view)

    def run(self, box: Box | None, count: Callable[[], None]) -> Bodies:
        """All candidates; ``box`` is around the swimmer on the first frame, if the coach has drawn one."""
        start = self._seed(box)
        if start is None:
            for _ in self.frames:
                count()
            return self.bodies
        self._walk(range(start, len(self.frames)), count)
        self._walk(range(start, -1, -1), count)
        self._again()
        return self.bodies

    # ---- finding the swimmer ----------------------------------------------------------------------------------------

    def _seed(self, box: Box | None) -> int | None:
        """The first frame, of some spread over the shot, with a body that is believed."""
        n = len(self.frames)
        for row in dict.fromkeys(np.linspace(0, n - 1, min(n, SEEDS)).astype(int).tolist()):
            body = self._search(row, [box, *tiles(self.shot.clip.size)] if box and row == 0 else None)
            if body is not None:
                self.bodies.size = stature(body[:, :2], self.seen)
                self.bodies.found[row] = [body]
                self.bodies.believed[row] = True
                return int(row)
        return None

    def _search(self, row: int, boxes: Iterable[Box] | None = None) -> NDArray[np.float64] | None:
        """The most plausible body in the parts of a picture, looked at again from close by."""
        best, least = None, MOST_COST
        for box in boxes or tiles(self.shot.clip.size):
            first = self._look(row, box, self.ways[0])
            if not np.isfinite(first[0, 0]) or self._cost(first, row) > 2 * MOST_COST:
                continue
            body = self._look(row, around(first[:, :2]), self.ways[0])
            cost = self._cost(body, row)
            if cost < least:
                best, least = body, cost
            if least < PLAIN_COST:
                break
        return best

    def _cost(self, body: NDArray[np.float64], row: int, size: float | None = None) -> float:
        """Oddness and doubt of a body; infinite if there is none."""
        if not np.isfinite(body[0, 0]):
            return np.inf
        xy = body[:, :2]
        size = stature(xy, self.seen) if size is None else size
        cost = oddness(xy, size, self.seen, self.dry(xy, int(self.frames[row])))
        return float(cost)

    # ---- following him ----------------------------------------------------------------------------------------------

    def _walk(self, rows: range, count: Callable[[], None]) -> None:
        """First looks from frame to frame, each around the bodies of the frames before."""
        bodies = self.bodies
        recent, searched = [rows[0]], self.times[rows[0]]
        if rows.step > 0:
            count()
        for row in rows[1:]:
            body = self._look(row, self._box(recent, row), self.ways[0])
            away = abs(self.times[row] - self.times[recent[-1]])
            if not self._believed(body, row, recent[-1], away) and away > LOST_S < abs(self.times[row] - searched):
                searched = self.times[row]
                other = self._search(row)
                body = body if other is None else other
            bodies.found[row] = [body]
            if self._believed(body, row, recent[-1], away):
                bodies.believed[row] = True
                recent = [*recent, row][-RECENT:]
                held = np.array([b[0][:, :2] for b, ok in zip(bodies.found, bodies.believed, strict=True) if ok])
                bodies.size = stature(held, self.seen)
            count()

    def _believed(self, body: NDArray[np.float64], row: int, last: int, away: float) -> bool:
        if self._cost(body, row, self.bodies.size) >= MOST_COST or doubt(body) > MOST_DOUBT:
            return False
        before = self.bodies.found[last][0][:, :2]
        return away > LOST_S or float(step(before, body[:, :2], away, self.bodies.size)) < EASY_STEP

    def _box(self, recent: list[int], row: int) -> Box:
        """Around the last bodies, moved on as they moved."""
        held = np.array([self.bodies.found[r][0][:, :2] for r in recent])
        trunk = (middle(held, SHOULDERS) + middle(held, HIPS)) / 2
        when, now = self.times[recent], self.times[row]
        speed = (trunk[-1] - trunk[0]) / (when[-1] - when[0]) if len(recent) > 1 else np.zeros(2)
        return around(held + (speed * (now - when)[:, None])[:, None, :])

    # ---- looking again ----------------------------------------------------------------------------------------------

    def _again(self) -> None:
        """All other ways of looking, on the frames whose first body was not believed."""
        good = np.flatnonzero(self.bodies.believed)
        for row in np.flatnonzero(~self.bodies.believed).tolist():
            after = int(np.searchsorted(good, row))
            near = good[max(after - 1, 0) : after + 1]
            weight = np.abs(self.times[near[::-1]] - self.times[row]) + 1e-9
            boxes = np.array([around(self.bodies.found[r][0][:, :2]) for r in near])
            x0, y0, x1, y1 = np.average(boxes, axis=0, weights=weight).tolist()
            self.bodies.found[row] += [self._look(row, (x0, y0, x1, y1), way) for way in self.ways]
            self.bodies.found[row] = [b for b in self.bodies.found[row] if np.isfinite(b[0, 0])]

    def _look(self, row: int, box: Box, look: Look) -> NDArray[np.float64]:
        """The model's body in one cut-out, (33, 3) in places of the picture; NaN if there is none."""
        way = matrix(box, look, self.shot.sign)
        self.bodies.looks[row] += 1
        return places(self.model.see(shown(self.shot.clip.frame(int(self.frames[row])), way)), way)
