"""One search for every event: where does a state change and stay changed?

A rule gives a signal per sample whose sign is the state; the search finds the change. New rules never touch the search.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray


@dataclass(frozen=True, slots=True)
class Event:
    """Something that happened at an instant.

    ``frame`` is fractional, between the two frames that enclose the change; ``time_s`` is real time from the clip's
    first frame (NaN where the slow motion is not known); ``uncertainty_s`` never falls below half a frame. ``by_coach``
    tells an event the coach set from one that was found.
    """

    name: str
    side: str
    stroke: int
    frame: float
    time_s: float
    uncertainty_s: float
    by_coach: bool = False


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


def last_crossing(signal: ArrayLike) -> float:
    """Where a signal turns for the last time from below zero to zero or above. Fractional sample number.

    >>> last_crossing([-1.0, 1.0, -1.0, -1.0, 3.0, 3.0])
    3.25
    """
    values = np.asarray(signal, float)
    below = np.flatnonzero(values < 0)
    if not len(below) or below[-1] == len(values) - 1:
        return float("nan")
    start = int(below[-1])
    return start + float(first_crossing(values[start:]))


def half_frame(times: ArrayLike, index: float) -> float:
    """Half the time between the two frames around a fractional frame index: the least any instant is unsure. [s]

    >>> half_frame([0.0, 0.5, 1.5], 1.5)
    0.5
    """
    t = np.asarray(times, float)
    if len(t) < 2 or not np.isfinite(index):
        return float("nan")
    low = int(np.clip(np.floor(index), 0, len(t) - 2))
    return float(t[low + 1] - t[low]) / 2
