"""What kind each stroke is where the coach has not said: breaths that the face shows, strokes close to a wall.

The strokes just after the push-off and just before the wall are not the swimmer's stroke, and are kept apart. Where
they are follows from where the swimmer was in the first picture, by the conventions of race analysis.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from casebook.checkpoints.answers import near_side
from casebook.marks.events import EventMark
from casebook.marks.marks import Origin
from casebook.stroke.cycle_edges import with_breaths
from casebook.stroke.lengths import AFTER_TURN_M, BEFORE_TURN_M, START_M, UNITS
from casebook.stroke.speed import HipPath, hip_path
from casebook.stroke.strokes import strokes_of

if TYPE_CHECKING:
    from casebook.clip.shot import Shot
    from casebook.marks.marks import Marks
    from casebook.plane.plane import Plane


def told_events(
    shot: Shot, marks: Marks, plane: Plane, events: Sequence[EventMark], from_wall_m: float | None, *, dive: bool
) -> list[EventMark]:
    """The coach's events with the classes of strokes that marks and place tell; the coach's own go before those.

    Parameters
    ----------
    from_wall_m : float or None
        Where the hip is in the first picture that it is marked on, counted from the wall pushed off from. [m]
    dive : bool
        The length began with a start from the block: it counts as start for longer than a push-off.
    """
    out = list(with_breaths(shot, marks, plane, events))
    return out if from_wall_m is None else [*_by_the_wall(shot, marks, plane, out, from_wall_m, dive=dive), *out]


def _by_the_wall(
    shot: Shot, marks: Marks, plane: Plane, events: Sequence[EventMark], from_wall_m: float, *, dive: bool
) -> list[EventMark]:
    """A class for every stroke outside clean swimming; none where the way through the pool is not seen."""
    near = near_side(shot)
    path, pool_m = hip_path(shot, marks, plane, near) if near else None, _pool_m(shot)
    if not isinstance(path, HipPath) or pool_m is None:
        return []
    out = []
    for side in "lr":
        for stroke in strokes_of(shot, marks, plane, side, events):
            frame = float(np.mean([m.frame for m in stroke.found]))
            place = from_wall_m + float(np.interp(frame, path.frames, path.x) - path.x[0])
            if place < (START_M if dive else AFTER_TURN_M):
                out.append(EventMark("stroke_class", side, frame, "after_push_off", Origin.tracked))
            elif place > pool_m - BEFORE_TURN_M:
                out.append(EventMark("stroke_class", side, frame, "before_wall", Origin.tracked))
    return out


def _pool_m(shot: Shot) -> float | None:
    """Length of the pool that the swim was in, None where it is none. [m]"""
    number, _, unit = (shot.swim.place if shot.swim else "").partition(" ")
    return float(number) * UNITS[unit] if unit in UNITS else None
