"""Swimming straight: how far the middles of head, hips and ankles wander across the swimmer's own line."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from casebook.checkpoints.drawing import Drawing, Label, Still
from casebook.checkpoints.midline import BREADTH_SIGMA, OFF_LINE
from casebook.checkpoints.parts import LINE_VIEWS, Sheet, Value, crop_around, path, seen_by_class
from casebook.checkpoints.result import CheckpointResult
from casebook.stroke.cycle_edges import CycleEdges, cycle_edges, edges_from
from casebook.stroke.points import Points, Smooth, Unread, points_of, smooth
from casebook.stroke.roll import POINTS as ROLL_POINTS
from casebook.stroke.roll import Roll, cycles_of, roll_of
from casebook.stroke.spread import LEG_M, USUAL_M, USUAL_SIGMA_M
from casebook.words import VIEWS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from casebook.checkpoints.bands import Bands
    from casebook.clip.shot import Shot
    from casebook.marks.events import EventMark
    from casebook.marks.marks import Marks
    from casebook.plane.measured import Measured
    from casebook.plane.plane import Plane

    Array: TypeAlias = NDArray[np.float64]

CHECKPOINT = "alignment"
#: Quantity, the pair of points whose middle it is, and how far behind the shoulders they are. [m] computed from an
#: adult of 1.75 m: trunk 0.50 m, legs 0.86 m
PARTS: tuple[tuple[str, tuple[str, str], float], ...] = (
    ("head_wander_pct", ("ear_l", "ear_r"), -0.20),
    ("hips_wander_pct", ("hip_l", "hip_r"), 0.50),
    ("ankles_wander_pct", ("ankle_l", "ankle_r"), 0.50 + LEG_M),
)
ORDER = tuple(q for q, _, _ in PARTS)
#: A cycle is read with at least this share of its frames.
LEAST_SEEN = 0.6
_WORDS = {"ear": "ears", "hip": "hips", "ankle": "ankles"}


def measure_alignment(
    shot: Shot,
    marks: Marks,
    plane: Plane,
    *,
    bands: Bands,
    events: Sequence[EventMark] = (),
    distance: Measured | None = None,
) -> CheckpointResult:
    """Measure how far the body wanders across its line in each cycle.

    Parameters
    ----------
    shot : Shot
        Head-on or from behind, in line with the swimmer; a camera that turns is refused.
    marks : Marks
        Both shoulders, and both hips, ankles or ears, on most frames of two cycles.
    plane : Plane
        Level coordinates; no scale is needed.
    bands : Bands
    events : sequence of EventMark
    distance : Measured, optional
        Camera to the swimmer's shoulders. [m]
    """
    sheet = Sheet(CHECKPOINT, shot, bands)
    why = _refused(shot)
    names = tuple(dict.fromkeys(("shoulder_l", "shoulder_r", *(p for _, pair, _ in PARTS for p in pair))))
    points = points_of(shot, marks, plane, names)
    if why is None and not points.marked("shoulder_l", "shoulder_r"):
        why = Unread("Both shoulders are not marked in one frame.", "Mark both shoulders where they can be seen.")
    edges = None if why else _cycles(shot, marks, plane, events)
    if isinstance(edges, Unread):
        why = edges
    if why is not None or not isinstance(edges, CycleEdges):
        sheet.missing(ORDER, "", why or Unread("No cycle is known.", "Mark both shoulders through two cycles."))
        return CheckpointResult(CHECKPOINT, shot.id, tuple(sheet.results))
    track = smooth(points)
    breadth = float(np.nanpercentile(np.linalg.norm(track.of("shoulder_l") - track.of("shoulder_r"), axis=-1), 90))
    stills: tuple[Still, ...] = ()
    for quantity, pair, behind in PARTS:
        place = (track.of(pair[0]) + track.of(pair[1]))[:, 0] / 2
        sigma = np.hypot(track.sigma_of(pair[0]), track.sigma_of(pair[1])) / 2
        straight = place - _own_line(points.clock, place)
        factor, doubt = _perspective(shot, behind, distance)
        values, rows = _ranges(points, straight, sigma, edges, breadth / factor, doubt)
        none = Unread(
            f"The {_WORDS[pair[0][:-2]]} are marked in too few frames of a cycle.",
            "Mark both where they can be seen; what the body covers is hidden, not guessed.",
        )
        counted = seen_by_class(points, np.isfinite(place), edges)
        sheet.add(quantity, "", values, counted, none=none, notes=[OFF_LINE])
        if quantity == "hips_wander_pct":
            stills += _stills(points, track, plane, pair, rows, values)
    return CheckpointResult(CHECKPOINT, shot.id, tuple(sheet.results), stills, seen="in line with the swimmer")


def _refused(shot: Shot) -> Unread | None:
    if shot.view not in LINE_VIEWS:
        reason = f"Swimming straight is seen in line with the swimmer; this is filmed {VIEWS[shot.view]}."
        return Unread(reason, "Film head-on or from behind, on the line of swimming.")
    if shot.camera == "panning":
        return Unread("The camera turns, so that nothing in the picture is straight.", "Film from a stand on the line.")
    return None


def _cycles(shot: Shot, marks: Marks, plane: Plane, events: Sequence[EventMark]) -> CycleEdges | Unread:
    """Cycles by the hands, or by the roll of the shoulders where the hands are not marked."""
    edges = cycle_edges(shot, marks, plane, events)
    if isinstance(edges, CycleEdges):
        return edges
    roll = roll_of(shot, points_of(shot, marks, plane, ROLL_POINTS))
    if isinstance(roll, Roll) and len(starts := cycles_of(roll)) > 1:
        return edges_from(starts, event="roll", side="l")
    return edges


def _own_line(clock: Array, place: Array) -> Array:
    """The straight line that a part follows over the shot: a drift, or a camera beside the line, is no wandering."""
    known = np.isfinite(place)
    if known.sum() < 3:
        return np.full(place.shape, np.nan)
    slope, start = np.polyfit(clock[known] - clock[0], place[known], 1)
    return np.asarray(start + slope * (clock - clock[0]))


def _perspective(shot: Shot, behind: float, distance: Measured | None) -> tuple[float, float]:
    """By what a sideways way behind the shoulders is multiplied to be held against their breadth; relative error."""
    far, unsure = (USUAL_M, USUAL_SIGMA_M) if distance is None else (distance.value, distance.sigma)
    sign = 1.0 if shot.view.startswith("front") else -1.0
    factor = 1 + sign * behind / far
    return factor, float(np.hypot(abs(behind) * unsure / far**2 / factor, BREADTH_SIGMA))


def _ranges(
    points: Points, straight: Array, sigma: Array, edges: CycleEdges, per: float, doubt: float
) -> tuple[list[Value], list[tuple[int, int]]]:
    """Range of each whole cycle in % of shoulder breadth, and the rows of both ends."""
    values, rows = [], []
    spans = np.searchsorted(points.clock, edges.starts)
    for c in np.flatnonzero(edges.whole):
        own = np.arange(spans[c], spans[c + 1])
        own = own[np.isfinite(straight[own])]
        if len(own) < LEAST_SEEN * (edges.starts[c + 1] - edges.starts[c]) / points.step:
            continue
        low, high = int(own[np.argmin(straight[own])]), int(own[np.argmax(straight[own])])
        value = 100 * float(straight[high] - straight[low]) / per
        own_sigma = 100 * float(np.hypot(sigma[low], sigma[high])) / per
        frames = tuple(sorted((int(points.frames[low]), int(points.frames[high]))))
        values.append(Value(int(c) + 1, value, own_sigma, value * doubt, frames, edges.classes[c]))
        rows.append((low, high))
    return values, rows


def _stills(
    points: Points, track: Smooth, plane: Plane, pair: tuple[str, str], rows: list[tuple[int, int]], values: list[Value]
) -> tuple[Still, ...]:
    """The hips at both ends of their way: shoulders and hips, and a plumb line through the middle of the shoulders."""
    out = []
    for (low, high), value in zip(rows, values, strict=True):
        for row, key, title in (
            (low, "one_side", "Hips farthest to one side"),
            (high, "other_side", "And to the other"),
        ):
            middle = (track.of("shoulder_l") + track.of("shoulder_r"))[row] / 2
            hips = (track.of(pair[0]) + track.of(pair[1]))[row] / 2
            foot = np.array([middle[0], hips[1]])
            xy = points.xy[row]
            down, across = plane.picture(np.array([middle, foot])), plane.picture(np.array([foot, hips]))
            known = key == "other_side" and bool(np.isfinite(across).all())
            label = (Label(path([across.mean(0)])[0], f"{value.value:.0f} % in all"),) if known else ()
            body = tuple(b for b in (path(xy[:2]), path(xy[[points.names.index(p) for p in pair]])) if len(b) > 1)
            drawing = Drawing(body, (path(down),), (path(across),), label)
            out.append(Still(int(points.frames[row]), key, title, drawing, value.number, crop_around(xy, 0.3)))
    return tuple(out)
