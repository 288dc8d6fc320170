"""Outlines around circles: what all of them have in common, or all of them and what lies between."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

#: Corners of an outline; rays along which its rim is found.
CORNERS, _RAYS = 12, 144


def common_outline(xy: Floats, radius: Floats) -> Floats:
    """An outline (12, 2) that holds what circles have in common: centres (n, 2), radii (n,). [px]

    Where they contradict each other, the smallest is taken, as much larger as it takes to meet the others.
    """
    inside = _inner_place(xy, radius)
    lack = float(np.max(np.linalg.norm(inside - xy, axis=-1) - radius))
    if lack > -1.0:
        least = int(np.argmin(radius))
        apart = np.linalg.norm(xy - xy[least], axis=-1) - radius
        xy, radius = xy[[least]], np.array([max(float(radius[least]), float(apart.max()) + float(radius[least]))])
        inside = xy[0]
    ray = _fan(_RAYS)
    # From an inner place, a ray leaves each circle once.
    offset = inside - xy
    along = offset @ ray.T
    out = np.sqrt(np.maximum(along**2 - (offset**2).sum(-1)[:, None] + radius[:, None] ** 2, 0.0)) - along
    rim = inside + ray * out.min(0)[:, None]
    far = ((rim - inside) @ _fan(CORNERS).T).max(0)
    return _touched(inside, far)


def around_all(xy: Floats, radius: Floats) -> Floats:
    """An outline (12, 2) that holds circles and all between them: middles (n, 2), radii (n,). [px]"""
    middle = xy.mean(0)
    return _touched(middle, ((xy - middle) @ _fan(CORNERS).T + radius[:, None]).max(0))


def _touched(inside: Floats, far: Floats) -> Floats:
    """Corners (12, 2) between lines that touch a region from outside, one for each direction, ``far`` from a place."""
    normal, step = _fan(CORNERS), 2 * math.pi / CORNERS
    beside = (np.roll(far, -1) - far * math.cos(step)) / math.sin(step)
    across = np.stack([-normal[:, 1], normal[:, 0]], -1)
    return np.asarray(inside + far[:, None] * normal + beside[:, None] * across)


def area(outline: Floats) -> float:
    """Area inside an outline (K, 2). [px squared]"""
    x, y = outline.T
    return float(abs(x @ np.roll(y, -1) - y @ np.roll(x, -1)) / 2)


def _fan(count: int) -> Floats:
    """Unit vectors all around, (count, 2)."""
    turn = 2 * math.pi * np.arange(count) / count
    return np.stack([np.cos(turn), np.sin(turn)], -1)


def _inner_place(xy: Floats, radius: Floats) -> Floats:
    """A place as deep inside all circles as a few steps find, (2,)."""
    weight = radius**-2.0
    place = weight @ xy / weight.sum()
    for step in 0.5 ** np.arange(24):
        away = place - xy
        distance = np.linalg.norm(away, axis=-1)
        worst = int(np.argmax(distance - radius))
        if distance[worst] > 0:
            place = place - away[worst] / distance[worst] * step * 0.5 * float(radius.min())
    return np.asarray(place)
