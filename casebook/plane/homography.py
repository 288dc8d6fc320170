"""Four points of a flat surface: a picture of it from any direction, turned into its own metres."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from casebook.errors import CasebookError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

#: Three of four points count as lying on one line when the smallest triangle among them is this share of the largest.
#: common practice, no source
FLAT_SHARE = 1e-3


@dataclass(frozen=True, slots=True, eq=False)
class Homography:
    """Straight-line picture of a flat surface.

    Attributes
    ----------
    matrix : (3, 3) float array
        From surface (x, y, 1) [m] to picture (x, y, 1) [px] up to a factor; ``matrix[2, 2]`` is 1.
    rms_px : float
        Root mean square distance of the marked points from where the matrix puts them; 0 for four points. [px]
    """

    matrix: NDArray[np.float64]
    rms_px: float

    def to_picture(self, xy_m: ArrayLike) -> NDArray[np.float64]:
        """Surface to picture. (..., 2) [m] -> (..., 2) [px]"""
        return _project(self.matrix, xy_m)

    def to_surface(self, xy_px: ArrayLike) -> NDArray[np.float64]:
        """Picture to surface, for what lies on the surface; NaN on its horizon. (..., 2) [px] -> (..., 2) [m]"""
        return _project(np.linalg.inv(self.matrix).astype(float), xy_px)

    def surface_sigma(self, xy_px: ArrayLike, sigma_px: ArrayLike) -> NDArray[np.float64]:
        """Covariance on the surface of a place marked in the picture with ``sigma_px`` per coordinate, to first order.

        Parameters
        ----------
        xy_px : (..., 2) float array [px]
        sigma_px : (...) float array [px]

        Returns
        -------
        (..., 2, 2) float array [m^2]
            Of the mark alone; the error of the four points themselves is not in it.
        """
        inverse = np.linalg.inv(self.matrix)
        q = np.asarray(xy_px, float) @ inverse[:, :2].T + inverse[:, 2]
        w = q[..., 2, None, None]
        jac = (inverse[:2, :2] - (q[..., :2] / q[..., 2:])[..., :, None] * inverse[2, :2]) / w
        return np.asarray(sigma_px, float)[..., None, None] ** 2 * (jac @ np.swapaxes(jac, -1, -2))


def homography(surface_m: ArrayLike, picture_px: ArrayLike) -> Homography:
    """From four or more known places of a flat surface and where they are in the picture.

    Parameters
    ----------
    surface_m : (N, 2) float array [m]
        Any unit serves; it is the one that ``to_surface`` returns.
    picture_px : (N, 2) float array [px]

    Returns
    -------
    Homography
        Exact for four points, least squares of the normalised linear equations for more (direct linear transformation,
        Hartley and Zisserman 2004, chapter 4, from memory).

    Raises
    ------
    CasebookError
        Fewer than four points, unequal numbers, a missing one, or no four of which no three lie on a line.
    """
    a, b = np.asarray(surface_m, float), np.asarray(picture_px, float)
    if a.shape != b.shape or a.ndim != 2 or a.shape[1] != 2 or len(a) < 4 or not np.isfinite([a, b]).all():
        raise CasebookError(
            f"A flat surface needs four or more points, each known and marked; here {len(a)} and {len(b)} are.",
            "Mark every point once.",
        )
    if _flat(a) or _flat(b):
        raise CasebookError(
            "The points of the flat surface lie on a line, or three of the four do.",
            "Take four corners of something with area, such as lane line ends and rope marks.",
        )
    (ta, an), (tb, bn) = _normalised(a), _normalised(b)
    h = np.linalg.svd(_equations(an, bn))[2][-1].reshape(3, 3)
    matrix = np.linalg.inv(tb) @ h @ ta
    matrix /= matrix[2, 2]
    return Homography(matrix, float(np.sqrt(np.mean(np.sum((_project(matrix, a) - b) ** 2, -1)))))


def _equations(a: NDArray[np.float64], b: NDArray[np.float64]) -> NDArray[np.float64]:
    one, zero = np.ones(len(a)), np.zeros((len(a), 3))
    row = np.column_stack([a, one])
    top = np.hstack([row, zero, -b[:, :1] * row])
    return np.vstack([top, np.hstack([zero, row, -b[:, 1:] * row])])


def _normalised(p: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    middle = p.mean(0)
    size = np.sqrt(np.mean(np.sum((p - middle) ** 2, -1)) / 2)
    to = np.array([[1 / size, 0, -middle[0] / size], [0, 1 / size, -middle[1] / size], [0, 0, 1]])
    return to, (p - middle) / size


def _flat(p: NDArray[np.float64]) -> bool:
    if len(p) > 4:
        spread = np.linalg.svd(p - p.mean(0), compute_uv=False)
        return bool(spread[1] < FLAT_SHARE * spread[0])
    areas = []
    for i in range(4):
        o, u, v = np.delete(p, i, 0)
        areas.append(abs((u - o)[0] * (v - o)[1] - (u - o)[1] * (v - o)[0]))
    return min(areas) <= FLAT_SHARE * max(areas)


def _project(matrix: NDArray[np.float64], xy: ArrayLike) -> NDArray[np.float64]:
    q = np.asarray(xy, float) @ matrix[:, :2].T + matrix[:, 2]
    with np.errstate(divide="ignore", invalid="ignore"):
        out = q[..., :2] / q[..., 2:]
    return np.where(np.isfinite(out), out, np.nan)
