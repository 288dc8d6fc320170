"""Intraclass correlation: which share of the spread among readings is a spread among the things read.

It depends on how different the things are, so the same marking looks better on a varied swimmer; the typical error of
``reliability`` does not.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from casebook.errors import MarksError
from casebook.marks.reliability import Estimate

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

_UNKNOWN = Estimate(math.nan, math.nan, math.nan)


@dataclass(frozen=True, slots=True)
class Intraclass:
    """The six forms of Shrout & Fleiss 1979 with the mean squares behind them.

    Attributes
    ----------
    one, two, three : Estimate
        Of a single reading: ICC(1,1), each thing read by judges of its own; ICC(2,1), the judges a sample of all judges
        (agreement); ICC(3,1), these judges alone and their mean differences apart (consistency).
    one_k, two_k, three_k : Estimate
        Of the mean of all k readings.
    between, within, judges, error : float
        Mean squares between things, within things, between judges, and the rest, in the reading's unit squared.
    n, k, left_out : int
        Things read by all judges, judges, and things left out because a reading is missing.
    """

    one: Estimate
    two: Estimate
    three: Estimate
    one_k: Estimate
    two_k: Estimate
    three_k: Estimate
    between: float
    within: float
    judges: float
    error: float
    n: int
    k: int
    left_out: int

    @property
    def sem_consistency(self) -> float:
        """Standard error of measurement without the judges' mean differences: sqrt(error)."""
        return math.sqrt(self.error)

    @property
    def sem_agreement(self) -> float:
        """Standard error of measurement with them: what another judge, any judge, would be off by."""
        return math.sqrt(max(self.judges - self.error, 0.0) / self.n + self.error)


def intraclass(readings: ArrayLike) -> Intraclass:
    """All six forms with 95 % intervals.

    Parameters
    ----------
    readings : (n, k) float array
        A row a thing, a column a judge or round. Rows with a NaN are left out: complete cases.

    Returns
    -------
    Intraclass
        Intervals by the F distribution; that of ICC(2, .) with Satterthwaite's degrees of freedom (Shrout & Fleiss
        1979, Psychol Bull 86:420-428; McGraw & Wong 1996, Psychol Methods 1:30-46).
    """
    x = np.asarray(readings, float)
    if x.ndim != 2 or x.shape[1] < 2:
        raise MarksError(f"Readings of shape {x.shape} hold no repeated reading.", "Give one column a judge or round.")
    complete = np.isfinite(x).all(1)
    left_out = int((~complete).sum())
    x = x[complete]
    n, k = x.shape
    if n < 2:
        gap, nan = _UNKNOWN, math.nan
        return Intraclass(gap, gap, gap, gap, gap, gap, nan, nan, nan, nan, n, k, left_out)
    x = x - x.mean()
    rows, columns = x.mean(1), x.mean(0)
    between = k * float((rows**2).sum()) / (n - 1)
    within = float(((x - rows[:, None]) ** 2).sum()) / (n * (k - 1))
    judges = n * float((columns**2).sum()) / (k - 1)
    error = float(((x - rows[:, None] - columns) ** 2).sum()) / ((n - 1) * (k - 1))
    one = _by_f(between, within, n - 1, n * (k - 1), k)
    three = _by_f(between, error, n - 1, (n - 1) * (k - 1), k)
    two = _agreement(between, judges, error, n, k)
    one_k, two_k, three_k = (_of_mean(form, k) for form in (one, two, three))
    return Intraclass(one, two, three, one_k, two_k, three_k, between, within, judges, error, n, k, left_out)


def _by_f(between: float, rest: float, dof_between: int, dof_rest: int, k: int) -> Estimate:
    if rest <= 0:
        return Estimate(1.0, math.nan, math.nan) if between > 0 else _UNKNOWN
    from scipy.special import fdtri

    ratio = between / rest
    low = ratio / fdtri(dof_between, dof_rest, 0.975)
    high = ratio * fdtri(dof_rest, dof_between, 0.975)
    return Estimate(*(float((f - 1) / (f + k - 1)) for f in (ratio, low, high)))


def _agreement(between: float, judges: float, error: float, n: int, k: int) -> Estimate:
    total = between + (k - 1) * error + k * (judges - error) / n
    if total <= 0:
        return _UNKNOWN
    value = (between - error) / total
    if error <= 0:
        return Estimate(value, math.nan, math.nan)
    from scipy.special import fdtri

    ratio = judges / error
    a, b = k * value * ratio, n * (1 + (k - 1) * value) - k * value
    dof = (k - 1) * (n - 1) * (a + b) ** 2 / ((n - 1) * a**2 + b**2)
    upper, lower = fdtri(n - 1, dof, 0.975), fdtri(dof, n - 1, 0.975)
    spread = k * judges + (k * n - k - n) * error
    # Few degrees of freedom make the bound endless; then only its share counts.
    endless = not math.isfinite(upper) or upper > 1e150
    low = -n * error / spread if endless else n * (between - upper * error) / (upper * spread + n * between)
    high = n * (lower * between - error) / (spread + n * lower * between)
    return Estimate(value, float(low), float(high))


def _of_mean(single: Estimate, k: int) -> Estimate:
    """From one reading to the mean of k, by the formula of Spearman and Brown."""

    def raised(r: float) -> float:
        # One reading at its least, -1 / (k - 1), leaves a mean without bound.
        below = 1 + (k - 1) * r
        return k * r / below if below > 0 else math.nan

    return Estimate(*(raised(r) for r in (single.value, single.low, single.high)))
