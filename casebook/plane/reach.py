"""What lens, window and a moving camera do to lines and lengths, and how their doubt reaches the plane made of them."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, TypeVar

import numpy as np

from casebook.marks.lines import LineMark
from casebook.marks.scales import LengthMark

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from casebook.plane.camera_path import CameraPath
    from casebook.plane.optics import Optics
    from casebook.plane.plane import Plane

    Array = NDArray[np.float64]

Mark = TypeVar("Mark", LineMark, LengthMark)
#: Half a step over which a mark's error is seen to grow or shrink. [px]
_NEAR_PX = 0.5


def carried_marks(
    marks: Sequence[Mark], optics: Optics | None, path: CameraPath | None, shift: Array | None = None
) -> list[Mark]:
    """Lines or lengths as a straight picture of the path's reference frame would show them, their errors with them.

    What stands on a frame that the path does not hold, or where the optics show nothing, is left out. ``shift`` changes
    the parameters of optics and path, in this order.
    """
    if optics is None and path is None:
        return list(marks)
    q = 0 if optics is None else len(optics.params)

    def carried(xy: Array, frame: int) -> Array:
        straight = xy if optics is None else optics.straight(xy, None if shift is None else shift[:q])
        return straight if path is None else path.carried(straight, frame, None if shift is None else shift[q:])

    out = []
    for mark in marks:
        ends = np.array(mark.ends).reshape(2, 2)
        offsets = _NEAR_PX * np.array([[0, 0], [1, 0], [-1, 0], [0, 1], [0, -1]])
        places = carried(ends[:, None] + offsets, mark.frame)
        if np.isfinite(places).all():
            slopes = np.stack([places[:, 1] - places[:, 2], places[:, 3] - places[:, 4]], -1)
            grown = math.sqrt(float(np.mean(np.abs(np.linalg.det(slopes)))))
            x0, y0, x1, y1 = places[:, 0].ravel().tolist()
            out.append(replace(mark, x0_px=x0, y0_px=y0, x1_px=x1, y1_px=y1, sigma_px=mark.sigma_px * grown))
    return out


def with_parts(plain: Plane, made: Callable[[Array], Plane], optics: Optics | None, path: CameraPath | None) -> Plane:
    """The plane with optics and path, and the covariance of all parameters together.

    ``made`` gives the plane for changed parameters of optics and path. A scale marked at the rim, or a water line
    marked on a far frame, is as unsure as these are, and errs with them.
    """
    parts = [part for part in (optics, path) if part is not None]
    steps = np.array([step for part in parts for step in part.steps])
    full = replace(plain, optics=optics, path=path)
    n = len(full.params)
    depends = np.eye(n)
    for j, step in enumerate(steps):
        d = step * np.eye(len(steps))[j]
        depends[:3, 3 + j] = (_numbers(made(d), plain) - _numbers(made(-d), plain)) / (2 * step)
    notes = tuple(dict.fromkeys(note for part in parts for note in part.limits))
    return replace(
        full,
        covariance=depends @ full.covariance @ depends.T,
        how=" ".join([plain.how, *(part.how for part in parts)]),
        limits=plain.limits + notes,
    )


def _numbers(other: Plane, plain: Plane) -> Array:
    """Log scale, tilt, and how far the other plane's water lies over this one's anchor; what is not known is 0."""
    tilt = other.params[1]
    height = (other.anchor_px - plain.anchor_px) @ np.array([math.sin(tilt), -math.cos(tilt)]) if plain.has_water else 0
    return np.array([other.params[0] if plain.has_scale else 0.0, tilt, height])
