"""The strip of phases: what each arm does, stroke after stroke, on one line of time.

Light box: reach; half-filled: pull; full: push; a thin line: over the water. Between the arms a bar where both pull and
dots where neither does. Shape and shade say the phase, so that colour is not needed.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Any

from casebook.pages.charts import nice_ticks
from casebook.pages.figure import Rect, Shape, Words, line
from casebook.words import SIDES

WIDTH = 640.0
#: Phases in their order; each lies between two of the five moments of a stroke.
PHASES = ("reach", "pull", "push", "over")
SAID = {"reach": "reach", "pull": "pull", "push": "push", "over": "over the water"}
#: Seconds to a row and most rows: a longer clip is cut there, and the words say so.
ROW_S, MOST_ROWS = 4.5, 3
_LEFT, _RIGHT, _LANE, _BETWEEN, _FOOT, _TOP = 62.0, 632.0, 28.0, 16.0, 40.0, 20.0

#: A stroke: ``side`` and ``moments``, five seconds (in, starts back, under the shoulder, out, in again), None unknown.
Stroke = Mapping[str, Any]


def phase_shapes(strokes: Sequence[Stroke]) -> tuple[list[Shape], tuple[float, float]]:
    """Shapes and size of the strip; ``strokes`` in any order."""
    first, last = extent(strokes)
    rows = row_count(first, last)
    span = min(ROW_S, max(last - first, 1e-3)) if rows == 1 else ROW_S
    tall = _TOP + 2 * _LANE + _BETWEEN + _FOOT
    shapes: list[Shape] = []
    for row in range(rows):
        shapes += _row(strokes, first + row * span, span, row * tall + _TOP, row == 0)
    return shapes, (WIDTH, rows * tall - 6.0)


def extent(strokes: Sequence[Stroke]) -> tuple[float, float]:
    """First and last known moment. [s]"""
    known = [m for s in strokes for m in s["moments"] if m is not None]
    return min(known), max(known)


def row_count(first: float, last: float) -> int:
    """Rows that the strip takes."""
    return max(1, min(MOST_ROWS, math.ceil((last - first) / ROW_S - 1e-6)))


def pulling(strokes: Sequence[Stroke], side: str) -> list[tuple[float, float]]:
    """From start of the pull to the hand leaving the water, where both are known. [s]"""
    own = [s["moments"] for s in strokes if s["side"] == side]
    return [(m[1], m[3]) for m in own if m[1] is not None and m[3] is not None]


def together(strokes: Sequence[Stroke]) -> tuple[list[tuple[float, float]], list[tuple[float, float]]]:
    """Stretches in which both arms pull, and those between two pulls in which neither does. [s]"""
    left, right = pulling(strokes, "l"), pulling(strokes, "r")
    both = [(max(a, c), min(b, d)) for a, b in left for c, d in right if max(a, c) < min(b, d)]
    every = sorted([(a, b, "l") for a, b in left] + [(a, b, "r") for a, b in right])
    neither = []
    for (_, end, one), (start, _, other) in pairwise(every):
        # Between two pulls of the same arm a pull of the other was not read.
        if one != other and start > end:
            neither.append((end, start))
    return both, neither


def _row(strokes: Sequence[Stroke], start: float, span: float, top: float, named: bool) -> list[Shape]:
    def x(t: float) -> float:
        return _LEFT + (min(max(t, start), start + span) - start) / span * (_RIGHT - _LEFT)

    shapes: list[Shape] = []
    lanes = {"l": top, "r": top + _LANE + _BETWEEN}
    for side, y in lanes.items():
        role = "left" if side == "l" else "right"
        shapes.append(Words(0, y + _LANE / 2 + 4, SIDES[side], f"{role}name", "start"))
        for k, stroke in enumerate(s for s in strokes if s["side"] == side):
            shapes += _stroke(stroke["moments"], role, x, y, (start, start + span), named and k == 0)
    both, neither = together(strokes)
    middle = top + _LANE + _BETWEEN / 2
    for stretches, role in ((both, "these"), (neither, "nobody")):
        for a, b in stretches:
            if x(b) - x(a) > 0.5:
                shapes.append(line(x(a), middle, x(b), middle, role))
    return shapes + _axis(start, span, x, top + 2 * _LANE + _BETWEEN + 6)


def _stroke(
    moments: Sequence[float | None], role: str, x: Any, y: float, inside: tuple[float, float], named: bool
) -> list[Shape]:
    shapes: list[Shape] = []
    for name, a, b in zip(PHASES, moments[:-1], moments[1:], strict=True):
        if a is None or b is None or b <= inside[0] or a >= inside[1]:
            continue
        x0, x1 = x(a), x(b)
        if name == "over":
            shapes.append(line(x0, y + _LANE / 2, x1, y + _LANE / 2, f"over_{role}"))
        else:
            shapes.append(Rect(x0, y, max(x1 - x0, 0.5), _LANE, f"{name}_{role}"))
        if named and x1 - x0 > 6.0 * len(name):
            shapes.append(Words((x0 + x1) / 2, y - 5 if role == "left" else y + _LANE + 12, name, "fine"))
    for at in alone(moments):
        if inside[0] <= at < inside[1]:
            shapes.append(line(x(at), y, x(at), y + _LANE, f"over_{role}"))
    return shapes


def alone(moments: Sequence[float | None]) -> list[float]:
    """Moments of a stroke that no phase begins or ends at, since those beside them are not known; the end is another's.

    >>> alone([1.0, None, None, 1.9, 2.3]), alone([1.0, 1.3, 1.6, 1.9, 2.3])
    ([1.0], [])
    """
    known = [m is not None for m in moments]
    return [m for k, m in enumerate(moments[:-1]) if m is not None and not known[k + 1] and not (k and known[k - 1])]


def _axis(start: float, span: float, x: Any, y: float) -> list[Shape]:
    shapes: list[Shape] = [line(_LEFT, y + 10, _RIGHT, y + 10, "tick")]
    for t in nice_ticks(start, start + span, 8):
        if start - 1e-9 <= t <= start + span + 1e-9:
            shapes.append(line(x(t), y + 10, x(t), y + 14, "tick"))
            shapes.append(Words(x(t), y + 27, f"{t:g} s", anchor="middle" if t < start + span * 0.97 else "end"))
    return shapes
