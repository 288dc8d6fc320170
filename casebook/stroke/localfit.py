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


#: Steps between frames that differ by less than this share of the usual one count as even.
EVEN = 1e-3
#: Frames fitted at a time where each needs weights of its own.
BLOCK = 4096


def fit_track(clock: NDArray[np.float64], xy: ArrayLike, reach: float, degree: int = 2) -> NDArray[np.float64]:
    """``fit_at`` at every sample of a track, however long.

    Where a stretch of frames is even and none is missing all weights are alike, and one product serves for all of it.

    Parameters
    ----------
    clock : (K,) float array, increasing [s]
    xy : (K, P, 2) float array
        Samples; a frame with any NaN is left out.
    reach, degree
        As in ``weights_at``. [s]

    Returns
    -------
    (K, 3, P, 2) float array
        NaN where too few frames count, or where the frame itself is left out.
    """
    samples = np.asarray(xy, float)
    known = np.asarray(np.isfinite(samples).all((-1, -2)))
    flat = np.where(known[:, None], samples.reshape(len(samples), int(np.prod(samples.shape[1:]))), 0.0)
    out = np.full((len(samples), 3, flat.shape[1]), np.nan)
    first, last = np.searchsorted(clock, clock - reach, "right"), np.searchsorted(clock, clock + reach, "left")
    # A window's width in the usual step decides which frames may share one set of weights.
    steps = np.diff(clock)
    usual = float(np.median(steps)) if len(steps) else reach
    half = int(np.ceil(reach / usual - EVEN)) - 1
    sound = np.concatenate([[0], np.cumsum(~known)])
    uneven = np.concatenate([[0], np.cumsum(np.abs(steps - usual) > EVEN * usual)])
    rows = np.arange(len(samples))
    alike = (first == rows - half) & (last == rows + half + 1)
    alike &= (sound[last] == sound[first]) & (uneven[np.maximum(last - 1, first)] == uneven[first])
    if alike.any() and 2 * half + 1 > degree:
        offsets = usual * np.arange(-half, half + 1, dtype=float)
        weights = weights_at(0.0, offsets, np.ones(len(offsets), bool), reach, degree)
        windows = np.lib.stride_tricks.sliding_window_view(flat, 2 * half + 1, 0)
        out[alike] = np.swapaxes(windows[rows[alike] - half] @ weights.T, -1, -2)
    for rest in _blocks(np.flatnonzero(known & ~alike)):
        out[rest] = _fit_each(clock, known, flat, rest, first[rest], last[rest], reach, degree)
    return out.reshape(len(samples), 3, *samples.shape[1:])


def _blocks(rows: NDArray[np.int64]) -> list[NDArray[np.int64]]:
    return [rows[i : i + BLOCK] for i in range(0, len(rows), BLOCK)]


def _fit_each(
    clock: NDArray[np.float64],
    known: NDArray[np.bool_],
    flat: NDArray[np.float64],
    rows: NDArray[np.int64],
    first: NDArray[np.int64],
    last: NDArray[np.int64],
    reach: float,
    degree: int,
) -> NDArray[np.float64]:
    """Fits (R, 3, C) at some rows, each with its own neighbours ``first`` to ``last``."""
    near = first[:, None] + np.arange(int((last - first).max(initial=1)))
    inside = near < last[:, None]
    near = np.minimum(near, len(clock) - 1)
    u = (clock[near] - clock[rows, None]) / reach
    counts = inside & known[near]
    kernel = np.where(counts, 1 - u * u, 0.0)
    powers = u[..., None] ** np.arange(degree + 1)
    right = np.swapaxes(powers * kernel[..., None], -1, -2)
    enough = (counts.sum(-1) > degree)[:, None, None]
    normal = np.where(enough, right @ powers, np.eye(degree + 1))
    fit = np.linalg.solve(normal, right @ flat[near])[:, :3] / reach ** np.arange(3)[:, None]
    return np.asarray(np.where(enough, fit, np.nan))
