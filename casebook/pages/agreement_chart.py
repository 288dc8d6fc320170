"""Two charts about marking: errors as dots with whiskers, and differences of two readings over their mean."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from casebook.pages.charts import nice_ticks
from casebook.pages.figure import Ring, Shape, Words, line

WIDTH = 640.0
_LEFT, _RIGHT, _ROW = 200.0, 612.0, 20.0
_PLOT = (72.0, 500.0, 22.0, 268.0)


def error_shapes(data: Mapping[str, Any]) -> tuple[list[Shape], tuple[float, float]]:
    """Errors as rings with their intervals, a row each; a heading where ``title`` stands.

    ``data`` holds ``rows`` [{title, name, value, low, high}], ``usual`` (the error taken until one's own is known) and
    ``unit``.
    """
    rows = data["rows"]
    ticks = nice_ticks(0.0, max([data["usual"], *(r["high"] for r in rows)]))
    span = ticks[-1] - ticks[0]

    def x(value: float) -> float:
        return _LEFT + (value - ticks[0]) / span * (_RIGHT - _LEFT)

    shapes: list[Shape] = []
    y = 26.0
    for row in rows:
        if row["title"]:
            y += 8 if y > 30 else 0
            shapes.append(Words(12, y + 5, row["title"], "name", "start"))
            y += _ROW
        shapes.append(Words(24, y + 5, row["name"], "say", "start"))
        shapes += [line(x(row["low"]), y, x(row["high"]), y, "whisker"), Ring(x(row["value"]), y, 4.0)]
        y += _ROW
    usual = x(data["usual"])
    shapes = [line(usual, 20, usual, y, "zero"), Words(usual, 14, f"usual: {data['usual']:g} {data['unit']}"), *shapes]
    shapes.append(line(_LEFT, y, _RIGHT, y, "axis"))
    for tick in ticks:
        shapes += [line(x(tick), y, x(tick), y + 5, "tick"), Words(x(tick), y + 20, f"{tick:g} {data['unit']}")]
    return shapes, (WIDTH, y + 32)


def apart_shapes(data: Mapping[str, Any]) -> tuple[list[Shape], tuple[float, float]]:
    """Differences of two readings over their mean, with bias and limits of agreement and the interval of each.

    ``data`` holds ``points`` [(mean, first minus second)], ``bias``, ``low`` and ``high`` [value, from, to], ``unit``,
    ``first`` and ``second`` (whose readings).
    """
    left, right, top, bottom = _PLOT
    marks = [data["bias"], data["low"], data["high"]]
    ends = [v for mark in marks for v in mark]
    ticks = nice_ticks(min([0.0, *ends]), max([0.0, *ends]))
    means = [m for m, _ in data["points"]]
    ways = nice_ticks(min(means), max(means))

    def x(value: float) -> float:
        return left + (value - ways[0]) / ((ways[-1] - ways[0]) or 1.0) * (right - left)

    def y(value: float) -> float:
        return bottom - (value - ticks[0]) / ((ticks[-1] - ticks[0]) or 1.0) * (bottom - top)

    shapes: list[Shape] = []
    for k, (_, low, high) in enumerate(marks):
        at = right - 14 * k - 10
        shapes.append(line(at, y(low), at, y(high), "whisker"))
        shapes += [line(at - 4, y(end), at + 4, y(end), "whisker") for end in (low, high)]
    shapes.append(line(left, y(0), right, y(0), "zero"))
    taken: list[float] = []
    for (value, _, _), name in zip(marks, ("mean", "lower limit", "upper limit"), strict=True):
        shapes.append(line(left, y(value), right, y(value), "edge"))
        beside = y(value) + 4
        while any(abs(beside - t) < 14 for t in taken):
            beside += 2
        taken.append(beside)
        shapes.append(Words(right + 8, beside, f"{name} {_signed(value)}", "aim", "start"))
    shapes += [Ring(x(m), y(d), 4.0) for m, d in data["points"]]
    shapes.append(line(left, bottom, right, bottom, "axis"))
    for tick in ticks:
        shapes += [
            line(left - 5, y(tick), left, y(tick), "tick"),
            Words(left - 9, y(tick) + 4, _signed(tick), anchor="end"),
        ]
    for tick in ways:
        shapes += [line(x(tick), bottom, x(tick), bottom + 5, "tick"), Words(x(tick), bottom + 20, f"{tick:g}")]
    shapes.append(Words(left - 60, 14, f"{data['first']} minus {data['second']} [{data['unit']}]", "fine", "start"))
    shapes.append(Words((left + right) / 2, bottom + 38, f"mean of both [{data['unit']}]", "fine"))
    return shapes, (WIDTH, bottom + 48)


def _signed(value: float) -> str:
    return f"{value:.2g}".replace("-", "\N{MINUS SIGN}")
