"""Error propagation: from the errors of marks and planes to the error of anything computed from them."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np

from casebook.marks.marks import Origin

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from casebook.marks.marks import Marks

#: Standard normal quantile of a two-sided 95 % interval.
Z95 = 1.959963984540054
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


def marks_covariance(marks: Marks, correlation: float = 1.0) -> NDArray[np.float64]:
    """Covariance of the coordinates of some marks, as a coach would trust them.

    Marks placed by hand err independently. Along an unbroken run of frames of one point that was tracked or drafted the
    error hardly changes, so all of the run shares one error; confirming a mark does not move it: it stays in its run.

    Parameters
    ----------
    marks : Marks
        F frames, P points; the matrix has (2 F P)^2 cells, so pick the frames and points that are needed first.
    correlation : float
        Of the errors of two frames of one run, 0 to 1. 1 is the cautious choice for anything read in a frame or
        averaged over frames; for a change between two frames of one run shared errors cancel: there 0 is cautious.

    Returns
    -------
    (2 F P, 2 F P) float array [px^2]
        In the order of ``marks.xy.ravel()``. Both coordinates err alike and apart. Zero where nothing is marked.
    """
    f, p = marks.sigma_px.shape
    sigma = np.where(np.isfinite(marks.sigma_px), marks.sigma_px, 0.0)
    cov = np.zeros((f, p, 2, f, p, 2))
    run = _runs(marks)
    for j in range(p):
        same = (run[:, j, None] == run[None, :, j]) & (run[:, j, None] >= 0)
        rho = np.where(same, correlation, 0.0)
        np.fill_diagonal(rho, 1.0)
        block = rho * np.outer(sigma[:, j], sigma[:, j])
        cov[:, j, 0, :, j, 0] = cov[:, j, 1, :, j, 1] = block
    return cov.reshape(2 * f * p, 2 * f * p)


def _runs(marks: Marks) -> NDArray[np.int64]:
    """Number of the unbroken run that each mark not placed by hand belongs to, (F, P); -1 for marks by hand."""
    automatic = (marks.origin != Origin.hand) & np.isfinite(marks.xy).all(-1)
    start = automatic.copy()
    if len(marks.frames) > 1:
        start[1:] &= ~(automatic[:-1] & (np.diff(marks.frames) == 1)[:, None])
    return np.where(automatic, np.cumsum(start, axis=0), -1)
