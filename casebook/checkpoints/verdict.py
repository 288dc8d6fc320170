"""From stroke values to two intervals, and from an interval and a band to a verdict."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from casebook.checkpoints.finding import Band, Interval
from casebook.plane.propagate import Z95, t95

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

#: A habit is spoken of from this many strokes on.
LEAST_FOR_HABIT = 3


def these_strokes(values: ArrayLike, sigmas: ArrayLike, common: float) -> Interval:
    """95 % interval of the mean of these strokes: was it so in this clip?

    Parameters
    ----------
    values, sigmas : (n,) float array
        Value and independent measurement error of each stroke. The independent parts shrink with the number of strokes.
    common : float
        Standard deviation that all strokes share (scale, tilt, arm length). It does not shrink.
    """
    v, s = np.asarray(values, float), np.asarray(sigmas, float)
    spread = Z95 * float(np.hypot(np.sqrt(np.sum(s**2)) / len(v), common))
    return Interval(float(v.mean()) - spread, float(v.mean()) + spread)


def habit(values: ArrayLike, common: float) -> Interval | None:
    """95 % interval of what the swimmer does, by Student's t of the strokes; None under three strokes.

    The spread of the strokes already holds their measuring error, so that is not added a second time; what all strokes
    share is not in the spread and is.
    """
    v = np.asarray(values, float)
    n = len(v)
    if n < LEAST_FOR_HABIT:
        return None
    half = float(np.hypot(float(t95(n - 1)) * v.std(ddof=1) / np.sqrt(n), Z95 * common))
    return Interval(float(v.mean()) - half, float(v.mean()) + half)


def verdict(value: float, these: Interval, band: Band | None) -> str:
    """One of ``words.VERDICTS``.

    ``within``: the interval lies in the band. ``undecided``: it crosses an edge. ``outside``: it lies wholly outside;
    ``near``: so, but the value is off the edge by less than the band's margin. ``shown``: no band, or switched off.
    """
    if band is None or not band.on or (band.low is None and band.high is None):
        return "shown"
    low = -np.inf if band.low is None else band.low
    high = np.inf if band.high is None else band.high
    if low <= these.low and these.high <= high:
        return "within"
    if these.high < low or these.low > high:
        beyond = low - value if these.high < low else value - high
        return "near" if beyond < band.margin else "outside"
    return "undecided"
