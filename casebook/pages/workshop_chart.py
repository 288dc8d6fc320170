"""Two charts about a vote: every coach a ring beside what he chose, and shares with their intervals."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from casebook.pages.figure import Ring, Shape, Words, line

WIDTH = 760.0
_LEFT, _RIGHT, _ROW = 150.0, 720.0, 22.0
#: Rings of one row take this much room at most. [px]
_RINGS = 330.0


def votes_shapes(data: Mapping[str, Any]) -> tuple[list[Shape], tuple[float, float]]:
    """One ring a coach, a row a choice, a heading a case.

    ``data`` holds ``cases`` [{case, rows [{title, hands, is_reference}]}].
    """
    most = max((r["hands"] for c in data["cases"] for r in c["rows"]), default=1)
    step = min(15.0, _RINGS / max(most, 1))
    shapes: list[Shape] = []
    y = 6.0
    for case in data["cases"]:
        y += 18
        shapes.append(Words(12, y + 5, case["case"], "name", "start"))
        y += _ROW + 2
        for row in case["rows"]:
            shapes += [Ring(22 + step * k, y, min(5.0, step * 0.36)) for k in range(row["hands"])]
            says = f"{row['hands']}  {row['title']}"
            says += " (reference)" if row["is_reference"] else ""
            shapes.append(Words(32 + step * row["hands"], y + 5, says, "say", "start"))
            y += _ROW
    return shapes, (WIDTH, y + 8)


def shares_shapes(data: Mapping[str, Any]) -> tuple[list[Shape], tuple[float, float]]:
    """Shares as rings with their intervals from 0 to 100 %, a row each; a heading where ``title`` stands.

    ``data`` holds ``rows`` [{title, name, value, low, high}] in percent; low and high may be None.
    """

    def x(value: float) -> float:
        return _LEFT + value / 100 * (_RIGHT - _LEFT)

    shapes: list[Shape] = []
    y = 4.0
    for row in data["rows"]:
        if row["title"]:
            y += 18
            shapes.append(Words(12, y + 5, row["title"], "name", "start"))
            y += _ROW
        shapes.append(Words(24, y + 5, row["name"], "say", "start"))
        if row["low"] is not None:
            shapes.append(line(x(row["low"]), y, x(row["high"]), y, "whisker"))
        shapes.append(Ring(x(row["value"]), y, 4.5))
        y += _ROW
    shapes.append(line(_LEFT, y, _RIGHT, y, "axis"))
    for tick in (0, 25, 50, 75, 100):
        shapes += [line(x(tick), y, x(tick), y + 5, "tick"), Words(x(tick), y + 20, f"{tick} %")]
    return shapes, (WIDTH, y + 32)
