"""Two ways in which a camera moves against the pool, and where a place of one frame lies in the reference frame.

``along``: it travels beside the swimmer. Frames differ by a shift, a turn and a size. What lies farther off shifts
less: along the lane the shift is travel and goes with the distance; across it is the camera's nodding and does not.
``turning``: it turns on the spot. Frames differ by a rotation, which is the same for all distances, so that near and
far places serve alike.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeAlias

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array: TypeAlias = NDArray[np.float64]

KINDS = ("along", "turning")
#: Names of a frame's own numbers: shift at the swimmer's distance [px], turn [rad] and ln size; or pan (to the right),
#: tilt (down) and roll (clockwise) as a rotation vector [rad].
OWN = {"along": ("along_px", "across_px", "turn_rad", "ln_size"), "turning": ("pan_rad", "tilt_rad", "roll_rad")}
#: What all frames share: how much farther than stated the fixed places are, as ln; ln of the focal length.
SHARED = {"along": "path_ln_ratio", "turning": "path_ln_focal"}


def carried(
    kind: str, xy: Array, own: Array, shared: Array, centre: Array, ratio: Array | None = None, level: float = 0.0
) -> Array:
    """Where a frame's places lie in the picture of the reference frame.

    Parameters
    ----------
    kind : str
    xy : (..., 2) float array [px]
    own : (..., k) float array
        Of each place's frame.
    shared : (..., 1) float array
    centre : (2,) [px]
    ratio : (...) float array, optional
        Camera to swimmer over camera to the place; the swimmer himself without. No meaning for a camera that turns.
    level : float
        Direction of the lane in the reference picture, positive where it sinks toward the right; along it a camera
        travels. [rad]

    Returns
    -------
    (..., 2) float array
        NaN where the reference frame cannot see that way. [px]
    """
    if kind == "along":
        return centre + _turned(xy - centre, own[..., 2], np.exp(own[..., 3])) + _shift(own, shared, ratio, level)
    focal = np.exp(shared[..., 0])
    return centre + focal[..., None] * _seen(_rotated(own, _rays(xy - centre, focal)))


def shown(
    kind: str, xy: Array, own: Array, shared: Array, centre: Array, ratio: Array | None = None, level: float = 0.0
) -> Array:
    """The other way: where places of the reference picture are seen on a frame. Shapes as in ``carried``."""
    if kind == "along":
        return centre + _turned(xy - centre - _shift(own, shared, ratio, level), -own[..., 2], np.exp(-own[..., 3]))
    focal = np.exp(shared[..., 0])
    return centre + focal[..., None] * _seen(_rotated(-own, _rays(xy - centre, focal)))


def _shift(own: Array, shared: Array, ratio: Array | None, level: float) -> Array:
    """Along the lane as much as the distance lets it, across it in full."""
    along = own[..., 0] if ratio is None else own[..., 0] * ratio * np.exp(shared[..., 0])
    across = own[..., 1]
    cos, sin = np.cos(level), np.sin(level)
    return np.stack([along * cos - across * sin, along * sin + across * cos], -1)


def _turned(d: Array, angle: Array, size: Array) -> Array:
    c, s = size * np.cos(angle), size * np.sin(angle)
    return np.stack([c * d[..., 0] - s * d[..., 1], s * d[..., 0] + c * d[..., 1]], -1)


def _rays(d: Array, focal: Array) -> Array:
    x, y, one = np.broadcast_arrays(d[..., 0] / focal, d[..., 1] / focal, 1.0)
    return np.stack([x, y, one], -1)


def _seen(ray: Array) -> Array:
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(ray[..., 2:] > 0, ray[..., :2] / ray[..., 2:], np.nan)


def _rotated(own: Array, ray: Array) -> Array:
    """Rays (..., 3) in camera axes (right, down, forward) turned by pan, tilt and roll as one rotation vector."""
    vector = np.stack([-own[..., 1], own[..., 0], own[..., 2]], -1)
    angle = np.linalg.norm(vector, axis=-1, keepdims=True)
    # sinc and its like keep their digits for the smallest turns.
    first, second = np.sinc(angle / np.pi), 0.5 * np.sinc(angle / (2 * np.pi)) ** 2
    vector, ray = np.broadcast_arrays(vector, ray)
    once = np.cross(vector, ray)
    return ray + first * once + second * np.cross(vector, once)
