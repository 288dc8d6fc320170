"""The three stills of each stroke: full reach, forearm halfway, forearm straight down, with what is drawn on them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from casebook.checkpoints.catch_reading import HEIGHT, HEIGHT_KNUCKLE, STEEP, STEEP_KNUCKLE, STEEPEST_DEG, Reading
from casebook.checkpoints.catch_strokes import ArmLength, MeasuredStroke, wrist_is_bent
from casebook.checkpoints.drawing import Drawing, Label, Point, Still
from casebook.stroke.arm import ELBOW, FINGERTIP, KNUCKLE, NEEDED, SHOULDER

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from casebook.plane.plane import Plane

    Array: TypeAlias = NDArray[np.float64]

#: Room around the arm in a close-up, in arm lengths.
_ROOM = 0.35


def stills_of(
    strokes: Sequence[MeasuredStroke], plane: Plane, lengths: dict[str, ArmLength | None]
) -> tuple[Still, ...]:
    """Stills of every stroke: the marked frame nearest to each moment. A moment without a marked frame has no still."""
    out = []
    bent = {key: wrist_is_bent([s for s in strokes if _kind(s) == key]) for key in {_kind(s) for s in strokes}}
    for stroke in strokes:
        arm = stroke.set_up.arm
        rows = np.flatnonzero(arm.complete)
        if not len(rows):
            continue
        length = lengths.get(stroke.side)
        reach = _nearest(stroke, rows, stroke.set_up.begins)
        out.append(_still(stroke, reach, "reach", "Full reach", _reach(stroke, reach, plane)))
        if stroke.halfway is not None:
            row = _nearest(stroke, rows, stroke.halfway.clock)
            end = KNUCKLE if bent[_kind(stroke)] and np.isfinite(arm.xy[row, KNUCKLE]).all() else FINGERTIP
            drawing = _halfway(stroke, row, plane, stroke.halfway, length, end)
            out.append(_still(stroke, row, "halfway", "Forearm halfway down", drawing))
        if stroke.down is not None:
            row = _nearest(stroke, rows, stroke.down.clock)
            drawing = _down(stroke, row, plane, stroke.down, length)
            out.append(_still(stroke, row, "straight_down", "Forearm first straight down", drawing))
    return tuple(out)


def _kind(stroke: MeasuredStroke) -> tuple[str, str]:
    return stroke.side, stroke.stroke_class


def _nearest(stroke: MeasuredStroke, rows: NDArray[np.int64], clock: float) -> int:
    return int(rows[np.argmin(np.abs(stroke.set_up.arm.clock[rows] - clock))])


def _still(stroke: MeasuredStroke, row: int, key: str, title: str, drawing: Drawing) -> Still:
    arm = stroke.set_up.arm
    xy = arm.xy[row, :NEEDED]
    low, high = xy.min(0), xy.max(0)
    room = _ROOM * float(np.linalg.norm(np.diff(xy, axis=0), axis=-1).sum())
    crop = (*(float(v) for v in low - room), *(float(v) for v in high + room))
    return Still(int(arm.frames[row]), key, title, drawing, stroke.number, crop, stroke.side)  # type: ignore[arg-type]


def _body(stroke: MeasuredStroke, row: int) -> tuple[tuple[Point, ...], ...]:
    return (tuple(_point(p) for p in stroke.set_up.arm.xy[row, :NEEDED]),)


def _reach(stroke: MeasuredStroke, row: int, plane: Plane) -> Drawing:
    """A level line through the shoulder, to see how the arm slopes."""
    s, f = stroke.set_up.level[row, [SHOULDER, FINGERTIP]]
    line = plane.picture(np.array([s, [f[0], s[1]]]))
    return Drawing(_body(stroke, row), (_path(line),))


def _halfway(
    stroke: MeasuredStroke, row: int, plane: Plane, reading: Reading, length: ArmLength | None, end: int
) -> Drawing:
    """The straight line from shoulder to fingertips or knuckle, and the elbow's distance from it."""
    s, e, f = stroke.set_up.level[row, [SHOULDER, ELBOW, end]]
    along = (f - s) / np.linalg.norm(f - s)
    foot = s + along * float((e - s) @ along)
    at = plane.picture(np.array([s, f, e, foot]))
    steep = reading.values[STEEP if end == FINGERTIP else STEEP_KNUCKLE] > STEEPEST_DEG
    height = reading.values[HEIGHT if end == FINGERTIP else HEIGHT_KNUCKLE]
    if steep or not np.isfinite(height):
        return Drawing(_body(stroke, row), (_path(at[:2]),))
    label = Label(_point(at[2]), _height_text(height, plane, length))
    return Drawing(_body(stroke, row), (_path(at[:2]),), (_path(at[2:]),), (label,))


def _down(stroke: MeasuredStroke, row: int, plane: Plane, reading: Reading, length: ArmLength | None) -> Drawing:
    """A plumb line from the shoulder, and how far the fingertips are ahead of it."""
    s, f = stroke.set_up.level[row, [SHOULDER, FINGERTIP]]
    at = plane.picture(np.array([s, [s[0], f[1]], f]))
    labels: tuple[Label, ...] = ()
    if length is not None:
        value = 100 * reading.values[0] / length.px
        word = "behind" if value < 0 and round(value) else "ahead"
        labels = (Label(_point(at[1:].mean(0)), f"{abs(value):.0f} % {word}"),)
    return Drawing(_body(stroke, row), (_path(at[:2]),), (_path(at[1:]),), labels)


def _height_text(height_px: float, plane: Plane, length: ArmLength | None) -> str:
    word = "above" if height_px >= 0 else "below"
    if plane.has_scale:
        return f"{abs(height_px) * plane.m_per_px * 100:.0f} cm {word}"
    return f"{abs(height_px) / length.px * 100:.0f} % {word}" if length else word


def _path(xy: Array) -> tuple[Point, ...]:
    return tuple(_point(p) for p in xy)


def _point(xy: Array) -> Point:
    return float(xy[0]), float(xy[1])
