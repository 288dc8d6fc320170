"""Lengths of the pool as a coach counts them: seconds and strokes together, and what follows from both.

References
----------
.. [1] Int J Environ Res Public Health 2020, 17(17):6257, doi 10.3390/ijerph17176257: start to 15 m, turn from 5 m
   before the wall to 10 m after it, finish the last 5 m, clean swimming the rest.
.. [2] Costill DL et al. (1985). Int J Sports Med 6:266-270: stroke index, speed times distance per cycle.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from casebook.errors import CasebookError
from casebook.plane.propagate import Z95
from casebook.stroke.rate import ARMS, Rate

#: International yard (1959), exact. [m]
YARD_M = 0.9144
UNITS: dict[str, float] = {"m": 1.0, "yd": YARD_M}
#: Start, before and after a turn, finish [1]_. [m]
START_M, BEFORE_TURN_M, AFTER_TURN_M, FINISH_M = 15.0, 5.0, 10.0, 5.0
#: A watch in the hand, start and stop together. [s] common practice, no source
HAND_TIMED_SIGMA_S = 0.15
#: A whole number of strokes is off by up to half a stroke either way: 1 / sqrt(12).
COUNT_SIGMA = 1 / math.sqrt(12)


@dataclass(frozen=True, slots=True)
class Length:
    """One length as counted: ``distance`` in ``unit``, ``seconds``, ``strokes`` of both arms; None where not taken.

    ``from_wall`` is where the watch was started, counted from the wall pushed off from, in ``unit``: a part of a
    length, such as from the flags to the middle. None for a whole length.
    """

    swim: str
    number: int
    distance: float
    unit: str = "m"
    seconds: float | None = None
    strokes: int | None = None
    note: str = ""
    from_wall: float | None = None

    def __post_init__(self) -> None:
        if self.unit not in UNITS:
            raise CasebookError(f'"{self.unit}" is no unit of a pool.', f"Use one of: {', '.join(UNITS)}.")
        if not 0 < self.distance < math.inf:
            raise CasebookError(f"A length of {self.distance} {self.unit} is none.", "Give a distance above zero.")

    @property
    def metres(self) -> float:
        """Distance in metres."""
        return self.distance * UNITS[self.unit]

    @property
    def is_whole(self) -> bool:
        """From wall to wall."""
        return self.from_wall is None

    def is_clean(self, pool_m: float) -> bool:
        """Wholly in clean swimming, without start, turn and finish; a whole length never is. [m]"""
        if self.from_wall is None:
            return False
        begin = self.from_wall * UNITS[self.unit]
        ends = begin, begin + self.metres
        return all(is_clean(at, pool_m, first_length=self.number == 1) for at in ends)

    @property
    def speed(self) -> float:
        """Mean speed with push-off and all; NaN without a time. [m/s]"""
        return self.metres / self.seconds if self.seconds else math.nan

    @property
    def strokes_per_min(self) -> float:
        """Strokes of both arms over the time of the length; the glide after the wall makes it less than the rate of
        swimming. NaN where either is missing."""
        return 60 * self.strokes / self.seconds if self.strokes and self.seconds else math.nan

    @property
    def metres_per_cycle(self) -> float:
        """Distance per cycle with push-off and all; NaN without a count. [m]"""
        return ARMS * self.metres / self.strokes if self.strokes else math.nan

    @property
    def stroke_index(self) -> float:
        """Speed times distance per cycle. [m^2/s]"""
        return self.speed * self.metres_per_cycle

    @property
    def pace_100_s(self) -> float:
        """Seconds for 100 of the pool's own unit at this speed: 100 m, or 100 yd in a pool of yards."""
        return 100 * self.seconds / self.distance if self.seconds else math.nan

    def pace_100(self, unit: str) -> float:
        """Seconds for 100 m or 100 yd, whatever the pool.

        >>> round(Length("a", 1, 25, "yd", 15.0).pace_100("m"), 1)
        65.6
        """
        return 100 * UNITS[unit] / self.speed

    def text(self) -> str:
        """One line, seconds and strokes together.

        >>> print(Length("easy", 2, 25, "m", 20.0, 19).text())
        easy, length 2, 25 m: 20.0 s, 19 strokes
        """
        part = "" if self.from_wall is None else f" from {self.from_wall:g} {self.unit} on"
        said = [f"{self.seconds:.1f} s"] if self.seconds is not None else []
        said += [f"{self.strokes} strokes"] if self.strokes is not None else []
        return f"{self.swim}, length {self.number}, {self.distance:g} {self.unit}{part}: {', '.join(said)}"

    def sigma(self, what: str) -> float:
        """Standard deviation of ``seconds``, ``strokes``, ``speed``, ``strokes_per_min``, ``metres_per_cycle``,
        ``stroke_index`` or ``pace_100_s``, from the watch and the count; NaN where it is not known."""
        if what in ("seconds", "strokes"):
            known = getattr(self, what) is not None
            return (HAND_TIMED_SIGMA_S if what == "seconds" else COUNT_SIGMA) if known else math.nan
        timing = HAND_TIMED_SIGMA_S / self.seconds if self.seconds else math.nan
        count = COUNT_SIGMA / self.strokes if self.strokes else math.nan
        relative = {
            "speed": timing,
            "pace_100_s": timing,
            "metres_per_cycle": count,
            "strokes_per_min": math.hypot(timing, count),
            "stroke_index": math.hypot(timing, count),
        }[what]
        return float(getattr(self, what)) * relative


@dataclass(frozen=True, slots=True)
class Segments:
    """Metres of a race by the way they are swum."""

    start: float
    turns: float
    finish: float
    clean: tuple[tuple[float, float], ...]

    @property
    def clean_m(self) -> float:
        """Clean swimming in all. [m]"""
        return sum(b - a for a, b in self.clean)


def segments(distance_m: float, pool_m: float) -> Segments:
    """Start, turns, finish and clean swimming of a race, by the conventions of [1]_.

    Parameters
    ----------
    distance_m, pool_m : float
        A whole number of lengths.

    Returns
    -------
    Segments
        ``clean`` holds from and to of each stretch, counted from the start. [m]

    Examples
    --------
    >>> race = segments(100, 25)
    >>> race.start, race.turns, race.clean_m, race.finish
    (15.0, 45.0, 35.0, 5.0)
    """
    lengths = distance_m / pool_m
    if not lengths > 0 or abs(lengths - round(lengths)) > 1e-6:
        raise CasebookError(
            f"{distance_m:g} m are no whole number of lengths of {pool_m:g} m.", "Give the pool's own length."
        )
    clean = []
    for k in range(round(lengths)):
        begin = k * pool_m + (START_M if k == 0 else AFTER_TURN_M)
        end = (k + 1) * pool_m - (FINISH_M if k == round(lengths) - 1 else BEFORE_TURN_M)
        if end > begin:
            clean.append((begin, end))
    turns = (round(lengths) - 1) * (BEFORE_TURN_M + AFTER_TURN_M)
    return Segments(START_M, turns, FINISH_M, tuple(clean))


def is_clean(along_m: float, pool_m: float, *, first_length: bool) -> bool:
    """Whether a place, counted from the wall pushed off from, lies in clean swimming."""
    return (START_M if first_length else AFTER_TURN_M) <= along_m <= pool_m - BEFORE_TURN_M


@dataclass(frozen=True, slots=True)
class Change:
    """One measure of two efforts: ``after`` minus ``before`` with its 95 % interval."""

    what: str
    before: float
    after: float
    low: float
    high: float

    @property
    def difference(self) -> float:
        """After minus before."""
        return self.after - self.before

    @property
    def clear(self) -> bool:
        """The interval does not hold zero."""
        return self.low > 0 or self.high < 0


#: Measures of a length, in the order in which they are shown: seconds and strokes stand together.
MEASURES = ("seconds", "strokes", "speed", "metres_per_cycle", "strokes_per_min", "stroke_index", "pace_100_s")


def side_by_side(before: list[Length], after: list[Length]) -> tuple[Change, ...]:
    """Two efforts over lengths of the same distance, mean against mean; a measure that one lacks is left out.

    The interval comes from watch and count alone: it says whether the efforts differed, not whether the swimmer does.

    Raises
    ------
    CasebookError
        The lengths differ in distance.
    """
    if len({round(one.metres, 3) for one in (*before, *after)}) > 1:
        raise CasebookError("The two efforts have lengths of different distance.", "Compare lengths of one pool.")
    out = []
    for what in MEASURES:
        sides = [[one for one in effort if not math.isnan(_value(one, what))] for effort in (before, after)]
        if all(sides):
            old, new = (sum(_value(one, what) for one in side) / len(side) for side in sides)
            variance = sum(sum(one.sigma(what) ** 2 for one in side) / len(side) ** 2 for side in sides)
            half = Z95 * math.sqrt(variance)
            out.append(Change(what, old, new, new - old - half, new - old + half))
    return tuple(out)


def _value(one: Length, what: str) -> float:
    value = getattr(one, what)
    return math.nan if value is None else float(value)


@dataclass(frozen=True, slots=True)
class Product:
    """Speed against rate times distance per cycle: ``gap_pct`` apart, with a standard deviation of ``sigma_pct``."""

    gap_pct: float
    sigma_pct: float

    @property
    def agrees(self) -> bool:
        """They differ by no more than their errors explain (two standard deviations)."""
        return abs(self.gap_pct) <= 2 * self.sigma_pct


def product(speed: float, speed_sigma: float, rate: Rate, rate_sigma: float, way: float, way_sigma: float) -> Product:
    """How well speed [m/s], rate [cycles/min] and distance per cycle [m], taken apart, fit together: v = SR x SL."""
    other = rate.cycles_per_min / 60 * way
    relative = math.hypot(speed_sigma / speed, math.hypot(rate_sigma / rate.cycles_per_min, way_sigma / way))
    return Product(100 * (speed / other - 1), 100 * relative)
