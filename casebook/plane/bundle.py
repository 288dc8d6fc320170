"""Least squares for many frames at once: each frame has a few unknowns of its own, and some are shared by all.

Frames meet only through what they share, so the frames' own unknowns are eliminated block by block and what remains is
as small as the shared part (the bundle of photogrammetry; Triggs et al. 2000, "Bundle adjustment", from memory).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from casebook.plane.propagate import STEP

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array: TypeAlias = NDArray[np.float64]
    Unknowns: TypeAlias = tuple[Array, Array, Array]
    Shown: TypeAlias = Callable[[Array, Array, Array], Array]
    Blocks: TypeAlias = tuple[Array, Array, Array, Array, Array]

#: A standard deviation this small holds an unknown in its place.
HELD = 1e-7

#: Steps at most, and halvings of one; a step whose gain is below this share of chi-square ends the search.
_ROUNDS, _HALVINGS, _GAIN = 60, 8, 1e-10


@dataclass(frozen=True, slots=True, eq=False)
class Observations:
    """N places seen: ``frame`` and ``point`` (N,) count from 0, ``xy`` (N, 2), ``sigma`` (N,) in the same unit."""

    frame: NDArray[np.int64]
    point: NDArray[np.int64]
    xy: Array
    sigma: Array

    @property
    def counts(self) -> tuple[int, int]:
        """Frames and points."""
        return int(self.frame.max()) + 1, int(self.point.max()) + 1


@dataclass(frozen=True, slots=True, eq=False)
class Bundle:
    """What was found.

    ``own`` (F, k) and ``own_covariance`` (F, k, k), which leaves out what the p shared parameters add; ``slopes``
    (F, k, p) say how each frame's own follow when the shared ones change. ``points`` (P, 2); ``shared`` (p,) with
    ``shared_covariance`` (p, p). ``residuals`` (N, 2) are in standard deviations; ``dof`` of their squares.
    """

    own: Array
    own_covariance: Array
    slopes: Array
    points: Array
    shared: Array
    shared_covariance: Array
    residuals: Array
    dof: int


def solve(
    seen: Observations,
    shown: Shown,
    start: Unknowns,
    own_prior: Array,
    shared_prior: tuple[Array, Array],
) -> Bundle:
    """Frames' own, points and shared parameters that explain all observations best.

    Parameters
    ----------
    seen : Observations
    shown : callable
        (N, k) own, (N, 2) points, (N, p) shared -> (N, 2): where each observation should be seen.
    start : (F, k), (P, 2), (p,)
    own_prior : (F, k) float array
        Standard deviation of each frame's own about zero; infinite where nothing is known beforehand, ``HELD`` holds
        it in its place.
    shared_prior : (p,), (p,)
        Mean and standard deviation.
    """
    problem = _Problem(seen, shown, own_prior, *shared_prior)
    x = start
    now = problem.cost(x)
    for _ in range(_ROUNDS):
        step = _step(problem.blocks(x), len(x[1]))
        for half in range(_HALVINGS):
            trial = x[0] + step[0] / 2**half, x[1] + step[1] / 2**half, x[2] + step[2] / 2**half
            then = problem.cost(trial)
            if then <= now:
                break
        if not then <= now:
            break
        x, gain, now = trial, now - then, then
        if gain <= _GAIN * (now + 1):
            break
    return _found(problem, x)


@dataclass(frozen=True, slots=True, eq=False)
class _Problem:
    """The least-squares problem; its unknowns are a tuple (F, k), (P, 2), (p,)."""

    seen: Observations
    shown: Shown
    own_prior: Array
    shared_mean: Array
    shared_prior: Array

    def each(self, x: Unknowns) -> Unknowns:
        """The unknowns that each observation meets."""
        return x[0][self.seen.frame], x[1][self.seen.point], np.tile(x[2], (len(self.seen.frame), 1))

    def residuals(self, x: Unknowns) -> Array:
        """In standard deviations, (N, 2)."""
        return (self.shown(*self.each(x)) - self.seen.xy) / self.seen.sigma[:, None]

    def cost(self, x: Unknowns) -> float:
        """Chi-square of observations and of what was known beforehand; infinite where nothing can be shown."""
        known = np.sum((x[0] / self.own_prior) ** 2) + np.sum(((x[2] - self.shared_mean) / self.shared_prior) ** 2)
        total = float(np.sum(self.residuals(x) ** 2) + known)
        return total if np.isfinite(total) else np.inf

    def blocks(self, x: Unknowns) -> Blocks:
        """Normal equations: frames (F, k, k), between (F, k, G), all else (G, G), right sides; G = 2 P + p."""
        frame, point = self.seen.frame, self.seen.point
        own, at, shared = (d / self.seen.sigma[:, None, None] for d in _derivatives(self.shown, self.each(x)))
        (frames, k), n, p = x[0].shape, len(x[1]), len(x[2])
        off = self.residuals(x)[..., None]
        a, right_own = _summed(frame, frames, own, own), _summed(frame, frames, own, off)[..., 0]
        between = np.zeros((frames, n, k, 2))
        np.add.at(between, (frame, point), _times(own, at))
        b = np.concatenate(
            [np.moveaxis(between, 1, 2).reshape(frames, k, 2 * n), _summed(frame, frames, own, shared)], -1
        )
        c, right = np.zeros((2 * n + p,) * 2), np.zeros(2 * n + p)
        rows = 2 * np.arange(n)[:, None, None] + np.arange(2)
        c[rows, np.swapaxes(rows, 1, 2)] = _summed(point, n, at, at)
        c[: 2 * n, 2 * n :] = _summed(point, n, at, shared).reshape(2 * n, p)
        c[2 * n :, : 2 * n] = c[: 2 * n, 2 * n :].T
        c[2 * n :, 2 * n :] = _times(shared, shared).sum(0) + np.diag(self.shared_prior**-2.0)
        right[: 2 * n] = _summed(point, n, at, off).ravel()
        right[2 * n :] = _times(shared, off).sum(0)[:, 0] + (x[2] - self.shared_mean) * self.shared_prior**-2.0
        a[:, np.arange(k), np.arange(k)] += self.own_prior**-2.0
        return a, b, c, right_own + x[0] * self.own_prior**-2.0, right


def _times(a: Array, b: Array) -> Array:
    """(N, 2, i), (N, 2, j) -> (N, i, j)"""
    return np.einsum("nci,ncj->nij", a, b)


def _summed(group: NDArray[np.int64], count: int, a: Array, b: Array) -> Array:
    """The same, added up within each group: (count, i, j)."""
    out = np.zeros((count, a.shape[-1], b.shape[-1]))
    np.add.at(out, group, _times(a, b))
    return out


def _reduced(b: Array, ab: Array, c: Array) -> Array:
    """What is left of all else once the frames' own unknowns are eliminated, (G, G)."""
    left: Array = c - b.reshape(-1, b.shape[-1]).T @ ab.reshape(-1, b.shape[-1])
    return left


def _step(blocks: Blocks, n: int) -> Unknowns:
    a, b, c, right_own, right = blocks
    ab = np.asarray(np.linalg.solve(a, b), float)
    ar = np.asarray(np.linalg.solve(a, right_own[..., None]), float)[..., 0]
    rest = np.linalg.solve(_reduced(b, ab, c), np.einsum("fki,fk->i", b, ar) - right)
    return -ar - ab @ rest, rest[: 2 * n].reshape(n, 2), rest[2 * n :]


def _found(problem: _Problem, x: Unknowns) -> Bundle:
    a, b, c, _, _ = problem.blocks(x)
    n, p = len(x[1]), len(x[2])
    ab = np.asarray(np.linalg.solve(a, b), float)
    rest = np.asarray(np.linalg.inv(_reduced(b, ab, c)), float)
    shared = rest[2 * n :, 2 * n :]
    mixed = -ab @ rest[:, 2 * n :]
    slopes = mixed @ np.linalg.inv(shared) if p else mixed
    own = np.linalg.inv(a) + ab @ rest @ np.swapaxes(ab, 1, 2) - slopes @ shared @ np.swapaxes(slopes, 1, 2)
    off = problem.residuals(x)
    free = int((problem.own_prior > HELD).sum())
    return Bundle(x[0], np.asarray(own), np.asarray(slopes), x[1], x[2], shared, off, off.size - free - 2 * n)


def _derivatives(shown: Shown, parts: Unknowns) -> Unknowns:
    """Slopes of every observation: (N, 2, k), (N, 2, 2), (N, 2, p), by central differences."""
    out = []
    for i, part in enumerate(parts):
        columns = []
        for j in range(part.shape[1]):
            h = STEP * max(1.0, float(np.abs(part[:, j]).max(initial=0.0)))
            ends = []
            for sign in (1, -1):
                moved = list(parts)
                moved[i] = part.copy()
                moved[i][:, j] += sign * h
                ends.append(shown(*moved))
            columns.append((ends[0] - ends[1]) / (2 * h))
        out.append(np.stack(columns, -1) if columns else np.empty((len(part), 2, 0)))
    return out[0], out[1], out[2]
