"""Moments: when an event of an arm happened, how sure that is, and where it was read."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

FOUND, COACH = "found", "coach"


@dataclass(frozen=True, slots=True)
class Moment:
    """An event of one arm at an instant.

    Attributes
    ----------
    event, side : str
    time_s : float
        Real time from the clip's first frame; NaN where the slow motion is not known. [s]
    sigma_s : float
        Standard deviation of the instant; never below half a frame. [s]
    frame : float
        Fractional, between the two frames that enclose the instant.
    frames : tuple of int
        Frames that were read.
    origin : str
        ``found`` or ``coach``.
    shared_s : float
        The part of ``sigma_s`` that all moments of this event in the shot share: a water line drawn too low makes
        every hand enter late. [s]
    """

    event: str
    side: str
    time_s: float
    sigma_s: float
    frame: float
    frames: tuple[int, ...] = ()
    origin: str = FOUND
    shared_s: float = 0.0

    @property
    def own_s(self) -> float:
        """The part of ``sigma_s`` that is its own. [s]"""
        return float(np.sqrt(max(self.sigma_s**2 - self.shared_s**2, 0.0)))

    @property
    def by_coach(self) -> bool:
        """Set by the coach, not found."""
        return self.origin == COACH

    def later(self, delay_s: float, sigma_s: float = 0.0) -> Moment:
        """The same on a clock that shows more by ``delay_s``, known to ``sigma_s``; that error is a shared one. [s]"""
        sigma, shared = (float(np.hypot(v, sigma_s)) for v in (self.sigma_s, self.shared_s))
        return replace(self, time_s=self.time_s + delay_s, sigma_s=sigma, shared_s=shared)


@dataclass(frozen=True, slots=True)
class NoMoment:
    """An event that could not be found, why, and what to do. Falsy."""

    event: str
    side: str
    reason: str
    remedy: str = ""

    def __bool__(self) -> bool:
        return False


def half_frame(times: ArrayLike, index: float) -> float:
    """Half the time between the two frames around a fractional frame index: the least any instant is unsure. [s]

    >>> half_frame([0.0, 0.5, 1.5], 1.5)
    0.5
    """
    t = np.asarray(times, float)
    if len(t) < 2 or not math.isfinite(index):
        return float("nan")
    low = min(max(math.floor(index), 0), len(t) - 2)
    return (t.item(low + 1) - t.item(low)) / 2


def moment_at(times: ArrayLike, event: str, side: str, frame: float, origin: str = FOUND) -> Moment:
    """A moment at a frame of a clip, fractional or not, as unsure as half a frame.

    Parameters
    ----------
    times : (N,) float array
        Real time of every frame of the clip. [s]
    """
    t = np.asarray(times, float)
    at = float(np.interp(frame, np.arange(len(t)), t))
    return Moment(event, side, at, half_frame(t, frame), float(frame), (round(frame),), origin)
