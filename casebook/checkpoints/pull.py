"""The pull path: how deep, how long the forearm faces back, and, from head-on, how far from the midline."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from casebook.checkpoints.answers import near_side
from casebook.checkpoints.arm_reading import (
    ELBOW,
    FINGERTIP,
    HIP,
    SHOULDER,
    WRIST,
    ArmOnShot,
    Occasion,
    Reading,
    add_reading,
    arm_on_shot,
)  # fmt: skip
from casebook.checkpoints.arm_stills import reach_px, share, stills_at
from casebook.checkpoints.catch_words import FAR_ARM
from casebook.checkpoints.midline import pull_beside_midline
from casebook.checkpoints.parts import SIDE_VIEWS, Sheet, Value, plane_sigma, spoilt
from casebook.checkpoints.result import CheckpointResult
from casebook.plane.geometry import inclination_deg, inclination_sigma_deg
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

CHECKPOINT = "pull"
SPOILT = {"paddles": "Paddles change the path and the load of the pull."}
DEPTH = Reading(
    "pull_depth_pct", (SHOULDER, FINGERTIP), lambda p: p[..., SHOULDER, 1] - p[..., FINGERTIP, 1], scale="arm"
)
BACK = "forearm_back_pct"
SIDE, FRONT = (DEPTH.quantity, BACK), ("pull_from_midline_pct", "elbow_wider_pct")
#: The forearm faces back while it is this close to upright. own judgement, no source [deg]
UPRIGHT_DEG = 30.0
_NO_PULL = Unread(
    "The stroke is not marked from the hand passing the body to its exit.",
    "Mark shoulder, elbow, wrist and fingertip on every frame of the pull.",
)


def measure_pull(
    shot: Shot,
    marks: Marks,
    plane: Plane,
    *,
    bands: Bands,
    events: Sequence[EventMark] = (),
    arm_length: Measured | None = None,
    distance: Measured | None = None,
) -> CheckpointResult:
    """Measure the pull of every stroke that is marked from the hand passing the body to its exit.

    Parameters
    ----------
    shot : Shot
        From the side under water or at the water line; head-on under water for the midline.
    marks : Marks
        Shoulder, elbow, wrist and fingertip on every frame of the pull; both shoulders in a head-on view.
    plane : Plane
    bands : Bands
    events : sequence of EventMark
    arm_length : Measured, optional
        [m]
    distance : Measured, optional
        Camera to the swimmer's shoulders in a head-on view. [m]
    """
    sheet = Sheet(CHECKPOINT, shot, bands)
    stills: tuple[Still, ...] = ()
    near = near_side(shot)
    if kit := spoilt(shot, SPOILT):
        sheet.missing((*SIDE, *FRONT), near, kit)
        return CheckpointResult(CHECKPOINT, shot.id, tuple(sheet.results))
    if shot.view == "front_under":
        stills += pull_beside_midline(sheet, shot, marks, plane, events, distance)
        return CheckpointResult(CHECKPOINT, shot.id, tuple(sheet.results), stills, seen="as seen from the front")
    if shot.view not in SIDE_VIEWS:
        reason = f"The pull is read from the side or head-on, under water; this is filmed {VIEWS[shot.view]}."
        sheet.missing((*SIDE, *FRONT), near, Unread(reason, "Film under water, from the side or head-on."))
        return CheckpointResult(CHECKPOINT, shot.id, tuple(sheet.results))
    for side in (near, "lr".replace(near, "")):
        arm = arm_on_shot(shot, marks, plane, side, events, arm_length)
        if side != near and not arm.is_marked:
            continue
        notes = [FAR_ARM] * (side != near)
        whole = [(s, rows) for s in arm.strokes if (rows := pull_rows(arm, s)) is not None]
        deepest = [Occasion(s.number, s.stroke_class, _deepest(arm, rows)) for s, rows in whole]
        if whole:
            add_reading(sheet, arm, DEPTH, deepest, notes)
        else:
            sheet.missing([DEPTH.quantity], side, _NO_PULL)
        values = [v for s, rows in whole if (v := _facing_back(arm, s, rows)) is not None]
        sheet.add(BACK, side, values, (len(values), max(len(arm.strokes), 1)), none=_NO_PULL, notes=notes)
        under = arm.occasions("shoulder")
        stills += stills_at(arm, under, "under", "Hand under the shoulder", _under)
        stills += stills_at(arm, deepest, "deepest", "Hand at its deepest", _depth)
    return CheckpointResult(CHECKPOINT, shot.id, tuple(sheet.results), stills, seen="as seen from the side")


def pull_rows(arm: ArmOnShot, stroke: Stroke) -> NDArray[np.int64] | None:
    """Rows with the whole arm marked from past the body to exit; None where too few of them are."""
    begins = stroke.moment("past_body") or stroke.moment("end_of_extension")
    ends = stroke.moment("exit")
    if not isinstance(begins, Moment) or not isinstance(ends, Moment):
        return None
    frames = arm.points.frames
    rows = np.flatnonzero((frames >= begins.frame) & (frames <= ends.frame))
    rows = rows[np.isfinite(arm.points.level[rows][:, :HIP]).all((-1, -2))]
    return rows if len(rows) >= 0.6 * (ends.frame - begins.frame) and len(rows) > 4 else None


def _deepest(arm: ArmOnShot, rows: NDArray[np.int64]) -> Moment | NoMoment:
    depth = arm.track.at[rows, SHOULDER, 1] - arm.track.at[rows, FINGERTIP, 1]
    frame = float(arm.points.frames[rows[np.argmax(depth)]])
    # At its deepest the hand does not move up or down, so that when it was does not matter to how deep it was.
    return moment_at(arm.shot.times, "deepest", arm.side, frame)


def _facing_back(arm: ArmOnShot, stroke: Stroke, rows: NDArray[np.int64]) -> Value | None:
    """Share of the pull's time with the forearm upright, its error that of the two crossings and the two ends."""
    begins = stroke.moment("past_body") or stroke.moment("end_of_extension")
    ends = stroke.moment("exit")
    if not isinstance(begins, Moment) or not isinstance(ends, Moment):
        return None
    clock = arm.points.clock[rows]
    elbow, wrist = arm.track.at[rows, ELBOW], arm.track.at[rows, WRIST]
    slope = inclination_deg(elbow, wrist)
    lo, hi = 90 - UPRIGHT_DEG, 90 + UPRIGHT_DEG
    whole = float(np.interp(ends.frame, arm.points.frames[rows], clock) - clock[0])
    upright = np.interp(np.linspace(clock[0], clock[-1], 400), clock, slope)
    part = float(np.mean((upright >= lo) & (upright <= hi)))
    turning = np.gradient(slope, clock)
    unsure = inclination_sigma_deg(elbow, wrist, arm.track.sigma[rows, ELBOW], arm.track.sigma[rows, WRIST])
    crossings = [int(np.argmin(np.abs(slope - edge))) for edge in (lo, hi)]
    times = [float(unsure[k] / max(abs(turning[k]), 20.0)) for k in crossings]
    edges = np.hypot(begins.sigma_s if np.isfinite(begins.sigma_s) else arm.points.step / 2, arm.points.step / 2)
    sigma = float(np.sqrt(np.sum(np.square(times)) + (part * edges) ** 2) / max(whole, 1e-6))
    tilt = float(plane_sigma(arm.plane, lambda p: p.tilt_deg)) / max(abs(float(np.mean(turning[crossings]))), 20.0)
    frames = (int(arm.points.frames[rows[0]]), int(arm.points.frames[rows[-1]]))
    return Value(stroke.number, 100 * part, 100 * sigma, 100 * tilt / max(whole, 1e-6), frames, stroke.stroke_class)


def _under(
    level: Array, arm: ArmOnShot
) -> tuple[Sequence[NDArray[np.float64]], Sequence[NDArray[np.float64]], Sequence[tuple[NDArray[np.float64], str]]]:
    """A plumb line from the shoulder, past which the hand has just come."""
    shoulder = level[SHOULDER]
    return [np.array([shoulder, shoulder - [0.0, 1.05 * reach_px(arm, level)]])], [], []


def _depth(
    level: Array, arm: ArmOnShot
) -> tuple[Sequence[NDArray[np.float64]], Sequence[NDArray[np.float64]], Sequence[tuple[NDArray[np.float64], str]]]:
    """How far the fingertips are below the shoulder's level."""
    shoulder, tip = level[SHOULDER], level[FINGERTIP]
    top = np.array([tip[0], shoulder[1]])
    text = share(arm, float(shoulder[1] - tip[1]), "below", "above")
    return [np.array([shoulder, top])], [np.array([top, tip])], [((top + tip) / 2, text)]
