"""Which triangle each pixel shows: a z-buffer over a whole mesh, without a loop over triangles.

Triangles are sorted into classes by their size in the picture; a class is tested on one small grid of pixels at once.
Pixel centres lie at integers.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array: TypeAlias = NDArray[np.float64]

#: Nothing nearer than this is drawn. [m]
NEAR_M = 0.05
#: Grid widths of the size classes [px]; larger triangles make a class each power of two.
CLASSES = (2, 3, 4, 6, 8, 12, 20, 40, 80)
#: Pixels tested at once.
BATCH = 400_000


@dataclass(frozen=True, slots=True, eq=False)
class Fragments:
    """The visible pieces of a mesh, one for each pixel that it covers.

    Attributes
    ----------
    pixel : (F,) int array
        Flat index, row * width + column.
    triangle : (F,) int array
    share : (F, 3) float array
        Perspective-correct weights of the triangle's corners; they sum to 1.
    depth : (F,) float array
        Before the lens. [m]
    """

    pixel: NDArray[np.int64]
    triangle: NDArray[np.int64]
    share: Array
    depth: Array

    def interpolated(self, values: Array, triangles: NDArray[np.int64]) -> Array:
        """A quantity of the vertices (V, N) at every fragment (F, N)."""
        a, b, c = triangles[self.triangle].T
        return self.share[:, :1] * values[a] + self.share[:, 1:2] * values[b] + self.share[:, 2:] * values[c]

    def only(self, keep: NDArray[np.bool_]) -> Fragments:
        """The fragments where ``keep`` (F,) holds."""
        return Fragments(self.pixel[keep], self.triangle[keep], self.share[keep], self.depth[keep])


def rasterize(
    xy_px: Array,
    depth_m: Array,
    triangles: NDArray[np.int64],
    size: tuple[int, int],
    shift_px: tuple[float, float] = (0.0, 0.0),
) -> Fragments:
    """Fragments of the triangles that face the camera, the nearest one at each pixel.

    Parameters
    ----------
    xy_px : (V, 2) float array
        Vertices in the picture; NaN for those behind the lens, whose triangles are left out. [px]
    depth_m : (V,) float array [m]
    triangles : (M, 3) int array
        Counter-clockwise as seen from outside, that is clockwise in numbers where y points down.
    size : (int, int)
        Width and height. [px]
    shift_px : (float, float)
        Where in each pixel its centre is taken, for sampling a pixel in several places. [px]
    """
    # Triangles that face the lens, their corners as rows: reductions over a short last axis are slow.
    corners = triangles.T
    x, y = (np.nan_to_num(xy_px[:, i] - shift_px[i])[corners] for i in range(2))
    area = (x[1] - x[0]) * (y[2] - y[0]) - (x[2] - x[0]) * (y[1] - y[0])
    usable = np.isfinite(xy_px).all(1) & (depth_m > NEAR_M)
    facing = np.flatnonzero((area < 0) & usable[corners].all(0))
    x, y, area, z = x[:, facing], y[:, facing], area[facing], depth_m[corners[:, facing]]
    first = np.stack([np.ceil(np.clip(c.min(0), 0, n)) for c, n in ((x, size[0]), (y, size[1]))]).astype(int)
    last = np.stack([np.floor(np.clip(c.max(0), -1, n - 1)) for c, n in ((x, size[0]), (y, size[1]))]).astype(int)
    wide = (last - first).max(0) + 1
    seen = np.asarray((last >= first).all(0))
    parts = [_covered(x, y, z, area, first, size, group, grid) for group, grid in _groups(seen, wide)]
    if not parts:
        return Fragments(np.zeros(0, np.int64), np.zeros(0, np.int64), np.zeros((0, 3)), np.zeros(0))
    pixel, triangle, flat, inverse = (np.concatenate(c, -1) for c in zip(*parts, strict=True))
    nearest = _nearest(pixel, inverse, size[0] * size[1])
    pixel, triangle, flat, inverse = pixel[nearest], triangle[nearest], flat[:, nearest], inverse[nearest]
    share = flat / (z[:, triangle] * inverse)
    return Fragments(pixel, facing[triangle], share.T, 1.0 / inverse)


def depth_picture(fragments: Fragments, size: tuple[int, int]) -> Array:
    """Depth at every pixel (H, W), infinite where nothing is seen. [m]"""
    picture = np.full(size[0] * size[1], np.inf)
    picture[fragments.pixel] = fragments.depth
    return picture.reshape(size[1], size[0])


def _groups(seen: NDArray[np.bool_], wide: NDArray[np.int64]) -> Iterator[tuple[NDArray[np.int64], int]]:
    """Batches of triangles, with the width of the pixel grid that holds any of them."""
    largest = int(wide[seen].max(initial=0))
    grids = [*CLASSES]
    while grids[-1] < largest:
        grids.append(2 * grids[-1])
    for below, grid in zip([0, *grids], grids, strict=False):
        group = np.flatnonzero(seen & (wide > below) & (wide <= grid))
        batch = max(1, BATCH // (grid * grid))
        for start in range(0, len(group), batch):
            yield group[start : start + batch], grid


def _covered(
    x: Array, y: Array, z: Array, area: Array,
    first: NDArray[np.int64], size: tuple[int, int], group: NDArray[np.int64], grid: int,
) -> tuple[NDArray[np.int64], NDArray[np.int64], Array, Array]:  # fmt: skip
    """Pixel, triangle, weights in the picture and inverse depth at each pixel centre inside a triangle of a batch."""
    down, right = np.divmod(np.arange(grid * grid), grid)
    column, row = first[0, group, None] + right, first[1, group, None] + down
    xs, ys, scale = x[:, group, None], y[:, group, None], 1.0 / area[group, None]
    a = ((xs[1] - column) * (ys[2] - row) - (xs[2] - column) * (ys[1] - row)) * scale
    b = ((xs[2] - column) * (ys[0] - row) - (xs[0] - column) * (ys[2] - row)) * scale
    t, p = np.nonzero((a >= 0) & (b >= 0) & (a + b <= 1) & (column < size[0]) & (row < size[1]))
    a, b = a[t, p], b[t, p]
    flat = np.stack([a, b, 1.0 - a - b])
    inverse = (flat / z[:, group[t]]).sum(0)
    return row[t, p] * size[0] + column[t, p], group[t], flat, inverse


def _nearest(pixel: NDArray[np.int64], inverse: Array, pixels: int) -> NDArray[np.int64]:
    order = np.argsort(inverse, kind="stable")
    winner = np.full(pixels, -1, np.int64)
    winner[pixel[order]] = order  # The last one written, the nearest, stays.
    return winner[winner >= 0]
