"""Where a tracked signal passes zero upward: between frames, or just beyond the end of what was marked.

A hand that enters the water is often first seen when it is a little way under, and a wrist that leaves it last seen
just below. There the track is carried on in a straight line, not far.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from casebook.stroke.localfit import fit_track, half_width, weights_at
from casebook.stroke.search import crossings

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array: TypeAlias = NDArray[np.float64]

#: A state counts as changed once it has stayed so for this long. [s] own judgement, no source
HOLD_S = 0.05
#: Between marks further apart than this many usual steps nothing is fitted.
APART_STEPS = 2.5
#: A passage hidden for longer than this is not placed by the marks around it. [s] own judgement, no source
LONGEST_HIDDEN_S = 0.25
#: A hand in recovery is out of sight from under water for at least this long. [s] own judgement, no source
LEAST_AWAY_S = 0.2
#: A track is carried on beyond its end by no more than this, from frames this close to the end, three at least.
#: own judgement, no source [s]
BEYOND_S, END_S, LEAST_END = 0.10, 0.09, 3
#: A first mark this many standard deviations short of zero may lie beyond it.
DOUBT = 3.0
#: A line carried on may bend: so much of how far it was carried is added to its doubt. own judgement, no source
BENDS = 0.3


@dataclass(frozen=True, slots=True, eq=False)
class Passings:
    """Passages of one signal, in time order.

    Attributes
    ----------
    clock, sigma_s : (C,) float arrays [s]
        The instants, and their standard deviation from the marks alone.
    rate : (C,) float array
        How fast the signal rises there, per second.
    rows : (C, 2) int array
        The rows around each passage, the same one twice where it lies beyond the end of a track.
    """

    clock: Array
    sigma_s: Array
    rate: Array
    rows: NDArray[np.int64]


def passings(clock: Array, value: Array, sigma: Array, step: float, *, independent: bool, beyond: str = "") -> Passings:
    """Every passage of a signal from below zero to zero or above.

    Parameters
    ----------
    clock, value, sigma : (K,) float arrays
        Times of the marked frames [s], the signal there, and its standard deviation.
    step : float
        Usual time between two frames of the clip. [s]
    independent : bool
        The errors of neighbouring frames are independent, so that a fit through them is surer than each.
    beyond : str
        ``before`` carries tracks on backward from where they begin, ``after`` forward from where they end; or nothing.
    """
    inside = _inside(clock, value, sigma, step, independent)
    ends = [
        _beyond(clock, value, sigma, step, independent, how) for how in ("before", "after") if beyond in (how, "both")
    ]
    found = [inside, *ends]
    joined = [np.concatenate([getattr(f, name) for f in found]) for name in ("clock", "sigma_s", "rate", "rows")]
    order = np.argsort(joined[0], kind="stable")
    # A passage just inside the end of a track is found both ways.
    order = order[np.diff(joined[0][order], prepend=-np.inf) > HOLD_S]
    return Passings(*(part[order] for part in joined))


def appearances(clock: Array, step: float, how: str) -> Passings:
    """Where a point comes into sight or goes out of it for a while: ``before`` its first marks, ``after`` its last.

    The instant is half a step beyond the mark, and one step unsure: bubbles hide a hand for a moment.
    """
    if how == "after":
        turned = appearances(-clock[::-1], step, "before")
        return Passings(-turned.clock[::-1], turned.sigma_s, turned.rate, len(clock) - 1 - turned.rows[::-1])
    rows = np.flatnonzero(np.diff(clock, prepend=-np.inf) > LEAST_AWAY_S)
    same = np.full(len(rows), step)
    return Passings(clock[rows] - step / 2, same, np.full(len(rows), np.inf), np.stack([rows, rows], 1))


def _inside(clock: Array, value: Array, sigma: Array, step: float, independent: bool) -> Passings:
    """Passages between two marked frames."""
    places = crossings(value, max(1, round(HOLD_S / step)))
    before = places.astype(int)
    gap = clock[before + 1] - clock[before]
    kept = gap <= max(LONGEST_HIDDEN_S, APART_STEPS * step)
    places, before, gap = places[kept], before[kept], gap[kept]
    straight = np.interp(places, np.arange(len(clock)), clock) if len(clock) else places
    slope = (value[before + 1] - value[before]) / gap
    hidden = gap > APART_STEPS * step
    share = _share(step) if independent else 1.0
    near = before + (places - before > 0.5)
    fit = fit_track(clock, value[:, None, None], half_width(step))[near, :, 0, 0]
    delay = np.zeros(len(near))
    for _ in range(3):
        here = fit[:, 0] + delay * (fit[:, 1] + delay * fit[:, 2])
        delay = delay - here / (fit[:, 1] + 2 * delay * fit[:, 2])
    rate = fit[:, 1] + 2 * delay * fit[:, 2]
    fitted = np.isfinite(delay) & (np.abs(delay) <= 2 * step) & (rate > 0) & ~hidden
    rate = np.where(fitted, rate, slope)
    at = np.where(fitted, clock[near] + np.where(fitted, delay, 0.0), straight)
    noise = np.maximum(sigma[before], sigma[before + 1]) * np.where(fitted, share, 1.0) / rate
    # Where the passage itself was not seen it may lie anywhere between the two marks.
    noise = np.where(hidden, np.hypot(noise, gap / np.sqrt(12)), noise)
    return Passings(at, noise, rate, np.stack([before, before + 1], 1))


def _share(step: float) -> float:
    """How much less unsure a fit through even, independent marks is than one of them."""
    reach = half_width(step)
    half = int(np.ceil(reach / step)) - 1
    offsets = step * np.arange(-half, half + 1, dtype=float)
    return float(np.linalg.norm(weights_at(0.0, offsets, np.ones(len(offsets), bool), reach)[0]))


def _beyond(clock: Array, value: Array, sigma: Array, step: float, independent: bool, how: str) -> Passings:
    """Passages just before the beginning, or just after the end, of each stretch of marks."""
    if how == "after":
        # Backward in time and turned over, an end is a beginning.
        turned = _beyond(-clock[::-1], -value[::-1], sigma[::-1], step, independent, "before")
        return Passings(-turned.clock, turned.sigma_s, turned.rate, len(clock) - 1 - turned.rows)
    opens = np.flatnonzero(np.diff(clock, prepend=-np.inf) > APART_STEPS * step)
    opens = opens[value[opens] >= -DOUBT * sigma[opens]]
    ahead = opens[:, None] + np.arange(max(LEAST_END, int(END_S / step) + 1))
    near = np.minimum(ahead, len(clock) - 1)
    t = clock[near] - clock[opens, None]
    # A stretch ends at its first gap.
    joined = np.cumprod(np.diff(t, axis=1, prepend=0.0) <= APART_STEPS * step, axis=1).astype(bool)
    counts = joined & (ahead < len(clock)) & (t <= max(END_S, LEAST_END * step))
    n = counts.sum(1)
    middle = np.where(counts, t, 0).sum(1) / np.maximum(n, 1)
    off = np.where(counts, t - middle[:, None], 0.0)
    spread = np.maximum((off**2).sum(1), 1e-12)
    rate = (off * value[near]).sum(1) / spread
    level = np.where(counts, value[near], 0).sum(1) / np.maximum(n, 1)
    with np.errstate(divide="ignore", invalid="ignore"):
        at = middle - level / rate
    good = (n >= LEAST_END) & (rate > 0) & (at <= 2 * step) & (at >= -BEYOND_S)
    at, rate, n, middle, spread, opens = at[good], rate[good], n[good], middle[good], spread[good], opens[good]
    share = np.sqrt(1 / n + (at - middle) ** 2 / spread) if independent else 1.0
    noise = np.hypot(sigma[opens] * share / rate, BENDS * np.abs(at))
    return Passings(clock[opens] + at, noise, rate, np.stack([opens, opens], 1))
