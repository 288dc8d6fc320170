"""Rotations and directions for many instants at once. Angles in degrees, any leading axes."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray


def about(axis: Literal["x", "y", "z"], angle_deg: ArrayLike) -> NDArray[np.float64]:
    """Rotation matrices about one axis, right-handed. (...) -> (..., 3, 3)

    About x a positive angle lifts the left side; about y it lowers the head end; about z it turns to the left.
    """
    a = np.radians(np.asarray(angle_deg, float))
    i, j = {"x": (1, 2), "y": (2, 0), "z": (0, 1)}[axis]
    out = np.zeros((*a.shape, 3, 3))
    out[..., range(3), range(3)] = 1.0
    out[..., i, i] = out[..., j, j] = np.cos(a)
    out[..., j, i] = np.sin(a)
    out[..., i, j] = -np.sin(a)
    return out


def direction(down_deg: ArrayLike, out_deg: ArrayLike, side: int) -> NDArray[np.float64]:
    """Unit vector of a limb, (..., 3).

    Parameters
    ----------
    down_deg : (...) float array
        Below the horizontal of the swim direction as seen from the side: 0 forward, 90 down, 180 back, 270 up.
    out_deg : (...) float array
        Away from the body's side plane, positive outward.
    side : int
        +1 left arm, -1 right arm.
    """
    a, b = np.broadcast_arrays(np.radians(np.asarray(down_deg, float)), np.radians(np.asarray(out_deg, float)))
    return np.stack([np.cos(b) * np.cos(a), side * np.sin(b), -np.cos(b) * np.sin(a)], -1)


def unit(v: NDArray[np.float64]) -> NDArray[np.float64]:
    """The same directions with length 1."""
    return v / np.linalg.norm(v, axis=-1, keepdims=True)


def across(v: NDArray[np.float64], axis: NDArray[np.float64]) -> NDArray[np.float64]:
    """Unit vector of the part of ``v`` that is perpendicular to the unit vector ``axis``."""
    return unit(v - axis * np.sum(v * axis, -1, keepdims=True))


def frame(first: NDArray[np.float64], second: NDArray[np.float64]) -> NDArray[np.float64]:
    """Matrices whose columns are two perpendicular unit vectors and their cross product. (..., 3, 3)"""
    return np.stack([first, second, np.cross(first, second)], -1)


def moved(rotation: NDArray[np.float64], local: NDArray[np.float64]) -> NDArray[np.float64]:
    """A place fixed to a bone, turned with it: (..., 3, 3) and (3,) -> (..., 3)."""
    return rotation @ local


def angle_between_deg(u: NDArray[np.float64], v: NDArray[np.float64]) -> NDArray[np.float64]:
    """Angle between directions, 0 to 180, without the loss of digits of an arccosine. [deg]"""
    return np.degrees(np.arctan2(np.linalg.norm(np.cross(u, v), axis=-1), np.sum(u * v, -1)))
