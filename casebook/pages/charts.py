"""The two charts of the house: one measure against its band, and a curve over the forearm's way down."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Any

from casebook.pages.figure import Path, Rect, Ring, Shape, Words, line
from casebook.words import SIDES

#: Fewer strokes than this are drawn one by one without a mean: with Student's t of one or two degrees of freedom an
#: interval for the habit is honest and useless. common practice, no source
MEAN_FROM = 4
MEASURE_WIDTH = 440.0
#: A curve ends a little past straight down. [deg]
LAST_DEG = 95.0
CURVE_SIZE = (640.0, 300.0)
Band = tuple[float | None, float | None]
_MARGIN = 22.0
_ROW = 9.0
_ROWS = 7
_SHORT_UNIT = 3
_PARTS = (0.0, 0.25, 0.5, 0.75, 1.0)


def nice_ticks(low: float, high: float, at_most: int = 6) -> list[float]:
    """Round numbers that span ``low`` to ``high``.

    >>> nice_ticks(-3, 19)
    [-5.0, 0.0, 5.0, 10.0, 15.0, 20.0]
    """
    span = max(high - low, 1e-9)
    power = 10.0 ** math.floor(math.log10(span / max(at_most - 1, 1)))
    for step in (power * f for f in (1, 2, 5, 10, 20, 50)):
        first, last = math.floor(low / step + 1e-9), math.ceil(high / step - 1e-9)
        if last - first < at_most:
            break
    return [round(k * step, 10) + 0.0 for k in range(first, last + 1)]


def measure_shapes(measure: Mapping[str, Any]) -> tuple[list[Shape], tuple[float, float]]:
    """A measure against its band: rings with whiskers, a thick bar for these strokes, a thin one for the habit.

    ``measure`` holds ``strokes`` [(value, half width)], ``these`` and ``habit`` [(low, high) or None], ``value``,
    ``band`` [(low or None, high or None) or None], ``unit`` as written beside numbers. Returns shapes and size.
    """
    strokes = measure["strokes"]
    band = measure.get("band")
    bars = len(strokes) >= MEAN_FROM
    ticks = nice_ticks(*_extent(measure, bars))
    x = _scale(ticks[0], ticks[-1], _MARGIN, MEASURE_WIDTH - _MARGIN)
    top = 18.0 if band else 6.0
    rows = min(len(strokes), _ROWS)
    bar_y = top + rows * _ROW + 9.0
    bottom = bar_y + 15.0 if bars else top + rows * _ROW + 4.0
    shapes: list[Shape] = []
    if band:
        shapes += _band(band, x, ticks, top - 3, bottom, measure["unit"])
    if ticks[0] < 0 < ticks[-1]:
        shapes.append(line(x(0), top - 3, x(0), bottom, "zero"))
    for k, (value, half) in enumerate(strokes):
        y = top + (k % _ROWS) * _ROW + _ROW / 2
        shapes += [line(x(value - half), y, x(value + half), y, "whisker"), Ring(x(value), y, 3.6)]
    if bars:
        shapes += _bars(measure, x, bar_y)
    shapes += _axis(ticks, x, bottom, measure["unit"])
    return shapes, (MEASURE_WIDTH, bottom + 22.0)


def curve_shapes(curve: Mapping[str, Any]) -> tuple[list[Shape], tuple[float, float]]:
    """A value over the forearm's way down, one line a stroke; the band stands where the value is read.

    ``curve`` holds ``lines`` [{side, points [(inclination, value)], read (inclination, value) or None}], ``band``,
    ``read_at`` [deg], ``unit``.
    """
    width, height = CURVE_SIZE
    left, right, top, bottom = 58.0, width - 104.0, 22.0, height - 46.0
    values = [v for each in curve["lines"] for _, v in each["points"]]
    band = curve.get("band")
    edges = [e for e in (band or ()) if e is not None]
    ticks = nice_ticks(min([*values, *edges]), max([*values, *edges]))
    y = _scale(ticks[0], ticks[-1], bottom, top)
    x = _scale(0.0, LAST_DEG, left, right)
    shapes: list[Shape] = []
    for tick in ticks:
        shapes.append(line(left, y(tick), right, y(tick), "axis"))
        shapes.append(Words(left - 8, y(tick) + 4, _number(tick, curve["unit"]), anchor="end"))
    if ticks[0] < 0 < ticks[-1]:
        shapes.append(line(left, y(0), right, y(0), "zero"))
    if curve.get("read_at") is not None:
        shapes += _reading(curve, band, x, y, ticks, bottom)
    for inclination, name in ((0, "forearm level"), (45, "halfway down"), (90, "straight down")):
        shapes.append(line(x(inclination), bottom, x(inclination), bottom + 5, "tick"))
        shapes.append(Words(x(inclination), bottom + 20, name))
        shapes.append(Words(x(inclination), bottom + 36, f"{inclination}°", "fine"))
    return shapes + _curves(curve["lines"], x, y, top, bottom), (width, height)


def _extent(measure: Mapping[str, Any], bars: bool) -> tuple[float, float]:
    low = [v - h for v, h in measure["strokes"]]
    high = [v + h for v, h in measure["strokes"]]
    for pair in (measure.get("these"), measure.get("habit")) if bars else ():
        if pair:
            low.append(pair[0])
            high.append(pair[1])
    edges = [e for e in (measure.get("band") or ()) if e is not None]
    low, high = [*low, *edges], [*high, *edges]
    span = max(high) - min(low)
    if span < 1e-6:  # counts that are all alike have no width of their own
        return min(low) - 1.0, max(high) + 1.0
    # An open band is given room to be seen as open.
    open_low, open_high = (measure.get("band") or (0, 0))[0] is None, (measure.get("band") or (0, 0))[1] is None
    return min(low) - span * (0.6 if open_low else 0.1), max(high) + span * (0.6 if open_high else 0.1)


def _scale(v0: float, v1: float, p0: float, p1: float) -> Any:
    span = (v1 - v0) or 1.0
    return lambda v: p0 + (v - v0) / span * (p1 - p0)


def _band(band: Band, x: Any, ticks: list[float], top: float, bottom: float, unit: str) -> list[Shape]:
    low, high = band
    left = x(ticks[0]) if low is None else x(low)
    right = x(ticks[-1]) if high is None else x(high)
    shapes: list[Shape] = [Rect(left, top, right - left, bottom - top, "target")]
    shapes += [line(x(e), top, x(e), bottom, "edge") for e in (low, high) if e is not None]
    late = (left + right) / 2 > MEASURE_WIDTH * 0.75
    middle = right if late else (left + right) / 2
    shapes.append(Words(middle, top - 5, f"aim: {band_words(low, high, unit)}", "aim", "end" if late else "middle"))
    return shapes


def band_words(low: float | None, high: float | None, unit: str) -> str:
    """A band in words.

    >>> band_words(4, 18, "cm"), band_words(20, None, "%"), band_words(None, 3, "%")
    ('4 to 18 cm', 'over 20 %', 'under 3 %')
    """
    if low is None:
        return f"under {_number(high or 0.0, unit)}"
    if high is None:
        return f"over {_number(low, unit)}"
    return f"{_number(low, '')} to {_number(high, unit)}"


def _bars(measure: Mapping[str, Any], x: Any, y: float) -> list[Shape]:
    shapes: list[Shape] = []
    if measure.get("habit"):
        low, high = measure["habit"]
        shapes.append(line(x(low), y + 8, x(high), y + 8, "habit"))
        shapes += [line(x(e), y + 5, x(e), y + 11, "habit") for e in (low, high)]
    if measure.get("these"):
        shapes.append(line(x(measure["these"][0]), y, x(measure["these"][1]), y, "these"))
    shapes.append(line(x(measure["value"]), y - 7, x(measure["value"]), y + 7, "mean"))
    return shapes


def _axis(ticks: list[float], x: Any, y: float, unit: str) -> list[Shape]:
    shapes: list[Shape] = [line(x(ticks[0]), y, x(ticks[-1]), y, "tick")]
    # A long unit stands in the words beside the figure; at every number of the axis it would run into the next.
    short = unit if len(unit) <= _SHORT_UNIT else ""
    for tick in ticks:
        shapes.append(line(x(tick), y, x(tick), y + 4, "tick"))
        shapes.append(Words(x(tick), y + 17, _number(tick, short)))
    return shapes


def _reading(
    curve: Mapping[str, Any], band: Band | None, x: Any, y: Any, ticks: list[float], bottom: float
) -> list[Shape]:
    at = x(curve["read_at"])
    shapes: list[Shape] = []
    if band:
        low = ticks[0] if band[0] is None else band[0]
        high = ticks[-1] if band[1] is None else band[1]
        shapes.append(Rect(at - 16, y(high), 32, y(low) - y(high), "target"))
        shapes += [line(at - 16, y(e), at + 16, y(e), "edge") for e in band if e is not None]
        words = f"aim: {band_words(band[0], band[1], curve['unit'])}"
        shapes.append(_free_words(words, at, (y(high), y(low)), [[(x(i), y(v)) for i, v in c] for c in _points(curve)]))
    shapes.append(line(at, y(ticks[-1]), at, bottom, "zero"))
    return shapes


def _points(curve: Mapping[str, Any]) -> list[Sequence[tuple[float, float]]]:
    return [each["points"] for each in curve["lines"]]


def _free_words(words: str, at: float, span: tuple[float, float], drawn: list[list[tuple[float, float]]]) -> Words:
    """The words beside the band at ``at``, at the first of its four corners where no curve runs through them."""
    wide = 6.2 * len(words)
    spots = [
        Words(at + side * 21, y, words, "aim", "start" if side > 0 else "end")
        for y in (span[0] + 10, span[1] - 2)
        for side in ((1, -1) if at + 21 + wide < CURVE_SIZE[0] else (-1,))
    ]
    for spot in spots:
        left = spot.x if spot.anchor == "start" else spot.x - wide
        dense = [
            (a + f * (c - a), b + f * (d - b)) for path in drawn for (a, b), (c, d) in pairwise(path) for f in _PARTS
        ]
        if not any(left - 4 < px < left + wide + 4 and spot.y - 15 < py < spot.y + 6 for px, py in dense):
            return spot
    return spots[0]


def _curves(lines: Sequence[Mapping[str, Any]], x: Any, y: Any, top: float, bottom: float) -> list[Shape]:
    shapes: list[Shape] = []
    ends: dict[str, list[tuple[float, float]]] = {}
    for each in lines:
        role = "left" if each["side"] == "l" else "right"
        placed = tuple((x(i), y(v)) for i, v in each["points"])
        shapes.append(Path(placed, role))
        ends.setdefault(role, []).append(placed[-1])
    shapes += [Ring(x(each["read"][0]), y(each["read"][1]), 4.0) for each in lines if each.get("read")]
    taken: list[float] = []
    for role, spots in ends.items():
        px = max(p[0] for p in spots)
        py = sum(p[1] for p in spots) / len(spots)
        while any(abs(py - t) < 16 for t in taken):
            py += 4
        taken.append(py)
        side = SIDES["l" if role == "left" else "r"]
        shapes.append(Words(px + 8, min(max(py + 4, top + 8), bottom), f"{side} arm", f"{role}name", "start"))
    return shapes


def _number(value: float, unit: str) -> str:
    number = f"{value:.6g}".replace("-", "\N{MINUS SIGN}")
    return number + ("°" if unit == "°" else f" {unit}" if unit else "")
