"""Body roll, from head-on or from behind: shoulders and hips apart, to each side, and the twist between them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from casebook.checkpoints.drawing import Drawing, Label, Still
from casebook.checkpoints.parts import (
    Sheet,
    Value,
    crop_around,
    cycle_curves,
    path,
    per_cycle,
    seen_by_class,
    seen_of,
    spoilt,
)
from casebook.checkpoints.result import CheckpointResult
from casebook.stroke.cycle_edges import CycleEdges, cycle_edges
from casebook.stroke.points import Unread, points_of
from casebook.stroke.roll import NECK, POINTS, Roll, RollPeaks, peaks_of, ranges, roll_of
from casebook.words import SIDES, VIEWS

if TYPE_CHECKING:
    from casebook.checkpoints.bands import Bands
    from casebook.checkpoints.parts import Counted
    from casebook.clip.shot import Shot
    from casebook.marks.events import EventMark
    from casebook.marks.marks import Marks
    from casebook.plane.plane import Plane

CHECKPOINT = "roll"
LINES = {"shoulder": "shoulder_roll_deg", "hip": "hip_roll_deg"}
TWIST = "twist_range_deg"
BUOY = Unread("A pull buoy holds the hips.", "Film a length without it.")
PERSPECTIVE = "The joint nearer to the camera is drawn farther from the picture's middle; the interval holds that."
WHERE_HIDDEN = {
    "shoulder": "where the raised one leaves the water, mark the base of the neck too: it stands in for it.",
    "hip": "where the trunk hides them, film from behind under water.",
}
STOOD_IN = (
    "Where the raised shoulder is out of the water, the base of the neck stands in for it; shoulder blades slide, and "
    "the interval holds that."
)
NOT_THE_DIFFERENCE = "Twist is taken picture by picture: shoulders and hips do not turn at the same moment."
_DEGREE = "\N{DEGREE SIGN}"


def measure_roll(
    shot: Shot,
    marks: Marks,
    plane: Plane,
    *,
    bands: Bands,
    events: Sequence[EventMark] = (),
    focal_px: float | None = None,
) -> CheckpointResult:
    """Measure the roll of every stroke cycle of a shot.

    Parameters
    ----------
    shot : Shot
        Head-on or from behind; a view from the side gives NotMeasured.
    marks : Marks
        Both shoulders and both hips in every frame; the base of the neck, where a raised shoulder leaves the water.
    plane : Plane
        Its level is what roll is held against; a scale is not needed.
    bands : Bands
    events : sequence of EventMark
    focal_px : float, optional
        Of the lens. [px]
    """
    sheet = Sheet(CHECKPOINT, shot, bands)
    points = points_of(shot, marks, plane, (*POINTS, NECK))
    roll = roll_of(shot, points, focal_px)
    if isinstance(roll, Unread):
        sheet.missing([*LINES.values(), TWIST], "", roll)
        return CheckpointResult(CHECKPOINT, shot.id, tuple(sheet.results))
    edges = cycle_edges(shot, marks, plane, events)
    buoy = spoilt(shot, {"pull buoy": BUOY.reason})
    stills: tuple[Still, ...] = ()
    for which, quantity in LINES.items():
        if which == "hip" and buoy:
            sheet.missing([quantity], "", buoy)
            continue
        peaks = peaks_of(roll, which)
        _to_each_side(sheet, roll, peaks, which, edges, plane)
        if which == "shoulder":
            stills = _stills(roll, peaks, edges, plane)
    if buoy:
        sheet.missing([TWIST], "", buoy)
    else:
        _twist(sheet, roll, edges)
    curves = cycle_curves(
        points, edges, "", [(f"{which}_deg", *roll.of(which)[:2], "deg") for which in ("shoulder", "hip", "twist")]
    )
    return CheckpointResult(CHECKPOINT, shot.id, tuple(sheet.results), stills, curves, f"as seen {VIEWS[shot.view]}")


def _to_each_side(
    sheet: Sheet, roll: Roll, peaks: RollPeaks, which: str, edges: CycleEdges | Unread, plane: Plane
) -> None:
    points = roll.points
    none = Unread(
        f"No whole roll of the {which}s is marked.",
        f"Mark both {which}s in every frame of two stroke cycles; {WHERE_HIDDEN[which]}",
    )
    counted = _counted(roll, (f"{which}_l", f"{which}_r"), edges)
    for side in "lr":
        # Rolled to a side is that side down, the other up.
        own = np.flatnonzero(peaks.side != side)
        cycle, classes = _cycles(peaks, own, edges)
        common = np.hypot(peaks.lens[own], plane.tilt_sigma_deg)
        frames = points.frames[peaks.row[own]]
        values = per_cycle(cycle, peaks.value[own], peaks.sigma[own], common, frames, classes)
        stood_in = which == "shoulder" and bool(roll.by_neck[peaks.row[own]].any())
        notes = [PERSPECTIVE, *([STOOD_IN] if stood_in else [])]
        sheet.add(LINES[which], side, values, counted, none=none, notes=notes)


def _cycles(peaks: RollPeaks, own: np.ndarray, edges: CycleEdges | Unread) -> tuple[np.ndarray, Sequence[str]]:
    if isinstance(edges, Unread):
        return np.arange(len(own)), ("none",) * len(own)
    # A largest roll that itself begins a cycle lies on its edge: half a frame later is inside.
    return edges.of(peaks.clock[own] + 1e-6), edges.classes


def _twist(sheet: Sheet, roll: Roll, edges: CycleEdges | Unread) -> None:
    none = Unread("No whole cycle shows both shoulders and both hips.", "Mark all four in every frame of a cycle.")
    if isinstance(edges, Unread):
        sheet.missing([TWIST], "", edges)
        return
    value, sigma, rows = ranges(roll, edges.starts, "twist")
    frames, lens = roll.points.frames, roll.of("twist")[2]
    values = [
        Value(
            int(k) + 1, value[k], sigma[k], float(np.hypot(*lens[rows[k]])), tuple(int(f) for f in frames[rows[k]]),
            edges.classes[k],
        )
        for k in np.flatnonzero(np.isfinite(value) & edges.whole)
    ]  # fmt: skip
    sheet.add(TWIST, "", values, _counted(roll, POINTS, edges), none=none, notes=[NOT_THE_DIFFERENCE, PERSPECTIVE])


def _counted(roll: Roll, names: Sequence[str], edges: CycleEdges | Unread) -> Counted:
    if isinstance(edges, CycleEdges):
        return seen_by_class(roll.points, roll.points.known(*names), edges)
    clock = roll.points.clock
    return seen_of(roll.points, names, float(clock[0]), float(clock[-1]) + roll.points.step / 2)


def _stills(roll: Roll, peaks: RollPeaks, edges: CycleEdges | Unread, plane: Plane) -> tuple[Still, ...]:
    """Most rolled left and most rolled right in each cycle."""
    out = []
    numbers, _ = _cycles(peaks, np.arange(len(peaks)), edges)
    for k in np.flatnonzero(numbers >= 0):
        side = "r" if peaks.side[k] == "l" else "l"
        row = int(peaks.row[k])
        xy = roll.points.xy[row]
        # Of a shoulder out of the water the half of the line from the neck is drawn.
        stood_in = bool(roll.by_neck[row])
        line = xy[[k for k in (0, 1, len(POINTS)) if np.isfinite(xy[k]).all()]] if stood_in else xy[:2]
        middle = xy[len(POINTS)] if stood_in else line.mean(0)
        reach = float(np.linalg.norm(line[0] - line[1])) * (1.2 if stood_in else 0.6)
        half = plane.level(middle) + np.array([[-1.0, 0.0], [1.0, 0.0]]) * reach
        label = Label((float(middle[0]), float(middle[1])), f"{peaks.value[k]:.0f}{_DEGREE}")
        drawing = Drawing((path(xy[2:4]),), (path(plane.picture(half)),), (path(line),), (label,))
        title = f"Most rolled to the {SIDES[side]}"
        frame = int(roll.points.frames[row])
        out.append(Still(frame, f"most_{side}", title, drawing, int(numbers[k]) + 1, crop_around(xy, 0.5), side))
    return tuple(out)
