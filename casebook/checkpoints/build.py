"""From the values of single strokes to a finding with its two intervals, its verdict and its sentence."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from casebook.checkpoints.bands import Bands
from casebook.checkpoints.finding import Finding, StrokeValue
from casebook.checkpoints.verdict import habit, these_strokes, verdict
from casebook.words import QUANTITIES

#: Units told otherwise than measured: factor, and what stands behind the number.
_TOLD: dict[str, tuple[float, str]] = {
    "m": (100.0, " cm"),
    "deg": (1.0, " degrees"),
    "s": (1.0, " s"),
    "%": (1.0, " %"),
    "% of arm length": (1.0, " % of the arm"),
    "% of body length": (1.0, " % of the body's length"),
    "% of cycle": (1.0, " % of the cycle"),
}


def finding_of(
    checkpoint: str,
    quantity: str,
    side: str,
    stroke_class: str,
    strokes: Sequence[StrokeValue],
    bands: Bands,
    *,
    seen: int,
    needed: int,
    outcome: str = "",
    notes: Sequence[str] = (),
    common: float | None = None,
) -> Finding:
    """One quantity of one side and stroke class, from at least one stroke's value.

    Parameters
    ----------
    checkpoint, quantity, side, stroke_class : str
        Keys of ``words``; ``side`` and ``stroke_class`` empty where they do not apply.
    strokes : sequence of StrokeValue
        In the unit of the quantity; independent and common errors apart.
    bands : Bands
    seen, needed : int
        Frames that carried the marks, of those that were needed.
    outcome : str
        A word for what kind of thing was seen, where the number has kinds.
    common : float, optional
        Standard deviation that the mean shares among all strokes; by default the mean of the strokes' own.
    """
    values = np.array([s.value for s in strokes], float)
    shared = float(np.mean([s.common for s in strokes])) if common is None else common
    these = these_strokes(values, [s.sigma for s in strokes], shared)
    value, band = float(values.mean()), bands.get(quantity)
    return Finding(
        checkpoint,
        quantity,
        side,
        stroke_class,
        value,
        QUANTITIES[quantity].unit,
        these,
        habit(values, shared),
        tuple(strokes),
        tuple(sorted({f for s in strokes for f in s.frames})),
        seen,
        needed,
        verdict(value, these, band),
        sentence(quantity, value, these.half, len(strokes)),
        band,
        outcome,
        tuple(notes),
    )


def sentence(quantity: str, value: float, half: float, strokes: int) -> str:
    """A quantity as told to a swimmer: what, how much, give or take, seen how often. No verdict.

    >>> sentence("upper_arm_turn_deg", 24.2, 3.1, 2)
    'How far the upper arm turns while the forearm starts to drop: 24 degrees, give or take 3, seen twice.'
    """
    about = QUANTITIES[quantity]
    factor, end = _TOLD.get(about.unit, (1.0, f" {about.unit}" if about.unit else ""))
    decimals = max(0, about.decimals - (2 if about.unit == "m" else 0))
    least = 10.0**-decimals
    number = f"{round(value * factor, decimals) + 0.0:.{decimals}f}{end}"
    text = about.telling.format(value=number) if about.telling else f"{about.plain}: {number}"
    give = f"{max(half * factor, least):.{decimals}f}"
    return f"{text}, give or take {give}, {_seen(strokes)}."


def _seen(strokes: int) -> str:
    if strokes == 1:
        return "seen once"
    return "seen twice" if strokes == 2 else f"seen in {strokes} strokes"
