"""Angles, lines and their errors on bare arrays. Every argument is (..., 2) with any leading axes that broadcast.

Nothing here knows of frames, marks or files. A missing point is NaN and its result is NaN; so is the direction of a
segment without length.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray


def joint_angle_deg(proximal: ArrayLike, joint: ArrayLike, distal: ArrayLike) -> NDArray[np.float64]:
    """Angle at a joint between two limb segments: 180 is a straight limb, 0 a folded one.

    Parameters
    ----------
    proximal, joint, distal : (..., D) float array
        The three points, in pixels or metres, of the picture, of a plane or of space. A plane view shortens a limb that
        points toward the camera: the angle is then the one seen, not the one the joint has.

    Returns
    -------
    (...) float array
        0 to 180, the same for a mirrored picture. [deg]

    Notes
    -----
    Half the angle is the arctangent of difference over sum of the two unit vectors, which loses no digits near 0 and
    180 as an arccosine would (Kahan 2006, "How futile are mindless assessments of roundoff", from memory).
    """
    joint = np.asarray(joint, float)
    u, v = _unit(np.asarray(proximal, float) - joint), _unit(np.asarray(distal, float) - joint)
    return np.degrees(2 * np.arctan2(np.linalg.norm(u - v, axis=-1), np.linalg.norm(u + v, axis=-1)))


def inclination_deg(a: ArrayLike, b: ArrayLike) -> NDArray[np.float64]:
    """How far the direction from ``a`` to ``b`` points below the horizontal of the swim direction.

    Parameters
    ----------
    a, b : (..., 2) float array
        Points in level coordinates: x forward along the swim direction, z up.

    Returns
    -------
    (...) float array
        0 forward, 90 straight down, over 90 pointing back, 180 back, negative above the horizontal; -90 to 270,
        so that nothing jumps while an arm goes from forward through down to back. [deg]
    """
    d = np.asarray(b, float) - np.asarray(a, float)
    angle = np.degrees(np.arctan2(-d[..., 1], d[..., 0]))
    angle = np.where(angle < -90, angle + 360, angle)
    return np.where((d == 0).all(-1), np.nan, angle)


def height_over_line(point: ArrayLike, a: ArrayLike, b: ArrayLike) -> NDArray[np.float64]:
    """Distance of a point from the straight line through ``a`` and ``b``, positive above it.

    Parameters
    ----------
    point, a, b : (..., 2) float array
        Level coordinates, x forward and z up, in pixels or metres.

    Returns
    -------
    (...) float array
        Perpendicular distance in the unit of the points; positive on the side to which the line's upward normal points,
        whichever way round the two ends are named. NaN for an upright line, which has no upper side.
    """
    a, b = np.asarray(a, float), np.asarray(b, float)
    along = b - a
    # The upward normal turns over as the line passes the upright, so it follows the sign of x.
    side = np.where(along[..., 0] == 0, np.nan, np.sign(along[..., 0]))
    return side * _cross(_unit(along), np.asarray(point, float) - a)


def line_steepness_deg(a: ArrayLike, b: ArrayLike) -> NDArray[np.float64]:
    """Steepness of the line through two points against the horizontal: 0 level, 90 upright. [deg]

    Parameters
    ----------
    a, b : (..., 2) float array
        Level coordinates, x forward and z up.
    """
    d = np.abs(np.asarray(b, float) - np.asarray(a, float))
    return np.where((d == 0).all(-1), np.nan, np.degrees(np.arctan2(d[..., 1], d[..., 0])))


def angle_sigma_deg(
    proximal: ArrayLike,
    joint: ArrayLike,
    distal: ArrayLike,
    sigma: ArrayLike,
    sigma_joint: ArrayLike | None = None,
    sigma_distal: ArrayLike | None = None,
) -> NDArray[np.float64]:
    """Standard deviation of a joint angle whose three points carry independent marking errors.

    Parameters
    ----------
    proximal, joint, distal : (..., 2) float array
        The three points.
    sigma : (...) float array
        Standard deviation per coordinate of the proximal point, in the unit of the points; of all three where the other
        two are not given.
    sigma_joint, sigma_distal : (...) float array, optional
        The same of the other two points.

    Returns
    -------
    (...) float array
        First order in sigma / limb length: sigma^2 (2/L1^2 + 2/L2^2 - 2 cos(angle)/(L1 L2)) where all are equal. [deg]
    """
    proximal, joint, distal = (np.asarray(p, float) for p in (proximal, joint, distal))
    s_p = np.asarray(sigma, float)
    s_j = s_p if sigma_joint is None else np.asarray(sigma_joint, float)
    s_d = s_p if sigma_distal is None else np.asarray(sigma_distal, float)
    l1, l2 = np.linalg.norm(proximal - joint, axis=-1), np.linalg.norm(distal - joint, axis=-1)
    cos = np.cos(np.radians(joint_angle_deg(proximal, joint, distal)))
    with np.errstate(divide="ignore", invalid="ignore"):
        at_joint = 1 / l1**2 + 1 / l2**2 - 2 * cos / (l1 * l2)
        variance = (s_p / l1) ** 2 + (s_d / l2) ** 2 + s_j**2 * at_joint
    return np.degrees(np.sqrt(variance))


def inclination_sigma_deg(
    a: ArrayLike, b: ArrayLike, sigma: ArrayLike, sigma_b: ArrayLike | None = None
) -> NDArray[np.float64]:
    """Standard deviation of a segment's inclination whose two ends carry independent marking errors. [deg]

    ``a``, ``b`` (..., 2); ``sigma`` (...) per coordinate of ``a``, and of ``b`` unless ``sigma_b`` is given.
    """
    s_a = np.asarray(sigma, float)
    s_b = s_a if sigma_b is None else np.asarray(sigma_b, float)
    length = np.linalg.norm(np.asarray(b, float) - np.asarray(a, float), axis=-1)
    with np.errstate(divide="ignore"):
        return np.where(length == 0, np.nan, np.degrees(np.hypot(s_a, s_b) / length))


def _unit(v: NDArray[np.float64]) -> NDArray[np.float64]:
    with np.errstate(invalid="ignore", divide="ignore"):
        return v / np.linalg.norm(v, axis=-1, keepdims=True)


def _cross(u: NDArray[np.float64], v: NDArray[np.float64]) -> NDArray[np.float64]:
    return u[..., 0] * v[..., 1] - u[..., 1] * v[..., 0]
