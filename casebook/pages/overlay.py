"""A drawing as plain numbers in the pixels of a saved picture, and the same as SVG that stays crisp at any size.

Drawings come in frame pixels with centres at integers. Saved pictures are cut and scaled, and SVG and Pillow count from
the picture's edge, where the first pixel's centre is 0.5: that half pixel is added here and nowhere else in the pages.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from casebook.checkpoints.drawing import Drawing, Point
from casebook.pages import plain
from casebook.pages.block import rounded
from casebook.pages.markup import Html, el, join

if TYPE_CHECKING:
    from numpy.typing import NDArray

KINDS = ("reference", "body", "measure")
#: The size of a label is the picture's width over this.
TEXT_WIDTHS = 24


def drawing_data(drawing: Drawing, origin: Point = (0.0, 0.0), scale: float = 1.0) -> dict[str, Any]:
    """A drawing in the pixels of a picture that was cut at ``origin`` (its left upper edge) and scaled. [px]"""

    def place(point: Point) -> list[float]:
        return [
            rounded((point[0] + 0.5 - origin[0]) * scale),
            rounded((point[1] + 0.5 - origin[1]) * scale),
        ]

    out: dict[str, Any] = {
        kind: [[place(p) for p in line] for line in getattr(drawing, kind)] for kind in KINDS if getattr(drawing, kind)
    }
    if drawing.labels:
        out["labels"] = [{"at": place(label.at), "text": label.text} for label in drawing.labels]
    return out


def labels_beside(drawing: dict[str, Any], size: tuple[float, float]) -> dict[str, Any]:
    """The same drawing with each label moved from its point to the clearest place beside it, its middle there. [px]"""
    lines = [line for kind in KINDS for line in points(drawing, kind)]
    if not lines or not labels(drawing):
        return drawing
    dense = np.concatenate([_along(np.array(line)) for line in lines])
    em = size[0] / TEXT_WIDTHS
    moved = []
    for (x, y), words in labels(drawing):
        half_w, half_h = 0.31 * em * len(words), 0.6 * em
        away = [(np.cos(a), np.sin(a)) for a in np.radians((-90, -45, -135, 0, 180, 45, 135, 90))]
        spots = [
            (x + r * (half_w + em * 0.7) * dx, y + r * (half_h + em * 0.9) * dy) for r in (1.0, 1.6) for dx, dy in away
        ]
        clear = [_clearance((u - half_w, v - half_h, u + half_w, v + half_h), dense, size) for u, v in spots]
        # Near enough is good: the first place that is clear by half a letter, else the clearest.
        best = next((k for k, room in enumerate(clear) if room > em * 0.5), int(np.argmax(clear)))
        moved.append({"at": [rounded(v) for v in spots[best]], "text": words})
    return drawing | {"labels": moved}


def _along(line: NDArray[np.float64], steps: int = 24) -> NDArray[np.float64]:
    """Points along a line, (n, 2)."""
    part = np.linspace(0, 1, steps)[:, None]
    return np.concatenate([a + part * (b - a) for a, b in pairwise(line)] or [line])


def overlay_svg(drawing: Mapping[str, Any], size: tuple[float, float]) -> Html:
    """The SVG over a picture of ``size`` (width, height) [px]; screen readers get the picture's own text instead."""
    parts = [_lines(points(drawing, kind), kind) for kind in KINDS]
    parts.append(_dots(points(drawing, "body")))
    parts.append(join(_label(label) for label in labels(drawing)))
    return el(
        "svg",
        *parts,
        cls="lines",
        viewbox=f"0 0 {size[0]:g} {size[1]:g}",
        aria_hidden="true",
        focusable="false",
        font_size=f"{size[0] / TEXT_WIDTHS:.1f}",
    )


def points(drawing: Mapping[str, Any], kind: str) -> list[list[tuple[float, float]]]:
    """The lines of one kind; anything that is no list of number pairs is left out."""
    return [line for line in map(_line, _listed(drawing.get(kind))) if line]


def labels(drawing: Mapping[str, Any]) -> list[tuple[tuple[float, float], str]]:
    """The labels as (point, text)."""
    found = []
    for label in _listed(drawing.get("labels")):
        at = _line([label.get("at")]) if isinstance(label, Mapping) else []
        if at:
            found.append((at[0], str(label.get("text", ""))))
    return found


def path_of(lines: Sequence[Sequence[tuple[float, float]]]) -> str:
    """SVG path data of several lines.

    >>> path_of([[(0, 0), (10.5, 2)]])
    'M0 0L10.5 2'
    """
    return "".join("M" + "L".join(f"{x:g} {y:g}" for x, y in line) for line in lines)


def _lines(lines: list[list[tuple[float, float]]], kind: str) -> Html:
    path = path_of([line for line in lines if len(line) > 1])
    return join([el("path", cls=f"{kind} under", d=path), el("path", cls=kind, d=path)])


def _dots(lines: list[list[tuple[float, float]]]) -> Html:
    # A line of no length with round ends is a dot whose size does not change with the picture's.
    path = "".join(f"M{x:g} {y:g}h0" for line in lines for x, y in line)
    return join([el("path", cls="dot under", d=path), el("path", cls="dot", d=path)])


def _label(label: tuple[tuple[float, float], str]) -> Html:
    (x, y), words = label
    return el("text", words, x=f"{x:g}", y=f"{y:g}", text_anchor="middle", dominant_baseline="central")


def _clearance(box: tuple[float, float, float, float], drawn: NDArray[np.float64], size: tuple[float, float]) -> float:
    """Distance of a box from the nearest drawn point; far below zero if it leaves the picture. [px]"""
    x0, y0, x1, y1 = box
    if x0 < 0 or y0 < 0 or x1 > size[0] or y1 > size[1]:
        return -1e6
    dx = np.maximum(np.maximum(x0 - drawn[:, 0], drawn[:, 0] - x1), 0)
    dy = np.maximum(np.maximum(y0 - drawn[:, 1], drawn[:, 1] - y1), 0)
    return float(np.hypot(dx, dy).min())


def _listed(value: object) -> list[Any]:
    return value if isinstance(value, list) else []


def _line(value: object) -> list[tuple[float, float]]:
    line = [plain.pair(point) for point in _listed(value)]
    return [p for p in line if p] if None not in line else []
