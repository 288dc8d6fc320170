"""How many beats a kick has in a stroke cycle, from the rhythm of one foot.

Both feet together beat n times a cycle, each of them n/2 times: the height of a foot goes up and down n/2 times as
often as the arms go round (2 beats: harmonic 1, 4: harmonic 2, 6: harmonic 3; computed, with the harmonics of Sanders
and Psycharakis 2009, J Biomech 42:273-279).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

#: Harmonics of the stroke that are looked at; the last stands for an eight-beat kick.
HARMONICS = 4
#: The strongest harmonic has to be this many times the next, and to stand out by this many standard deviations.
#: own judgement, no source
CLEARLY, SIGMAS = 1.4, 3.0
#: Share of the cycles that have to agree. own judgement, no source
AGREE = 0.75
#: A cycle is read with at least this share of its frames.
LEAST_SEEN = 0.8


@dataclass(frozen=True, slots=True, eq=False)
class Beats:
    """Beats per stroke cycle.

    Attributes
    ----------
    beats : int or None
        Both feet together, in a stroke cycle; None where the foot does not tell.
    why : str
        Where it does not: the reason. Falsy then.
    amplitude : (HARMONICS,) float array
        Mean over the cycles of the foot's up and down at 1, 2, 3 ... times the stroke's frequency, in the unit of the
        heights.
    sigma : float
        Standard deviation of each of them from the marks.
    per_cycle : (C,) int array
        Beats of each cycle by itself, 0 where it does not tell.
    read : (C,) bool array
        Cycles with enough frames.
    """

    beats: int | None
    why: str
    amplitude: NDArray[np.float64]
    sigma: float
    per_cycle: NDArray[np.int64]
    read: NDArray[np.bool_]

    def __bool__(self) -> bool:
        return self.beats is not None


def beats_of(clock: ArrayLike, height: ArrayLike, sigma: ArrayLike, starts: ArrayLike, step: float) -> Beats:
    """Beats of a kick from the height of one foot against the hip.

    Parameters
    ----------
    clock : (K,) float array [s]
    height : (K,) float array
        Any unit; NaN where unmarked.
    sigma : (K,) float array
        Standard deviation of each height, independent between frames.
    starts : (C + 1,) float array
        Beginnings of stroke cycles and the end of the last; both arms together make one cycle. [s]
    step : float
        Usual time between frames. [s]
    """
    t, h, s, edges = (np.asarray(v, float) for v in (clock, height, sigma, starts))
    cycles = max(len(edges) - 1, 0)
    power, noise, read = np.full((cycles, HARMONICS), np.nan), np.full(cycles, np.nan), np.zeros(cycles, bool)
    spans = np.searchsorted(t, edges)
    for c in range(cycles):
        part = slice(spans[c], spans[c + 1])
        phase = (t[part] - edges[c]) / (edges[c + 1] - edges[c])
        fitted = _harmonics(phase, h[part], s[part], (edges[c + 1] - edges[c]) / step)
        if fitted is not None:
            power[c], noise[c], read[c] = *fitted, True
    each = np.array([_of(p, n) for p, n in zip(power, noise, strict=True)], dtype=np.int64)
    if not read.any():
        empty = np.full(HARMONICS, np.nan)
        return Beats(None, "No whole stroke cycle is marked with hip and ankle in it.", empty, np.nan, each, read)
    mean, spread = np.sqrt(np.mean(power[read] ** 2, 0)), float(np.sqrt(np.mean(noise[read] ** 2) / read.sum()))
    beats, why = _decided(mean, spread, each[read])
    return Beats(beats, why, mean, spread, each, read)


def _harmonics(
    phase: NDArray[np.float64], height: NDArray[np.float64], sigma: NDArray[np.float64], needed: float
) -> tuple[NDArray[np.float64], float] | None:
    """Amplitude of each harmonic in one cycle and their standard deviation; None with too few frames."""
    known = np.isfinite(height)
    # Two samples a swing is Nyquist; a third keeps the fit steady.
    if known.sum() < max(LEAST_SEEN * needed - 1, 3 * HARMONICS):
        return None
    turns = 2 * np.pi * phase[known, None] * np.arange(1, HARMONICS + 1)
    # The straight line takes up a body that sinks or a level that is a little off.
    design = np.concatenate([np.ones((len(turns), 1)), phase[known, None], np.sin(turns), np.cos(turns)], 1)
    solved = np.linalg.lstsq(design, height[known], rcond=None)[0][2:]
    noise = float(np.sqrt(np.mean(sigma[known] ** 2) * 2 / known.sum()))
    return np.hypot(solved[:HARMONICS], solved[HARMONICS:]), noise


def _of(power: NDArray[np.float64], noise: float) -> int:
    """Beats of the harmonic that clearly leads, or 0."""
    if not np.isfinite(power).all():
        return 0
    order = np.argsort(power)
    first, second = power[order[-1]], power[order[-2]]
    return 2 * (int(order[-1]) + 1) if first > CLEARLY * second and first - second > SIGMAS * noise else 0


def _decided(power: NDArray[np.float64], noise: float, each: NDArray[np.int64]) -> tuple[int | None, str]:
    together = _of(power, noise)
    if power.max() < 2 * SIGMAS * noise:
        return None, "The foot moves too little to tell a rhythm from marking error."
    agree = float(np.mean(each == together)) if together else 0.0
    if together and len(each) >= 2 and agree >= AGREE:
        return together, ""
    if len(each) < 2:
        return None, "Only one whole stroke cycle is marked; a rhythm takes two."
    kinds = sorted(set(each.tolist()) - {0})
    if len(kinds) > 1:
        return None, f"The kick changes from cycle to cycle ({_listed(kinds)} beats)."
    return None, "No rhythm of the foot clearly leads: the kick is broken or uneven."


def _listed(numbers: Sequence[int]) -> str:
    *most, last = map(str, numbers)
    return f"{', '.join(most)} and {last}" if most else last
