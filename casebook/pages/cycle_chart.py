"""A measure over the stroke cycle: single strokes as thin lines, and from four on their mean with its spread."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from casebook.pages.charts import CURVE_SIZE, MEAN_FROM, nice_ticks
from casebook.pages.figure import Area, Path, Shape, Words, line

#: Looks of a group of strokes: the two arms, or strokes without and with breath.
LOOKS = ("right", "left", "plain", "other")
_NAME = {"right": "rightname", "left": "leftname", "plain": "name", "other": "say"}
#: The cycle in steps of so many percent.
GRID = np.arange(0.0, 101.0, 2.0)


def mean_line(
    lines: Sequence[Sequence[tuple[float, float]]],
) -> tuple[np.ndarray, np.ndarray]:
    """Mean and standard deviation of strokes over ``GRID``; NaN where fewer than ``MEAN_FROM`` of them are known.

    ``lines`` holds for each stroke (share of the cycle in percent, value), increasing.
    """
    each = np.full((len(lines), len(GRID)), np.nan)
    for k, points in enumerate(lines):
        pct, value = np.array(points, float).T
        near = np.abs(GRID[:, None] - pct).min(1) <= GRID[1] - GRID[0]
        each[k] = np.where(near, np.interp(GRID, pct, value), np.nan)
    count = np.isfinite(each).sum(0)
    enough = count >= MEAN_FROM
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = np.nansum(each, 0) / count
        spread = np.sqrt(np.nansum((each - mean) ** 2, 0) / (count - 1))
    return np.where(enough, mean, np.nan), np.where(enough, spread, np.nan)


def cycle_shapes(cycle: Mapping[str, Any]) -> tuple[list[Shape], tuple[float, float]]:
    """A value over the cycle.

    ``cycle`` holds ``groups`` [{name, look, lines [[(percent, value)]]}], ``unit`` and ``moments`` [(percent, words)]
    along the foot.
    """
    width, height = CURVE_SIZE
    left, right, top, bottom = 58.0, width - 118.0, 16.0, height - 46.0
    drawn = [_group(g) for g in cycle["groups"]]
    values = np.concatenate([v for g in drawn for v in g["values"]])
    ticks = nice_ticks(float(np.nanmin(values)), float(np.nanmax(values)))

    def x(pct: float) -> float:
        return left + pct / 100 * (right - left)

    def y(v: float) -> float:
        return bottom - (v - ticks[0]) / (ticks[-1] - ticks[0]) * (bottom - top)

    shapes: list[Shape] = []
    for tick in ticks:
        shapes.append(line(left, y(tick), right, y(tick), "axis"))
        number = f"{tick:.6g}".replace("-", "\N{MINUS SIGN}")
        unit = cycle["unit"]
        shapes.append(Words(left - 8, y(tick) + 4, number + (unit if unit == "°" else f" {unit}"), anchor="end"))
    if ticks[0] < 0 < ticks[-1]:
        shapes.append(line(left, y(0), right, y(0), "zero"))
    for pct, words in cycle["moments"]:
        shapes.append(line(x(pct), top, x(pct), bottom + 5, "zero"))
        shapes.append(Words(x(pct), bottom + 20, words, "number", _anchor(pct)))
        shapes.append(Words(x(pct), bottom + 36, f"{pct:.0f} %", "fine", _anchor(pct)))
    for group in drawn:
        shapes += _drawn(group, x, y)
    return shapes + _names(drawn, x, y, top, bottom), (width, height)


def _group(group: Mapping[str, Any]) -> dict[str, Any]:
    """A group with its mean: what is drawn are the strokes, or the mean with its spread."""
    look = group["look"] if group["look"] in LOOKS else "plain"
    lines = [[(float(p), float(v)) for p, v in each] for each in group["lines"]]
    mean, spread = mean_line(lines)
    values = [np.array(each)[:, 1] for each in lines]
    has_mean = bool(np.isfinite(mean).any())
    if has_mean:
        values += [mean - spread, mean + spread]
    return {"name": group["name"], "look": look, "lines": lines, "mean": mean, "spread": spread, "values": values,
            "has_mean": has_mean}  # fmt: skip


def _drawn(group: Mapping[str, Any], x: Any, y: Any) -> list[Shape]:
    shapes: list[Shape] = []
    if not group["has_mean"]:
        return [Path(tuple((x(p), y(v)) for p, v in each), f"thin_{group['look']}") for each in group["lines"]]
    for run in _runs(np.isfinite(group["mean"])):
        low, high = group["mean"] - group["spread"], group["mean"] + group["spread"]
        edge = [(x(GRID[i]), y(high[i])) for i in run] + [(x(GRID[i]), y(low[i])) for i in reversed(run)]
        shapes.append(Area(tuple(edge), f"spread_{group['look']}"))
        shapes.append(Path(tuple((x(GRID[i]), y(group["mean"][i])) for i in run), group["look"]))
    return shapes


def _runs(known: np.ndarray) -> list[list[int]]:
    out: list[list[int]] = []
    for i in np.flatnonzero(known):
        if out and out[-1][-1] == i - 1:
            out[-1].append(int(i))
        else:
            out.append([int(i)])
    return [run for run in out if len(run) > 1]


def _names(drawn: Sequence[Mapping[str, Any]], x: Any, y: Any, top: float, bottom: float) -> list[Shape]:
    """Names beside the ends of the curves, none on another."""
    ends = sorted(((y(_end(g)), g) for g in drawn), key=lambda e: e[0])
    shapes: list[Shape] = []
    last = -np.inf
    for at, group in ends:
        at = min(max(at + 4, last + 22, top + 8), bottom)
        last = at
        shapes.append(Words(x(100) + 8, at, group["name"], _NAME[group["look"]], "start"))
    return shapes


def _end(group: Mapping[str, Any]) -> float:
    if group["has_mean"]:
        return float(group["mean"][np.isfinite(group["mean"])][-1])
    return float(np.mean([each[-1][1] for each in group["lines"]]))


def _anchor(pct: float) -> str:
    return "start" if pct < 4 else "end" if pct > 96 else "middle"
