"""Marking the same pictures again, blind: which frames, in what order, and what each round said.

On disk ``<shot>.repeat.csv`` beside the marks, one row per frame and point of each round: ``frame``, ``point``,
``round`` (from 1), ``by`` (initials), ``x_px``, ``y_px``. Empty coordinates say that the point was looked for and not
seen; a point not marked yet has no row. The first round are the marks that the shot already held when the frames were
drawn; it fixes the frames, in the order drawn, and the points.
"""

from __future__ import annotations

import zlib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from casebook.errors import MarksError
from casebook.marks.csvfile import POINT_CODES, check_points
from casebook.marks.lock import WriteLock
from casebook.marks.marks import HAND_SIGMA_PX, Marks, Origin
from casebook.marks.points import POINTS
from casebook.marks.table import check_initials, read_table, write_table

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from casebook.clip.shot import Shot
    from casebook.marks.cells import Table

COLUMNS = ("frame", "point", "round", "by", "x_px", "y_px")
ENDING = ".repeat.csv"
#: Frames of a study unless said otherwise: with five points the error of a coach is then known to within 9 %.
N_FRAMES = 24


@dataclass(frozen=True, slots=True, eq=False)
class Round:
    """What one coach marked in one go.

    Attributes
    ----------
    by : str
        Initials.
    number : int
        From 1, each coach's own count.
    xy : (F, P, 2) float array
        In the order of the plan's frames and points; NaN where not marked or not to be seen. [px]
    hidden : (F, P) bool array
        Looked for and not to be seen.
    """

    by: str
    number: int
    xy: NDArray[np.float64]
    hidden: NDArray[np.bool_]

    @property
    def key(self) -> tuple[str, int]:
        return self.by, self.number


@dataclass(frozen=True, slots=True, eq=False)
class RepeatPlan:
    """The frames to mark again and the rounds so far; without frames where too few are marked to draw from.

    ``frames`` (F,) int array stands in the order drawn, which is no order of time; ``rounds`` are in the order in which
    they were begun.
    """

    shot: str
    points: tuple[str, ...]
    frames: NDArray[np.int64]
    rounds: tuple[Round, ...]

    @classmethod
    def empty(cls, shot: str, points: Sequence[str]) -> RepeatPlan:
        """Nothing to draw from yet."""
        return cls(shot, tuple(points), np.zeros(0, np.int64), ())

    @property
    def coaches(self) -> tuple[str, ...]:
        """Initials of those who marked, in the order of their first rounds."""
        return tuple(dict.fromkeys(r.by for r in self.rounds))

    def of(self, by: str) -> tuple[Round, ...]:
        """All rounds of one coach."""
        return tuple(r for r in self.rounds if r.by == by)

    def round(self, by: str, number: int) -> Round:
        """One round; an empty one if it was not begun."""
        found = next((r for r in self.rounds if r.key == (by, number)), None)
        if found is not None:
            return found
        f, p = len(self.frames), len(self.points)
        return Round(by, number, np.full((f, p, 2), np.nan), np.zeros((f, p), bool))

    def next_number(self, by: str) -> int:
        """Number of the round that a coach would do now: the one begun and not finished, else a new one."""
        own = self.of(by)
        unfinished = [r.number for r in own if r.key != self.rounds[0].key and self.left(r)]
        return unfinished[0] if unfinished else max((r.number for r in own), default=0) + 1

    def left(self, done: Round) -> int:
        """How many points of a round are neither placed nor said to be hidden."""
        return int((~(np.isfinite(done.xy[..., 0]) | done.hidden)).sum())

    def with_round(self, done: Round) -> RepeatPlan:
        """The same with one round put in, in place of an earlier state of it."""
        check_initials(done.by)
        if done.xy.shape != (len(self.frames), len(self.points), 2) or done.hidden.shape != done.xy.shape[:2]:
            raise MarksError(
                f"A round of shape {done.xy.shape} does not fit {len(self.frames)} frames and {len(self.points)} "
                "points."
            )
        if done.number < 1:
            raise MarksError(f"There is no round {done.number}.", "Rounds count from 1.")
        there = [r.key for r in self.rounds]
        if done.key not in there:
            return replace(self, rounds=(*self.rounds, done))
        return replace(self, rounds=tuple(done if r.key == done.key else r for r in self.rounds))

    def text(self) -> str:
        """Which points, how many frames, and how far each round is."""
        f, p = len(self.frames), len(self.points)
        if not f:
            return f"No pictures yet: mark {', '.join(self.points)} by hand in {self.shot}, on twenty pictures or so."
        lines = [f"{f} pictures of {self.shot}, on each: {', '.join(self.points)}. A round is {f * p} points."]
        for done in self.rounds:
            left = self.left(done)
            lines.append(f"  {done.by or 'coach'}, round {done.number}: {f'{left} still to mark' if left else 'done'}")
        return "\n".join(lines)

    def order(self, by: str, number: int) -> NDArray[np.int64]:
        """Rows of ``frames`` in the order of showing, shuffled anew for every round and always the same for one."""
        key = (zlib.crc32(by.encode()), number, *self.frames.tolist())
        return np.random.default_rng(key).permutation(len(self.frames))

    def marks(self, done: Round, sigma_px: float = HAND_SIGMA_PX) -> Marks:
        """A round as marks by hand of the shot, frames increasing."""
        rows = np.argsort(self.frames)
        marks = Marks.from_arrays(self.points, self.frames[rows], done.xy[rows], sigma_px)
        marks.hidden[:] = done.hidden[rows]
        marks.origin[marks.hidden] = int(Origin.hand)
        return marks


def plan_repeat(
    marks: Marks,
    shot: Shot,
    points: Sequence[str],
    n_frames: int = N_FRAMES,
    seed: int = 0,
    *,
    by: str = "",
    keep: Sequence[int] = (),
) -> RepeatPlan:
    """Draw frames to mark again.

    Only frames count on which all ``points`` were placed or said to be hidden by hand: what a machine placed says
    nothing about a coach. They are put in the order of the stroke's moments, by the direction from shoulder to hand
    where both are marked and by time elsewhere, cut into parts of the same size, and one is drawn from each.

    Parameters
    ----------
    marks : Marks
        What the coach has marked so far; becomes round 1.
    shot : Shot
    points : sequence of str
    n_frames : int
        With fewer frames to draw from, all are taken.
    seed : int
        The same draw for the same seed.
    by : str
        Initials of who marked.
    keep : sequence of int
        Frames that must be among them if they can be drawn, such as a checkpoint's key pictures.

    Raises
    ------
    MarksError
        Fewer than two frames can be drawn.
    """
    check_points(list(points))
    check_initials(by)
    own = marks.pick(tuple(points), shot.frames)
    by_hand = (own.origin == Origin.hand) & (np.isfinite(own.xy[..., 0]) | own.hidden)
    rows = np.flatnonzero(by_hand.all(1) & np.isfinite(own.xy[..., 0]).any(1))
    if len(rows) < 2 or n_frames < 2 or not points:
        raise MarksError(
            f"{shot.id} has {len(rows)} frames on which all of {', '.join(points) or 'no points'} are marked by hand.",
            "Mark them on two frames at least, better on twenty; what was tracked or drafted does not count.",
        )
    rng = np.random.default_rng(seed)
    must = rows[np.isin(own.frames[rows], np.asarray(keep, np.int64))]
    free = rows[~np.isin(rows, must)]
    free = free[np.argsort(_moments(marks.pick(marks.points, shot.frames))[free], kind="stable")]
    parts = np.array_split(free, max(min(n_frames - len(must), len(free)), 0)) if n_frames > len(must) else []
    drawn = [int(rng.choice(part)) for part in parts if len(part)]
    chosen = rng.permutation(np.concatenate([must, np.array(drawn, np.int64)]))
    first = Round(by, 1, own.xy[chosen].copy(), own.hidden[chosen].copy())
    return RepeatPlan(shot.id, tuple(points), own.frames[chosen], (first,))


def read_repeat(path: Path | str) -> RepeatPlan:
    """Plan and rounds of one shot; raises MarksError naming line, column and what to do."""
    path = Path(path)
    table = read_table(path, COLUMNS)
    frame, number = table.whole("frame"), table.whole("round")
    point, by = table.coded("point", POINT_CODES), list(table.columns["by"])
    xy = np.stack([table.floats("x_px", blank=True), table.floats("y_px", blank=True)], -1)
    _check_rows(table, frame, number, by, xy)
    frames, points = list(dict.fromkeys(frame.tolist())), list(dict.fromkeys(point.tolist()))
    row, column = {f: i for i, f in enumerate(frames)}, {p: i for i, p in enumerate(points)}
    rounds: dict[tuple[str, int], Round] = {}
    plan = RepeatPlan(path.name.removesuffix(ENDING), tuple(POINTS[p] for p in points), np.array(frames, np.int64), ())
    taken: set[tuple[str, int, int, int]] = set()
    for i in range(len(table)):
        key = (by[i], int(number[i]))
        cell = row[int(frame[i])], column[int(point[i])]
        if (*key, *cell) in taken:
            table.fail(i, "point", "this point of this frame and round stands here a second time.")
        taken.add((*key, *cell))
        one = rounds.setdefault(key, plan.round(*key))
        one.xy[cell], one.hidden[cell] = xy[i], np.isnan(xy[i, 0])
    return replace(plan, rounds=tuple(rounds.values()))


def write_repeat(path: Path | str, plan: RepeatPlan) -> None:
    """Replace the file in one step."""
    write_table(path, COLUMNS, _rows(plan))


def keep_round(path: Path | str, done: Round) -> RepeatPlan:
    """Put one round into the file as it then is on disk, whoever wrote to it meanwhile; returns what it holds now."""
    path = Path(path)
    with WriteLock(path).held():
        plan = read_repeat(path).with_round(done)
        write_repeat(path, plan)
    return plan


def _rows(plan: RepeatPlan) -> Iterator[tuple[object, ...]]:
    for done in plan.rounds:
        for i, frame in enumerate(plan.frames.tolist()):
            for j, point in enumerate(plan.points):
                x, y = done.xy[i, j].tolist()
                if x == x:
                    yield frame, point, done.number, done.by, x, y
                elif done.hidden[i, j]:
                    yield frame, point, done.number, done.by, "", ""


def _check_rows(
    table: Table, frame: NDArray[np.int64], number: NDArray[np.int64], by: list[str], xy: NDArray[np.float64]
) -> None:
    if not len(table):
        raise MarksError(f"{table.path.name} holds no round.", "Draw the frames anew.", path=table.path)
    for i in np.flatnonzero(frame < 0)[:1]:
        table.fail(int(i), "frame", "frames count from 0.")
    for i in np.flatnonzero(number < 1)[:1]:
        table.fail(int(i), "round", "rounds count from 1.")
    for i in np.flatnonzero(np.isnan(xy[:, 0]) != np.isnan(xy[:, 1]))[:1]:
        table.fail(int(i), "x_px", "one coordinate of two is missing.")
    for i, initials in enumerate(by):
        with table.cell(i, "by"):
            check_initials(initials)


def _moments(marks: Marks) -> NDArray[np.float64]:
    """What to put frames in order by: the hand's direction from its shoulder where both are marked, else time."""
    best = np.full(len(marks.frames), np.nan)
    for side in "rl":
        for hand in (f"fingertip_{side}", f"wrist_{side}"):
            xy = marks.pick((f"shoulder_{side}", hand)).xy
            d = xy[:, 1] - xy[:, 0]
            turn = np.arctan2(d[:, 1], d[:, 0])
            if np.isfinite(turn).sum() > np.isfinite(best).sum():
                best = turn
    return np.where(np.isfinite(best), best, 10.0 + np.arange(len(best)))
