"""Body line and head, from the side: trunk, hips, heels, head and crown, as means over whole stroke cycles."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from casebook.checkpoints.answers import near_side
from casebook.checkpoints.drawing import Drawing, Still
from casebook.checkpoints.parts import (
    SIDE_VIEWS,
    Sheet,
    Value,
    crop_around,
    heights_m,
    path,
    plane_sigma,
    seen_by_class,
    spoilt,
)
from casebook.checkpoints.result import CheckpointResult
from casebook.stroke.arm import clock_of
from casebook.stroke.body import CycleMeans, completed, cycle_means
from casebook.stroke.cycle_edges import CycleEdges, cycle_edges, moments_of
from casebook.stroke.head import FACE, FaceTurn, face_turn, head_angle, head_level
from casebook.stroke.points import Points, Unread, points_of
from casebook.words import VIEWS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from casebook.checkpoints.bands import Bands
    from casebook.clip.shot import Shot
    from casebook.marks.events import EventMark
    from casebook.marks.marks import Marks
    from casebook.plane.plane import Plane

CHECKPOINT = "body_line"
ORDER = ("trunk_tilt_deg", "hip_depth_m", "heel_depth_m", "head_angle_deg", "head_level_deg", "crown_height_m")
#: The face counts as in the water while it is turned out by less than this. [deg] own judgement, no source
CALM_DEG = 25.0
#: Points lie so much nearer to the camera, as a share of its distance, than the plane that the scale is of, or farther,
#: and are drawn so much farther from or nearer to the picture's middle: half the breadth of shoulders, of hips, of the
#: head's way from the near side to the middle, over 3.5 m. Standard deviations, own judgement, no source
NEARER = {"shoulder": 0.054, "hip": 0.025, "heel": 0.025, "ear": 0.04, "crown": 0.04}
#: Errors along a track go on for about a quarter of a second: so many of them in a cycle are independent. own judgement
TRACKS = 4.0
BOW_WAVE = "A bow wave washes over a fast swimmer's head: the crown is held against still water, not against the wave."
SUIT = "A wetsuit carries the legs; without it they would lie deeper."
BUOY = {"pull buoy": "A pull buoy holds hips and legs up.", "band": "A band changes how the legs lie."}
PART_HIDDEN = (
    "The shoulder is hidden for a part of the cycle; the wave that fits the rest fills it in, and widens the interval."
)
WITH_FACE = "The head is read with the face in the water."


def measure_body_line(
    shot: Shot, marks: Marks, plane: Plane, *, bands: Bands, events: Sequence[EventMark] = ()
) -> CheckpointResult:
    """Measure body line and head of every stroke cycle of a shot.

    Parameters
    ----------
    shot : Shot
        From the side, under water or at the water line.
    marks : Marks
        Shoulder, hip, heel and ear of the near side and the crown: in every frame of a cycle, or in pairs of
        frames half a cycle apart, in which roll cancels.
    plane : Plane
        Depths need its water line and a scale; angles need neither.
    bands : Bands
    events : sequence of EventMark
    """
    sheet = Sheet(CHECKPOINT, shot, bands)
    near = near_side(shot)
    if shot.view not in SIDE_VIEWS:
        reason = f"The body line is read from the side; this is filmed {VIEWS[shot.view]}."
        sheet.missing(ORDER, near, Unread(reason, "Film from the side, camera under water or at the water line."))
        return CheckpointResult(CHECKPOINT, shot.id, tuple(sheet.results))
    edges = cycle_edges(shot, marks, plane, events)
    if isinstance(edges, Unread):
        sheet.missing(ORDER, near, edges)
        return CheckpointResult(CHECKPOINT, shot.id, tuple(sheet.results))
    points = points_of(shot, marks, plane, [f"{n}_{near}" for n in ("shoulder", "hip", "heel", "ear")] + ["crown"])
    calm, known = _calm(shot, marks, plane, points, near)
    _trunk(sheet, points, near, edges, plane)
    kit = spoilt(shot, BUOY)
    for quantity, name in (("hip_depth_m", f"hip_{near}"), ("heel_depth_m", f"heel_{near}")):
        if kit:
            sheet.missing([quantity], near, kit)
        else:
            _height(sheet, points, quantity, name, near, edges, plane, -1.0)
    _head(sheet, points, near, edges, plane, calm, known)
    _height(sheet, points, "crown_height_m", "crown", near, edges, plane, 1.0, calm)
    stills = _stills(shot, points, near, edges, plane, calm)
    return CheckpointResult(CHECKPOINT, shot.id, tuple(sheet.results), stills, (), f"as seen {VIEWS[shot.view]}")


def _calm(shot: Shot, marks: Marks, plane: Plane, points: Points, near: str) -> tuple[np.ndarray, bool]:
    """Frames with the face in the water, and whether that is known at all."""
    face = face_turn(shot, points_of(shot, marks, plane, FACE), near)
    calm = np.ones(len(points.frames), bool)
    if not isinstance(face, FaceTurn):
        return calm, False
    turn = np.full(len(points.frames), np.nan)
    place = np.searchsorted(points.frames, face.points.frames)
    inside = place < len(points.frames)
    inside[inside] &= points.frames[place[inside]] == face.points.frames[inside]
    turn[place[inside]] = face.turn[inside]
    # A mouth that cannot be seen is turned away from the camera, or behind bubbles.
    return np.abs(turn) < CALM_DEG, True


def _trunk(sheet: Sheet, points: Points, near: str, edges: CycleEdges, plane: Plane) -> None:
    shoulder, hip = (points.names.index(f"{n}_{near}") for n in ("shoulder", "hip"))
    line = points.level[:, shoulder] - points.level[:, hip]
    noise = np.hypot(points.sigma_px[:, shoulder], points.sigma_px[:, hip])
    whole = cycle_means(points.clock, line, noise, edges.starts)
    filled = completed(whole, points.clock, line, noise, edges.starts)
    means = _shared(filled, points, (shoulder, hip))
    # What a hidden part of a cycle leaves open comes on top of what a track shares.
    part = filled.sigma != whole.sigma
    means = replace(means, sigma=np.where(part, np.hypot(means.sigma, filled.sigma), means.sigma))
    angle = np.degrees(np.arctan2(means.value[:, 1], means.value[:, 0]))
    sigma = np.degrees(means.sigma / np.linalg.norm(means.value, axis=-1))
    names = (f"shoulder_{near}", f"hip_{near}")
    none = _uneven("shoulder and hip")
    off = float(np.nanmean(points.level[:, shoulder, 1])) - _axis_height(sheet.shot, plane)
    lens = _slant(off * (NEARER["shoulder"] - NEARER["hip"]), means.value)
    values = _told(points, means, angle, sigma, np.hypot(plane.tilt_sigma_deg, lens), edges)
    notes = ["The mean over whole cycles: in one frame roll fakes a tilt of up to 8 degrees."]
    if (means.told & part & edges.whole).any():
        notes.append(PART_HIDDEN)
    sheet.add("trunk_tilt_deg", near, values, _counted(points, names, edges), none=none, notes=notes)


def _axis_height(shot: Shot, plane: Plane) -> float:
    """Height of the picture's middle in level pixels: what lies there is drawn in its place at any distance."""
    return float(plane.level((np.array(shot.clip.size, float) - 1) / 2)[1])


def _slant(off_px: float, line: NDArray[np.float64]) -> np.ndarray:
    """By how much a line (C, 2) turns if one end is drawn so far off. [deg]"""
    return np.degrees(np.abs(off_px) / np.linalg.norm(line, axis=-1))


def _height(
    sheet: Sheet, points: Points, quantity: str, name: str, near: str, edges: CycleEdges, plane: Plane, sign: float,
    calm: np.ndarray | None = None,
) -> None:  # fmt: skip
    """Height over still water, or with ``sign`` -1 the depth under it, as a mean over each cycle."""
    if why := heights_m(plane):
        sheet.missing([quantity], near, why)
        return
    column = points.names.index(name)
    xy = points.xy[:, column]
    z = points.level[:, column, 1]
    if calm is not None and calm.any():
        z = np.where(calm, z, np.nan)
        means = _any_frames(
            cycle_means(points.clock, np.nan_to_num(z), points.sigma_px[:, column], edges.starts), z, points, column
        )
    else:
        means = cycle_means(points.clock, z, points.sigma_px[:, column], edges.starts)
    means = _shared(means, points, (column,))
    metre = plane.m_per_px
    middle = np.array(
        [xy[rows].mean(0) if len(rows) and np.isfinite(v) else (np.nan, np.nan)
         for rows, v in zip(means.rows, means.value, strict=True)]
    )  # fmt: skip
    common = plane_sigma(plane, lambda p: p.world(middle)[:, 1])
    off = np.abs(means.value - _axis_height(sheet.shot, plane)) * metre
    lens = NEARER[name.split("_")[0]] * off
    values = _told(points, means, sign * means.value * metre, means.sigma * metre, np.hypot(common, lens), edges)
    notes = [BOW_WAVE, WITH_FACE] if name == "crown" else []
    if sheet.shot.swim is not None and sheet.shot.swim.kit == "wetsuit" and name != "crown":
        notes.append(SUIT)
    word = name.split("_")[0]
    sheet.add(quantity, near, values, _counted(points, (name,), edges), none=_uneven(word), notes=notes)


def _any_frames(means: CycleMeans, z: np.ndarray, points: Points, column: int) -> CycleMeans:
    """Means over those frames of each cycle on which the value is known, however they are spread."""
    value, sigma = np.full(len(means.rows), np.nan), np.full(len(means.rows), np.nan)
    rows = []
    for c, span in enumerate(means.rows):
        own = span[np.isfinite(z[span])]
        rows.append(own)
        if len(own):
            value[c] = z[own].mean()
            sigma[c] = np.sqrt(np.sum(points.sigma_px[own, column] ** 2)) / len(own)
    return CycleMeans(value, sigma, tuple(rows))


def _shared(means: CycleMeans, points: Points, columns: Sequence[int]) -> CycleMeans:
    """The same with the error of tracks, which a mean over neighbouring frames does not take away."""
    sigma = means.sigma.copy()
    for c, rows in enumerate(means.rows):
        cells = np.ix_(rows, np.array(columns))
        drawn = ~points.by_hand[cells]
        if len(rows) and drawn.any():
            sigma[c] = float(np.sqrt(np.nansum(np.nanmean(points.sigma_px[cells] ** 2, 0)))) / np.sqrt(TRACKS)
    return CycleMeans(means.value, sigma, means.rows)


def _mean_seen(places: np.ndarray) -> np.ndarray:
    """Mean over the frames in which a point is seen, (2,) from (N, 2); NaN if there is none."""
    seen = np.isfinite(places)
    return np.asarray(np.where(seen, places, 0.0).sum(0) / np.where(seen.any(0), seen.sum(0), np.nan))


def _head(
    sheet: Sheet, points: Points, near: str, edges: CycleEdges, plane: Plane, calm: np.ndarray, known: bool
) -> None:
    names = (f"ear_{near}", f"shoulder_{near}", f"hip_{near}")
    means = head_angle(points, near, edges.starts, calm if known else None)
    notes = [WITH_FACE] if known else ["The mouth is not marked: turns of the head are in this number."]
    ear, shoulder, hip = (_mean_seen(points.level[:, points.names.index(n)]) for n in names)
    off = shoulder[1] - _axis_height(sheet.shot, plane)
    by_head = _slant(off * (NEARER["shoulder"] - NEARER["ear"]), ear - shoulder)
    lens = np.hypot(by_head, _slant(off * (NEARER["shoulder"] - NEARER["hip"]), shoulder - hip))
    level = head_level(points, near, edges.starts, calm if known else None)
    tilted = float(np.hypot(by_head, plane.tilt_sigma_deg))
    for quantity, own, common in (("head_angle_deg", means, lens), ("head_level_deg", level, tilted)):
        values = _told(points, own, own.value, own.sigma, common, edges)
        counted = _counted(points, names, edges)
        sheet.add(quantity, near, values, counted, none=_uneven("ear, shoulder and hip"), notes=notes)


def _told(
    points: Points, means: CycleMeans, value: np.ndarray, sigma: np.ndarray, common: object, edges: CycleEdges
) -> list[Value]:
    shared = np.broadcast_to(np.asarray(common, float), value.shape)
    return [
        Value(
            int(c) + 1, float(value[c]), float(sigma[c]), float(shared[c]),
            tuple(int(f) for f in points.frames[means.rows[c]]), edges.classes[c],
        )
        for c in np.flatnonzero(np.isfinite(value) & edges.whole)
    ]  # fmt: skip


def _counted(points: Points, names: Sequence[str], edges: CycleEdges) -> dict[str, tuple[int, int]]:
    return seen_by_class(points, points.known(*names), edges)


def _uneven(what: str) -> Unread:
    return Unread(
        f"Roll fakes this in single frames, and no cycle has {what} marked evenly round it.",
        f"Mark {what} in every frame of a cycle, or in frames half a cycle apart.",
    )


def _stills(
    shot: Shot, points: Points, near: str, edges: CycleEdges, plane: Plane, calm: NDArray[np.bool_]
) -> tuple[Still, ...]:
    """In each cycle the whole body against the water at full reach with the face in, and once in the breath."""
    names = [f"{n}_{near}" for n in ("ear", "shoulder", "hip", "heel")]
    columns = [points.names.index(n) for n in names]
    whole = points.known(*names)
    reach = moments_of(edges.strokes.get(near, ()), "end_of_extension", clock_of(shot))[0]
    out: list[Still] = []
    for c in np.flatnonzero(edges.whole):
        start, stop = edges.starts[c : c + 2]
        span = np.arange(*np.searchsorted(points.clock, [start, stop]))
        at_reach = [t for t in reach if start <= t < stop]
        quiet, breath = span[whole[span] & calm[span]], span[whole[span] & ~calm[span]]
        rows = (
            [("line", "The whole body, face in", quiet[_nearest(points.clock[quiet], at_reach)])] if len(quiet) else []
        )
        rows += [("line_breath", "The whole body in the breath", breath[len(breath) // 2])] if len(breath) else []
        for key, title, row in rows:
            xy = points.xy[row, columns]
            drawing = Drawing((path(xy),), _water(xy, plane))
            out.append(Still(int(points.frames[row]), key, title, drawing, int(c) + 1, crop_around(xy, 0.2), near))
    return tuple(out)


def _nearest(clock: NDArray[np.float64], wanted: Sequence[float]) -> int:
    return int(np.argmin(np.abs(clock - wanted[0]))) if len(wanted) else 0


def _water(xy: np.ndarray, plane: Plane) -> tuple[tuple[tuple[float, float], ...], ...]:
    if not plane.has_water:
        return ()
    level = plane.level(xy)
    ends = np.array([[level[:, 0].min(), 0.0], [level[:, 0].max(), 0.0]])
    return (path(plane.picture(ends)),)
