"""The way of the hand as seen from the side, against the shoulder or against still water, true to shape."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from casebook.pages.charts import MEAN_FROM
from casebook.pages.figure import Path, Ring, Shape, Words, line
from casebook.words import SIDES

WIDTH, LEAST_TALL, MOST_TALL = 640.0, 220.0, 420.0
_LEFT, _RIGHT, _TOP, _FOOT = 26.0, 614.0, 40.0, 52.0
#: Room for words to each side.
_OUTSIDE = 92.0
#: The moments drawn as rings, in the words beside them.
MOMENTS = {"entry": "goes in", "start": "starts back", "shoulder": "under the shoulder", "exit": "comes out"}


def path_shapes(data: Mapping[str, Any]) -> tuple[list[Shape], tuple[float, float]]:
    """The way of one or both hands.

    ``data`` holds ``frame`` (``body`` or ``water``), ``unit`` and ``paths`` [{side, points [(forward, up)], moments
    {name: (forward, up)}}]; the swimmer goes to the right. The origin is the shoulder, or a place on the still water.
    """
    every = np.array([p for path in data["paths"] for p in path["points"]] + [(0.0, 0.0)])
    low, high = every.min(0), every.max(0)
    span = np.maximum(high - low, 1e-6)
    # With two hands the words stand outside the deeper one, out of the other's way.
    room = _OUTSIDE if len({path["side"] for path in data["paths"]}) > 1 else 0.0
    per = min((_RIGHT - _LEFT - 2 * room) / span[0], (MOST_TALL - _TOP - _FOOT) / span[1])
    tall = max(float(span[1] * per) + _TOP + _FOOT, LEAST_TALL)
    off = (WIDTH - span[0] * per) / 2

    def at(p: Sequence[float]) -> tuple[float, float]:
        return float(off + (p[0] - low[0]) * per), float(_TOP + (high[1] - p[1]) * per)

    shapes: list[Shape] = _ground(data, at, per, tall)
    by_side: dict[str, list[Mapping[str, Any]]] = {}
    for path in data["paths"]:
        by_side.setdefault(path["side"], []).append(path)
    # The words of the moments stand once, at the hand that goes deeper.
    deepest = min(by_side, key=lambda side: min(p[1] for path in by_side[side] for p in path["points"]))
    for side, own in by_side.items():
        shapes += _hand(side, own, at, len(by_side) > 1, side == deepest)
    return shapes, (WIDTH, tall)


def _ground(data: Mapping[str, Any], at: Any, per: float, tall: float) -> list[Shape]:
    """The shoulder or the still water, a scale, and which way the swimmer goes."""
    x0, y0 = at((0.0, 0.0))
    shapes: list[Shape] = []
    if data["frame"] == "body":
        shapes += [line(_LEFT, y0, _RIGHT, y0, "zero"), line(x0, _TOP, x0, tall - _FOOT, "zero")]
        shapes += [Ring(x0, y0, 5.0), Words(x0 + 9, y0 - 8, "shoulder", "number", "start")]
    else:
        shapes += [line(_LEFT, y0, _RIGHT, y0, "edge"), Words(_RIGHT, y0 + 15, "still water", "aim", "end")]
    length = _scale_length(per) if data["unit"] == "m" else 0.0
    foot = tall - 16
    if length:
        words = f"{length:g} m" if length >= 1 else f"{100 * length:.0f} cm"
        shapes.append(line(_LEFT, foot, _LEFT + length * per, foot, "mean"))
        shapes.append(Words(_LEFT + length * per + 8, foot + 4, words, "number", "start"))
    tip = _RIGHT
    shapes.append(line(tip - 40, foot, tip, foot, "plain"))
    shapes.append(Path(((tip - 7, foot - 5), (tip, foot), (tip - 7, foot + 5)), "plain"))
    shapes.append(Words(tip - 48, foot + 4, "swims this way", "number", "end"))
    return shapes


def _scale_length(per: float) -> float:
    """A round length of about a hundred units of the figure."""
    return next(n for n in (2.0, 1.0, 0.5, 0.25, 0.2, 0.1, 0.05, 0.02) if n * per <= 150 or n == 0.02)


def _hand(side: str, own: Sequence[Mapping[str, Any]], at: Any, named: bool, told: bool) -> list[Shape]:
    """One hand's ways, their mean from four on, the moments as rings and, if ``told``, in words."""
    role = "left" if side == "l" else "right"
    many = len(own) >= MEAN_FROM
    shapes: list[Shape] = [
        Path(tuple(at(p) for p in path["points"]), f"thin_{role}" if len(own) > 1 else role) for path in own
    ]
    if many:
        shapes.append(Path(tuple(at(p) for p in mean_path([path["points"] for path in own])), role))
    spots: dict[str, tuple[float, float]] = {}
    for name in MOMENTS:
        places = [path["moments"][name] for path in own if name in path["moments"]]
        if places:
            spots[name] = at(np.mean(places, axis=0))
    shapes += [Ring(x, y, 4.2) for x, y in spots.values()]
    if told:
        shapes += _said(spots, named)
    if named:
        x, y = max((at(p) for path in own for p in path["points"]), key=lambda p: p[1])
        shapes.append(Words(x + (80 if told else 0), y + (20 if told else -20), f"{SIDES[side]} hand", f"{role}name"))
    return shapes


def _said(spots: Mapping[str, tuple[float, float]], outside: bool) -> list[Shape]:
    """Words beside the moments: under the lowest, else toward the middle of the way or outside it; none on another."""
    out: list[Shape] = []
    taken: list[tuple[float, float]] = []
    heights = [y for _, y in spots.values()]
    low, middle = max(heights, default=0.0), float(np.mean([x for x, _ in spots.values()] or [0.0]))
    for name, (x, y) in spots.items():
        if y == low and y - min(heights) > 60:
            out.append(Words(x - (40 if outside else 0), y + 20 if outside else y - 12, MOMENTS[name]))
            continue
        anchor = "end" if (x > middle) != outside else "start"
        at_x, at_y = x + (-11 if anchor == "end" else 11), y + 4
        if name == "entry" and not outside:
            at_y = y - 9
        while any(abs(at_x - a) < 120 and abs(at_y - b) < 16 for a, b in taken):
            at_y += 16
        taken.append((at_x, at_y))
        out.append(Words(at_x, at_y, MOMENTS[name], "number", anchor))
    return out


def mean_path(paths: Sequence[Sequence[Sequence[float]]]) -> list[tuple[float, float]]:
    """Mean of several ways at the same shares of each way's points, which run evenly in time. (100 places)"""
    grid = np.linspace(0, 1, 100)
    each = []
    for path in paths:
        xy = np.asarray(path, float)
        share = np.linspace(0, 1, len(xy))
        each.append(np.stack([np.interp(grid, share, xy[:, i]) for i in (0, 1)], -1))
    return [(float(a), float(b)) for a, b in np.mean(each, axis=0)]
