"""How far a group of judges agrees with one judge who is taken as the reference, beyond chance."""

from __future__ import annotations

import math
from collections.abc import Hashable, Sequence
from typing import TYPE_CHECKING

import numpy as np

from casebook.errors import MarksError
from casebook.marks.kappa import Kappa
from casebook.marks.reliability import Estimate, t95

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray


def group_kappa(counts: ArrayLike, reference: Sequence[int], categories: Sequence[Hashable] | None = None) -> Kappa:
    """Kappa of a group against a reference; with one judge a thing it is Cohen's.

    Parameters
    ----------
    counts : (n, k) array
        How many of the group put each thing into each category; the number of judges may differ. Things judged by
        nobody are left out.
    reference : sequence of n int
        The reference's category of each thing.

    Returns
    -------
    Kappa
        Agreement is the mean share of the group that says what the reference says; chance is what the shares of the
        categories would give. The things are a sample: the standard error is the jackknife's over them, the interval
        Student's t with n - 1 degrees of freedom (after Vanbelle & Albert 2009, Stat Neerl 63:82-100, with 1 as the
        highest agreement; from memory). ``se_null`` is not known.
    """
    table = np.asarray(counts, float)
    if table.ndim != 2 or (table < 0).any() or len(reference) != len(table):
        raise MarksError(f"{len(reference)} words of the reference do not go with counts of shape {table.shape}.")
    k = table.shape[1]
    use = table.sum(1) > 0
    each = table[use] / table[use].sum(1, keepdims=True)
    own = np.eye(k)[np.asarray(reference, int)[use]] if use.any() else np.zeros((0, k))
    names, n, nan = tuple(categories) if categories is not None else tuple(range(k)), int(use.sum()), math.nan
    left_out = int((~use).sum())
    if n == 0:
        return Kappa(Estimate(nan, nan, nan), nan, nan, nan, nan, names, (nan,) * k, 0, left_out)
    value, agreement, chance = _kappa(each, own)
    without = np.array([_kappa(np.delete(each, i, 0), np.delete(own, i, 0))[0] for i in range(n if n > 1 else 0)])
    se = math.sqrt((n - 1) / n * float(((without - np.mean(without)) ** 2).sum())) if n > 1 else nan
    interval = Estimate(value, nan, nan)
    if n > 1 and math.isfinite(se):
        half = t95(n - 1) * se
        interval = Estimate(value, max(value - half, -1.0), min(value + half, 1.0))
    if agreement > 1 - 1e-12 and math.isfinite(value):
        # Where all agree the spread is no measure of doubt: the exact binomial limit is.
        interval = Estimate(value, (0.025 ** (1 / n) - chance) / (1 - chance), value)
    shares = tuple(each.mean(0).tolist())
    return Kappa(interval, se, nan, agreement, chance, names, shares, n, left_out)


def _kappa(each: NDArray[np.float64], own: NDArray[np.float64]) -> tuple[float, float, float]:
    """Kappa, agreement and chance of shares (n, k) against a reference (n, k) of zeros and ones."""
    agreement, chance = float((each * own).sum(1).mean()), float(each.mean(0) @ own.mean(0))
    return ((agreement - chance) / (1 - chance) if 1 - chance > 1e-12 else math.nan), agreement, chance
