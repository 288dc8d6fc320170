"""One search for every event: where does a state change and stay changed?

A rule gives a signal per sample whose sign is the state; the search finds the change. New rules never touch the search.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray


def first_crossing(signal: ArrayLike, hold: int = 1) -> NDArray[np.float64]:
    """Where a signal turns from below zero to zero or above and stays there.

    Parameters
    ----------
    signal : (..., N) float array
        The sign is the state. NaN: not known; an unknown sample breaks a hold and cannot start a change.
    hold : int
        Number of samples from the change on that must all be zero or above.

    Returns
    -------
    (...,) float array
        Fractional sample number of the first such change, placed by a straight line between the two samples around it;
        NaN where there is none.

    Examples
    --------
    >>> float(first_crossing([-2.0, -1.0, 3.0, 4.0]))
    1.25
    >>> float(first_crossing([-1.0, 1.0, -1.0, -1.0, 3.0, 3.0], hold=2))
    3.25
    """
    values = np.asarray(signal, float)
    n = values.shape[-1]
    if n < 2:
        return np.full(values.shape[:-1], np.nan)
    on = values >= 0
    stays = np.ones((*values.shape[:-1], n - 1), bool)
    for ahead in range(hold):
        shifted = np.zeros_like(stays)
        usable = n - 1 - ahead
        if usable > 0:
            shifted[..., :usable] = on[..., 1 + ahead :]
        stays &= shifted
    change = (values[..., :-1] < 0) & stays
    first = np.argmax(change, -1)
    before = np.take_along_axis(values, first[..., None], -1)[..., 0]
    after = np.take_along_axis(values, first[..., None] + 1, -1)[..., 0]
    with np.errstate(invalid="ignore", divide="ignore"):
        place = first - before / (after - before)
    return np.where(change.any(-1), place, np.nan)


def last_crossing(signal: ArrayLike) -> NDArray[np.float64]:
    """Where a signal (..., N) turns for the last time from below zero to zero or above. (...,) sample numbers, or NaN.

    >>> float(last_crossing([-1.0, 1.0, -1.0, -1.0, 3.0, 3.0]))
    3.25
    """
    values = np.asarray(signal, float)
    n = values.shape[-1]
    if n < 2:
        return np.full(values.shape[:-1], np.nan)
    below = values < 0
    last = np.minimum(n - 1 - np.argmax(below[..., ::-1], -1), n - 2)[..., None]
    before, after = (np.take_along_axis(values, last + k, -1)[..., 0] for k in (0, 1))
    with np.errstate(invalid="ignore", divide="ignore"):
        place = last[..., 0] - before / (after - before)
    return np.where((before < 0) & (after >= 0), place, np.nan)


def crossings(signal: ArrayLike, hold: int = 1) -> NDArray[np.float64]:
    """Every place where a signal (N,) turns from below zero to zero or above and stays there. (C,) sample numbers

    >>> crossings([-1.0, 1.0, -1.0, -1.0, 3.0, 3.0]).tolist()
    [0.5, 3.25]
    """
    values = np.asarray(signal, float)
    if len(values) < 2:
        return np.empty(0)
    on = np.concatenate([values >= 0, np.zeros(hold, bool)])
    stays = np.logical_and.reduce([on[1 + ahead : len(values) + ahead] for ahead in range(hold)])
    first = np.flatnonzero((values[:-1] < 0) & stays)
    return np.asarray(first - values[first] / (values[first + 1] - values[first]))
