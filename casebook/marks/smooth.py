"""Smoothing of marked paths: a low-pass Butterworth filter run forward and backward, gaps left as gaps.

References
----------
.. [1] Robertson DGE, Dowling JJ (2003). Design and responses of Butterworth and critically damped digital filters.
   J Electromyogr Kinesiol 13:569-573: the correction for several passes, applied to the warped angular cut-off.
.. [2] Vezos N et al. (2007). J Sports Sci Med 6:58-62: paths of ten swimmers, marked at 60 Hz, smoothed at 6 Hz.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from casebook.errors import CasebookError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

#: Cut-off that has been used for marked paths of swimmers [2]_. [Hz]
SWIMMER_CUTOFF_HZ = 6.0
#: A step longer than this many usual steps is a gap in time: frames were dropped there.
_DROPPED = 1.5
#: Steps that differ from the mean by more than this share are filtered on an even grid and brought back.
UNEVEN = 0.01
#: A run needs more samples than this to be filtered: three lengths of the filter.
PAD = 9
#: Each end is extended by its own point reflection for this many periods of the cut-off, or as far as the run reaches.
_PERIODS = 3.0


def butterworth_coefficients(
    fs: float, cutoff_hz: float, passes: int = 2
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Coefficients of one pass of a second-order low-pass filter, such that all passes together have the cut-off.

    Parameters
    ----------
    fs : float
        Samples per second. [Hz]
    cutoff_hz : float
        Where the amplitude has fallen to 0.7071 after all passes. Above 0 and under fs / 2. [Hz]
    passes : int
        How often the filter will be run; 2 for forward and backward.

    Returns
    -------
    b, a : (3,) float arrays
        ``a[0] y[i] = b[0] x[i] + b[1] x[i-1] + b[2] x[i-2] - a[1] y[i-1] - a[2] y[i-2]``, with ``a[0] = 1``.

    Notes
    -----
    The warped angular cut-off ``tan(pi fc / fs)`` is divided by ``C = (2**(1/passes) - 1)**(1/4)`` [1]_. Dividing
    ``fc`` itself, as is also seen, leaves 0.723 at 6 Hz of 60 Hz in place of 0.7071.
    """
    if passes < 1:
        raise CasebookError(f"A filter cannot run {passes} times.", "Use 1, or 2 for forward and backward.")
    if not (np.isfinite(fs) and 0 < cutoff_hz < fs / 2):
        raise CasebookError(
            f"A cut-off of {cutoff_hz:g} Hz does not fit {fs:g} pictures per second.",
            f"Choose one above 0 and under {fs / 2:g} Hz.",
        )
    omega = np.tan(np.pi * cutoff_hz / fs) / (2.0 ** (1 / passes) - 1) ** 0.25
    k1, k2 = np.sqrt(2) * omega, omega**2
    b0 = k2 / (1 + k1 + k2)
    k3 = 2 * b0 / k2
    return np.array([b0, 2 * b0, b0]), np.array([1.0, 2 * b0 - k3, 2 * b0 + k3 - 1])


def butterworth(
    values: ArrayLike, times: ArrayLike, cutoff_hz: float = SWIMMER_CUTOFF_HZ, passes: int = 2
) -> NDArray[np.float64]:
    """Smooth paths over time, without lag and without filling a gap.

    Parameters
    ----------
    values : (N, ...) float array
        One or more series along the first axis, NaN where unmarked. Each series has its own gaps.
    times : (N,) float array
        Real time of each sample, increasing; NaN where it is not known. [s]
    cutoff_hz : float
        Cut-off of all passes together. [Hz]
    passes : int
        1 runs forward only and lags; an even number runs forward and backward in turn and does not.

    Returns
    -------
    (N, ...) float array
        NaN exactly where ``values`` is NaN. Each run between gaps is filtered by itself. Runs of up to ``PAD`` samples,
        and samples without a time, are too little to filter and come back as they were.

    Notes
    -----
    A run also ends where frames were dropped (a step over 1.5 usual steps). Within a run whose steps differ by over
    1 %, as phones record them, a cubic spline takes the samples to an even grid and the smoothed ones back. Smoothing
    shrinks peaks: read extremes from it with that in mind.
    """
    if passes != 1 and passes % 2:
        raise CasebookError(f"A filter cannot run {passes} times.", "Use 1, or an even number.")
    series, when = np.array(values, float, order="C"), np.asarray(times, float)
    if when.shape != series.shape[:1]:
        raise CasebookError(f"Values of shape {series.shape} were handed times of shape {when.shape}.")
    if not series.size:
        return series
    flat = series.reshape(len(series), -1)
    for column in flat.T:
        for run in runs_of(np.isfinite(column) & np.isfinite(when), when):
            column[run] = _smooth_run(column[run], when[run], cutoff_hz, passes)
    return series


def runs_of(good: NDArray[np.bool_], times: NDArray[np.float64], least: int = PAD + 1) -> list[slice]:
    """Stretches of at least ``least`` good samples without a gap, frames dropped by the camera included.

    Raises CasebookError if times do not increase.
    """
    steps = np.diff(times)
    if (steps <= 0).any():
        raise CasebookError("Times of a path must increase.")
    usual = float(np.nanmedian(steps)) if np.isfinite(steps).any() else np.nan
    joined = good[:-1] & good[1:] & (steps <= _DROPPED * usual)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], joined, [False]]).astype(np.int8)))
    return [slice(a, b + 1) for a, b in zip(edges[::2], edges[1::2], strict=True) if b + 1 - a >= least]


def _smooth_run(
    values: NDArray[np.float64], times: NDArray[np.float64], cutoff_hz: float, passes: int
) -> NDArray[np.float64]:
    from scipy.interpolate import CubicSpline

    even = np.linspace(times[0], times[-1], len(times))
    step = even[1] - even[0]
    b, a = butterworth_coefficients(1 / step, cutoff_hz, passes)
    reach = int(min(len(values) - 1, max(PAD, _PERIODS / (cutoff_hz * step))))
    if np.abs(np.diff(times) - step).max() <= UNEVEN * step:
        return _filter(values, b, a, passes, reach)
    return CubicSpline(even, _filter(CubicSpline(times, values)(even), b, a, passes, reach))(times)


def _filter(
    values: NDArray[np.float64], b: NDArray[np.float64], a: NDArray[np.float64], passes: int, reach: int
) -> NDArray[np.float64]:
    from scipy.signal import filtfilt, lfilter, lfilter_zi

    if passes == 1:
        return lfilter(b, a, values, zi=lfilter_zi(b, a) * values[0])[0]
    for _ in range(passes // 2):
        values = filtfilt(b, a, values, padlen=reach)
    return values
