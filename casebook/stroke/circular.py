"""Directions on a circle: their mean, how well they agree, and the relative phase of two rhythms.

All angles are in degrees. An arithmetic mean of directions is wrong as soon as they lie on both sides of 0: 355.9 and
0.5 have the mean 358.2, not 178.2.

References
----------
.. [1] Fisher NI (1993). Statistical analysis of circular data, 4.4.4: interval of the mean direction from the sample
   circular dispersion. From memory; its coverage is tested here.
.. [2] Martinez Sobrino I, Veiga S, Navandar A. Eur J Hum Mov, article 418: relative phase of arms and legs in front
   crawl, with the bands used here.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from casebook.plane.propagate import t95

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

#: Relative phases up to this far from 0 are in phase, and up to this far from 180 in anti-phase [2]_. [deg]
IN_PHASE_DEG = 30.0
BANDS = ("in phase", "anti-phase", "out of phase")


@dataclass(frozen=True, slots=True)
class Directions:
    """Several directions in few numbers.

    Attributes
    ----------
    n : int
        How many there were, NaN left out.
    mean : float
        Mean direction, 0 to 360; NaN without any, or where they cancel. [deg]
    length : float
        Resultant length, 0 (all ways) to 1 (all alike).
    spread : float
        Circular standard deviation, sqrt(-2 ln length). [deg]
    half : float
        Half the 95 % interval of the mean direction; 180 where the directions do not tell one, NaN under three.
        [deg]
    chance : float
        How often directions of no preference would agree this well by chance (Rayleigh).
    """

    n: int
    mean: float
    length: float
    spread: float
    half: float
    chance: float


def wrapped(angle_deg: ArrayLike, low: float = 0.0) -> NDArray[np.float64]:
    """The same directions from ``low`` up to ``low + 360``. [deg]

    >>> float(wrapped(-30)), float(wrapped(350, -180))
    (330.0, -10.0)
    """
    return low + np.mod(np.asarray(angle_deg, float) - low, 360.0)


def resultant(angles_deg: ArrayLike, axis: int = -1) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Mean direction [deg, 0 to 360] and resultant length [0 to 1] along an axis; NaN are left out."""
    turns = np.exp(1j * np.radians(np.asarray(angles_deg, float)))
    known = np.isfinite(turns)
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = np.where(known, turns, 0).sum(axis) / known.sum(axis)
    length = np.abs(mean)
    told = length > 1e-12
    return np.where(told, wrapped(np.degrees(np.angle(mean))), np.nan), length


def directions(angles_deg: ArrayLike) -> Directions:
    """Mean direction, agreement and interval of directions (n,) that do not depend on one another. [deg]"""
    angles = np.asarray(angles_deg, float).ravel()
    angles = angles[np.isfinite(angles)]
    n = len(angles)
    if not n:
        return Directions(0, np.nan, np.nan, np.nan, np.nan, np.nan)
    mean, length = (float(v) for v in resultant(angles))
    spread = float(np.degrees(np.sqrt(2 * np.log(1 / max(min(length, 1.0), 1e-300)))))
    return Directions(n, mean, length, spread, _half(angles, mean, length), rayleigh(length, n))


def _half(angles: NDArray[np.float64], mean: float, length: float) -> float:
    n = len(angles)
    if n < 3:
        return float("nan")
    second = float(np.cos(2 * np.radians(angles - mean)).mean()) if np.isfinite(mean) else -1.0
    dispersion = (1 - second) / (2 * length**2) if length > 0 else np.inf
    # Of few strokes the spread itself is unsure: Student's t, as for numbers on a line.
    sine = float(t95(n - 1)) * np.sqrt(dispersion / (n - 1))
    return float(np.degrees(np.arcsin(sine))) if sine < 1 else 180.0


def rayleigh(length: float, n: int) -> float:
    """How often ``n`` directions of no preference have a resultant this long or longer, by chance.

    Notes
    -----
    Zar's approximation, exp(sqrt(1 + 4n + 4(n^2 - R^2)) - (1 + 2n)) with R = n * length; from memory, tested against
    simulated directions.
    """
    whole = n * length
    return float(np.exp(np.sqrt(1 + 4 * n + 4 * (n * n - whole * whole)) - (1 + 2 * n)))


def phase_band(phase_deg: ArrayLike) -> NDArray[np.str_]:
    """The band of each relative phase, one of ``BANDS`` [2]_.

    >>> phase_band([355.9, 180, 90]).tolist()
    ['in phase', 'anti-phase', 'out of phase']
    """
    off = np.abs(wrapped(phase_deg, -180.0))
    return np.where(off <= IN_PHASE_DEG, BANDS[0], np.where(off >= 180 - IN_PHASE_DEG, BANDS[1], BANDS[2]))


def phase_at(instants: ArrayLike, beats: ArrayLike) -> NDArray[np.float64]:
    """Where in a rhythm each instant falls: 0 on a beat, 180 halfway to the next.

    Parameters
    ----------
    instants : (...,) float array [s]
    beats : (n,) float array
        Increasing. [s]

    Returns
    -------
    (...,) float array
        0 to 360; NaN outside the first and last beat. [deg]

    Examples
    --------
    >>> phase_at([1.0, 1.25, 3.5], [0.5, 1.0, 2.0]).tolist()
    [0.0, 90.0, nan]
    """
    at, steps = np.asarray(instants, float), np.asarray(beats, float)
    if len(steps) < 2:
        return np.full(at.shape, np.nan)
    count = np.interp(at, steps, np.arange(len(steps)), left=np.nan, right=np.nan)
    return wrapped(360.0 * count)
