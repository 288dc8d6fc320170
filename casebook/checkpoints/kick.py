"""The kick: from the side of the near leg, and the spread of both feet from head-on or from behind."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from casebook.checkpoints.answers import near_side
from casebook.checkpoints.finding import Finding
from casebook.checkpoints.kick_meetings import TIMED, timing
from casebook.checkpoints.kick_stills import leg_stills, spread_stills
from casebook.checkpoints.parts import (
    SIDE_VIEWS,
    Sheet,
    Value,
    cycle_curves,
    no_scale,
    per_cycle,
    seen_by_class,
    seen_of,
    spoilt,
)
from casebook.checkpoints.result import CheckpointResult
from casebook.stroke import spread as feet
from casebook.stroke.beats import beats_of
from casebook.stroke.cycle_edges import CycleEdges, cycle_edges
from casebook.stroke.kick import Kicks, Leg, kicks_of, leg_of, leg_points
from casebook.stroke.points import Unread, points_of
from casebook.stroke.roll import USUAL_FOCAL
from casebook.words import VIEWS

if TYPE_CHECKING:
    from casebook.checkpoints.bands import Bands
    from casebook.checkpoints.drawing import Still
    from casebook.checkpoints.parts import Counted
    from casebook.checkpoints.result import CycleCurve
    from casebook.clip.shot import Shot
    from casebook.marks.events import EventMark
    from casebook.marks.marks import Marks
    from casebook.plane.measured import Measured
    from casebook.plane.plane import Plane

CHECKPOINT = "kick"
SPOILT = {
    "fins": "With fins nothing can be said about the kick.",
    "pull buoy": "With a pull buoy nothing can be said about the kick.",
    "band": "With a band nothing can be said about the kick.",
}
OF_THE_LEG = ("knee_least_deg", "thigh_drop_deg", "ankle_off_deg", "kick_travel_m", "kick_travel_pct", "kick_beats")
SPREAD = "feet_spread_hips"
#: How far leg and foot lean out of the plane of a side view: standard deviations, own judgement, no source. [deg]
LEG_LEANS_DEG, FOOT_LEANS_DEG = 4.0, 8.0
#: Through the surface feet are bent out of their place.
FEET_VIEWS = ("front_under", "rear_under")
NEAR_LEG = "The near leg alone is read; the other is hidden in half of its kicks."
#: The near leg lies so much nearer to the camera, or farther, than what the scale was read from, as a share of the
#: camera's distance. own judgement, no source
LEG_DEPTH = 0.03
FROM_STILLS = "From the stills that were marked, as the moments they were chosen for; nothing was searched."
#: Stills this close show one kick, and no more than so many of them do; more are a track. own judgement, no source
ONE_KICK_S, MOST_STILLS = 0.4, 4
EACH_KICK = "No stroke cycle is marked, so each value is one kick."
CROSSING = "Feet that cross in a two-beat kick are harmless."
_WORDS = {2: "two", 4: "four", 6: "six", 8: "eight"}


def measure_kick(
    shot: Shot,
    marks: Marks,
    plane: Plane,
    *,
    bands: Bands,
    events: Sequence[EventMark] = (),
    body_length: Measured | None = None,
    distance: Measured | None = None,
) -> CheckpointResult:
    """Measure the kick of every stroke cycle of a shot.

    Parameters
    ----------
    shot : Shot
        From the side under water or at the water line: the near leg. Head-on or from behind: how wide the feet go.
    marks : Marks
        Shoulder, hip, knee, ankle, heel and toe of the near leg in every frame; both hips and ankles in line with the
        swimmer. Hands, or events, for cycles and timing.
    plane : Plane
    bands : Bands
    events : sequence of EventMark
    body_length : Measured, optional
        Stature. [m]
    distance : Measured, optional
        Camera to hips, in line with the swimmer. [m]
    """
    sheet = Sheet(CHECKPOINT, shot, bands)
    near = near_side(shot)
    every = (*OF_THE_LEG, *TIMED)
    stills: tuple[Still, ...] = ()
    curves: tuple[CycleCurve, ...] = ()
    if why := spoilt(shot, SPOILT):
        sheet.missing((*every, SPREAD), near, why)
        return CheckpointResult(CHECKPOINT, shot.id, tuple(sheet.results))
    edges = cycle_edges(shot, marks, plane, events)
    if shot.view in SIDE_VIEWS:
        stills, curves = _from_the_side(sheet, marks, plane, near, edges, body_length)
        unseen = Unread("From the side the feet's spread is not seen.", "Film head-on or from behind.")
        sheet.missing([SPREAD], "", unseen)
    elif shot.view in FEET_VIEWS:
        unseen = Unread("The bend of knee and foot points at the camera.", "Film from the side under water.")
        sheet.missing(every, "", unseen)
        stills = _in_line(sheet, marks, plane, edges, distance)
    else:
        reason = f"The kick is read from the side or in line with the swimmer; this is filmed {VIEWS[shot.view]}."
        sheet.missing((*every, SPREAD), near, Unread(reason, "Film from the side under water, square to the lane."))
    return CheckpointResult(CHECKPOINT, shot.id, tuple(sheet.results), stills, curves, f"as seen {VIEWS[shot.view]}")


def _from_the_side(
    sheet: Sheet, marks: Marks, plane: Plane, near: str, edges: CycleEdges | Unread, body_length: Measured | None
) -> tuple[tuple[Still, ...], tuple[CycleCurve, ...]]:
    shot = sheet.shot
    points = points_of(shot, marks, plane, leg_points(near))
    leg = leg_of(points, near, edges.starts if isinstance(edges, CycleEdges) else ())
    kicks = kicks_of(leg)
    if isinstance(kicks, Unread):
        read = _of_stills(sheet, leg)
        sheet.missing([q for q in (*OF_THE_LEG, *TIMED) if q not in read], near, kicks)
        return (), ()
    cycle, classes = _cycles(kicks, edges)
    counted = _counted(leg, kicks, edges)
    notes = [NEAR_LEG] if isinstance(edges, CycleEdges) else [NEAR_LEG, EACH_KICK]
    for quantity, value in _values(shot, leg, kicks, plane, body_length).items():
        if isinstance(value, Unread):
            sheet.missing([quantity], near, value)
            continue
        v, sigma, common, rows, needs = value
        told = per_cycle(cycle, v, sigma, common, points.frames[rows], classes)
        sheet.add(
            quantity, near, told, counted, none=Unread("Not marked: " + needs + ".", f"Mark {needs}."), notes=notes
        )
    _beats(sheet, leg, edges, counted, near)
    timing(sheet, kicks, edges, near, counted)
    metre = plane.m_per_px if plane.has_scale else np.nan
    series = [
        ("knee_angle_deg", leg.knee, leg.knee_sigma, "deg"),
        ("ankle_height_m", leg.height * metre, leg.height_sigma * metre, "m"),
    ]
    return leg_stills(leg, kicks, plane, cycle), cycle_curves(points, edges, near, series)


def _of_stills(sheet: Sheet, leg: Leg) -> tuple[str, ...]:
    """Knee and foot from a few key stills: of those that belong to one kick the knee most bent, and the mean foot."""
    points, known = leg.points, np.flatnonzero(np.isfinite(leg.knee))
    kicks = np.split(known, np.flatnonzero(np.diff(points.clock[known]) > ONE_KICK_S) + 1) if len(known) else []
    if not 0 < len(known) <= MOST_STILLS * len(kicks):
        return ()
    none = Unread("Hip, knee and ankle are not marked in one still.", "Mark them with the knee most bent.")
    bent = [int(rows[np.argmin(leg.knee[rows])]) for rows in kicks]
    values = {
        "knee_least_deg": [(leg.knee[k], leg.knee_sigma[k], (k,)) for k in bent],
        "ankle_off_deg": [
            (leg.foot[rows].mean(), np.sqrt(np.sum(leg.foot_sigma[rows] ** 2)) / len(rows), tuple(rows))
            for rows in kicks
        ],
    }
    leans = {"knee_least_deg": LEG_LEANS_DEG, "ankle_off_deg": FOOT_LEANS_DEG}
    for quantity, found in values.items():
        told = [
            Value(i + 1, float(v), float(s), _lean(sheet.shot, leg, leans[quantity]),
                  tuple(int(points.frames[k]) for k in rows))
            for i, (v, s, rows) in enumerate(found)
        ]  # fmt: skip
        sheet.add(quantity, leg.side, told, (len(known), len(known)), none=none, notes=[NEAR_LEG, FROM_STILLS])
    return tuple(values)


def _cycles(kicks: Kicks, edges: CycleEdges | Unread) -> tuple[np.ndarray, Sequence[str]]:
    """Cycle of each kick and the classes of the cycles; without cycles every kick stands for itself."""
    if isinstance(edges, Unread):
        return np.arange(len(kicks)), ("none",) * len(kicks)
    return edges.of(kicks.middle_s), edges.classes


def _counted(leg: Leg, kicks: Kicks, edges: CycleEdges | Unread) -> Counted:
    names = [f"{n}_{leg.side}" for n in ("hip", "knee", "ankle")]
    if isinstance(edges, CycleEdges):
        return seen_by_class(leg.points, leg.points.known(*names), edges)
    clock = leg.points.clock
    first, last = float(clock[kicks.rows[0, 0]]), float(clock[kicks.rows[-1, 1]])
    return seen_of(leg.points, names, first, last)


def _lean(shot: Shot, leg: Leg, out_deg: float) -> float:
    """Standard deviation of an angle from perspective: a limb that leans out of the plane, seen off the axis. [deg]

    Drawn at an angle a off the picture's axis, a lean of l turns a limb by l tan(a) in the picture.
    """
    feet = leg.points.xy[:, leg.points.names.index(f"ankle_{leg.side}")]
    size = np.array(shot.clip.size, float)
    off = float(np.nanmedian(np.linalg.norm(feet - (size - 1) / 2, axis=-1)))
    return out_deg * off / (USUAL_FOCAL * float(size.max()))


def _values(
    shot: Shot, leg: Leg, kicks: Kicks, plane: Plane, body_length: Measured | None
) -> dict[str, tuple | Unread]:
    """Quantity -> values, independent and common errors, rows and what they need; or why not."""
    leans = [_lean(shot, leg, out) for out in (LEG_LEANS_DEG, FOOT_LEANS_DEG)]
    travel = kicks.travel_px * plane.m_per_px
    shared = travel * np.hypot(plane.scale_sigma, LEG_DEPTH)
    own = kicks.travel_sigma_px * plane.m_per_px
    out: dict[str, tuple | Unread] = {
        "knee_least_deg": (kicks.knee_deg, kicks.knee_sigma, leans[0], kicks.knee_row, "hip, knee and ankle"),
        "thigh_drop_deg": (kicks.thigh_deg, kicks.thigh_sigma, leans[0], kicks.bottom_row, "shoulder, hip and knee"),
        "ankle_off_deg": (kicks.foot_deg, kicks.foot_sigma, leans[1], kicks.bottom_row, "knee, ankle, heel and toe"),
        "kick_travel_m": no_scale(plane) or (travel, own, shared, kicks.bottom_row, "hip and ankle"),
    }
    if body_length is None or not plane.has_scale:
        why = no_scale(plane) or Unread("The swimmer's height is not stated.", "State it in the case's settings.")
        return out | {"kick_travel_pct": why}
    per = 100 / body_length.value
    common = travel * per * np.hypot(np.hypot(plane.scale_sigma, LEG_DEPTH), body_length.sigma / body_length.value)
    return out | {"kick_travel_pct": (travel * per, own * per, common, kicks.bottom_row, "hip and ankle")}


def _beats(sheet: Sheet, leg: Leg, edges: CycleEdges | Unread, counted: Counted, near: str) -> None:
    remedy = "Mark hip and ankle of the near leg over three stroke cycles or more."
    if isinstance(edges, Unread):
        sheet.missing(["kick_beats"], near, edges)
        return
    found = beats_of(leg.points.clock, leg.height, leg.height_sigma, edges.starts, leg.points.step)
    if not found:
        sheet.missing(["kick_beats"], near, Unread(f"This clip cannot tell: {_lower(found.why)}", remedy))
        return
    agree = np.flatnonzero(found.per_cycle == found.beats)
    frames = _frames_of(leg, edges)
    values = [Value(int(k) + 1, float(found.beats or 0), 0.0, 0.0, frames[k], "none") for k in agree]
    notes = ["The near foot's rhythm, doubled: both feet kick in turn.", *([CROSSING] if found.beats == 2 else [])]
    sheet.add("kick_beats", near, values, counted, none=edges_unknown(), notes=notes)
    last = sheet.results[-1]
    if isinstance(last, Finding):
        told = f"A {_WORDS.get(found.beats or 0, str(found.beats))}-beat kick, seen in {len(agree)} cycles."
        sheet.results[-1] = replace(last, sentence=told)


def edges_unknown() -> Unread:
    """No cycle, no rhythm against it."""
    return Unread("No whole stroke cycle is known in this shot.", "Mark or set two entries of one hand.")


def _frames_of(leg: Leg, edges: CycleEdges) -> list[tuple[int, ...]]:
    spans = np.searchsorted(leg.points.clock, edges.starts)
    frames = leg.points.frames
    return [(int(frames[a]), int(frames[b - 1])) if b > a else () for a, b in pairwise(spans)]


def _in_line(
    sheet: Sheet, marks: Marks, plane: Plane, edges: CycleEdges | Unread, distance: Measured | None
) -> tuple[Still, ...]:
    if isinstance(edges, Unread):
        sheet.missing([SPREAD], "", edges)
        return ()
    points = points_of(sheet.shot, marks, plane, feet.POINTS)
    found = feet.spread_of(sheet.shot, points, edges.starts, distance)
    if isinstance(found, Unread):
        sheet.missing([SPREAD], "", found)
        return ()
    read = np.flatnonzero(np.isfinite(found.value) & edges.whole)
    values = [
        Value(int(k) + 1, found.value[k], found.sigma[k], found.common[k], (int(points.frames[found.row[k]]),),
              edges.classes[k])
        for k in read
    ]  # fmt: skip
    known = "as stated" if distance is not None else "taken as usual"
    notes = [f"Feet lie behind the hips and are drawn smaller or larger; the camera's distance is {known}.", CROSSING]
    none = Unread("No cycle shows both ankles.", "Mark both ankles where they can be seen.")
    counted = seen_by_class(points, points.known("ankle_l", "ankle_r"), edges)
    sheet.add(SPREAD, "", values, counted, none=none, notes=notes)
    return spread_stills(points, found, read)


def _lower(text: str) -> str:
    return text[:1].lower() + text[1:]
