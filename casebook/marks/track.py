"""Points followed through the pictures between the coach's own marks.

Each gap between two neighbouring hand or confirmed marks of a point is followed twice, onwards from the first and back
from the second, and both answers are joined by how much each has lost on its way. What both lost sight of stays
unmarked.
"""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from casebook.errors import ClipError
from casebook.marks.agreement import Way, join
from casebook.marks.csvfile import check_points
from casebook.marks.flow import Follower, lengths_for, opencv
from casebook.marks.gaps import Gaps, gaps_between
from casebook.marks.marks import Marks, Origin
from casebook.marks.progress import Tell, counted

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from casebook.clip.clip import Clip
    from casebook.clip.shot import Shot

#: Grey pictures kept between the way on and the way back. [bytes]
HELD_BYTES = 192 * 2**20
#: The pace of a point may differ from the one foretold by its marks by the path's own bend, by ``PACE_SIGMA_PX`` a
#: frame, and by ``BLIND_PX_S`` where marks are ``BLIND_GAP_S`` or more apart: a kick of 2 to 3 Hz goes unnoticed
#: between two such marks. Towards closer marks this last part falls with a high power, for a curve through close marks
#: errs by a high power of their spacing. Without it two thirds of all points were lost at 20 frames between marks, with
#: it two fifths; a power of 2 made errors at 5 and 10 frames a fifth larger (``rowan_side``, ``heron_side``). Both for
#: pictures of 540 lines, growing with them. [px per frame, px/s]
PACE_SIGMA_PX, BLIND_PX_S, BLIND_GAP_S, BLIND_POWER = 0.25, 600.0, 0.35, 6
#: How often within a gap what is known of the pace is forgotten (to 1/e). With 6 in place of 12 errors at 5 and 10
#: frames were some 3 % larger.
FORGOTTEN = 12.0


def track(shot: Shot, marks: Marks, points: Sequence[str] | None = None, tell: Tell | None = None) -> Marks:
    """Follow points between neighbouring marks of the coach.

    Parameters
    ----------
    shot : Shot
    marks : Marks
        Those of origin ``hand`` and ``confirmed`` are followed from; drafted and tracked ones are not looked at.
    points : sequence of str, optional
        All points of ``marks`` unless given.
    tell : callable, optional
        Told how far the work is, ``tell(n, of)``, in place of a bar.

    Returns
    -------
    Marks
        Origin ``tracked``; only frames on which a point was found, NaN where another was lost. Never before a point's
        first mark, after its last, between a mark and a hidden one, or on a frame with a mark. ``sigma_px`` is that of
        one frame; errors along a track hang together.

    Raises
    ------
    CasebookError
        OpenCV does not load, or a point is unknown.
    """
    wanted = tuple(marks.points if points is None else points)
    check_points(wanted)
    # Where slow motion is not known the file's own time is longer, which only makes more of a gap.
    times = shot.times if np.isfinite(shot.times).all() else shot.clip.times
    gaps = gaps_between(marks, wanted, shot.start, shot.stop, times, lengths_for(shot.clip.size[1]))
    out = Marks.empty(wanted, gaps.first + np.arange(len(gaps.open)))
    parts = gaps.stretches()
    if parts:
        _follow_all(shot.clip, gaps, parts, out, tell)
    found = np.isfinite(out.sigma_px)
    out.origin[found] = int(Origin.tracked)
    return _rows(out, np.flatnonzero(found.any(1)))


class GreyPictures:
    """Grey pictures of a clip, the latest kept for the way back: at most ``limit`` bytes of them."""

    def __init__(self, clip: Clip, limit: int = HELD_BYTES) -> None:
        self._clip, self._limit = clip, limit
        self._held: OrderedDict[int, NDArray[np.uint8] | None] = OrderedDict()
        self.held_bytes = 0

    def __call__(self, frame: int) -> NDArray[np.uint8] | None:
        """(H, W) uint8, or None where the file is damaged."""
        if frame not in self._held:
            picture = self._read(frame)
            self._held[frame] = picture
            self.held_bytes += 0 if picture is None else picture.nbytes
            while self.held_bytes > self._limit and len(self._held) > 2:
                _, gone = self._held.popitem(last=False)
                self.held_bytes -= 0 if gone is None else gone.nbytes
        self._held.move_to_end(frame)
        return self._held[frame]

    def _read(self, frame: int) -> NDArray[np.uint8] | None:
        try:
            colour = self._clip.frame(frame)
        except ClipError:
            return None
        cv2 = opencv()
        return cv2.cvtColor(colour, cv2.COLOR_RGB2GRAY)


def pace_of(gaps: Gaps, row: int, unit: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """How far the pace of each point may be off the foretold one [px per frame], and the share of that which lasts."""
    frames = np.maximum(gaps.to_before[row] + gaps.to_after[row], 1)
    blind = np.minimum(gaps.seconds[row] / BLIND_GAP_S, 1) ** BLIND_POWER * BLIND_PX_S * gaps.seconds[row] / frames
    return gaps.bend[row] + unit * (PACE_SIGMA_PX + blind), np.exp(-FORGOTTEN / frames)


def follow(pictures: GreyPictures, gaps: Gaps, part: slice, direction: int, count: Callable[[], None]) -> Way:
    """One way through a stretch: +1 onwards from each mark, -1 back from it. A damaged picture is stepped over."""
    rows = range(part.start, part.stop)[::direction]
    shape = (len(rows), len(gaps.points))
    way = Way(np.full((*shape, 2), np.nan), np.full((*shape, 2, 2), np.nan))
    follower: Follower | None = None
    last = rows[0]
    for row in rows:
        picture = pictures(gaps.first + row)
        count()
        if picture is None:
            continue
        if follower is None:
            follower = Follower(len(gaps.points), picture.shape[0])
        follower.drop(~gaps.open[row])
        move = gaps.path[row] - gaps.path[last]
        seen = follower.step(picture, move, *pace_of(gaps, row, follower.unit), abs(row - last))
        place = row - part.start
        way.xy[place, seen], way.drift[place, seen] = follower.xy[seen], follower.drift[seen]
        held = np.flatnonzero(gaps.held[row])
        if len(held):
            ahead = min(max(row + direction, 0), len(gaps.open) - 1)
            spread, _ = pace_of(gaps, ahead, follower.unit)
            follower.begin(picture, held, gaps.path[row, held], spread[held])
        follower.look(picture)
        last = row
    return way


def _follow_all(clip: Clip, gaps: Gaps, parts: Sequence[slice], out: Marks, tell: Tell | None) -> None:
    """Enter what was found in each stretch into ``out``."""
    unit = lengths_for(clip.size[1])
    total = sum(2 * (part.stop - part.start) for part in parts)
    with counted(total, "tracking", tell) as count:
        for part in parts:
            pictures = GreyPictures(clip)
            on = follow(pictures, gaps, part, +1, count)
            back = follow(pictures, gaps, part, -1, count)
            out.xy[part], out.sigma_px[part] = join(on, back, gaps, part, unit)


def _rows(marks: Marks, keep: NDArray[np.int64]) -> Marks:
    return replace(
        marks,
        frames=marks.frames[keep],
        xy=marks.xy[keep],
        sigma_px=marks.sigma_px[keep],
        origin=marks.origin[keep],
        hidden=marks.hidden[keep],
    )
