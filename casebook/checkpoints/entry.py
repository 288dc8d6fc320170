"""The entry: fingertips first, in front of the shoulder, elbow above the hand; from head-on beside the midline."""

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
from casebook.checkpoints.arm_stills import reach_px, share, stills_at
from casebook.checkpoints.catch_words import FAR_ARM
from casebook.checkpoints.midline import ENTRY, FRONT_VIEWS, RAILS, entry_beside_midline
from casebook.checkpoints.parts import Sheet, spoilt
from casebook.checkpoints.result import CheckpointResult
from casebook.plane.geometry import inclination_deg
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

CHECKPOINT = "entry"
SIDE_VIEWS = ("side_split", "side_above", "side_under")
SPOILT = {"paddles": "Paddles steer the entry."}
READINGS = (
    Reading(
        "entry_ahead_pct",
        (SHOULDER, FINGERTIP),
        lambda p: p[..., FINGERTIP, 0] - p[..., SHOULDER, 0],
        scale="arm",
        air=True,
    ),
    Reading(
        "entry_hand_slope_deg", (WRIST, FINGERTIP), lambda p: inclination_deg(p[..., WRIST, :], p[..., FINGERTIP, :])
    ),
    Reading("entry_arm_slope_deg", (ELBOW, WRIST), lambda p: inclination_deg(p[..., ELBOW, :], p[..., WRIST, :])),
)
ORDER = (*(r.quantity for r in READINGS), *ENTRY, RAILS)


def measure_entry(
    shot: Shot,
    marks: Marks,
    plane: Plane,
    *,
    bands: Bands,
    events: Sequence[EventMark] = (),
    arm_length: Measured | None = None,
    distance: Measured | None = None,
) -> CheckpointResult:
    """Measure the entry of every marked stroke.

    Parameters
    ----------
    shot : Shot
        From the side, best with the camera at the water line or over it: slopes and reach. Head-on: beside the midline.
    marks : Marks
        Shoulder, elbow, wrist and fingertip around the frame of entry; both shoulders too in a head-on view.
    plane : Plane
        Its water line says when the hand enters, unless the coach has set the entries.
    bands : Bands
    events : sequence of EventMark
    arm_length : Measured, optional
        [m]
    distance : Measured, optional
        Camera to the swimmer's shoulders in a head-on view. [m]
    """
    sheet = Sheet(CHECKPOINT, shot, bands)
    stills: tuple[Still, ...] = ()
    if kit := spoilt(shot, SPOILT):
        sheet.missing(ORDER, near_side(shot), kit)
        return CheckpointResult(CHECKPOINT, shot.id, tuple(sheet.results))
    if shot.view in FRONT_VIEWS:
        stills += entry_beside_midline(sheet, shot, marks, plane, events, distance)
        return CheckpointResult(CHECKPOINT, shot.id, tuple(sheet.results), stills, seen="as seen from the front")
    if shot.view not in SIDE_VIEWS:
        reason = f"The entry is read from the side or head-on; this is filmed {VIEWS[shot.view]}."
        sheet.missing(ORDER, "", Unread(reason, "Film from the side with the camera at the water line, or head-on."))
        return CheckpointResult(CHECKPOINT, shot.id, tuple(sheet.results))
    near = near_side(shot)
    for side in (near, "lr".replace(near, "")):
        arm = arm_on_shot(shot, marks, plane, side, events, arm_length)
        if side != near and not arm.is_marked:
            continue
        at = arm.occasions("entry")
        for reading in READINGS:
            add_reading(sheet, arm, reading, at, [FAR_ARM] * (side != near))
        stills += stills_at(arm, at, "entry", "Fingertips just in", _lines)
    return CheckpointResult(CHECKPOINT, shot.id, tuple(sheet.results), stills, seen="as seen from the side")


def _lines(
    level: Array, arm: ArmOnShot
) -> tuple[Sequence[NDArray[np.float64]], Sequence[NDArray[np.float64]], Sequence[tuple[NDArray[np.float64], str]]]:
    """The water line, a plumb line from the shoulder, and how far ahead of it the hand goes in."""
    shoulder, tip = level[SHOULDER], level[FINGERTIP]
    length = reach_px(arm, level)
    foot = np.array([shoulder[0], tip[1]])
    water = np.array([[tip[0] - length, 0.0], [tip[0] + 0.4 * length, 0.0]])
    labels = [((foot + tip) / 2, share(arm, float(tip[0] - shoulder[0]), "ahead", "behind"))]
    return ([water] if arm.plane.has_water else []) + [np.array([shoulder, foot])], [np.array([foot, tip])], labels
