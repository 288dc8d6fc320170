"""Instants at which a function of the pose passes zero, for many strokes at once.

A dense grid finds where the sign changes; each bracket is then divided again and again, all brackets in one call.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

Array: TypeAlias = NDArray[np.float64]
#: Times (K, N) -> values (K, N); row k is stroke k.
Function: TypeAlias = Callable[[Array], Array]

#: Parts of a bracket, and how often it is divided: 9 ms become 20 us, and a straight line does the rest.
PARTS, ROUNDS = 20, 2


def rising(grid: Array, values: Array, which: str) -> NDArray[np.int64]:
    """Index of the grid interval in which each row passes upward through zero, first or last; -1 where none does.

    ``grid``, ``values`` (K, N); a NaN value never counts.
    """
    up = (values[:, :-1] <= 0) & (values[:, 1:] > 0)
    index = np.argmax(up, 1) if which == "first" else up.shape[1] - 1 - np.argmax(up[:, ::-1], 1)
    return np.where(up.any(1), index, -1)


def roots(function: Function, grid: Array, values: Array, which: str = "first") -> Array:
    """Where each row first (or last) passes upward through zero. (K,) [s]; NaN where it does not.

    Parameters
    ----------
    function : callable
    grid, values : (K, N) float arrays
        Increasing times, and the function there (NaN where it shall not be looked at).
    which : str
        ``first`` or ``last``.
    """
    index = rising(grid, values, which)
    rows = np.arange(len(grid))
    a, b = grid[rows, np.maximum(index, 0)], grid[rows, np.maximum(index, 0) + 1]
    for _ in range(ROUNDS):
        fine = a[:, None] + (b - a)[:, None] * np.linspace(0.0, 1.0, PARTS + 1)
        at = function(fine)
        k = np.maximum(rising(fine, at, "first"), 0)
        a, b = fine[rows, k], fine[rows, k + 1]
        low, high = at[rows, k], at[rows, k + 1]
    with np.errstate(invalid="ignore", divide="ignore"):
        inside = a + (b - a) * np.clip(-low / (high - low), 0.0, 1.0)
    return np.where((index >= 0) & (low <= 0) & (high > 0), inside, np.nan)
