"""Means over whole stroke cycles: what remains of a place or a direction once roll and bobbing have cancelled.

Roll lifts the near shoulder and hip once a cycle and so fakes a tilt of the trunk of up to 8 degrees in one frame
(computed: shoulder 13 cm at 45 degrees, hip 5 cm at 20, over a trunk of 0.5 m). Over frames that are spread evenly
round a cycle that cancels: every frame of it, or two frames half a cycle apart.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Array = NDArray[np.float64]

#: Frames are spread evenly round a cycle if the resultant of their phases is no longer than this: what goes up and down
#: once a cycle then cancels down to this share. own judgement, no source
UNEVEN = 0.12
#: A still that stands this close to a cycle's edge belongs to it. [cycles]
EDGE = 0.01
#: So many frames of a cycle are a track: each stands for the time around it. Fewer are stills and count alike.
DENSE = 6


@dataclass(frozen=True, slots=True, eq=False)
class CycleMeans:
    """A measure as a mean over each cycle.

    ``value`` and ``sigma`` (C, ...) are NaN for a cycle whose marked frames are not spread evenly round it; ``sigma``
    is the independent standard deviation of the mean. ``rows`` holds the rows of each cycle.
    """

    value: Array
    sigma: Array
    rows: tuple[NDArray[np.int64], ...]

    @property
    def told(self) -> NDArray[np.bool_]:
        """(C,) cycles with a mean."""
        value = self.value if self.value.ndim == 1 else self.value.reshape(len(self.value), -1).sum(1)
        return np.asarray(np.isfinite(value))


def cycle_means(clock: ArrayLike, values: ArrayLike, sigma: ArrayLike, starts: ArrayLike) -> CycleMeans:
    """Mean of a measure over each cycle.

    Parameters
    ----------
    clock : (K,) float array [s]
    values : (K,) or (K, D) float array
        NaN where unmarked.
    sigma : (K,) float array
        Independent standard deviation of each value.
    starts : (C + 1,) float array
        Beginnings of the cycles and the end of the last. [s]
    """
    t, v, s, edges = (np.asarray(a, float) for a in (clock, values, sigma, starts))
    n = max(len(edges) - 1, 0)
    value, unsure = np.full((n, *v.shape[1:]), np.nan), np.full(n, np.nan)
    known = np.isfinite(v) if v.ndim == 1 else np.isfinite(v).all(-1)
    rows: list[NDArray[np.int64]] = []
    for c in range(n):
        length = edges[c + 1] - edges[c]
        own = np.arange(*np.searchsorted(t, [edges[c] - EDGE * length, edges[c + 1] - EDGE * length]))
        own = own[known[own]]
        rows.append(own)
        if len(own) < 2:
            continue
        weight = _weights(t[own], edges[c], edges[c + 1])
        turn = np.exp(2j * np.pi * (t[own] - edges[c]) / length)
        if abs(np.sum(weight * turn)) > UNEVEN:
            continue
        value[c] = np.tensordot(weight, v[own], 1)
        # What swings once a cycle cancels over a whole one; the ends of the cycle are known to half a frame each.
        swing = float(np.ptp(v[own], axis=0).max()) / 2
        ends = float(np.median(np.diff(t[own]))) / 2 * np.sqrt(2) / length if len(own) >= DENSE else 0.0
        unsure[c] = np.hypot(np.sqrt(np.sum((weight * s[own]) ** 2)), swing * ends)
    return CycleMeans(value, unsure, tuple(rows))


def _weights(clock: Array, start: float, stop: float) -> Array:
    """What each frame adds to a mean over a cycle: the share of the cycle that lies nearest to it."""
    if len(clock) < DENSE:
        return np.full(len(clock), 1 / len(clock))
    middles = (clock[1:] + clock[:-1]) / 2
    ends = np.concatenate(
        [[max(start, clock[0] - (middles[0] - clock[0]))], middles, [clock[-1] + (clock[-1] - middles[-1])]]
    )
    # The cycle may begin or end between two frames.
    share = np.diff(np.clip(ends, start, stop))
    return share / share.sum()
