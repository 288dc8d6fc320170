"""Where a motion starts: the hand turns down, backward against the body, backward against the water.

A motion starts where its speed last turns positive before it is well under way. Speeds are looked at over a short
stretch of frames, or over a longer one where the marks are too rough for that.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from casebook.plane.propagate import track_correlation
from casebook.stroke.arm import FINGERTIP, SHOULDER, WRIST, Arm
from casebook.stroke.localfit import fit_track, half_width
from casebook.stroke.reading import forearm
from casebook.stroke.search import last_crossing

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array: TypeAlias = NDArray[np.float64]

#: The hand counts as moving down from this speed on, in arm lengths a second. own judgement, no source
DOWNWARD_ARMS_PER_S = 0.15
#: Velocities are looked at over the usual stretch or one so many times as long, until an event is this sure.
#: own judgement, no source; [s]
WIDER, STEADY_S = (1.0, 1.5, 2.0), 0.015
#: A parabola's velocity runs ahead where a motion starts: events came 10 to 14 ms early, with a cubic under 2 ms.
CUBIC = 3
MOTIONS = ("end_of_extension", "past_body", "catch")
_BODY = ("past_body", "full_reach", "end_of_extension")


@dataclass(frozen=True, slots=True, eq=False)
class Onsets:
    """Where motions start: fractional rows (S,) of the track, NaN where not, and the clock's standard deviation. [s]"""

    row: Array
    sigma_s: Array


class Motion:
    """One arm's track with its velocities over shorter and longer stretches, each worked out when first needed.

    Parameters
    ----------
    arm : Arm
        On frames that carry shoulder, elbow, wrist and fingertip.
    level : (K, 4 or more, 2) float array
        Its marks, x along the swim direction, z up. [px]
    pool_x : (K,) float array, optional
        x of the wrist fixed to the pool, where that is not its level x. [px]
    """

    def __init__(self, arm: Arm, level: Array, pool_x: Array | None = None) -> None:
        self.arm = arm
        shoulder, wrist, tip = (level[:, i] for i in (SHOULDER, WRIST, FINGERTIP))
        pool = wrist[:, 0] if pool_x is None else pool_x
        #: What each motion's state is the speed of: it turns positive where the motion starts. (K, 3) and (K, 1) [px]
        self._body = np.stack(
            [shoulder[:, 0] - wrist[:, 0], shoulder[:, 0] - tip[:, 0], shoulder[:, 1] - tip[:, 1]], -1
        )
        self._water = -pool[:, None]
        self._level = level
        self._speeds: dict[tuple[bool, float], Array] = {}

    @cached_property
    def forearm_deg(self) -> Array:
        """Inclination of the forearm on every row, smoothed. (K,) [deg]"""
        fit = fit_track(self.arm.clock, self._level[:, : WRIST + 1], half_width(self.arm.step), CUBIC)
        return forearm(fit[:, 0])

    def onsets(self, name: str, first: NDArray[np.int64], last: NDArray[np.int64], slow: float = 0.0) -> Onsets:
        """The last start of a motion in each stretch of rows ``first`` to ``last`` (S,) that then goes on to its end.

        ``slow`` is the speed from which on it counts; the end of extension comes after full reach. [px/s]
        """
        turns = [self._turns(name, first, last, slow)]
        if name == "end_of_extension":
            # A hand that sinks at full reach already ends its extension there.
            turns.append(self._turns("full_reach", first, last, 0.0))
        rows = np.arange(len(self.arm.clock))
        place, early, late = (np.fmax.reduce([t[i] for t in turns]) for i in range(3))
        span = np.interp(late, rows, self.arm.clock) - np.interp(early, rows, self.arm.clock)
        return Onsets(place, span / 2)

    def _turns(
        self, name: str, first: NDArray[np.int64], last: NDArray[np.int64], slow: float
    ) -> tuple[Array, Array, Array]:
        """Row at which a speed turns positive for the last time, and the earliest and latest that noise allows.

        How long noise can delay or hurry it is told by the longest stretch, whose slope noise bends least; the place is
        then taken over the shortest stretch that is sure enough. (S,) each, NaN where it does not turn.
        """
        at = first[:, None] + np.arange(int((last - first).max(initial=0)) + 1)
        inside = at <= last[:, None]
        at = np.minimum(at, len(self.arm.clock) - 1)
        calm = np.where(inside, self._signal(name, WIDER[-1])[at] - slow, np.nan)
        rough = last_crossing(calm)
        middle = at[:, 0] + np.nan_to_num(rough).astype(int)
        place = early = late = np.full(len(first), np.nan)
        settled = np.zeros(len(first), bool)
        for wider in WIDER:
            noise = self._noise(middle, wider * half_width(self.arm.step), name)
            start, end, unsure = self._bounds(calm, noise, at, inside)
            sharp = last_crossing(np.where(inside, self._signal(name, wider)[at] - slow, np.nan))
            now = np.where((start <= sharp) & (sharp <= end), sharp, rough)
            place, early, late = (
                np.where(settled, old, new) for old, new in ((place, now), (early, start), (late, end))
            )
            settled |= unsure <= STEADY_S
        found = np.where(np.isfinite(rough), 0.0, np.nan)
        return tuple(first + v + found for v in (place, early, late))

    def _bounds(
        self, calm: Array, noise: Array, at: NDArray[np.int64], inside: NDArray[np.bool_]
    ) -> tuple[Array, Array, Array]:
        """Earliest and latest place of a turn, one standard deviation either way, and that in seconds. (S,) each.

        Looked for in the signal moved by its noise, and by twice its noise: where it creeps, the second says more.
        """
        end = inside.sum(1) - 1
        when = self.arm.clock[at]
        ends, spans = [], []
        for many in (1.0, 2.0):
            shift = many * noise[:, None]
            early, late = last_crossing(calm + shift), last_crossing(calm - shift)
            ends.append((np.where(np.isfinite(early), early, 0.0), np.where(np.isfinite(late), late, end)))
            spans.append((_along(when, ends[-1][1]) - _along(when, ends[-1][0])) / 2 / many)
        middle = (ends[0][0] + ends[0][1]) / 2
        wider = np.maximum(spans[1] / np.maximum(spans[0], 1e-9), 1.0)
        start, stop = (middle + wider * (e - middle) for e in ends[0])
        return start, stop, np.maximum(*spans)

    def _signal(self, name: str, wider: float) -> Array:
        """State of a motion on every row, positive once it goes on. (K,) [px/s]"""
        water = name == "catch"
        if (water, wider) not in self._speeds:
            way = self._water if water else self._body
            fit = fit_track(self.arm.clock, way[..., None], wider * half_width(self.arm.step), CUBIC)
            self._speeds[water, wider] = fit[:, 1, :, 0]
        return self._speeds[water, wider][:, 0 if water else _BODY.index(name)]

    def _noise(self, rows: NDArray[np.int64], reach: float, name: str) -> Array:
        """Standard deviation of a motion's speed from the marks around each of some rows (S,). [px/s]"""
        arm = self.arm
        first = np.searchsorted(arm.clock, arm.clock[rows] - reach, "right")
        last = np.searchsorted(arm.clock, arm.clock[rows] + reach, "left")
        near = first[:, None] + np.arange(int((last - first).max(initial=1)))
        inside = near < last[:, None]
        near = np.minimum(near, len(arm.clock) - 1)
        u = (arm.clock[near] - arm.clock[rows, None]) / reach
        powers = u[..., None] ** np.arange(CUBIC + 1)
        right = np.swapaxes(powers * np.where(inside, 1 - u * u, 0.0)[..., None], -1, -2)
        enough = (inside.sum(1) > CUBIC)[:, None, None]
        weights = np.linalg.solve(np.where(enough, right @ powers, np.eye(CUBIC + 1)), right)[:, 1] / reach
        total = np.zeros(len(rows))
        hand = WRIST if name in ("catch", "past_body") else FINGERTIP
        for point in (hand,) if name == "catch" else (hand, SHOULDER):
            shared = track_correlation(arm.by_hand[near, point], arm.clock[near])
            part = weights * np.nan_to_num(arm.sigma_px[near, point])
            total += np.einsum("si,sij,sj->s", part, shared, part)
        return np.where(enough[:, 0, 0], np.sqrt(total), np.nan)


def _along(rows: Array, place: Array) -> Array:
    """Values (S, R) at fractional columns (S,)."""
    low = np.clip(place.astype(int), 0, rows.shape[1] - 2) if rows.shape[1] > 1 else np.zeros(len(place), int)
    a, b = (np.take_along_axis(rows, np.minimum(low + k, rows.shape[1] - 1)[:, None], 1)[:, 0] for k in (0, 1))
    return np.asarray(a + (place - low) * (b - a))
