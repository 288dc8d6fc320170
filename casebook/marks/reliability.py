"""How well two readings of the same thing agree: typical error, limits of agreement, smallest change to believe.

All sums leave missing values (NaN) out and say how many cases that cost. Intervals are 95 %.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from casebook.errors import MarksError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

Z95 = 1.959963984540054


@dataclass(frozen=True, slots=True)
class Estimate:
    """A figure with its 95 % interval; NaN where there is too little to say."""

    value: float
    low: float
    high: float

    def times(self, factor: float) -> Estimate:
        """The same in another unit; ``factor`` is positive."""
        return Estimate(self.value * factor, self.low * factor, self.high * factor)

    def text(self, decimals: int = 1, unit: str = "") -> str:
        """Value and interval in words.

        >>> Estimate(2.04, 1.7, 2.55).text(1, "px")
        '2.0 px (1.7 to 2.5)'
        """
        space = f" {unit}" if unit else ""
        value, low, high = (f"{round(v, decimals) + 0.0:.{decimals}f}" for v in (self.value, self.low, self.high))
        if math.isnan(self.low):
            return "not known" if math.isnan(self.value) else f"{value}{space}"
        return f"{value}{space} ({low} to {high})"


@dataclass(frozen=True, slots=True)
class Spread:
    """Standard deviation of one reading, with what it rests on.

    ``dof`` are its degrees of freedom, ``n`` the things read at least twice, ``left_out`` those that were not.
    """

    sd: Estimate
    dof: int
    n: int
    left_out: int

    @property
    def smallest_change(self) -> Estimate:
        """What two single readings must differ by before the difference is believed: 1.96 sqrt(2) sd.

        Of a within-subject standard deviation it is the repeatability coefficient, of a standard error of measurement
        the minimal detectable change MDC95 (Weir 2005, J Strength Cond Res 19:231-240).
        """
        return self.sd.times(Z95 * math.sqrt(2))


@dataclass(frozen=True, slots=True)
class Limits:
    """Between which limits 95 % of the differences ``first - second`` of single readings are expected.

    ``bias`` is their mean, ``sd`` their standard deviation; ``low`` and ``high`` carry intervals of their own. The
    interval of the bias uses Student's t with n - 1 degrees of freedom, as do those of the limits.
    """

    bias: Estimate
    sd: float
    low: Estimate
    high: Estimate
    n: int
    left_out: int


def sd_estimate(variance: float, dof: int) -> Estimate:
    """A standard deviation and its interval by the chi-square distribution; NaN without degrees of freedom."""
    if dof < 1 or not math.isfinite(variance):
        return Estimate(math.nan, math.nan, math.nan)
    from scipy.special import chdtri

    sd = math.sqrt(variance)
    return Estimate(sd, sd * math.sqrt(dof / chdtri(dof, 0.025)), sd * math.sqrt(dof / chdtri(dof, 0.975)))


def mean_estimate(values: ArrayLike) -> Estimate:
    """Mean of independent values and its interval by Student's t; NaN values are left out."""
    x = np.asarray(values, float).ravel()
    x = x[np.isfinite(x)]
    n = len(x)
    if n < 2:
        return Estimate(float(x[0]) if n else math.nan, math.nan, math.nan)
    mean = float(x.mean())
    half = t95(n - 1) * float(x.std(ddof=1)) / math.sqrt(n)
    return Estimate(mean, mean - half, mean + half)


def t95(dof: float) -> float:
    """Student's t of a two-sided 95 % interval."""
    from scipy.special import stdtrit

    return float(stdtrit(dof, 0.975))


def typical_error(first: ArrayLike, second: ArrayLike) -> Spread:
    """Typical error of one reading from two of each thing: the differences' standard deviation over sqrt(2).

    A shift common to all second readings does not count (Hopkins 2000, Sports Med 30:1-15); ``within_sd`` counts it.

    Parameters
    ----------
    first, second : (n,) float arrays
        Pairs with a NaN are left out.
    """
    a, b = _paired(first, second)
    d = (a - b)[np.isfinite(a) & np.isfinite(b)]
    n = len(d)
    variance = float(d.var(ddof=1)) / 2 if n > 1 else math.nan
    return Spread(sd_estimate(variance, n - 1), max(n - 1, 0), n, len(a) - n)


def within_sd(readings: ArrayLike) -> Spread:
    """Standard deviation within things read several times, each about its own mean.

    Parameters
    ----------
    readings : (n, k) float array
        A row a thing, its k readings side by side; NaN where there is none. Rows with fewer than two are left out.
    """
    x = np.asarray(readings, float)
    if x.ndim != 2:
        raise MarksError(f"Repeated readings were handed over in shape {x.shape}.", "Give one row a thing.")
    seen = np.isfinite(x)
    count = seen.sum(1)
    use = count >= 2
    x, seen, count = x[use], seen[use], count[use]
    mean = np.where(seen, x, 0.0).sum(1) / np.maximum(count, 1)
    squares = float((np.where(seen, x - mean[:, None], 0.0) ** 2).sum())
    dof = int((count - 1).sum())
    return Spread(sd_estimate(squares / dof if dof else math.nan, dof), dof, int(use.sum()), int((~use).sum()))


def limits_of_agreement(first: ArrayLike, second: ArrayLike, spread: float = Z95) -> Limits:
    """Limits of agreement of two ways to read the same things (Bland & Altman 1986, Lancet i:307-310).

    Parameters
    ----------
    first, second : (n,) or (n, m) float arrays
        With one reading each, the standard error of a limit is sqrt(3/n) sd, as in the paper. With m replicates the
        means are compared and the replicates' own spread is put back, so that the limits again speak of single
        readings; the standard error of a limit then follows by the delta method (Bland & Altman 1999, Stat Methods Med
        Res 8:135-160, section 5.1). Things without a reading by either are left out.
    spread : float
        Standard deviations to each side. The paper's worked example uses 2.
    """
    a, b = _columns(first), _columns(second)
    if len(a) != len(b):
        raise MarksError(f"{len(a)} readings cannot be paired with {len(b)}.", "Give both for the same things.")
    use = np.isfinite(a).any(1) & np.isfinite(b).any(1)
    a, b, left_out = a[use], b[use], int((~use).sum())
    n = len(a)
    d = _row_means(a) - _row_means(b)
    bias = mean_estimate(d)
    if n < 2:
        gap = Estimate(math.nan, math.nan, math.nan)
        return Limits(bias, math.nan, gap, gap, n, left_out)
    of_means = float(d.var(ddof=1))
    lost_a, lost_b = _lost_by_averaging(a), _lost_by_averaging(b)
    variance = of_means + lost_a[0] + lost_b[0]
    sd = math.sqrt(variance)
    if a.shape[1] == b.shape[1] == 1:
        se = sd * math.sqrt(3 / n)
    else:
        of_variance = 2 * of_means**2 / (n - 1) + lost_a[1] + lost_b[1]
        se = math.sqrt(of_means / n + spread**2 * of_variance / (4 * variance)) if variance else 0.0
    half = t95(n - 1) * se
    low, high = bias.value - spread * sd, bias.value + spread * sd
    return Limits(
        bias, sd, Estimate(low, low - half, low + half), Estimate(high, high - half, high + half), n, left_out
    )


def _paired(first: ArrayLike, second: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    a, b = np.asarray(first, float).ravel(), np.asarray(second, float).ravel()
    if len(a) != len(b):
        raise MarksError(f"{len(a)} readings cannot be paired with {len(b)}.", "Give both for the same things.")
    return a, b


def _columns(readings: ArrayLike) -> NDArray[np.float64]:
    x = np.asarray(readings, float)
    return x[:, None] if x.ndim == 1 else x


def _row_means(x: NDArray[np.float64]) -> NDArray[np.float64]:
    seen = np.isfinite(x)
    return np.asarray(np.where(seen, x, 0.0).sum(1) / seen.sum(1), float)


def _lost_by_averaging(x: NDArray[np.float64]) -> tuple[float, float]:
    """Variance of a single reading that is gone from the means of replicates, and the variance of that figure."""
    within = within_sd(x)
    if within.dof < 1:
        return 0.0, 0.0
    share = 1 - float((1 / np.isfinite(x).sum(1)).mean())
    variance = within.sd.value**2
    return share * variance, share**2 * 2 * variance**2 / within.dof
