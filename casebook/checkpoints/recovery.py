"""Exit and recovery: where the hand leaves the water, and the arm on its way forward over it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from casebook.checkpoints.answers import near_side
from casebook.checkpoints.arm_reading import (
    ELBOW,
    HIP,
    SHOULDER,
    WRIST,
    ArmOnShot,
    Occasion,
    Reading,
    add_reading,
    arm_on_shot,
)  # fmt: skip
from casebook.checkpoints.arm_stills import share, stills_at
from casebook.checkpoints.catch_words import FAR_ARM
from casebook.checkpoints.parts import Sheet
from casebook.checkpoints.result import CheckpointResult
from casebook.stroke.moment import Moment, NoMoment, moment_at
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
    from casebook.stroke.strokes import Stroke

CHECKPOINT = "recovery"
EXIT = Reading("exit_past_hip_pct", (WRIST, HIP), lambda p: p[..., HIP, 0] - p[..., WRIST, 0], scale="arm")
ELBOW_OVER = Reading(
    "recovery_elbow_over_pct", (ELBOW, WRIST), lambda p: p[..., ELBOW, 1] - p[..., WRIST, 1], scale="arm", air=True
)
SIDE_VIEWS = ("side_under", "side_split", "side_above")
ORDER = (EXIT.quantity, ELBOW_OVER.quantity)
STYLE = "A high elbow or a straight arm over the water is a style and no fault."
_HIDDEN = Unread(
    "From under water the arm over the surface is not seen.", "Film at the water line, or over water from the side."
)


def measure_recovery(
    shot: Shot,
    marks: Marks,
    plane: Plane,
    *,
    bands: Bands,
    events: Sequence[EventMark] = (),
    arm_length: Measured | None = None,
) -> CheckpointResult:
    """Measure exit and recovery of every marked stroke.

    Parameters
    ----------
    shot : Shot
        From the side: the exit under water or at the water line, the arm over the water at the line or over it.
    marks : Marks
        Wrist and hip around the exit; shoulder, elbow and wrist over the water.
    plane : Plane
        Its water line says when the hand leaves, unless the coach has set the exits.
    bands : Bands
    events : sequence of EventMark
    arm_length : Measured, optional
        [m]
    """
    sheet = Sheet(CHECKPOINT, shot, bands)
    near = near_side(shot)
    if shot.view not in SIDE_VIEWS:
        reason = f"Exit and recovery are measured from the side; this is filmed {VIEWS[shot.view]}."
        remedy = "The swing of the arms is judged by eye here; film from the side for numbers."
        sheet.missing(ORDER, near, Unread(reason, remedy))
        return CheckpointResult(CHECKPOINT, shot.id, tuple(sheet.results))
    stills: tuple[Still, ...] = ()
    for side in (near, "lr".replace(near, "")):
        arm = arm_on_shot(shot, marks, plane, side, events, arm_length)
        if side != near and not arm.is_marked:
            continue
        notes = [FAR_ARM] * (side != near)
        exits = arm.occasions("exit")
        add_reading(sheet, arm, EXIT, exits, notes)
        stills += stills_at(arm, exits, "exit", "Hand leaving the water", _exit)
        if shot.view == "side_under":
            sheet.missing([ELBOW_OVER.quantity], side, _HIDDEN)
            continue
        over = [Occasion(s.number, s.stroke_class, _over(arm, s)) for s in arm.strokes]
        over = [o for o in over if isinstance(o.moment, Moment)] or over
        add_reading(sheet, arm, ELBOW_OVER, over, [*notes, STYLE])
        stills += stills_at(arm, over, "over", "Hand passing the shoulder over the water", _nothing)
    return CheckpointResult(CHECKPOINT, shot.id, tuple(sheet.results), stills, seen="as seen from the side")


def _over(arm: ArmOnShot, stroke: Stroke) -> Moment | NoMoment:
    """When the wrist passes the shoulder on its way forward over the water, after the exit."""
    start = stroke.moment("exit")
    end = stroke.next_entry
    lost = NoMoment(
        "over",
        arm.side,
        "The arm is not marked while it passes the shoulder over the water.",
        "Mark shoulder, elbow and wrist on every frame from exit to the next entry.",
    )
    if not isinstance(start, Moment):
        return lost
    frames = arm.points.frames
    last = end.frame if isinstance(end, Moment) else start.frame + 1.5 / arm.points.step
    rows = np.flatnonzero((frames >= start.frame) & (frames <= last))
    ahead = arm.track.at[rows, WRIST, 0] - arm.track.at[rows, SHOULDER, 0]
    rows, ahead = rows[np.isfinite(ahead)], ahead[np.isfinite(ahead)]
    passed = np.flatnonzero((ahead[:-1] < 0) & (ahead[1:] >= 0))
    if not len(passed) or frames[rows[passed[0] + 1]] - frames[rows[passed[0]]] > 3:
        return lost
    k = int(passed[0])
    part = -ahead[k] / (ahead[k + 1] - ahead[k])
    frame = float(frames[rows[k]] + part * (frames[rows[k + 1]] - frames[rows[k]]))
    return moment_at(arm.shot.times, "over", arm.side, frame)


def _exit(
    level: Array, arm: ArmOnShot
) -> tuple[Sequence[NDArray[np.float64]], Sequence[NDArray[np.float64]], Sequence[tuple[NDArray[np.float64], str]]]:
    """A plumb line through the hip, and how far behind it the wrist leaves."""
    wrist, hip = level[WRIST], level[HIP]
    top = np.array([hip[0], wrist[1]])
    text = share(arm, float(hip[0] - wrist[0]), "behind the hip", "in front of the hip")
    return [np.array([hip, top])], [np.array([top, wrist])], [((top + wrist) / 2, text)]


def _nothing(
    level: Array, arm: ArmOnShot
) -> tuple[Sequence[NDArray[np.float64]], Sequence[NDArray[np.float64]], Sequence[tuple[NDArray[np.float64], str]]]:
    return [], [], []
