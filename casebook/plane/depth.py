"""How deep a point lies under the water, or how high over it, with the error that mark, line and waves leave."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from casebook.errors import CasebookError
from casebook.plane.propagate import STEP

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from casebook.plane.plane import Plane
    from casebook.plane.waves import WaterCurve

    Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Depth:
    """Depths of points, positive below the water, negative above.

    Attributes
    ----------
    px, m : (...) float arrays
        In pixels of the plane and in metres; metres are NaN without a scale.
    sigma_px, sigma_m : (...) float arrays
        Standard deviation from the marks and from waves: independent from frame to frame.
    common_px, common_m : (...) float arrays
        From the plane (water line, tilt, scale, optics), shared by all frames of the shot.
    """

    px: Array
    sigma_px: Array
    common_px: Array
    m: Array
    sigma_m: Array
    common_m: Array


def depth_of(plane: Plane, xy_px: ArrayLike, sigma_px: ArrayLike, water: WaterCurve | None = None) -> Depth:
    """Depth of crown, goggle, hand or anything else below the water.

    Parameters
    ----------
    plane : Plane
        With a water line.
    xy_px, sigma_px : (..., 2), (...) float arrays
        Marks and their standard deviation per coordinate. [px]
    water : WaterCurve, optional
        The waves of this frame; else the straight line, whose own spread between frames is in the plane's covariance.

    Raises
    ------
    CasebookError
        No water line is known.
    """
    if not plane.has_water:
        raise CasebookError(
            "No water line is marked: depths and heights cannot be given.", "Draw the water line on one or more frames."
        )
    xy, m_per_px = np.asarray(xy_px, float), plane.m_per_px
    sigma = np.asarray(sigma_px, float) * _growth(plane, xy)
    level = plane.level(xy)
    surface, wave = (np.zeros(level.shape[:-1]),) * 2 if water is None else water.height(level[..., 0])
    px = surface - level[..., 1]
    by_plane = _by_params(plane, xy)
    if water is not None:
        # Waves were clicked in the same picture: tilt and height of the line move them with the point.
        by_plane[..., 1:3] = 0.0
    in_metres = by_plane * m_per_px
    in_metres[..., 0] = px * m_per_px
    own = np.hypot(sigma, wave)
    return Depth(
        px, own, _root(by_plane, plane.covariance), px * m_per_px, own * m_per_px, _root(in_metres, plane.covariance)
    )


def _by_params(plane: Plane, xy: Array) -> Array:
    """How the depth changes with each of the plane's parameters, (..., n). [px]"""
    steps = plane.steps
    out = np.empty((*xy.shape[:-1], len(steps)))
    for i, step in enumerate(steps):
        d = step * np.eye(len(steps))[i]
        out[..., i] = -(plane.level(xy, d)[..., 1] - plane.level(xy, -d)[..., 1]) / (2 * step)
    return out


def _growth(plane: Plane, xy: Array) -> Array:
    """How much longer a pixel is made upright by straightening the picture, (...)."""
    if plane.optics is None:
        return np.ones(xy.shape[:-1])
    step = STEP * 1000
    ways = [plane.level(xy + d)[..., 1] - plane.level(xy - d)[..., 1] for d in step * np.eye(2)]
    return np.hypot(*ways) / (2 * step)


def _root(slopes: Array, covariance: Array) -> Array:
    return np.sqrt(np.einsum("...i,ij,...j->...", slopes, covariance, slopes))


def head_over_water(depth: Depth) -> str:
    """In a sentence, for one point: "6 cm above the water, give or take 2"."""
    if not math.isfinite(float(depth.m)):
        return "without a known length no depth in centimetres"
    cm, give = 100 * float(depth.m), 196 * math.hypot(float(depth.sigma_m), float(depth.common_m))
    return f"{abs(cm):.0f} cm {'below' if cm > 0 else 'above'} the water, give or take {give:.0f}"
