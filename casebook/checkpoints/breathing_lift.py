"""Heights in the breath: crown, lower goggle, front hand; and when the hand over the water passes the head."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

import numpy as np

from casebook.checkpoints.parts import SIDE_VIEWS, heights_m, no_scale
from casebook.stroke.cycle_edges import CycleEdges
from casebook.stroke.points import Points, Unread, points_of
from casebook.stroke.swings import crossing_after

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from casebook.clip.shot import Shot
    from casebook.marks.marks import Marks
    from casebook.plane.plane import Plane
    from casebook.stroke.breath import Breaths
    from casebook.stroke.head import FaceTurn

    Array = NDArray[np.float64]
    Heights = tuple[Array, Array, Array]

#: The face counts as in the water while it is turned out by less than this. [deg] own judgement, no source
CALM_DEG = 25.0
#: The hand passes the head no later than this after the face has begun to go back. [s] own judgement, no source
LONGEST_S = 0.8
#: A breath is held against strokes without one at this many moments or more.
LEAST_FRAMES = 3


def head_lift(shot: Shot, plane: Plane, face: FaceTurn, breaths: Breaths) -> Heights | Unread:
    """How much higher the crown is in each breath than with the face in the water: value, own and common error. [m]"""
    if why := _not_level(shot) or no_scale(plane):
        return why
    points = face.points
    column = points.names.index("crown")
    z, noise = points.level[:, column, 1], points.sigma_px[:, column]
    calm = (np.abs(face.turn) < CALM_DEG) & np.isfinite(z)
    if calm.sum() < LEAST_FRAMES:
        return Unread("The crown is not marked with the face in the water.", "Mark it between two breaths too.")
    value, sigma = np.full(len(breaths), np.nan), np.full(len(breaths), np.nan)
    for k, (first, last) in enumerate(breaths.rows):
        rows = np.arange(first, last + 1)[np.isfinite(z[first : last + 1])]
        if len(rows) >= LEAST_FRAMES:
            value[k] = z[rows].mean() - z[calm].mean()
            sigma[k] = _of_mean(points, rows, column, noise)
    metre = plane.m_per_px
    return value * metre, sigma * metre, np.abs(value) * metre * plane.scale_sigma


def goggle(shot: Shot, marks: Marks, plane: Plane, breaths: Breaths) -> Heights | Unread:
    """Height of the lower goggle over still water with the face turned furthest: value, own and common error. [m]"""
    if why := _not_level(shot) or heights_m(plane):
        return why
    points = points_of(shot, marks, plane, ("goggle_l", "goggle_r", "mouth", "ear_l", "ear_r", "crown", "neck"))
    value, sigma = np.full(len(breaths), np.nan), np.full(len(breaths), np.nan)
    z = points.level[:, :2, 1]
    for k, row in enumerate(breaths.row):
        if np.isfinite(z[row]).any():
            lower = int(np.nanargmin(z[row]))
            value[k], sigma[k] = z[row, lower], points.sigma_px[row, lower]
    if not np.isfinite(value).any():
        return Unread(
            "No goggle is marked with the face turned furthest.", "Mark both goggles, or the lower one, there."
        )
    metre = plane.m_per_px
    water = np.sqrt(plane.covariance[2, 2]) * metre
    return value * metre, sigma * metre, np.hypot(water, value * metre * plane.scale_sigma)


def front_arm_drop(
    shot: Shot, marks: Marks, plane: Plane, breaths: Breaths, edges: CycleEdges | Unread, side: str
) -> Heights | Unread:
    """How much deeper the front hand goes in each breath than at the same moments of cycles without one. [m]"""
    if why := _not_level(shot) or no_scale(plane):
        return why
    if isinstance(edges, Unread):
        return edges
    plain = [k for k, name in enumerate(edges.classes) if name == "none" and edges.whole[k]]
    if not plain:
        return Unread(
            "The swimmer breathes in every cycle seen, so there is no stroke to hold the front hand against.",
            "Film a length with a breath every four strokes or less often.",
        )
    front = f"fingertip_{'lr'.replace(side, '')}"
    points = points_of(shot, marks, plane, (front, f"shoulder_{'lr'.replace(side, '')}"))
    clock, z = points.clock, points.level[:, 0, 1]
    if not np.isfinite(z).any():
        return Unread("The fingertip of the front arm is not marked.", "Mark it through the breath.")
    usual = _usual(points, z, edges, plain)
    value, sigma = np.full(len(breaths), np.nan), np.full(len(breaths), np.nan)
    for k in np.flatnonzero(np.isfinite(breaths.duration_s)):
        rows = np.arange(*np.searchsorted(clock, [breaths.start_s[k], breaths.end_s[k]]))
        rows = rows[np.isfinite(z[rows])]
        cycle = edges.of(clock[rows])
        rows, cycle = rows[cycle >= 0], cycle[cycle >= 0]
        share = (clock[rows] - edges.starts[cycle]) / (edges.starts[cycle + 1] - edges.starts[cycle])
        drop = usual(share) - z[rows]
        good = np.isfinite(drop)
        if good.sum() >= LEAST_FRAMES:
            value[k] = drop[good].mean()
            sigma[k] = _of_mean(points, rows[good], 0, points.sigma_px[:, 0]) * np.sqrt(1 + 1 / len(plain))
    metre = plane.m_per_px
    return value * metre, sigma * metre, np.abs(value) * metre * plane.scale_sigma


def _usual(points: Points, z: Array, edges: CycleEdges, plain: Sequence[int]) -> Callable[[Array], Array]:
    """Height over the share of a cycle, as the mean of the plain cycles that are marked there."""
    grid = np.linspace(0, 1, 101)
    tracks = []
    for k in plain:
        rows = np.arange(*np.searchsorted(points.clock, edges.starts[k : k + 2]))
        rows = rows[np.isfinite(z[rows])]
        if len(rows) > 1:
            share = (points.clock[rows] - edges.starts[k]) / (edges.starts[k + 1] - edges.starts[k])
            near = np.abs(grid[:, None] - share).min(1) < 0.02
            tracks.append(np.where(near, np.interp(grid, share, z[rows]), np.nan))
    if not tracks:
        return lambda share: np.full(np.shape(share), np.nan)
    count = np.isfinite(tracks).sum(0)
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = np.nansum(tracks, 0) / np.where(count, count, np.nan)
    return lambda share: np.asarray(np.interp(share, grid, mean))


def _not_level(shot: Shot) -> Unread | None:
    """Why no height is read in this view: a camera in line scales each depth its own way, one above looks down."""
    if shot.view in SIDE_VIEWS:
        return None
    return Unread(
        "Heights are read from the side, with the camera at the water or under it.",
        "Film from the breathing side with the camera at the water line.",
    )


def passes_head(
    shot: Shot, marks: Marks, plane: Plane, face_points: Points, breaths: Breaths, side: str
) -> tuple[Array, Array] | Unread:
    """When the wrist of the breathing side passes the crown on its way forward, after each breath began: (n,) [s].

    With its standard deviation. Only from the side: head-on the way forward points at the camera.
    """
    missing = Unread(
        "The hand over the water is not marked as it passes the head.",
        "Film from the side at or above the water line and mark wrist and crown there; the entry is used beside it.",
    )
    if not shot.view.startswith("side"):
        return missing
    points = points_of(shot, marks, plane, (f"wrist_{side}", "crown"))
    known = points.known(f"wrist_{side}", "crown")
    if not known.any():
        return missing
    rows = np.flatnonzero(known)
    clock = points.clock[rows]
    ahead = (points.level[rows, 0] - points.level[rows, 1])[:, 0]
    over = points.level[rows, 0, 1] - points.level[rows, 1, 1] > 0
    when, sigma = np.full(len(breaths), np.nan), np.full(len(breaths), np.nan)
    for k in np.flatnonzero(breaths.side == side):
        start = face_points.clock[breaths.rows[k][0]]
        first, last = np.searchsorted(clock, [start, start + LONGEST_S])
        forward = np.flatnonzero(
            (ahead[first : last - 1] < 0) & (ahead[first + 1 : last] >= 0) & over[first : last - 1]
        )
        gap = forward[np.diff(clock)[first + forward] < 3.5 * points.step] if len(forward) else forward
        if len(gap):
            at = first + int(gap[0])
            when[k] = crossing_after(clock, ahead, at, at + 1, 0.0)
            rate = (ahead[at + 1] - ahead[at]) / (clock[at + 1] - clock[at])
            noise = float(np.hypot(*points.sigma_px[rows[at]]))
            sigma[k] = max(noise / rate, points.step / 2)
    return (when, sigma) if np.isfinite(when).any() else missing


def _of_mean(points: Points, rows: NDArray[np.int64], column: int, noise: Array) -> float:
    """Standard deviation of a mean over rows: marks by hand err each for itself, a track's alike. [px]"""
    alone = float(np.sqrt(np.mean(noise[rows] ** 2)))
    return alone / np.sqrt(len(rows)) if points.by_hand[rows, column].all() else alone
