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
#: Swings of a cycle that a wave through its seen part has, and how large the first, second ... may be against half of
#: what is seen to move. own judgement, no source; tested against the demo swimmer
HARMONICS, SWINGS = 3, np.array([1.0, 0.5, 0.3])
#: A swimmer's cycle is no such wave exactly: by so much its error is widened. own measurement on the demo swimmers
WIDER = 1.2
#: Of a cycle hidden by more than half nothing is said; one seen for more than this counts as seen whole.
LEAST_SEEN, WHOLE = 0.5, 0.95
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
        ends = _ends(t[own], length) if len(own) >= DENSE else 0.0
        unsure[c] = np.hypot(np.sqrt(np.sum((weight * s[own]) ** 2)), swing * ends)
    return CycleMeans(value, unsure, tuple(rows))


def completed(
    means: CycleMeans, clock: ArrayLike, values: ArrayLike, sigma: ArrayLike, starts: ArrayLike
) -> CycleMeans:
    """The same, and a mean for cycles too of which a part is hidden, from the wave that fits what is seen.

    A cycle's values are a mean and its first ``HARMONICS`` swings. How large a swing can be is taken from what is seen;
    what the seen part does not tell stays in the mean's error, so that a cycle hidden by half is known badly.

    Parameters
    ----------
    means : CycleMeans
        From ``cycle_means``.
    clock, values, sigma, starts
        As there, ``values`` (K, D).
    """
    t, v, s, edges = (np.asarray(a, float) for a in (clock, values, sigma, starts))
    known = np.isfinite(v).all(-1)
    value, unsure, rows = means.value.copy(), means.sigma.copy(), list(means.rows)
    for c in range(len(rows)):
        length = edges[c + 1] - edges[c]
        own = np.arange(*np.searchsorted(t, edges[c : c + 2]))
        own = own[known[own]]
        seen = len(own) * float(np.median(np.diff(t[own]))) / length if len(own) > DENSE else 0.0
        if not LEAST_SEEN <= seen < WHOLE:
            continue
        value[c], told = _by_a_wave((t[own] - edges[c]) / length, v[own], s[own])
        unsure[c] = np.hypot(told, float(np.ptp(v[own], axis=0).max()) / 2 * _ends(t[own], length))
        rows[c] = own
    return CycleMeans(value, unsure, tuple(rows))


def _ends(clock: Array, length: float) -> float:
    """Share of a cycle that its ends, known to half a frame each, leave open."""
    return float(np.median(np.diff(clock))) / 2 * np.sqrt(2) / length


def _by_a_wave(phase: Array, values: Array, sigma: Array) -> tuple[Array, float]:
    """Mean (D,) over a whole cycle from a part of it, and its standard deviation, alike for all D."""
    turns = 2 * np.pi * phase[:, None] * np.arange(1, HARMONICS + 1)
    design = np.concatenate([np.ones((len(phase), 1)), np.cos(turns), np.sin(turns)], 1)
    swing = float(np.ptp(values, axis=0).max()) / 2
    sizes = swing * SWINGS[:HARMONICS]
    loose = np.concatenate([[0.0], np.tile(1 / np.maximum(sizes, 1e-9) ** 2, 2)])
    weight = 1 / np.maximum(sigma, 1e-9) ** 2
    covariance = np.linalg.inv((design * weight[:, None]).T @ design + np.diag(loose))
    fit = covariance @ (design * weight[:, None]).T @ values
    # What is left over beyond the marks' errors is swings that the wave does not have.
    rest = float(np.sqrt(np.mean(((values - design @ fit) / sigma[:, None]) ** 2)))
    return fit[0], WIDER * float(np.sqrt(covariance[0, 0]) * max(rest, 1.0))


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
