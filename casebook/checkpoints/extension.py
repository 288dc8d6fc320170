"""The reach (extension): where the hand is when it has gone forward and is about to tip."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from casebook.checkpoints.answers import near_side
from casebook.checkpoints.arm_reading import (
    ELBOW,
    FINGERTIP,
    SHOULDER,
    WRIST,
    ArmOnShot,
    Reading,
    add_reading,
    arm_on_shot,
)  # fmt: skip
from casebook.checkpoints.arm_stills import metres, reach_px, stills_at
from casebook.checkpoints.catch_words import FAR_ARM
from casebook.checkpoints.parts import SIDE_VIEWS, Sheet, Value
from casebook.checkpoints.result import CheckpointResult
from casebook.plane.geometry import inclination_deg, joint_angle_deg
from casebook.stroke.moment import Moment
from casebook.stroke.points import Unread
from casebook.words import VIEWS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from casebook.checkpoints.arm_stills import Array
    from casebook.checkpoints.bands import Bands
    from casebook.checkpoints.drawing import Still
    from casebook.clip.shot import Shot
    from casebook.marks.events import EventMark
    from casebook.marks.marks import Marks
    from casebook.plane.measured import Measured
    from casebook.plane.plane import Plane

CHECKPOINT = "extension"
READINGS = (
    Reading("reach_depth_m", (FINGERTIP,), lambda p: -p[..., FINGERTIP, 1], scale="m", water=True),
    Reading(
        "reach_slope_deg",
        (SHOULDER, FINGERTIP),
        lambda p: inclination_deg(p[..., SHOULDER, :], p[..., FINGERTIP, :]),
    ),
    Reading(
        "reach_hand_slope_deg", (WRIST, FINGERTIP), lambda p: inclination_deg(p[..., WRIST, :], p[..., FINGERTIP, :])
    ),
    Reading(
        "reach_elbow_deg",
        (SHOULDER, ELBOW, WRIST),
        lambda p: joint_angle_deg(p[..., SHOULDER, :], p[..., ELBOW, :], p[..., WRIST, :]),
        joint=True,
    ),
)
WAIT = "wait_s"
ORDER = (*(r.quantity for r in READINGS), WAIT)
_NO_WAIT = Unread(
    "The entry or the end of the reach is not known.", "Mark every frame from entry on, or set both events."
)
_SLOW = Unread("How much the film was slowed down is not known.", "State the slow motion of the shot.")


def measure_extension(
    shot: Shot,
    marks: Marks,
    plane: Plane,
    *,
    bands: Bands,
    events: Sequence[EventMark] = (),
    arm_length: Measured | None = None,
) -> CheckpointResult:
    """Measure the reach of every marked stroke.

    Parameters
    ----------
    shot : Shot
        From the side, under water or at the water line.
    marks : Marks
        Shoulder, elbow, wrist and fingertip on the still of full reach, or whole tracks.
    plane : Plane
        Depth needs its water line and its scale.
    bands : Bands
    events : sequence of EventMark
    arm_length : Measured, optional
        [m]
    """
    sheet = Sheet(CHECKPOINT, shot, bands)
    near = near_side(shot)
    if shot.view not in SIDE_VIEWS:
        reason = f"The reach is read from the side under water; this is filmed {VIEWS[shot.view]}."
        sheet.missing(ORDER, near, Unread(reason, "Film from the side, under water or at the water line."))
        return CheckpointResult(CHECKPOINT, shot.id, tuple(sheet.results))
    stills: tuple[Still, ...] = ()
    for side in (near, "lr".replace(near, "")):
        arm = arm_on_shot(shot, marks, plane, side, events, arm_length)
        if side != near and not arm.is_marked:
            continue
        reaches = arm.reaches()
        for reading in READINGS:
            add_reading(sheet, arm, reading, reaches, [FAR_ARM] * (side != near))
        _wait(sheet, arm)
        stills += stills_at(arm, reaches, "reach", "Full reach", _lines)
    return CheckpointResult(CHECKPOINT, shot.id, tuple(sheet.results), stills, seen="as seen from the side")


def _wait(sheet: Sheet, arm: ArmOnShot) -> None:
    """Seconds from entry to the end of extension, where both are known and time is real."""
    if not arm.points.real:
        sheet.missing([WAIT], arm.side, _SLOW)
        return
    values = []
    for s in arm.strokes:
        entry, end = s.moment("entry"), s.moment("end_of_extension")
        if isinstance(entry, Moment) and isinstance(end, Moment):
            frames = (round(entry.frame), round(end.frame))
            common = float(np.hypot(entry.shared_s, end.shared_s))
            own = float(np.hypot(entry.own_s, end.own_s))
            values.append(Value(s.number, end.time_s - entry.time_s, own, common, frames, s.stroke_class))
    sheet.add(WAIT, arm.side, values, (len(values), max(len(arm.strokes), len(values))), none=_NO_WAIT)


def _lines(
    level: Array, arm: ArmOnShot
) -> tuple[Sequence[NDArray[np.float64]], Sequence[NDArray[np.float64]], Sequence[tuple[NDArray[np.float64], str]]]:
    """A level line through the shoulder, and the fingertips' depth under the water line where that is drawn."""
    shoulder, tip = level[SHOULDER], level[FINGERTIP]
    length = reach_px(arm, level)
    reference = [np.array([shoulder, [max(tip[0], shoulder[0] + 0.5 * length), shoulder[1]]])]
    if not arm.plane.has_water:
        return reference, [], []
    top = np.array([tip[0], 0.0])
    reference.append(np.array([[shoulder[0], 0.0], [tip[0] + 0.2 * length, 0.0]]))
    return reference, [np.array([top, tip])], [((top + tip) / 2, metres(arm, float(tip[1]), "deep"))]
