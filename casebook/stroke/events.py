"""Events of one stroke: rules that give a state, and the one search that finds where it changes.

``past_body`` and ``catch`` are two events: the wrist turns backward against the shoulder, and against the water. They
are never pooled; the first came about 0.2 s earlier in a study with known truth.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from casebook.stroke.arm import WRIST
from casebook.stroke.moment import COACH, Moment, NoMoment, half_frame, moment_at
from casebook.stroke.onset import DOWNWARD_ARMS_PER_S, MOTIONS, Motion
from casebook.stroke.reading import forearm, read, shoulder_to_wrist

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from casebook.clip.shot import Shot
    from casebook.marks.events import EventMark
    from casebook.stroke.arm import Arm
    from casebook.stroke.setup import SetUp

    Array: TypeAlias = NDArray[np.float64]
    #: Picture places (K, 2) and frames (K,) -> x along the swim direction, fixed to the pool. (K,) [px]
    PoolX: TypeAlias = Callable[[Array, NDArray[np.int64]], Array]

#: Events read from the arm's shape, and the state and value that define them. [deg]
SHAPES: dict[str, tuple[Callable[[Array], Array], float]] = {
    "forearm_45": (forearm, 45.0),
    "forearm_60": (forearm, 60.0),
    "forearm_90": (forearm, 90.0),
    "shoulder": (shoulder_to_wrist, 90.0),
}
#: A track of fewer frames shows no motion.
LEAST_TRACK = 5


def stroke_events(
    shot: Shot,
    stroke: SetUp,
    arm_px: float,
    marks: Sequence[EventMark] = (),
    pool_x: PoolX | None = None,
) -> tuple[Moment | NoMoment, ...]:
    """The events of one set-up in the order end of extension, past body, catch, forearm 45, 60, 90, shoulder.

    Parameters
    ----------
    shot : Shot
    stroke : SetUp
    arm_px : float
        Length of the arm in the picture, NaN if not known. [px]
    marks : sequence of EventMark
        An event set by the coach inside this stroke takes the place of the one that would be found.
    pool_x : callable, optional
        Where the camera moves and its background is tracked: picture places (K, 2) and frames (K,) -> x along the swim
        direction, fixed to the pool (K,), such as ``Plane.pool_x``. [px]
    """
    rows = np.flatnonzero(np.isfinite(stroke.moving[:, 0]).all((-1, -2)))
    motion = None
    if stroke.dense and len(rows) >= LEAST_TRACK:
        arm = stroke.arm.part(rows)
        motion = Motion(arm, stroke.level[rows], pool_x(arm.xy[:, WRIST], arm.frames) if pool_x else None)
    return tuple(
        _by_coach(shot, stroke, name, marks)
        or (_motion(shot, stroke, motion, name, arm_px, pool_x) if name in MOTIONS else _shape(stroke, name))
        for name in (*MOTIONS, *SHAPES)
    )


def _by_coach(shot: Shot, stroke: SetUp, name: str, marks: Sequence[EventMark]) -> Moment | None:
    first, last = stroke.frames[0], stroke.frames[-1]
    for mark in marks:
        if mark.event == name and mark.side in ("", stroke.side) and first <= mark.frame <= last:
            return moment_at(shot.times, name, stroke.side, mark.frame, COACH)
    return None


def _motion(
    shot: Shot, stroke: SetUp, motion: Motion | None, name: str, arm_px: float, pool_x: PoolX | None
) -> Moment | NoMoment:
    if name == "catch" and pool_x is None and (why := no_water(shot)):
        return NoMoment(name, stroke.side, *why)
    if motion is None:
        reason = "Only key stills are marked, and a motion starts between them."
        remedy = f"Mark every frame from {stroke.frames[0]} to {stroke.frames[-1]}."
        return NoMoment(name, stroke.side, reason, remedy)
    down = name == "end_of_extension"
    slow = DOWNWARD_ARMS_PER_S * arm_px if down and np.isfinite(arm_px) else 0.0
    end = _shape(stroke, "forearm_45" if down else "shoulder")
    last = len(motion.arm.frames) - 1
    if isinstance(end, Moment):
        last = min(last, int(np.searchsorted(motion.arm.frames, end.frame)))
    start = motion.onsets(name, np.array([0]), np.array([last]), slow)
    if not np.isfinite(start.row[0]):
        return NoMoment(name, stroke.side, "The motion does not start in the marked frames.")
    return on_row(motion.arm, name, float(start.row[0]), float(start.sigma_s[0]))


def no_water(shot: Shot) -> tuple[str, str] | None:
    """Why the hand cannot be seen against the water, or None where it can."""
    if shot.camera != "still":
        return (
            "The camera moves, so the hand cannot be seen against the water.",
            "Film with a camera that stands still; the hand passing the body is measured instead.",
        )
    if shot.swim is not None and shot.swim.place == "flume":
        return (
            "In a flume the water moves past the picture.",
            "The hand passing the body is measured instead.",
        )
    return None


def _shape(stroke: SetUp, name: str) -> Moment | NoMoment:
    state, value = SHAPES[name]
    how = stroke.plan(state, value)
    if how is None:
        reason = "The marked frames do not enclose it."
        return NoMoment(
            name, stroke.side, reason, "Mark shoulder, elbow, wrist and fingertip just before and just after."
        )
    clock = float(read(how, stroke.level[how.rows])[1])
    arm = stroke.arm.part(stroke.arm.complete)
    return on_row(arm, name, float(np.interp(clock, arm.clock, np.arange(len(arm.clock)))), 0.0)


def on_row(arm: Arm, name: str, row: float, sigma_s: float) -> Moment:
    """A moment at a fractional row of an arm's marks, as unsure as ``sigma_s`` and half a step of them at least."""
    along = np.arange(len(arm.frames))
    near = np.unique(np.clip([np.floor(row), np.ceil(row)], 0, len(along) - 1).astype(int))
    return Moment(
        name,
        arm.side,
        float(np.interp(row, along, arm.times)),
        max(half_frame(arm.times, row), sigma_s),
        float(np.interp(row, along, arm.frames)),
        tuple(int(f) for f in arm.frames[near]),
    )
