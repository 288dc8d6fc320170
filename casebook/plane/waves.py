"""A water line that is not straight: a slowly varying curve through clicked places, as sure as the places make it.

Heights of the places over the straight water line are taken for a smooth random curve. How high and how long its waves
are is not chosen but weighed: every pair of a few heights and lengths counts by how well it explains the places
(Rasmussen and Williams 2006, "Gaussian Processes for Machine Learning", chapter 5, from memory). Away from the places
the curve's error grows to the height of the waves.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from casebook.errors import CasebookError
from casebook.plane.water import LEAST_SIGMA_PX

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from casebook.marks.lines import LineMark
    from casebook.plane.plane import Plane

    Array = NDArray[np.float64]

#: Trial heights of waves, in spreads of the places (0 is a straight line), and trial lengths, as shares of the span.
HEIGHTS, LENGTHS = (0.0, 0.5, 1.0, 2.0), (0.1, 0.2, 0.4, 0.8)
#: The curve's mean and slope are known no better than this beforehand, in spreads of the places. own judgement
BROAD = 10.0
#: Places along a curve that tell more than a line does.
LEAST_PLACES = 3


@dataclass(frozen=True, slots=True, eq=False)
class WaterCurve:
    """Height of the water over the plane's straight line, along x.

    Attributes
    ----------
    x_px, z_px, sigma_px : (N,) float arrays
        The clicked places in level coordinates, and how well each was clicked. [px]
    trials : (M, 2) float array
        Height and length of waves. [px]
    weights : (M,) float array
        How well each trial explains the places; their sum is 1.
    """

    x_px: Array
    z_px: Array
    sigma_px: Array
    trials: Array
    weights: Array

    def height(self, x_px: ArrayLike) -> tuple[Array, Array]:
        """Height of the water at x and its standard deviation, two arrays of the shape of ``x_px``. [px]"""
        x = np.asarray(x_px, float)
        each = np.array([self._one(x.ravel(), *trial) for trial in self.trials])
        mean = self.weights @ each[:, 0]
        variance = self.weights @ (each[:, 1] + (each[:, 0] - mean) ** 2)
        return mean.reshape(x.shape), np.sqrt(variance).reshape(x.shape)

    def _one(self, x: Array, high: float, long: float) -> tuple[Array, Array]:
        """Mean and variance for one height and length of waves."""
        prior = _covariance(self.x_px, self.x_px, self._frame, high, long) + np.diag(self.sigma_px**2)
        across = _covariance(x, self.x_px, self._frame, high, long)
        solved = np.linalg.solve(prior, np.column_stack([self.z_px, across.T]))
        own = np.diagonal(_covariance(x, x, self._frame, high, long))
        return across @ solved[:, 0], np.maximum(own - np.sum(across * solved[:, 1:].T, 1), 0)

    @property
    def _frame(self) -> tuple[float, float, float]:
        return _frame(self.x_px, self.z_px, self.sigma_px)


def water_curve(plane: Plane, lines: Sequence[LineMark], frame: int) -> WaterCurve:
    """The water of one frame, from the ends of all water lines marked on it: short pieces along the waves.

    Raises
    ------
    CasebookError
        The plane knows no water, or fewer than three places are marked on the frame.
    """
    pieces = [line for line in lines if line.line == "water" and line.frame == frame]
    places = np.array([piece.ends for piece in pieces], float).reshape(-1, 2)
    return curve_through(plane, places, np.repeat([piece.sigma_px for piece in pieces], 2))


def curve_through(plane: Plane, places_px: ArrayLike, sigma_px: ArrayLike) -> WaterCurve:
    """The water through clicked places (N, 2) with their errors (N,) or one. [px]"""
    places = np.asarray(places_px, float).reshape(-1, 2)
    if not plane.has_water:
        raise CasebookError("No still water line is known on this shot.", "Draw it first, as straight as it lies.")
    if len(places) < LEAST_PLACES:
        raise CasebookError(
            f"{len(places)} places do not tell a wave from a straight water line.",
            "Mark the water in three or more places along the waves.",
        )
    level = plane.level(places)
    order = np.argsort(level[:, 0])
    x, z = level[order].T
    sigma = np.maximum(np.broadcast_to(np.asarray(sigma_px, float), len(x))[order], LEAST_SIGMA_PX)
    middle, span, spread = _frame(x, z, sigma)
    trials = np.array([(spread * h, span * w) for h in HEIGHTS for w in (LENGTHS if h else LENGTHS[:1])])
    # A straight line counts as much beforehand as all waves of one height.
    before = np.array([1.0 if h == 0 else 1 / len(LENGTHS) for h, _ in trials])
    fit = np.array([_log_likelihood(x, z, sigma, (middle, span, spread), *trial) for trial in trials])
    weights = before * np.exp(fit - fit.max())
    return WaterCurve(x, z, sigma, trials, weights / weights.sum())


def _frame(x: Array, z: Array, sigma: Array) -> tuple[float, float, float]:
    """Middle and span along x, and how far the places lie from their own line: what lengths and heights are told in."""
    middle, span = float(x.mean()), max(float(np.ptp(x)), 1.0)
    u = np.column_stack([np.ones(len(x)), (x - middle) / span])
    off = z - u @ np.linalg.lstsq(u, z, rcond=None)[0]
    return middle, span, max(float(np.std(off)), float(np.median(sigma)))


def _covariance(a: Array, b: Array, frame: tuple[float, float, float], high: float, long: float) -> Array:
    """Of heights at a (N,) and b (M,): a line of broad mean and slope, and waves that forget over ``long``."""
    middle, span, spread = frame
    d = (a[:, None] - b) / long
    line = 1 + 4 * np.outer(a - middle, b - middle) / span**2
    return (BROAD * spread) ** 2 * line + high**2 * np.exp(-0.5 * d * d)


def _log_likelihood(
    x: Array, z: Array, sigma: Array, frame: tuple[float, float, float], high: float, long: float
) -> float:
    prior = _covariance(x, x, frame, high, long) + np.diag(sigma**2)
    return -0.5 * float(z @ np.linalg.solve(prior, z) + np.linalg.slogdet(prior)[1])
