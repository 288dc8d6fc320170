"""Turning points of a measure that goes up and down: the tops and bottoms of kicks, the extremes of roll."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

#: A swing counts from this share of the usual range on, and from this many standard deviations of its own error on.
#: own judgement, no source
LEAST_SHARE, LEAST_SIGMAS = 0.25, 5.0
#: Samples further apart than this many usual steps belong to different runs. own judgement, no source
GAP_STEPS = 3.5


@dataclass(frozen=True, slots=True, eq=False)
class Turns:
    """Tops and bottoms in turn.

    ``row`` (n,) is the sample nearest to each, ``clock`` (n,) and ``value`` (n,) those of the parabola through it and
    its two neighbours, ``up`` (n,) whether it is a top, ``run`` (n,) the number of the gapless run it lies in.
    """

    row: NDArray[np.int64]
    clock: NDArray[np.float64]
    value: NDArray[np.float64]
    up: NDArray[np.bool_]
    run: NDArray[np.int64]


def runs(clock: ArrayLike, known: ArrayLike, longest: float) -> list[NDArray[np.int64]]:
    """Rows of each stretch without a gap longer than so much, known samples alone. [s]"""
    rows = np.flatnonzero(np.asarray(known))
    if not len(rows):
        return []
    cuts = np.flatnonzero(np.diff(np.asarray(clock, float)[rows]) > longest) + 1
    return np.split(rows, cuts)


def least_swing(values: ArrayLike, sigma: ArrayLike) -> float:
    """The least rise or fall of a measure that is more than its noise and not small beside its usual range."""
    v, s = np.asarray(values, float), np.asarray(sigma, float)
    if not np.isfinite(v).any():
        return float("nan")
    low, high = np.nanpercentile(v, [5, 95])
    return float(max(LEAST_SHARE * (high - low), LEAST_SIGMAS * np.nanmedian(s)))


def turns(clock: ArrayLike, values: ArrayLike, step: float, least: float) -> Turns:
    """Tops and bottoms whose rise and fall are at least ``least``, alternating within each run.

    Parameters
    ----------
    clock, values : (K,) float arrays
        NaN where the measure is not known.
    step : float
        Usual time between samples. [s]
    least : float
        In the unit of the values.
    """
    from scipy.signal import find_peaks

    t, v = np.asarray(clock, float), np.asarray(values, float)
    found: list[tuple[NDArray[np.int64], NDArray[np.bool_], int]] = []
    for number, rows in enumerate(runs(t, np.isfinite(v), GAP_STEPS * step)):
        tops, bottoms = (rows[find_peaks(s * v[rows], prominence=max(least, 1e-12))[0]] for s in (1, -1))
        at = np.concatenate([tops, bottoms])
        up = np.arange(len(at)) < len(tops)
        order = np.argsort(at, kind="stable")
        found.append((*_in_turn(at[order], up[order], v), number))
    if not found:
        none = np.empty(0)
        return Turns(none.astype(np.int64), none, none, none.astype(bool), none.astype(np.int64))
    row, up = (np.concatenate([f[i] for f in found]) for i in (0, 1))
    run = np.concatenate([np.full(len(f[0]), f[2]) for f in found])
    when, value = vertex(t, v, row)
    return Turns(row, when, value, up, run)


def vertex(
    clock: NDArray[np.float64], values: NDArray[np.float64], rows: NDArray[np.int64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Instant and value of the extreme of the parabola through each row and its two neighbours.

    Never further than to the neighbour; the sample itself where a neighbour is missing or the three do not turn.
    """
    before, after = np.maximum(rows - 1, 0), np.minimum(rows + 1, len(values) - 1)
    a, b = clock[before] - clock[rows], clock[after] - clock[rows]
    ya, yb = values[before] - values[rows], values[after] - values[rows]
    with np.errstate(invalid="ignore", divide="ignore"):
        curve = (ya / a - yb / b) / (a - b)
        slope = ya / a - curve * a
        shift = -slope / (2 * curve)
    good = np.isfinite(shift) & (shift >= a) & (shift <= b) & (np.sign(ya) == np.sign(yb))
    shift = np.where(good, shift, 0.0)
    change = np.where(good, np.nan_to_num(slope) * shift + np.nan_to_num(curve) * shift**2, 0.0)
    return clock[rows] + shift, values[rows] + change


def crossing_after(
    clock: NDArray[np.float64], values: NDArray[np.float64], first: int, last: int, level: float
) -> float:
    """Instant at which a measure first passes a level between two rows, by a straight line; NaN if it does not. [s]"""
    part = values[first : last + 1] - level
    change = np.flatnonzero((part[:-1] * part[1:] <= 0) & (part[:-1] != part[1:]))
    if not len(change):
        return float("nan")
    k = int(change[0])
    share = part[k] / (part[k] - part[k + 1])
    return float(clock[first + k] + share * (clock[first + k + 1] - clock[first + k]))


def _in_turn(
    at: NDArray[np.int64], up: NDArray[np.bool_], values: NDArray[np.float64]
) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """Of several tops (or bottoms) in a row the highest (lowest) is kept."""
    kept: list[int] = []
    for k in range(len(at)):
        if kept and up[kept[-1]] == up[k]:
            better = values[at[k]] > values[at[kept[-1]]]
            if better == up[k]:
                kept[-1] = k
            continue
        kept.append(k)
    return at[kept], up[kept]
