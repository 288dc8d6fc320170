"""Solids from soft-joined primitives, and their surface as a closed triangle mesh.

A solid is the set where a signed distance is negative. The mesh is made by surface nets (Gibson 1998, "Constrained
elastic surface nets"): one vertex in every grid cell that the surface crosses, at the mean of its crossings with the
cell's edges.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import product
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array: TypeAlias = NDArray[np.float64]

Frame: TypeAlias = "tuple[Array, Array]"
CORNERS = tuple(product((0, 1), repeat=3))
#: Distance that stands for "far outside". [m]
FAR_M = 0.2
#: Step of the slopes of a distance. [m]
SHIFT_M = 0.0015


@dataclass(frozen=True, slots=True, eq=False)
class Ellipsoid:
    """An ellipsoid in the frame of a bone; ``blend`` is the width over which it melts into its neighbours. [m]"""

    part: str
    bone: str
    centre: Array
    radii: Array
    blend: float

    def distance(self, local: Array) -> Array:
        """Near enough to the signed distance close to the surface, of points (..., 3) in the bone's frame. [m]"""
        q = local - self.centre
        near = np.sqrt(((q / self.radii) ** 2).sum(-1))
        slope = np.sqrt(((q / self.radii**2) ** 2).sum(-1)) + 1e-9
        return near * (near - 1.0) / slope

    def box(self, frame: Frame) -> tuple[Array, Array]:
        """Corners of a box around it, in the world of ``frame``. [m]"""
        turn, origin = frame
        middle, half = turn @ self.centre + origin, np.abs(turn) @ self.radii
        return middle - half, middle + half


@dataclass(frozen=True, slots=True, eq=False)
class Limb:
    """A round limb from ``start`` to ``end`` that tapers, with a belly of ``bulge`` at the share ``bulge_at``. [m]"""

    part: str
    bone: str
    start: Array
    end: Array
    start_radius: float
    end_radius: float
    blend: float
    bulge: float = 0.0
    bulge_at: float = 0.5

    def distance(self, local: Array) -> Array:
        """As for an ellipsoid."""
        axis = self.end - self.start
        share = np.clip(((local - self.start) @ axis) / (axis @ axis), 0.0, 1.0)
        aside = local - self.start - share[..., None] * axis
        swell = np.where(share < self.bulge_at, share / self.bulge_at, (1 - share) / (1 - self.bulge_at))
        swell = swell * swell * (3 - 2 * swell)
        radius = self.start_radius + (self.end_radius - self.start_radius) * share + self.bulge * swell
        return np.sqrt((aside * aside).sum(-1)) - radius

    def box(self, frame: Frame) -> tuple[Array, Array]:
        """As for an ellipsoid."""
        turn, origin = frame
        a, b = turn @ self.start + origin, turn @ self.end + origin
        thick = max(self.start_radius, self.end_radius) + self.bulge
        return np.minimum(a, b) - thick, np.maximum(a, b) + thick


Primitive: TypeAlias = "Ellipsoid | Limb"


def soft_union(a: Array, b: Array, width: float) -> Array:
    """Signed distance of two solids that melt into each other over ``width``. [m]"""
    near = np.maximum(width - np.abs(a - b), 0.0) / width
    return np.minimum(a, b) - near * near * width * 0.25


def distance_to(primitive: Primitive, xyz: Array, frame: Frame) -> Array:
    """Signed distance of world points (..., 3) to a primitive whose bone has this frame. [m]"""
    turn, origin = frame
    return primitive.distance((xyz - origin) @ turn)


def sampled(primitives: Sequence[Primitive], frames: dict[str, Frame], step: float) -> tuple[Array, Array]:
    """Signed distance on a grid: values (I, J, K) and the place of the first one (3,). [m]"""
    boxes = np.array([p.box(frames[p.bone]) for p in primitives])
    low, high = boxes[:, 0].min(0) - 3 * step, boxes[:, 1].max(0) + 3 * step
    count = np.ceil((high - low) / step).astype(int) + 1
    values = np.full(count, FAR_M)
    axes = [low[i] + step * np.arange(count[i]) for i in range(3)]
    for primitive, (a, b) in zip(primitives, boxes, strict=True):
        reach = primitive.blend + 2 * step
        first = np.maximum(np.floor((a - reach - low) / step).astype(int), 0)
        last = np.minimum(np.ceil((b + reach - low) / step).astype(int) + 1, count)
        inside = tuple(slice(i, j) for i, j in zip(first, last, strict=True))
        xyz = np.stack(np.meshgrid(*[axes[i][inside[i]] for i in range(3)], indexing="ij"), -1)
        values[inside] = soft_union(
            values[inside], distance_to(primitive, xyz, frames[primitive.bone]), primitive.blend
        )
    return values, low


def outward(primitives: Sequence[Primitive], xyz: Array, frames: dict[str, Frame]) -> Array:
    """Unit normals (V, 3) of the joined solid at places (V, 3) on its surface: the way in which the distance grows.

    Free of the grid's steps, and smooth where one mesh ends inside another.
    """
    ways = np.array([[1, -1, -1], [-1, -1, 1], [-1, 1, -1], [1, 1, 1]], float)
    around = xyz[None] + SHIFT_M * ways[:, None]
    values = np.full(around.shape[:2], FAR_M)
    for primitive in primitives:
        low, high = primitive.box(frames[primitive.bone])
        reach = primitive.blend + 2 * SHIFT_M
        near = ((xyz > low - reach) & (xyz < high + reach)).all(1)
        distance = distance_to(primitive, around[:, near], frames[primitive.bone])
        values[:, near] = soft_union(values[:, near], distance, primitive.blend)
    slope = np.einsum("kv,kj->vj", values, ways)
    return np.asarray(slope / np.linalg.norm(slope, axis=1, keepdims=True))


def surface(values: Array, low: Array, step: float) -> tuple[Array, NDArray[np.int64]]:
    """Closed mesh of the zero level of a sampled distance that is positive on the grid's rim.

    Returns
    -------
    vertices : (V, 3) float array [m]
    triangles : (M, 3) int array
        Counter-clockwise as seen from outside.
    """
    inside = values < 0
    cells = np.array(values.shape) - 1
    crowd = sum(inside[i : cells[0] + i, j : cells[1] + j, k : cells[2] + k].astype(np.int8) for i, j, k in CORNERS)
    cell = np.argwhere((crowd > 0) & (crowd < 8))
    number = np.full(cells, -1)
    number[tuple(cell.T)] = np.arange(len(cell))
    vertices = low + step * (cell + _mean_crossing(values, cell))
    triangles = list(_facing(inside, number))
    return vertices, np.concatenate(triangles)


def _mean_crossing(values: Array, cell: NDArray[np.int64]) -> Array:
    """Mean place, within its cell, of the surface's crossings with the cell's twelve edges. (V, 3)"""
    at = [values[tuple((cell + corner).T)] for corner in CORNERS]
    total, count = np.zeros((len(cell), 3)), np.zeros(len(cell))
    for a, axis in product(range(8), range(3)):
        b = a | (4 >> axis)
        if a == b:
            continue
        crosses = (at[a] < 0) != (at[b] < 0)
        share = np.where(crosses, at[a] / np.where(crosses, at[a] - at[b], 1.0), 0.0)
        place = np.array(CORNERS[a], float) + share[:, None] * np.eye(3)[axis]
        total += np.where(crosses[:, None], place, 0.0)
        count += crosses
    return total / count[:, None]


def _facing(inside: NDArray[np.bool_], number: NDArray[np.int64]) -> Iterable[NDArray[np.int64]]:
    """Two triangles for every grid edge that the surface crosses."""
    for axis in range(3):
        along, u, w = np.eye(3, dtype=int)[[axis, (axis + 1) % 3, (axis + 2) % 3]]
        here = inside[tuple(slice(0, n - d) for n, d in zip(inside.shape, along, strict=True))]
        there = inside[tuple(slice(d, None) for d in along)]
        edge = np.argwhere(here != there)
        quads = np.stack([number[tuple((edge - shift).T)] for shift in (u + w, w, 0 * w, u)], 1)
        flip = ~here[tuple(edge.T)]
        quads[flip] = quads[flip][:, ::-1]
        yield quads[:, [0, 1, 2]]
        yield quads[:, [0, 2, 3]]
