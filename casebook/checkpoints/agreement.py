"""What two readings of one clip make of a checkpoint: the same numbers within their error, the same verdicts?

A reading is what one coach's marks, or one round of them, give. Both are measured on the same plane, so that errors of
scale and tilt, which they share, do not count here.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from casebook.checkpoints.finding import Finding, NotMeasured, StrokeValue
from casebook.checkpoints.measure import BodyFacts, measure
from casebook.marks.kappa import Kappa, cohen_kappa, table_of
from casebook.marks.reliability import Z95, Limits, Spread, limits_of_agreement, typical_error
from casebook.words import QUANTITIES, SIDES, STROKE_CLASSES

if TYPE_CHECKING:
    from casebook.checkpoints.bands import Bands
    from casebook.checkpoints.catch import CatchResult
    from casebook.checkpoints.result import CheckpointResult
    from casebook.clip.shot import Shot
    from casebook.marks.events import EventMark
    from casebook.marks.marks import Marks
    from casebook.plane.plane import Plane

    Result = CheckpointResult | CatchResult

#: Two readings mean the same stroke if they place it within this of each other: a third of a quick one. [s]
SAME_STROKE_S = 0.2
#: The verdicts that judge, in order: agreement is counted over these. "shown" is no judgement.
JUDGING = ("within", "near", "outside", "undecided")


@dataclass(frozen=True, slots=True)
class QuantityAgreement:
    """One quantity, read twice.

    Attributes
    ----------
    checkpoint, quantity, side, stroke_class, unit : str
    pairs : tuple of (StrokeValue, StrokeValue)
        The same stroke in both readings.
    typical : Spread
        Typical error of one stroke's value in one reading, in ``unit``; a shift between the readings apart.
    limits : Limits
        Of agreement, first minus second, of one stroke's value.
    alone : int
        Strokes that only one reading holds.
    """

    checkpoint: str
    quantity: str
    side: str
    stroke_class: str
    unit: str
    pairs: tuple[tuple[StrokeValue, StrokeValue], ...]
    typical: Spread
    limits: Limits
    alone: int

    @property
    def agreeing(self) -> int:
        """Strokes whose two values lie within their joint 95 % interval."""
        return sum(agree(a, b) for a, b in self.pairs)

    @property
    def stated(self) -> float:
        """What the readings' own errors say the typical error is: the root of their mean square."""
        if not self.pairs:
            return math.nan
        return math.sqrt(float(np.mean([v.sigma**2 for pair in self.pairs for v in pair])))

    def text(self) -> str:
        """All of it in one line."""
        quantity = QUANTITIES[self.quantity]
        d = quantity.decimals + 1
        who = ", ".join(w for w in (SIDES.get(self.side, ""), STROKE_CLASSES.get(self.stroke_class, "")) if w)
        if len(self.pairs) < 2:
            return f"{quantity.name}{f' ({who})' if who else ''}: {len(self.pairs)} stroke in both readings, too few"
        return (
            f"{quantity.name}{f' ({who})' if who else ''}: typical error {self.typical.sd.text(d, self.unit)}, stated "
            f"{self.stated:.{d}f}; bias {self.limits.bias.text(d)}; 95 % of strokes apart by "
            f"{self.limits.low.value:.{d}f} to {self.limits.high.value:.{d}f} {self.unit}; {self.agreeing} of "
            f"{len(self.pairs)} strokes agree within their intervals"
        )


def agree(a: StrokeValue, b: StrokeValue) -> bool:
    """Whether two readings of a stroke lie within their joint 95 % interval; what both share does not count."""
    return abs(a.value - b.value) <= Z95 * math.hypot(a.sigma, b.sigma)


def measured_by(
    checkpoint: str,
    shot: Shot,
    readings: Sequence[Marks],
    plane: Plane,
    *,
    bands: Bands,
    events: Sequence[EventMark] = (),
    facts: BodyFacts | None = None,
) -> tuple[Result, ...]:
    """One checkpoint measured from each reading, everything else the same."""
    return tuple(measure(checkpoint, shot, marks, plane, bands=bands, events=events, facts=facts) for marks in readings)


def quantity_agreement(first: Result, second: Result) -> tuple[QuantityAgreement, ...]:
    """Agreement of every quantity that both readings hold, in the order of the first.

    Typical error and limits need two strokes that both hold; with fewer they are NaN.
    """
    found = []
    for f in first.results:
        g = second.get(f.quantity, f.side, f.stroke_class) if isinstance(f, Finding) else None
        if isinstance(f, Finding) and isinstance(g, Finding):
            pairs = _same_strokes(f.strokes, g.strokes)
            a, b = (np.array([pair[i].value for pair in pairs], float) for i in (0, 1))
            alone = len(f.strokes) + len(g.strokes) - 2 * len(pairs)
            found.append(
                QuantityAgreement(
                    f.checkpoint, f.quantity, f.side, f.stroke_class, f.unit, tuple(pairs),
                    typical_error(a, b), limits_of_agreement(a, b), alone,
                )
            )  # fmt: skip
    return tuple(found)


def verdict_agreement(first: Iterable[Result], second: Iterable[Result]) -> Kappa:
    """Kappa of the verdicts of two coaches on the same clips.

    Findings are paired by shot, checkpoint, quantity, side and stroke class. A quantity that one of them could not
    measure counts as left out; what is shown and not judged by either is no verdict. The words are taken as names
    without order, since "can't tell" stands beside the others.
    """
    a, b = _verdicts(first), _verdicts(second)
    keys = [key for key in dict.fromkeys([*a, *b]) if "shown" not in (a.get(key), b.get(key))]
    words, table, left_out = table_of([a.get(k) for k in keys], [b.get(k) for k in keys], JUDGING)
    said = (table.sum(0) + table.sum(1)) > 0
    return cohen_kappa(
        table[np.ix_(said, said)], categories=[w for w, s in zip(words, said, strict=True) if s], left_out=left_out
    )


def _verdicts(results: Iterable[Result]) -> dict[tuple[str, ...], str | None]:
    found: dict[tuple[str, ...], str | None] = {}
    for result in results:
        for r in result.results:
            if isinstance(r, NotMeasured):
                continue
            found[(result.shot_id, r.checkpoint, r.quantity, r.side, r.stroke_class)] = r.verdict
    return found


def _same_strokes(first: Sequence[StrokeValue], second: Sequence[StrokeValue]) -> list[tuple[StrokeValue, StrokeValue]]:
    """Pairs nearest in time, each stroke once."""
    if not first or not second:
        return []
    apart = np.abs(np.subtract.outer([s.time_s for s in first], [s.time_s for s in second]))
    apart = np.where(np.isfinite(apart), apart, np.inf)
    return [
        (first[i], second[j])
        for i, j in enumerate(apart.argmin(1).tolist())
        if apart[i, j] <= SAME_STROKE_S and int(apart[:, j].argmin()) == i
    ]
