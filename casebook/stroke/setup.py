"""The set-ups of one arm, found from its marks: whole tracks or a few key stills alike.

A set-up is the way of the forearm from full reach to straight down, once per stroke. Going through the marked frames in
time, a new stroke begins where the forearm has come back up in front of the swimmer, or after a long gap.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from casebook.stroke.arm import FINGERTIP, NEEDED, SHOULDER, WRIST, Arm
from casebook.stroke.classes import class_of_each
from casebook.stroke.reading import Plan, forearm, motion, plan
from casebook.stroke.search import first_crossing

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from casebook.clip.shot import Shot
    from casebook.marks.events import EventMark
    from casebook.plane.plane import Plane
    from casebook.stroke.reading import State

#: A forearm flatter than this may be reaching. [deg] own judgement, no source
FRONT_DEG = 40.0
#: A new stroke begins where the forearm has come up again by at least this much. [deg] own judgement, no source
BACK_UP_DEG = 25.0
#: The set-up ends here (definition). [deg]
SET_UP_ENDS_DEG = 60.0
#: Marks further apart than this belong to different strokes. [s] own judgement, no source
LONGEST_GAP_S = 1.2
#: A set-up keeps this much before full reach, so that motion there can be told. [s]
LEAD_S = 0.2
#: Marks this close on average are a track, others are key stills. [frames]
TRACK_STEP = 2.0


@dataclass(frozen=True, slots=True, eq=False)
class SetUp:
    """One stroke's set-up.

    Attributes
    ----------
    number : int
        Strokes of this arm that count are numbered from 1 by time.
    side, stroke_class : str
    arm : Arm
        The marks from shortly before full reach on.
    moving : (K, 3, 4, 2) float array
        Value, velocity, half acceleration of the four points along a track, NaN for key stills. [px], [px/s], [px/s^2]
    begins : float
        Clock of full reach; nothing is looked for earlier. [s]
    level : (K, 6, 2) float array [px]
        The same marks, x along the swim direction, z up.
    dense : bool
        A track, every frame or every other one; otherwise key stills.
    """

    number: int
    side: str
    stroke_class: str
    arm: Arm
    level: NDArray[np.float64]
    moving: NDArray[np.float64]
    begins: float
    dense: bool
    plans: dict[tuple[State, float], Plan | None] = field(default_factory=dict, repr=False)

    @property
    def frames(self) -> tuple[int, ...]:
        """Marked frames from shortly before full reach on."""
        return tuple(int(f) for f in self.arm.frames)

    def plan(self, state: State, target: float) -> Plan | None:
        """How to read this set-up where a state first reaches a target and stays beyond; each is worked out once."""
        key = (state, target)
        if key not in self.plans:
            self.plans[key] = plan(self.arm, self.level, self.moving, state, target, self.begins)
        return self.plans[key]


def set_ups(shot: Shot, arm: Arm, plane: Plane, events: Sequence[EventMark] = ()) -> tuple[SetUp, ...]:
    """The strokes of an arm whose whole set-up lies inside the shot, in time order."""
    level = plane.level(arm.xy)
    moving = motion(arm, level)
    steady = _steady(level, moving)
    slope = forearm(steady)
    found = []
    for rows in _passages(arm, steady, slope):
        reach = _full_reach(shot, arm, steady, slope, rows)
        if reach is not None:
            kept = rows[arm.clock[rows] >= arm.clock[reach] - LEAD_S]
            dense = _dense(arm, kept)
            begins = float(arm.clock[reach])
            found.append(SetUp(0, arm.side, "none", arm.part(kept), level[kept], moving[kept], begins, dense))
    spans = [(float(s.arm.frames[0]), float(s.arm.frames[-1])) for s in found]
    classes = class_of_each(spans, arm.step, arm.side, events)
    return tuple(replace(s, number=i, stroke_class=c) for i, (s, c) in enumerate(zip(found, classes, strict=True), 1))


def _steady(level: NDArray[np.float64], moving: NDArray[np.float64]) -> NDArray[np.float64]:
    """The four points at every row, from neighbouring frames where a track has them. (K, 4, 2) [px]"""
    fitted = np.asarray(np.isfinite(moving[:, 0]).all((-1, -2)))
    return np.where(fitted[:, None, None], moving[:, 0], level[:, :NEEDED])


def _passages(arm: Arm, steady: NDArray[np.float64], slope: NDArray[np.float64]) -> list[NDArray[np.int64]]:
    """Rows of each stroke: cut where the forearm is in front again, and at long gaps."""
    ahead = steady[:, WRIST, 0] - steady[:, SHOULDER, 0]
    cuts, highest = [0], -np.inf
    for k in range(len(slope)):
        gap = arm.real and k > 0 and arm.clock[k] - arm.clock[k - 1] > LONGEST_GAP_S
        front = slope[k] < min(FRONT_DEG, highest - BACK_UP_DEG) and not ahead[k] < 0
        if gap or front:
            cuts.append(k)
            highest = -np.inf
        if np.isfinite(slope[k]):
            highest = max(highest, float(slope[k]))
    cuts.append(len(slope))
    return [np.arange(a, b) for a, b in pairwise(cuts) if b > a]


def _full_reach(
    shot: Shot, arm: Arm, steady: NDArray[np.float64], slope: NDArray[np.float64], rows: NDArray[np.int64]
) -> int | None:
    """The row of full reach, or None where this is no set-up or not all of it lies in the shot."""
    known = rows[np.isfinite(slope[rows])]
    if len(known) < 2 or slope[known].min() >= SET_UP_ENDS_DEG:
        return None
    dense = _dense(arm, known)
    if not dense:
        rising = np.argmax(slope[known]) > np.argmin(slope[known])
        return int(rows[0]) if rising and slope[known].max() >= FRONT_DEG else None
    down = first_crossing(slope[known] - SET_UP_ENDS_DEG, hold=2)
    if not np.isfinite(down):
        return None
    front = known[: int(np.floor(down)) + 1]
    far = steady[front, FINGERTIP, 0] - steady[front, SHOULDER, 0]
    if not np.isfinite(far).any():
        far = steady[front, WRIST, 0] - steady[front, SHOULDER, 0]
    reach = int(np.nanargmax(far)) if np.isfinite(far).any() else 0
    cut_off = reach == 0 and arm.frames[front[0]] <= shot.start + 1
    ends_early = arm.frames[rows[-1]] >= shot.stop - 2 and np.nanmax(slope[known]) < 90
    return None if cut_off or ends_early else int(front[reach])


def _dense(arm: Arm, rows: NDArray[np.int64]) -> bool:
    if len(rows) < 5:
        return False
    return bool(np.median(np.diff(arm.clock[rows])) <= TRACK_STEP * arm.step * 1.01)
