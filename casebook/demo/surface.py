"""Where a point is seen through a flat water surface.

Light between an eye and a point on the other side of still water (z = 0) bends once, at the surface, by Snell's law.
Seen from the eye the point lies in the direction of that place on the surface.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

#: Refractive index of fresh water at 27 degrees C, 589 nm. IAPWS R9-97 (1997), computed from the release's formula.
WATER_INDEX = 1.33264
#: Halvings of the bracket; enough for full precision.
_ROUNDS = 60


def crossing_point(eye: ArrayLike, point: ArrayLike, index: float = WATER_INDEX) -> NDArray[np.float64]:
    """Place on the surface through which the eye sees a point on the other side.

    Parameters
    ----------
    eye : (..., 3) float array
        World, z up from still water. [m]
    point : (..., 3) float array [m]
    index : float
        Refractive index of water; air counts as 1.

    Returns
    -------
    (..., 3) float array
        On z = 0; the point itself where eye and point are on the same side of the surface. [m]
    """
    eye, point = np.broadcast_arrays(np.asarray(eye, float), np.asarray(point, float))
    across = point[..., :2] - eye[..., :2]
    far = np.linalg.norm(across, axis=-1)
    near_height, far_height = np.abs(eye[..., 2]), np.abs(point[..., 2])
    n_eye = np.where(eye[..., 2] >= 0, 1.0, index)
    n_point = np.where(point[..., 2] >= 0, 1.0, index)
    other_side = (eye[..., 2] >= 0) != (point[..., 2] >= 0)
    run = _run(far, near_height, far_height, n_eye, n_point)
    share = np.divide(run, far, out=np.zeros_like(far), where=far > 0)
    surface = np.concatenate([eye[..., :2] + share[..., None] * across, np.zeros((*far.shape, 1))], -1)
    return np.where(other_side[..., None], surface, point)


def _run(
    far: NDArray[np.float64], near_height: NDArray[np.float64], far_height: NDArray[np.float64],
    n_eye: NDArray[np.float64], n_point: NDArray[np.float64],
) -> NDArray[np.float64]:  # fmt: skip
    """Horizontal way from the eye to the crossing, by bisection: the balance of Snell's law rises along it. [m]"""
    low, high = np.zeros_like(far), far.copy()
    for _ in range(_ROUNDS):
        middle = 0.5 * (low + high)
        left = far - middle
        tiny = 1e-300
        balance = n_eye * middle / (np.hypot(middle, near_height) + tiny) - n_point * left / (
            np.hypot(left, far_height) + tiny
        )
        low, high = np.where(balance < 0, middle, low), np.where(balance < 0, high, middle)
    return 0.5 * (low + high)


def port_stretch(toward: NDArray[np.float64], index: float = WATER_INDEX) -> NDArray[np.float64]:
    """How a flat window right before the lens turns directions in water into directions in the camera's air.

    Parameters
    ----------
    toward : (..., 3) float array
        Directions in camera axes (right, down, forward), forward along the window's normal.

    Returns
    -------
    (..., 3) float array
        Directions in air, forward part kept; NaN where the water's light is reflected inside the window (never for what
        comes in through it from a smaller angle than the critical one).
    """
    aside = np.linalg.norm(toward[..., :2], axis=-1)
    sine = index * aside / np.linalg.norm(toward, axis=-1)
    with np.errstate(invalid="ignore", divide="ignore"):
        tangent = sine / np.sqrt(1.0 - sine * sine)
        stretch = np.where(aside > 0, tangent * toward[..., 2] / aside, index)
    return np.concatenate([toward[..., :2] * stretch[..., None], toward[..., 2:]], -1)
