"""How much to smooth, told by the path itself: a cut-off by residual analysis, or a spline by cross-validation.

References
----------
.. [1] Winter DA (2009). Biomechanics and Motor Control of Human Movement, 4th ed., ch. 3: residual analysis. The
   residual between raw and smoothed path falls in a straight line while the filter takes noise alone; that line, drawn
   on to a cut-off of 0, tells the noise; where the residual equals it, as much motion is lost as noise let through.
.. [2] Craven P, Wahba G (1979). Smoothing noisy data with spline functions. Numer Math 31:377-403: generalised
   cross-validation.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from casebook.errors import CasebookError
from casebook.marks.smooth import SWIMMER_CUTOFF_HZ, UNEVEN, butterworth, runs_of

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

#: Cut-offs tried, as shares of the sampling rate: from far below any stroke to where a filter takes next to nothing.
LOWEST, HIGHEST, TRIED = 0.01, 0.3, 59
#: The straight part of the residual is its last third at least, and goes on downwards for as long as a line fits it to
#: this share of the noise. common practice, no source
STRAIGHT = 0.01
#: A run shorter than this says too little about its noise. common practice, no source [samples]
LEAST_SAMPLES = 30
#: Fewer samples than this do not hold a smoothing spline (SciPy asks for five).
LEAST_FOR_SPLINE = 5


@dataclass(frozen=True, slots=True, eq=False)
class Cutoff:
    """What residual analysis says of a path.

    Attributes
    ----------
    hz : float
        The cut-off; NaN where the path is too short, or never leaves its noise. [Hz]
    noise : float
        Root mean square of the noise, in units of the path; NaN as above.
    tried_hz, residual : (K,) float arrays
        Cut-offs tried [Hz] and the root mean square residual of each, for a picture of the choice.
    """

    hz: float
    noise: float
    tried_hz: NDArray[np.float64]
    residual: NDArray[np.float64]


def cutoff_by_residual(values: ArrayLike, times: ArrayLike) -> Cutoff:
    """Cut-off for a path by residual analysis [1]_.

    Parameters
    ----------
    values : (N,) or (N, D) float array
        The path, NaN where unmarked; its coordinates are judged together. The longest run without a gap is used.
    times : (N,) float array
        Real times, increasing, evenly spaced within a run to 1 %. [s]

    Raises
    ------
    CasebookError
        The times are uneven: take ``smoothing_spline``.
    """
    path, when = np.asarray(values, float).reshape(len(np.asarray(times)), -1), np.asarray(times, float)
    nothing = Cutoff(np.nan, np.nan, np.zeros(0), np.zeros(0))
    runs = runs_of(np.isfinite(path).all(1), when)
    if not runs:
        return nothing
    run = max(runs, key=lambda r: r.stop - r.start)
    path, when = path[run], when[run]
    if len(path) < LEAST_SAMPLES:
        return nothing
    if not is_even(when):
        raise CasebookError("This path was not sampled evenly.", "Smooth it by a spline.")
    rate = (len(when) - 1) / (when[-1] - when[0])
    tried = rate * np.linspace(LOWEST, HIGHEST, TRIED)
    residual = np.array([_rms(path - butterworth(path, when, hz)) for hz in tried])
    noise, start = _line(tried, residual)
    # Past the straight part's beginning there is noise alone; before it the residual grows towards lower cut-offs.
    above = np.flatnonzero(residual[: start + 1] > noise)
    if not (noise > 0) or not len(above):
        return Cutoff(np.nan, noise, tried, residual)
    i = int(above[-1])
    share = (residual[i] - noise) / (residual[i] - residual[i + 1])
    return Cutoff(float(tried[i] + min(share, 1.0) * (tried[i + 1] - tried[i])), noise, tried, residual)


def smoothing_spline(values: ArrayLike, times: ArrayLike, derivative: int = 0) -> NDArray[np.float64]:
    """Smooth paths sampled at any times by a cubic spline whose stiffness is found by cross-validation [2]_.

    Parameters
    ----------
    values : (N, ...) float array
        One or more series along the first axis, NaN where unmarked. Each series has its own gaps and its own stiffness.
    times : (N,) float array
        Real times, increasing; NaN where not known. [s]
    derivative : int
        0 for the path, 1 for its speed, 2 for its acceleration. [unit / s**derivative]

    Returns
    -------
    (N, ...) float array
        NaN exactly where ``values`` or ``times`` is, and, for derivatives, in runs under five samples; the path itself
        comes back there as it was.
    """
    series, when = np.array(values, float, order="C"), np.asarray(times, float)
    flat = series.reshape(len(series), -1)
    for column in flat.T:
        good = np.isfinite(column) & np.isfinite(when)
        smooth = column.copy() if derivative == 0 else np.full_like(column, np.nan)
        smooth[~good & np.isnan(when)] = np.nan
        for run in runs_of(good, when, LEAST_FOR_SPLINE):
            smooth[run] = _spline(when[run], column[run], derivative)
        column[:] = smooth
    return series


def smoothed(values: ArrayLike, times: ArrayLike, derivative: int = 0) -> NDArray[np.float64]:
    """Smooth paths as their sampling asks for: even ones by ``butterworth``, uneven ones by ``smoothing_spline``.

    The cut-off is that of residual analysis, all coordinates of ``values`` (N, ...) together, and ``SWIMMER_CUTOFF_HZ``
    where it finds none. Derivatives of filtered paths are central differences. Gaps stay gaps.
    """
    series, when = np.array(values, float), np.asarray(times, float)
    known = np.isfinite(when)
    if not series.size or not known.any():
        return np.full_like(series, np.nan) if derivative else series
    if not all(is_even(when[run]) for run in runs_of(known, when, 2)):
        return smoothing_spline(series, when, derivative)
    found = cutoff_by_residual(series.reshape(len(series), -1), when).hz
    smooth = butterworth(series, when, found if np.isfinite(found) else SWIMMER_CUTOFF_HZ)
    for _ in range(derivative):
        smooth = _differences(smooth, when)
    return smooth


def is_even(times: NDArray[np.float64]) -> bool:
    """Whether steps differ from their mean by 1 % at most."""
    step = (times[-1] - times[0]) / (len(times) - 1)
    return bool(np.abs(np.diff(times) - step).max() <= UNEVEN * step)


def _line(tried: NDArray[np.float64], residual: NDArray[np.float64]) -> tuple[float, int]:
    """The noise that the straight part of the residual tells at a cut-off of 0, and where that part begins."""
    noise, begins = np.nan, len(tried) - 1
    for start in range(2 * len(tried) // 3, 0, -1):
        slope, at_zero = np.polyfit(tried[start:], residual[start:], 1)
        off = np.abs(at_zero + slope * tried[start:] - residual[start:]).max()
        if np.isfinite(noise) and off > STRAIGHT * at_zero:
            break
        noise, begins = float(at_zero), start
    return noise, begins


def _spline(times: NDArray[np.float64], values: NDArray[np.float64], derivative: int) -> NDArray[np.float64]:
    from scipy.interpolate import make_smoothing_spline

    # In units of the mean step and of the path's own spread: cross-validation searches over a fixed range.
    step, middle = (times[-1] - times[0]) / (len(times) - 1), values.mean()
    spread = np.std(values) or 1.0
    spline = make_smoothing_spline((times - times[0]) / step, (values - middle) / spread)
    out = spline.derivative(derivative)((times - times[0]) / step) if derivative else spline((times - times[0]) / step)
    return np.asarray(out * spread / step**derivative + (middle if derivative == 0 else 0.0), float)


def _differences(values: NDArray[np.float64], times: NDArray[np.float64]) -> NDArray[np.float64]:
    """Central differences inside each run, one-sided at its ends."""
    out = np.full_like(values, np.nan)
    flat, into = values.reshape(len(values), -1), out.reshape(len(values), -1)
    for j in range(flat.shape[1]):
        for run in runs_of(np.isfinite(flat[:, j]) & np.isfinite(times), times, 2):
            into[run, j] = np.gradient(flat[run, j], times[run])
    return out


def _rms(values: NDArray[np.float64]) -> float:
    return float(np.sqrt(np.mean(values**2)))
