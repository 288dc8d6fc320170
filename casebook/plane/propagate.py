"""Error propagation: from the errors of marks and planes to the error of anything computed from them."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

#: Standard normal quantile of a two-sided 95 % interval.
Z95 = 1.959963984540054
#: How long the error of a mark that was not placed by hand stays alike along its track: its correlation falls to 1/e in
#: this time. own judgement, no source [s]
TRACK_MEMORY_S = 0.25
#: Relative step of a central difference: the cube root of the smallest step of a float balances rounding and curvature.
STEP = float(np.finfo(float).eps ** (1 / 3))


def jacobian(
    f: Callable[[NDArray[np.float64]], NDArray[np.float64]], x: ArrayLike, step: ArrayLike | None = None
) -> NDArray[np.float64]:
    """How much each result changes with each input, by central differences in one call.

    Parameters
    ----------
    f : callable
        Takes (B, n) and returns (B, m), or (B,) for one result; every row on its own.
    x : (n,) float array
        Where to differentiate.
    step : (n,) or scalar, optional
        Step of each input. Default: ``STEP`` times its size, or times 1 where it is smaller.

    Returns
    -------
    (m, n) float array
        NaN for a result that is NaN beside ``x``.
    """
    x = np.asarray(x, float)
    h = np.broadcast_to(STEP * np.maximum(np.abs(x), 1.0) if step is None else np.asarray(step, float), x.shape)
    # Rounding x + h changes the step; the step as it came out is the one to divide by.
    ends = np.concatenate([x + np.diag(h), x - np.diag(h)])
    out = np.asarray(f(ends), float)
    out = out.reshape(len(ends), -1)
    n = len(x)
    taken = np.diagonal(ends[:n] - ends[n:])
    return ((out[:n] - out[n:]) / taken[:, None]).T


def first_order(jac: ArrayLike, covariance: ArrayLike) -> NDArray[np.float64]:
    """Covariance of results from that of inputs, to first order.

    Parameters
    ----------
    jac : (..., m, n) float array
        From ``jacobian``.
    covariance : (..., n, n), or (n,) for the variances of independent inputs

    Returns
    -------
    (..., m, m) float array
    """
    jac, cov = np.asarray(jac, float), np.asarray(covariance, float)
    return (jac * cov if cov.ndim == 1 else jac @ cov) @ np.swapaxes(jac, -1, -2)


def block_covariance(*blocks: ArrayLike) -> NDArray[np.float64]:
    """One covariance of several independent groups of inputs, each (k, k), put along the diagonal."""
    arrays = [np.atleast_2d(np.asarray(b, float)) for b in blocks]
    n = sum(len(b) for b in arrays)
    out = np.zeros((n, n))
    at = 0
    for b in arrays:
        out[at : at + len(b), at : at + len(b)] = b
        at += len(b)
    return out


def t95(dof: ArrayLike) -> NDArray[np.float64]:
    """Student's t of a two-sided 95 % interval, e.g. 12.7 for one degree of freedom, 1.96 for many; NaN below one."""
    from scipy.special import stdtrit

    dof = np.asarray(dof, float)
    return np.where(dof >= 1, stdtrit(np.maximum(dof, 1), 0.975), np.nan)


def interval95(value: ArrayLike, sigma: ArrayLike, dof: ArrayLike = np.inf) -> tuple[NDArray, NDArray]:
    """Lower and upper end of a 95 % interval: normal, or Student's t with ``dof`` degrees of freedom."""
    value, dof = np.asarray(value, float), np.asarray(dof, float)
    factor = np.where(np.isinf(dof), Z95, t95(np.where(np.isinf(dof), 1, dof)))
    half = factor * np.asarray(sigma, float)
    return value - half, value + half


def track_covariance(sigma: ArrayLike, by_hand: ArrayLike, clock: ArrayLike) -> NDArray[np.float64]:
    """Covariance among frames of the marks of some points, alike for x and y, which err apart, as points do.

    Marks placed by hand err independently. A mark that was tracked or drafted keeps its error for a while along the
    track, with a correlation of exp(-|dt| / ``TRACK_MEMORY_S``); confirming a mark does not move it.

    Parameters
    ----------
    sigma : (K, P) float array
        Standard deviation of each mark; NaN where it is not marked. [px]
    by_hand : (K, P) bool array
    clock : (K,) float array
        What runs evenly along a track. [s]

    Returns
    -------
    (P, K, K) float array [px^2]
        Zero for marks that are not there.
    """
    size = np.nan_to_num(np.asarray(sigma, float)).T
    shared = track_correlation(np.asarray(by_hand, bool).T, clock)
    return np.asarray(size[:, :, None] * size[:, None, :] * shared)


def track_correlation(by_hand: ArrayLike, clock: ArrayLike) -> NDArray[np.float64]:
    """Correlation among frames of the marks of a point: the law of ``track_covariance``.

    Parameters
    ----------
    by_hand : (..., K) bool array
    clock : (..., K) float array
        What runs evenly along a track. [s]

    Returns
    -------
    (..., K, K) float array
    """
    drawn, t = ~np.asarray(by_hand, bool), np.asarray(clock, float)
    along = np.exp(-np.abs(t[..., :, None] - t[..., None, :]) / TRACK_MEMORY_S)
    return np.where(drawn[..., :, None] & drawn[..., None, :], along, np.eye(t.shape[-1]))
