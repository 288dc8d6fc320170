"""A smooth curve through key values that repeats with the stroke cycle."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

#: Width of the rounding of the curve's corners, in cycles. Keeps velocity and acceleration continuous.
ROUNDING = 0.012
SAMPLES = 240


@dataclass(frozen=True, slots=True, eq=False)
class CycleCurve:
    """Values over the phase of a cycle: monotone between keys, with continuous second derivative.

    Attributes
    ----------
    spline : periodic cubic spline of the part that repeats
    winding : (C,) float array
        What each column gains in a full cycle (360 for an arm that goes round).
    """

    spline: Any
    winding: NDArray[np.float64]

    @classmethod
    def through(cls, phase: ArrayLike, values: ArrayLike, winding: ArrayLike) -> CycleCurve:
        """Curve through keys.

        Parameters
        ----------
        phase : (K,) float array, increasing, first and last less than a cycle apart
        values : (K, C) float array
        winding : (C,) float array
        """
        from scipy.interpolate import CubicSpline, PchipInterpolator

        p, v, w = np.asarray(phase, float), np.asarray(values, float), np.asarray(winding, float)
        turns = np.arange(-1, 2)
        keys = (p + turns[:, None]).ravel()
        held = (v + turns[:, None, None] * w).reshape(-1, v.shape[1])
        q = np.arange(SAMPLES) / SAMPLES
        dense = PchipInterpolator(keys, held)(p[0] + q) - (p[0] + q)[:, None] * w
        lag = (q + 0.5) % 1 - 0.5
        weights = np.exp(-0.5 * (lag / ROUNDING) ** 2)
        wave = np.fft.rfft(dense, axis=0) * np.fft.rfft(weights / weights.sum())[:, None]
        smooth = np.fft.irfft(wave, SAMPLES, axis=0)
        knots = p[0] + np.append(q, 1.0)
        return cls(CubicSpline(knots, np.vstack([smooth, smooth[:1]]), bc_type="periodic"), w)

    def __call__(self, phase: NDArray[np.float64]) -> NDArray[np.float64]:
        """Values at any phase (T,) -> (T, C); a whole cycle later they differ by the winding only."""
        return self.spline(phase) + np.asarray(phase)[..., None] * self.winding
