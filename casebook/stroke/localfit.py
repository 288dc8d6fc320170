"""A low polynomial through neighbouring frames: where a point was at an instant, with less noise than any one mark."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

#: Half the stretch of time that a fit looks at. At 6 rad/s a half-metre limb departs from a parabola by under a
#: millimetre over it. [s]
HALF_WIDTH_S = 0.060
#: A fit looks at least this many frames to each side, however few pictures a second.
HALF_WIDTH_FRAMES = 2.2


def half_width(step: float) -> float:
    """Half the stretch a fit looks at, for a usual time between frames. [s]"""
    return max(HALF_WIDTH_S, HALF_WIDTH_FRAMES * step)


def weights_at(
    at: ArrayLike, clock: NDArray[np.float64], known: NDArray[np.bool_], reach: float, degree: int = 2
) -> NDArray[np.float64]:
    """What each frame adds to the polynomial around an instant; nearer frames count more.

    Parameters
    ----------
    at : (...,) float array
        Instants. [s]
    clock : (K,) float array
        Times of the frames. [s]
    known : (K,) bool array
        Frames that are marked; the others add nothing.
    reach : float
        Frames further than this from the instant add nothing. [s]
    degree : int
        2 for places; 3 where the velocity counts, which a parabola bends where a motion starts.

    Returns
    -------
    (..., 3, K) float array
        Weights for value, velocity and half the acceleration at the instant; NaN where too few frames count.
    """
    u = (clock - np.asarray(at, float)[..., None]) / reach
    counts = known & (np.abs(u) < 1)
    kernel = np.where(counts, 1 - u * u, 0.0)
    powers = u[..., None] ** np.arange(degree + 1)
    right = np.swapaxes(powers * kernel[..., None], -1, -2)
    enough = (counts.sum(-1) > degree)[..., None, None]
    normal = np.where(enough, right @ powers, np.eye(degree + 1))
    weights = np.linalg.solve(normal, right)[..., :3, :] / reach ** np.arange(3)[:, None]
    return np.asarray(np.where(enough, weights, np.nan))


def fit_at(
    at: ArrayLike, clock: NDArray[np.float64], xy: ArrayLike, reach: float, degree: int = 2
) -> NDArray[np.float64]:
    """Polynomial in time of several points around an instant.

    Parameters
    ----------
    at : (...,) float array
        Instants. [s]
    clock : (K,) float array
        Times of the samples. [s]
    xy : (K, P, 2) float array
        Samples; a frame with any NaN is left out.
    reach, degree
        As in ``weights_at``. [s]

    Returns
    -------
    (..., 3, P, 2) float array
        Value, velocity and half the acceleration at the instant; NaN where too few frames count.
    """
    samples = np.asarray(xy, float)
    known = np.isfinite(samples).all((-1, -2))
    weights = weights_at(at, clock, np.asarray(known), reach, degree)
    return np.einsum("...jk,kpc->...jpc", weights, np.where(known[:, None, None], samples, 0.0))
