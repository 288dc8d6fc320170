"""Efforts as counted at the pool side: the lengths of a swim in one line, and speed, rate and length held together."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from casebook.plane.propagate import Z95
from casebook.stroke.lengths import MEASURES, Length

if TYPE_CHECKING:
    from casebook.stroke.lengths import Product


@dataclass(frozen=True, slots=True)
class Effort:
    """Lengths of one swim that have one distance."""

    swim: str
    lengths: tuple[Length, ...]

    @property
    def title(self) -> str:
        """Swim, how many lengths, and how long they are: "race pace, 2 lengths of 25 m"."""
        first, n = self.lengths[0], len(self.lengths)
        part = "" if first.is_whole else f", from {first.from_wall:g} {first.unit} on"
        return f"{self.swim}, {n} length{'s' if n > 1 else ''} of {first.distance:g} {first.unit}{part}"

    def mean(self, what: str) -> tuple[float, float]:
        """Mean of one of ``lengths.MEASURES`` over the lengths that have it, and half its 95 % interval; NaN without.

        The interval is that of watch and count: it says how well these lengths are known, not how even they were.
        """
        known = [(float(getattr(one, what)), one.sigma(what)) for one in self.lengths if _has(one, what)]
        if not known:
            return math.nan, math.nan
        half = Z95 * math.sqrt(sum(s * s for _, s in known)) / len(known)
        return sum(v for v, _ in known) / len(known), half

    def text(self) -> str:
        """Seconds and strokes together, with what follows from both.

        >>> print(Effort("easy", (Length("easy", 1, 25, "m", 20.0, 20),)).text())
        easy, 1 length of 25 m: 20.0 s, 20 strokes, 60 strokes/min, 2.50 m/cycle, 80.0 s for 100 m
        """
        said = []
        for what, places, unit in (
            ("seconds", 1, "s"), ("strokes", 0, "strokes"), ("strokes_per_min", 0, "strokes/min"),
            ("metres_per_cycle", 2, "m/cycle"), ("pace_100_s", 1, f"s for 100 {self.lengths[0].unit}"),
        ):  # fmt: skip
            value = self.mean(what)[0]
            if not math.isnan(value):
                half = what == "strokes" and value != round(value)
                said.append(f"{value:.{places + half}f} {unit}")
        return f"{self.title}: {', '.join(said)}"

    @property
    def measures(self) -> tuple[str, ...]:
        """Those of ``lengths.MEASURES`` that any of its lengths has."""
        return tuple(what for what in MEASURES if any(_has(one, what) for one in self.lengths))


def efforts_of(lengths: Sequence[Length]) -> tuple[Effort, ...]:
    """Whole lengths put together by swim and distance, in their order."""
    groups: dict[tuple[str, float, str], list[Length]] = {}
    for one in lengths:
        if one.is_whole:
            groups.setdefault((one.swim, one.distance, one.unit), []).append(one)
    return tuple(Effort(swim, tuple(own)) for (swim, _, _), own in groups.items())


def clean_of(lengths: Sequence[Length], pool_m: float) -> tuple[Length, ...]:
    """Parts of lengths that lie wholly in clean swimming and have a time. [m]"""
    return tuple(one for one in lengths if one.is_clean(pool_m) and one.seconds)


def fits(by_watch: tuple[float, float], found: Product) -> str:
    """How speed by the watch [m/s] (value, half its interval) fits rate times distance per cycle, in a sentence."""
    speed, half = by_watch
    other = speed / (1 + found.gap_pct / 100)
    apart = f"{abs(found.gap_pct):.0f} % apart"
    fit = "no more than their errors explain" if found.agrees else "more than their errors explain: one is wrong"
    return (
        f"By the watch {speed:.2f} m/s (give or take {half:.2f}), by rate times distance a cycle {other:.2f} m/s: "
        f"{apart}, {fit}."
    )


def _has(one: Length, what: str) -> bool:
    value = getattr(one, what)
    return value is not None and not math.isnan(value)
