"""Stroke rate as a thing of its own, so that cycles and strokes are never taken for each other.

A cycle is right entry to next right entry and holds two arm strokes. Poolside a rate counts the strokes of each arm.
"""

from __future__ import annotations

from dataclasses import dataclass

from casebook.errors import CasebookError

#: Arm strokes in a cycle.
ARMS = 2
#: Rates outside these do not occur; such a clip's slow motion is stated wrongly. Strokes a minute, each arm. common
#: practice, no source
SLOWEST_STROKES, FASTEST_STROKES = 30.0, 140.0
SLOWEST_HZ, FASTEST_HZ = SLOWEST_STROKES / ARMS / 60, FASTEST_STROKES / ARMS / 60


@dataclass(frozen=True, slots=True)
class Rate:
    """A stroke rate with its 95 % interval.

    Attributes
    ----------
    cycles_per_min, low, high : float
        Cycles a minute, and the ends of the interval, NaN where it is not known.
    cycles : float
        How many cycles it was taken over.
    how : str
        Where it came from, in a few words.
    """

    cycles_per_min: float
    low: float = float("nan")
    high: float = float("nan")
    cycles: float = float("nan")
    how: str = ""

    def __post_init__(self) -> None:
        if not self.cycles_per_min > 0:
            raise CasebookError(f"A stroke rate of {self.cycles_per_min} cycles a minute is none.", "")

    @classmethod
    def of_period(cls, period_s: float, sigma_s: float = float("nan"), many: float = 1.96, **rest: object) -> Rate:
        """From the time of a cycle and its standard deviation; ``many`` of them are half the 95 % interval. [s]"""
        hz = 1 / period_s
        half = many * sigma_s / period_s**2
        return cls(60 * hz, 60 * (hz - half), 60 * (hz + half), **rest)  # type: ignore[arg-type]

    @classmethod
    def of_strokes(cls, strokes_per_min: float, how: str = "") -> Rate:
        """From strokes a minute counting each arm."""
        return cls(strokes_per_min / ARMS, how=how)

    @property
    def strokes_per_min(self) -> float:
        """Strokes a minute counting each arm: twice the cycles."""
        return ARMS * self.cycles_per_min

    @property
    def cycle_s(self) -> float:
        """Time of a cycle. [s]"""
        return 60 / self.cycles_per_min

    @property
    def half(self) -> float:
        """Half the 95 % interval. [cycles/min]"""
        return (self.high - self.low) / 2

    @property
    def possible(self) -> bool:
        """Somebody can swim like that."""
        return SLOWEST_STROKES <= self.strokes_per_min <= FASTEST_STROKES

    def text(self) -> str:
        """Both units, so that neither is taken for the other.

        >>> Rate(44.0, 43.5, 44.5).text()
        '88 strokes/min counting each arm (44.0 cycles/min, give or take 0.5)'
        """
        give = f", give or take {self.half:.1f}" if self.half == self.half else ""
        return f"{self.strokes_per_min:.0f} strokes/min counting each arm ({self.cycles_per_min:.1f} cycles/min{give})"


@dataclass(frozen=True, slots=True)
class NoRate:
    """No rate could be told: why, what to do, and the rates it may be. Falsy."""

    reason: str
    remedy: str
    candidates: tuple[Rate, ...] = ()

    def __bool__(self) -> bool:
        return False
