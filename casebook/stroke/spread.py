"""How wide the feet go along the line of the hips, against the hips' width, from head-on or from behind.

Along that line the roll of the whole body does not count: legs that kick up and down stay narrow when they roll.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from casebook.stroke.points import Points, Smooth, Unread, smooth

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from casebook.clip.shot import Shot
    from casebook.plane.measured import Measured

    Array = NDArray[np.float64]

POINTS = ("hip_l", "hip_r", "ankle_l", "ankle_r")
#: Hip joint to ankle of an adult, by which the feet are further from a camera ahead than the hips. [m] Computed: 0.491
#: of 1.75 m of stature, the fractions from memory of handbooks of biomechanics (after Drillis and Contini 1966).
LEG_M, LEG_SIGMA_M = 0.86, 0.08
#: How far a camera in line with the swimmer usually is from the hips, where it is not known. [m] own judgement, no
#: source
USUAL_M, USUAL_SIGMA_M = 4.0, 1.2
#: The line of the hips is carried this far to frames in which an arm or the body hides them. [s] own judgement, no
#: source
CARRIED_S = 0.15
#: The hips are this much wider than their joint centres are apart, and how far bodies differ in that: 0.191 of stature
#: against 0.100. Computed; both from memory of handbooks of biomechanics (the first after Drillis and Contini 1966).
HIPS_PER_JOINTS, HIPS_SIGMA = 1.9, 0.15
#: A cycle is read with at least this share of its frames.
LEAST_SEEN = 0.5


@dataclass(frozen=True, slots=True, eq=False)
class Spread:
    """Widest distance of the ankles along the line of the hips in each cycle, in hip widths; (C,), NaN where not read.

    ``sigma`` is the independent standard deviation, ``common`` that of hip width and perspective, which err alike in
    every cycle. ``row`` is where it was widest, -1 where not read.
    """

    value: Array
    sigma: Array
    common: Array
    row: NDArray[np.int64]
    seen: int
    needed: int


def spread_of(shot: Shot, points: Points, starts: ArrayLike, distance: Measured | None = None) -> Spread | Unread:
    """How wide the feet go in each cycle.

    Parameters
    ----------
    shot : Shot
        Filmed head-on or from behind.
    points : Points
        Those of ``POINTS``.
    starts : (C + 1,) float array
        Beginnings of the cycles and the end of the last. [s]
    distance : Measured, optional
        Camera to hips. [m] Feet behind the hips are drawn smaller from ahead, and larger from behind.
    """
    if not shot.view.startswith(("front", "rear")):
        return Unread("From this view the feet's spread is not seen.", "Film head-on or from behind.")
    if not points.marked("hip_l", "hip_r"):
        return Unread("Both hips are not marked in one frame.", "Mark both hips where they can be seen.")
    level = smooth(points)
    hips = np.linalg.norm(level.of("hip_l") - level.of("hip_r"), axis=-1)
    hip_px = HIPS_PER_JOINTS * float(np.nanmedian(hips))
    hip_sigma = float(np.nanmedian(np.hypot(level.sigma_of("hip_l"), level.sigma_of("hip_r"))))
    factor, factor_sigma = _perspective(shot, distance)
    apart = np.abs(((level.of("ankle_l") - level.of("ankle_r")) * _sideways(points, level)).sum(-1))
    noise = np.hypot(level.sigma_of("ankle_l"), level.sigma_of("ankle_r"))
    edges = np.asarray(starts, float)
    n = max(len(edges) - 1, 0)
    value, sigma, row, seen, needed = np.full(n, np.nan), np.full(n, np.nan), np.full(n, -1), 0, 0
    spans = np.searchsorted(points.clock, edges)
    for c in range(n):
        part = apart[spans[c] : spans[c + 1]]
        frames = round((edges[c + 1] - edges[c]) / points.step)
        count = int(np.isfinite(part).sum())
        seen, needed = seen + count, needed + frames
        if count and count >= LEAST_SEEN * frames:
            row[c] = spans[c] + int(np.nanargmax(part))
            value[c] = apart[row[c]] / hip_px * factor
            sigma[c] = noise[row[c]] / hip_px * factor
    if not np.isfinite(value).any():
        return Unread(
            "Both ankles are marked in too few frames of a cycle.",
            "Mark both ankles, or hide them where the body covers them; from behind the feet are in front.",
        )
    few = np.sqrt(max(int(np.isfinite(hips).sum()), 1))
    doubt = np.sqrt(
        (factor_sigma / factor) ** 2
        + (HIPS_PER_JOINTS * hip_sigma / few / hip_px) ** 2
        + (HIPS_SIGMA / HIPS_PER_JOINTS) ** 2
    )
    return Spread(value, sigma, value * doubt, row, seen, needed)


def _sideways(points: Points, level: Smooth) -> Array:
    """Direction from the right to the left hip, carried over short gaps; NaN in longer ones. (K, 2)"""
    line = level.of("hip_l") - level.of("hip_r")
    rows = np.flatnonzero(np.isfinite(line).all(-1))
    clock = points.clock
    carried = np.stack([np.interp(clock, clock[rows], line[rows, i]) for i in (0, 1)], -1)
    after = np.clip(np.searchsorted(clock[rows], clock), 0, len(rows) - 1)
    nearest = np.minimum(np.abs(clock - clock[rows][after]), np.abs(clock - clock[rows][np.maximum(after - 1, 0)]))
    carried[nearest > CARRIED_S] = np.nan
    return carried / np.linalg.norm(carried, axis=-1, keepdims=True)


def _perspective(shot: Shot, distance: Measured | None) -> tuple[float, float]:
    """By what a width at the feet has to be multiplied to be held against one at the hips, and its error."""
    far, unsure = (USUAL_M, USUAL_SIGMA_M) if distance is None else (distance.value, distance.sigma)
    sign = 1.0 if shot.view.startswith("front") else -1.0
    return 1 + sign * LEG_M / far, float(np.hypot(LEG_SIGMA_M / far, LEG_M * unsure / far**2))
