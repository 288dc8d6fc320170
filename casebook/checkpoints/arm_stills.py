"""Stills of one arm at the moments of its strokes, with the lines that belong to each."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from casebook.checkpoints.arm_reading import HIP, ArmOnShot, Occasion
from casebook.checkpoints.drawing import Drawing, Label, Still
from casebook.checkpoints.parts import crop_around, path
from casebook.stroke.moment import Moment

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array: TypeAlias = NDArray[np.float64]
    #: Level places (5, 2) and the arm -> reference lines, measured lines, labels, all in level pixels.
    Lines: TypeAlias = Callable[
        [Array, ArmOnShot], tuple[Sequence[Array], Sequence[Array], Sequence[tuple[Array, str]]]
    ]

#: Room around the arm in a close-up, as a share of its extent.
_ROOM = 0.3


def stills_at(arm: ArmOnShot, occasions: Sequence[Occasion], key: str, title: str, lines: Lines) -> tuple[Still, ...]:
    """The marked frame nearest to each occasion, with what is drawn on it; an occasion without one has no still."""
    out = []
    for o in occasions:
        if not isinstance(o.moment, Moment):
            continue
        rows = arm.around(o.moment.frame, [2])
        if rows is None:
            continue
        row = int(rows[0][round(rows[1])])
        xy = arm.points.xy[row]
        body = path(xy[:HIP])
        if len(body) < 2:
            continue
        drawing = _drawn(arm, arm.points.level[row], body, lines)
        frame = int(arm.points.frames[row])
        out.append(Still(frame, key, title, drawing, o.number, crop_around(xy[:HIP], _ROOM), arm.side))
    return tuple(out)


def _drawn(arm: ArmOnShot, level: Array, body: tuple[tuple[float, float], ...], lines: Lines) -> Drawing:
    reference, measure, labels = lines(level, arm)

    def ok(way: Array) -> bool:
        return bool(np.isfinite(way).all())

    return Drawing(
        (body,),
        tuple(path(arm.plane.picture(way)) for way in reference if ok(way)),
        tuple(path(arm.plane.picture(way)) for way in measure if ok(way)),
        tuple(Label(path([arm.plane.picture(at)])[0], text) for at, text in labels if ok(at) and text),
    )


def reach_px(arm: ArmOnShot, level: Array) -> float:
    """A length to draw by: the arm's own, or how far it is seen to reach. [px]"""
    if arm.length:
        return arm.length.px
    known = level[:HIP][np.isfinite(level[:HIP]).all(-1)]
    return float(np.ptp(known, axis=0).max())


def metres(arm: ArmOnShot, pixels: float, word: str) -> str:
    """A distance as a short label; empty without a scale."""
    return f"{abs(pixels) * arm.plane.m_per_px * 100:.0f} cm {word}" if arm.plane.has_scale else ""


def share(arm: ArmOnShot, pixels: float, word: str, other: str) -> str:
    """A distance as a share of the arm, with a word for either sign; empty where the arm is not known."""
    return "" if arm.length is None else f"{abs(pixels) / arm.length.px * 100:.0f} % {word if pixels >= 0 else other}"
