"""What a checkpoint returns: a Finding, or NotMeasured with its reason; what a coach saw by eye; what he decided."""

from __future__ import annotations

from dataclasses import dataclass, field

DECISIONS = ("work on now", "later", "leave alone", "film again")


@dataclass(frozen=True, slots=True)
class Interval:
    """A 95 % interval, both ends in the unit of its finding."""

    low: float
    high: float

    @property
    def half(self) -> float:
        """Half its width: the "give or take"."""
        return (self.high - self.low) / 2


@dataclass(frozen=True, slots=True)
class Band:
    """A target band: one edge may be open (None). ``margin`` counts as near, ``on`` whether it is judged."""

    quantity: str
    low: float | None
    high: float | None
    margin: float
    unit: str
    source: str
    level: str = ""
    on: bool = True


@dataclass(frozen=True, slots=True)
class StrokeValue:
    """One stroke's value, its measurement error apart from the parts common to all strokes, and where it was read.

    ``sigma`` is the standard deviation of the independent part; ``common`` that of the part shared by every stroke of
    the clip (scale, tilt, arm length). ``frames`` are the frames it came from, ``time_s`` the real time it was read at;
    ``shot`` names the shot where that is another pass of the swim than the one at hand.
    """

    stroke: int
    value: float
    sigma: float
    common: float
    frames: tuple[int, ...]
    time_s: float
    shot: str = ""


@dataclass(frozen=True, slots=True)
class Finding:
    """One measured quantity of one side and stroke class.

    ``these`` answers "was it so in this clip?" and drives the verdict; ``habit`` answers "does this swimmer do it?" and
    is None under three strokes. ``seen`` of ``needed`` frames carried the marks.
    """

    checkpoint: str
    quantity: str
    side: str
    stroke_class: str
    value: float
    unit: str
    these: Interval
    habit: Interval | None
    strokes: tuple[StrokeValue, ...]
    frames: tuple[int, ...]
    seen: int
    needed: int
    verdict: str
    sentence: str
    band: Band | None = None
    outcome: str = ""
    notes: tuple[str, ...] = field(default=())

    def __bool__(self) -> bool:
        return True


@dataclass(frozen=True, slots=True)
class NotMeasured:
    """Not measured, and that is a result: why, and what to film or mark to have it. Falsy."""

    checkpoint: str
    quantity: str
    side: str
    reason: str
    remedy: str

    def __bool__(self) -> bool:
        return False

    def __str__(self) -> str:
        return f"{self.reason} {self.remedy}".strip()


@dataclass(frozen=True, slots=True)
class Observed:
    """Seen by eye: a word, no number."""

    checkpoint: str
    coach: str
    frame: int
    word: str
    side: str = ""


@dataclass(frozen=True, slots=True)
class Decision:
    """The coach's own, beside the verdict: one of ``DECISIONS`` with a line why."""

    checkpoint: str
    decision: str
    why: str


def passes(finding: Finding) -> int:
    """In how many passes of the swim a finding's strokes were filmed."""
    return max(len({s.shot for s in finding.strokes}), 1)


def in_passes(finding: Finding) -> str:
    """That there was more than one pass, as a table says it; else nothing."""
    return f" in {passes(finding)} passes" if passes(finding) > 1 else ""
