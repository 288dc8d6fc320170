"""Blocks about how good marking is: a coach's error, two coaches' numbers, their verdicts."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from casebook.marks.marks import HAND_SIGMA_PX
from casebook.marks.reliability import Estimate
from casebook.pages.agreement_chart import apart_shapes, error_shapes
from casebook.pages.block import Block, rounded
from casebook.pages.figure import to_png
from casebook.words import QUANTITIES, SIDES

if TYPE_CHECKING:
    from casebook.checkpoints.agreement import QuantityAgreement
    from casebook.marks.kappa import Kappa
    from casebook.marks.marking_error import MarkingError

#: Below this many things judged, kappa's interval is wider than any use. common practice, no source
FEW = 20
NO_SECOND = "Nobody else has marked these clips yet: name a second coach's case folder in OTHER."


def errors(found: MarkingError) -> Block:
    """Each coach's own error, all points together and each, beside the one taken until it is known."""
    rows: list[dict[str, Any]] = []
    for error in found.own:
        sd = error.spread.sd
        rows.append(
            {
                "title": "" if error.point else f"Marked by {error.by or 'the coach'}",
                "name": spoken(error.point) if error.point else "all points",
                "value": rounded(sd.value, 3),
                "low": rounded(sd.low, 3),
                "high": rounded(sd.high, 3),
            }
        )
    title = "Error of one mark, each coordinate"
    if not rows:
        return Block("marking_error", f"{title}: nobody has marked a second round yet.", {"title": title, "rows": []})
    data = {"title": title, "rows": rows, "usual": HAND_SIGMA_PX, "unit": "px"}
    said = [
        f"{r['title']}: {r['value']:.1f} px ({r['low']:.1f} to {r['high']:.1f}), all points together"
        for r in rows
        if r["title"]
    ]
    return Block("marking_error", "\n".join([title, *said]), data, to_png(*error_shapes(data)))


def apart(found: Sequence[QuantityAgreement], names: tuple[str, str], quantity: str = "") -> Block:
    """One quantity of two coaches: differences over means, with limits of agreement; the first one unless named."""
    if not found:
        return Block("apart", NO_SECOND, {"title": "", "points": []})
    one = next((a for a in found if a.quantity == (quantity or a.quantity) and len(a.pairs) > 1), None)
    if one is None:
        words = "Fewer than two strokes are held by both readings."
        return Block("apart", words, {"title": "", "points": []})
    title = f"{QUANTITIES[one.quantity].plain}: {names[0]} against {names[1]}"
    limits = one.limits
    data = {
        "title": title,
        "unit": one.unit,
        "first": names[0],
        "second": names[1],
        "points": [[rounded((a.value + b.value) / 2, 3), rounded(a.value - b.value, 3)] for a, b in one.pairs],
        **{
            key: [rounded(v, 3) for v in (each.value, each.low, each.high)]
            for key, each in (("bias", limits.bias), ("low", limits.low), ("high", limits.high))
        },
    }
    low, high, known = limits.low.value, limits.high.value, (limits.low.high - limits.low.low) / 2
    words = (
        f"{title}\n{_bias_in_words(limits.bias, one.unit, names)} Of single strokes, 95 % lie {low:.1f} to {high:.1f} "
        f"{one.unit} apart; these limits are themselves known to within {known:.1f}, from {limits.n} strokes. In one "
        f"stroke, a change of less than {one.typical.smallest_change.value:.1f} {one.unit} is no change."
    )
    return Block("apart", words, data, to_png(*apart_shapes(data)))


def verdicts(found: Kappa | None) -> Block:
    """Agreement of verdicts, with how often each was given and how far to trust the figure."""
    if found is None:
        return Block("verdicts", NO_SECOND, {"title": "", "paragraphs": []})
    lines = [f"Verdicts of both: {found.text()}."]
    if found.n < FEW:
        lines.append(f"Only {found.n} verdicts: the interval says how little that tells.")
    if found.shares and max(found.shares) > 0.8:
        lines.append(
            f"One verdict is given in {100 * max(found.shares):.0f} % of cases, which pulls kappa down; with all "
            f"verdicts as common it would be {found.evened:.2f}."
        )
    return Block("verdicts", "\n".join(lines), {"title": "The same verdict?", "paragraphs": lines})


def _bias_in_words(bias: Estimate, unit: str, names: tuple[str, str]) -> str:
    if bias.value < 0:
        bias, names = Estimate(-bias.value, -bias.high, -bias.low), (names[1], names[0])
    return f"On average {names[0]} reads {bias.text(1, unit)} higher than {names[1]}."


def spoken(point: str) -> str:
    """A point in words.

    >>> spoken("elbow_r"), spoken("crown")
    ('right elbow', 'crown')
    """
    name, _, side = point.rpartition("_")
    return f"{SIDES[side]} {name}" if name and side in SIDES else point
