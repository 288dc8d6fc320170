"""When things happen: the phase of each arm, the breath, the roll, and how one stroke differs from the next."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from casebook.demo.swimmer import Swimmer

SIDES: tuple[tuple[str, int], ...] = (("l", 1), ("r", -1))
#: Phase of the breathing side's arm at the middle of the breath, and half its length, in cycles.
BREATH_AT, BREATH_HALF = 0.74, 0.16
#: Phase of an arm at which its own side of the body is highest: mid recovery.
HIGHEST_AT, HIPS_HIGHEST_AT = 0.80, 0.83
#: Cycles in which the slow wander of the stroke repeats: no two strokes of a clip are alike.
WANDER_CYCLES = np.array([2.3, 3.7, 6.1])
TIMING_WANDER = 0.006


def phase(swimmer: Swimmer, times: NDArray[np.float64], side: str) -> NDArray[np.float64]:
    """Cycles since the arm's first entry or so, (T,): whole numbers near each entry, increasing with time."""
    even = swimmer.start + np.asarray(times, float) * swimmer.rate / 60.0
    if swimmer.variation:
        even = even + swimmer.variation * TIMING_WANDER * wander(swimmer, even, (0,))[..., 0]
    return even + lead(swimmer, side)


def lead(swimmer: Swimmer, side: str) -> float:
    """How far an arm's phase is ahead of the left arm's, in cycles."""
    return 0.0 if side == "l" else swimmer.offset


def wander(swimmer: Swimmer, cycles: NDArray[np.float64], channels: tuple[int, ...]) -> NDArray[np.float64]:
    """Slow, smooth wanders with a standard deviation of 1, the same for the same seed and channel. (T,) -> (T, C)"""
    angle = 2 * np.pi * np.asarray(cycles)[..., None] / WANDER_CYCLES
    return np.concatenate([np.sin(angle), np.cos(angle)], -1) @ _mixture(swimmer.seed, channels)


@lru_cache(maxsize=1024)
def _mixture(seed: int, channels: tuple[int, ...]) -> NDArray[np.float64]:
    """Weights of the sines and cosines of each channel, (2 W, C): waves of one size, each shifted by chance."""
    shift = [np.random.default_rng((seed, c)).uniform(0, 2 * np.pi, len(WANDER_CYCLES)) for c in channels]
    size = np.sqrt(2.0 / len(WANDER_CYCLES))
    return size * np.concatenate([np.cos(shift), np.sin(shift)], 1).T


def breath(swimmer: Swimmer, left: NDArray[np.float64], side: str) -> NDArray[np.float64]:
    """How far the face is turned out to a side, 0 in the water, 1 fully turned, at phases of the left arm. (T,)"""
    if swimmer.breathing not in (side, "both"):
        return np.zeros(np.shape(left))
    past = left + (lead(swimmer, side) - BREATH_AT)
    near = np.exp(-(((past - np.floor(past + 0.5)) / BREATH_HALF) ** 4))
    return near * breathes(swimmer, past, side)


def breathes(swimmer: Swimmer, past: NDArray[np.float64], side: str) -> NDArray[np.bool_]:
    """Whether the breath nearest in time is taken to this side; ``past`` is the phase since it. (T,)"""
    number = np.floor(past + 0.5)
    if swimmer.breathing == "both":
        # Every third arm stroke: left, then right one and a half cycles later.
        return np.asarray(number % 3 == (0 if side == "l" else 2))
    return np.asarray((number % swimmer.breath_every == 0) & (swimmer.breathing == side))


def breath_turn(swimmer: Swimmer, left: NDArray[np.float64]) -> NDArray[np.float64]:
    """Signed breath at phases of the left arm: +1 face out to the left, -1 to the right. (T,)"""
    return breath(swimmer, left, "l") - breath(swimmer, left, "r")


def roll_deg(swimmer: Swimmer, left: NDArray[np.float64]) -> NDArray[np.float64]:
    """Roll of the shoulders at phases of the left arm, positive left side up. (T,) [deg]"""
    return swimmer.roll * _swing(swimmer, left - HIGHEST_AT) + swimmer.breath_roll * breath_turn(swimmer, left)


def hip_roll_deg(swimmer: Swimmer, left: NDArray[np.float64]) -> NDArray[np.float64]:
    """Roll of the hips at phases of the left arm, positive left side up. (T,) [deg]"""
    return swimmer.hip_roll * _swing(swimmer, left - HIPS_HIGHEST_AT)


def _swing(swimmer: Swimmer, past: NDArray[np.float64]) -> NDArray[np.float64]:
    return 0.5 * (np.cos(2 * np.pi * past) - np.cos(2 * np.pi * (past + swimmer.offset)))
