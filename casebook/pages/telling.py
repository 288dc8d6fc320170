"""How numbers are told to a swimmer: "9 cm, give or take 2", "seen twice", and which arm the page speaks of."""

from __future__ import annotations

import re
from collections.abc import Sequence
from statistics import median
from typing import TYPE_CHECKING, Protocol

from casebook.checkpoints.answers import near_side
from casebook.checkpoints.finding import Finding, NotMeasured, in_passes
from casebook.pages.charts import MEAN_FROM
from casebook.plane.propagate import Z95
from casebook.words import QUANTITIES, SIDES, STROKE_CLASSES

if TYPE_CHECKING:
    from casebook.checkpoints.drawing import Still
    from casebook.clip.shot import Shot


class Result(Protocol):
    """The result of any checkpoint, as far as a page reads it."""

    @property
    def checkpoint(self) -> str: ...

    @property
    def shot_id(self) -> str: ...

    @property
    def results(self) -> Sequence[Finding | NotMeasured]: ...

    @property
    def stills(self) -> Sequence[Still]: ...

    def get(self, quantity: str, side: str, stroke_class: str = "none") -> Finding | NotMeasured: ...


#: Which measures say best which stroke stands for the others; else those that come first.
LEADING = {"catch": ("hand_ahead_pct", "elbow_height_pct", "elbow_angle_45_deg", "elbow_angle_under_deg")}
#: Checkpoints that speak of an arm; the others speak of a side.
OF_THE_ARM = ("entry", "extension", "catch", "pull", "recovery", "timing")
_COUNTS = {1: "once", 2: "twice"}
#: Metres are told in centimetres.
_TOLD = {"m": (100.0, "cm"), "deg": (1.0, "°")} | {
    f"% of {what}": (1.0, "%") for what in ("arm length", "shoulder breadth", "body length", "cycle")
}
_LONG = {
    "% of arm length": " % of your arm",
    "% of shoulder breadth": " % of your shoulders' width",
    "% of body length": " % of your height",
    "% of cycle": " % of the cycle",
    "deg": "°",
    "m": " cm",
}


def told_unit(unit: str) -> tuple[float, str]:
    """Factor and unit in which a quantity is told.

    >>> told_unit("m")
    (100.0, 'cm')
    """
    return _TOLD.get(unit, (1.0, unit))


def number(value: float, decimals: int = 0) -> str:
    """A rounded number with a true minus sign.

    >>> number(-3.2), number(-0.2)
    ('−3', '0')
    """
    return f"{round(value, decimals) + 0.0:.{decimals}f}".replace("-", "\N{MINUS SIGN}")


def listed(items: Sequence[str]) -> str:
    """Items as a person would list them.

    >>> listed(["12", "15", "16"])
    '12, 15 and 16'
    """
    return items[0] if len(items) == 1 else ", ".join(items[:-1]) + " and " + items[-1]


def seen_in(n: int) -> str:
    """How many strokes something was seen in.

    >>> seen_in(2), seen_in(5)
    ('seen twice', 'seen in 5 strokes')
    """
    return f"seen {_COUNTS[n]}" if n in _COUNTS else f"seen in {n} strokes"


def value_words(finding: Finding) -> tuple[str, str]:
    """A finding's number and its give or take; under four strokes the single values and how often it was seen."""
    factor, _ = told_unit(finding.unit)
    end = _LONG.get(finding.unit, f" {finding.unit}")
    places = told_decimals(finding)
    if len(finding.strokes) >= MEAN_FROM:
        return f"{number(finding.value * factor, places)}{end}", _give(finding.these.half * factor, places)
    values = [number(s.value * factor, places) for s in finding.strokes]
    half = max(stroke_half(finding, k) for k in range(len(values))) * factor
    each = "each " if len(values) > 1 else ""
    return f"{listed(values)}{end}", f"{seen_in(len(values))}, {each}{_give(half, places)}"


def told_decimals(finding: Finding) -> int:
    """Decimals that a swimmer is told: as in tables, but metres are told in whole centimetres."""
    known = QUANTITIES.get(finding.quantity)
    return 0 if known is None or finding.unit == "m" else min(known.decimals, 2)


def _give(half: float, places: int) -> str:
    # Nobody reads a stroke from a film to better than one unit, whatever the arithmetic says.
    return f"give or take {number(max(half, 10.0**-places), places)}"


def without_frames(words: str) -> str:
    """The same without frame numbers, which help the coach at his desk and not the swimmer.

    >>> without_frames("Mark the hip in frames 12-14, 20. Mark the hip in frame 35.")
    'Mark the hip.'
    >>> without_frames("Mark the wrist there (marked so far: frame 7).")
    'Mark the wrist there.'
    """
    plain = re.sub(r" \((?:marked so far: )?frames? [\d, -]+\)| in frames? \d[\d-]*(?:, \d[\d-]*)*", "", words)
    return " ".join(dict.fromkeys(re.split(r"(?<=[.!?]) ", plain)))  # strokes that differ only in frames say it once


def stroke_half(finding: Finding, k: int) -> float:
    """Half the 95 % interval of one stroke's own value: its independent and its common error together."""
    stroke = finding.strokes[k]
    return Z95 * float(stroke.sigma**2 + stroke.common**2) ** 0.5


def who(finding: Finding) -> str:
    """Arm or side, strokes and class in words."""
    part = f"{side_words(finding.checkpoint, finding.side)}, " if finding.side in SIDES else ""
    return f"{part}{counted(finding)} {STROKE_CLASSES.get(finding.stroke_class, finding.stroke_class)}".rstrip()


def counted(finding: Finding) -> str:
    """How many strokes, and in how many passes if more than one: "5 strokes in 3 passes"."""
    n = len(finding.strokes)
    return f"{n} stroke{'s' if n != 1 else ''}{in_passes(finding)}"


def side_words(checkpoint: str, side: str) -> str:
    """A side in the words of its checkpoint.

    >>> side_words("catch", "r"), side_words("kick", "l")
    ('right arm', 'left side')
    """
    return f"{SIDES[side]} {'arm' if checkpoint in OF_THE_ARM else 'side'}"


def called(alias: str) -> str:
    """An alias as a name: many are typed in small letters.

    >>> called("rowan"), called("T4")
    ('Rowan', 'T4')
    """
    return alias[:1].upper() + alias[1:]


def title_of(quantity: str) -> str:
    """A quantity in a swimmer's words."""
    return QUANTITIES[quantity].plain if quantity in QUANTITIES else quantity.replace("_", " ")


def findings(result: Result) -> list[Finding]:
    """What was measured."""
    return [r for r in result.results if isinstance(r, Finding)]


def missing(result: Result) -> list[NotMeasured]:
    """What was not."""
    return [r for r in result.results if isinstance(r, NotMeasured)]


def arm_spoken_of(result: Result, shot: Shot) -> tuple[str, str]:
    """Side and stroke class that the page speaks of: the arm nearer the camera, strokes without breath if any.

    A page never sets the near arm against the far one: the far one is partly hidden. The side is empty where what was
    measured has none.
    """
    found = findings(result)
    near = near_side(shot)
    if not found:
        return near or "r", "none"

    def rank(f: Finding) -> tuple[bool, bool, bool, int]:
        return bool(near) and f.side == near, f.stroke_class == "none", f.side != "", len(f.strokes)

    best = max(found, key=rank)
    return best.side, best.stroke_class


def sides_spoken_of(result: Result, shot: Shot) -> tuple[str, ...]:
    """The sides that the page speaks of: one from the side, both from the front, from behind, above or below."""
    return (arm_spoken_of(result, shot)[0],) if near_side(shot) else ("l", "r")


def stroke_spoken_of(result: Result, side: str, stroke_class: str) -> int:
    """The stroke that stands for the others: of those with stills, the one whose leading measure is nearest the median.

    -1 if there is no still.
    """
    pictured = {s.stroke for s in result.stills if s.side in ("", side)}
    leading = dict.fromkeys((*LEADING.get(result.checkpoint, ()), *(f.quantity for f in findings(result))))
    for quantity in leading:
        finding = result.get(quantity, side, stroke_class)
        if isinstance(finding, Finding):
            middle = median(s.value for s in finding.strokes)
            own = [s for s in finding.strokes if s.stroke in pictured and not s.shot]
            if own:
                return min(own, key=lambda s: (abs(s.value - middle), s.stroke)).stroke
    return min(pictured, default=-1)
