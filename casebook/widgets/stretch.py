"""The stretch of frames that an action is meant for, where the coach has marked none: what lies around the frame."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from casebook.marks.marks import Marks, Origin
from casebook.marks.stretches import AUTOMATIC

if TYPE_CHECKING:
    from numpy.typing import NDArray

#: Drafted on each side of the frame where no mark bounds it. [s] own judgement, no source
DRAFT_S = 0.75


def between_own(marks: Marks, points: Sequence[str], frame: int) -> tuple[int, int] | None:
    """First and last frame from the coach's last mark of these points to his next; None without one on each side.

    Of several points the widest such stretch. A mark on the frame itself opens the stretch behind it, or closes the
    one before it where none follows.
    """
    spans = []
    for point in points:
        own = _frames(marks, point, (Origin.hand, Origin.confirmed))
        before, after = own[own <= frame], own[own > frame]
        if len(before) and not len(after) and before[-1] == frame:
            before, after = before[:-1], before[-1:]
        if len(before) and len(after):
            spans.append((int(before[-1]), int(after[0])))
    return (min(a for a, _ in spans), max(b for _, b in spans)) if spans else None


def unseen_run(marks: Marks, points: Sequence[str], frame: int) -> tuple[int, int] | None:
    """The unbroken run around a frame on which any of these points is drafted or tracked; None if there is none."""
    picked = marks.pick(points)
    run = picked.frames[np.isin(picked.origin, [int(o) for o in AUTOMATIC]).any(1)]
    if frame not in run:
        return None
    cuts = np.flatnonzero(np.diff(run) > 1) + 1
    for part in np.split(run, cuts):
        if part[0] <= frame <= part[-1]:
            return int(part[0]), int(part[-1])
    return None


def around(times: NDArray[np.float64], frame: int, start: int, stop: int, reach_s: float = DRAFT_S) -> tuple[int, int]:
    """Frames within ``reach_s`` of a frame, inside ``start`` to ``stop``; both ends included."""
    inside = np.arange(start, stop)
    near = inside[np.abs(times[start:stop] - times[frame]) <= reach_s]
    return int(near[0]), int(near[-1])


def _frames(marks: Marks, point: str, origins: Sequence[Origin]) -> NDArray[np.int64]:
    if point not in marks.points:
        return np.zeros(0, np.int64)
    column = marks.index(point)
    own = np.isin(marks.origin[:, column], [int(o) for o in origins])
    return marks.frames[own]
