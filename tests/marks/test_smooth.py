"""Smoothing against a published recipe, a general library, and hand-made paths."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import signal

from casebook.errors import CasebookError
from casebook.marks.smooth import PAD, SWIMMER_CUTOFF_HZ, butterworth, butterworth_coefficients

FS = 60.0


def sine(hz: float, seconds: float = 8.0, fs: float = FS) -> tuple[np.ndarray, np.ndarray]:
    times = np.arange(int(seconds * fs)) / fs
    return np.sin(2 * np.pi * hz * times), times


def amplitude(values: np.ndarray, times: np.ndarray, hz: float) -> float:
    """Amplitude at one frequency by least squares, without the first and last second."""
    inner = (times > times[0] + 1) & (times < times[-1] - 1)
    phase = 2 * np.pi * hz * times[inner]
    design = np.stack([np.sin(phase), np.cos(phase), np.ones_like(phase)], -1)
    return float(np.hypot(*np.linalg.lstsq(design, values[inner], rcond=None)[0][:2]))


@pytest.mark.parametrize(
    ("fs", "cutoff", "passes", "a0", "a1", "b1", "b2"),
    [
        (60, 6, 1, 0.067455, 0.134911, 1.142981, -0.412802),
        (60, 6, 2, 0.094447, 0.188893, 0.962641, -0.340428),
        (50, 6, 2, 0.125452, 0.250905, 0.779216, -0.281026),
    ],
)
def test_coefficients_match_the_handbook_recipe(fs, cutoff, passes, a0, a1, b1, b2):
    # Source: DA Winter, Biomechanics and Motor Control of Human Movement (2009), the low-pass recipe with the
    # correction of Robertson & Dowling (2003), J Electromyogr Kinesiol 13:569-573; numbers worked out by that formula
    # apart from this library and printed to 6 decimals.
    b, a = butterworth_coefficients(fs, cutoff, passes)
    np.testing.assert_allclose(b, [a0, a1, a0], atol=1e-6)
    np.testing.assert_allclose(a, [1, -b1, -b2], atol=1e-6)


@pytest.mark.parametrize("fs", [25, 50, 60, 240])
@pytest.mark.parametrize("cutoff", [2.0, 6.0, 11.0])
def test_one_pass_is_the_second_order_filter_of_a_general_library(fs, cutoff):
    # Source: scipy.signal.butter.
    b, a = signal.butter(2, cutoff, fs=fs)
    np.testing.assert_allclose(np.concatenate(butterworth_coefficients(fs, cutoff, 1)), [*b, *a], atol=1e-12)


@pytest.mark.parametrize(("fs", "single"), [(60, 7.3495), (50, 7.2965)])
def test_one_of_two_passes_is_the_general_library_at_the_effective_cut_off(fs, single):
    # Source: scipy.signal.butter; effective cut-off of a single pass by the formula above, to 4 decimals.
    b, a = signal.butter(2, single, fs=fs)
    np.testing.assert_allclose(np.concatenate(butterworth_coefficients(fs, 6, 2)), [*b, *a], atol=2e-5)


def test_the_correction_for_two_passes_is_the_published_factor():
    # Source: C = (sqrt(2) - 1) ** (1/4) = 0.802243, Robertson & Dowling (2003).
    def omega(passes):
        b, _ = butterworth_coefficients(60, 6, passes)
        # b0 = w^2 / (1 + sqrt(2) w + w^2), solved for w.
        return np.max(np.roots([b[0] - 1, b[0] * np.sqrt(2), b[0]]).real)

    assert omega(1) / omega(2) == pytest.approx(0.802243, abs=1e-6)


@pytest.mark.parametrize("passes", [1, 2, 4])
@pytest.mark.parametrize(("fs", "cutoff"), [(60.0, 6.0), (50.0, 9.0), (240.0, 6.0)])
def test_all_passes_together_leave_the_root_of_a_half_at_the_cut_off(fs, cutoff, passes):
    # Source: the definition of a cut-off, amplitude 1/sqrt(2) = 0.70711. Dividing the cut-off in Hz by C instead, as is
    # also seen, would leave 0.723 at 6 of 60 Hz and 0.764 at 9 of 50 Hz.
    values, times = sine(cutoff, fs=fs)
    smooth = butterworth(values, times, cutoff, passes)
    assert amplitude(smooth, times, cutoff) == pytest.approx(np.sqrt(0.5), abs=2e-5)


def test_slow_motion_passes_and_trembling_does_not():
    slow, times = sine(0.8)
    fast, _ = sine(24.0)
    smooth = butterworth(slow + fast, times, SWIMMER_CUTOFF_HZ)
    assert amplitude(smooth, times, 0.8) == pytest.approx(1, abs=1e-3)
    assert amplitude(smooth, times, 24.0) < 0.01


def test_two_passes_do_not_lag_and_one_does():
    values, times = sine(1.0)
    inner = slice(120, -120)

    def lag(passes):
        smooth = butterworth(values, times, 6.0, passes)
        shifts = np.arange(-6, 7)
        return shifts[np.argmax([np.dot(np.roll(values, s)[inner], smooth[inner]) for s in shifts])]

    assert lag(2) == 0 and lag(1) > 0


@pytest.mark.parametrize("passes", [1, 2])
def test_a_resting_point_stays_where_it_is(passes):
    np.testing.assert_allclose(butterworth(np.full(50, 312.5), np.arange(50) / 60, 6.0, passes), 312.5, rtol=1e-12)


def test_a_straight_path_stays_straight_to_its_ends():
    times = np.arange(60) / 60
    np.testing.assert_allclose(butterworth(3 + 200 * times, times, 6.0), 3 + 200 * times, atol=1e-5)


def test_gaps_stay_gaps_and_do_not_touch_the_runs_beside_them():
    values, times = sine(1.0, 3.0)
    values += np.random.default_rng(0).normal(0, 0.1, len(values))
    holed = values.copy()
    holed[60:63] = np.nan
    smooth = butterworth(holed, times, 6.0)
    np.testing.assert_array_equal(np.isnan(smooth), np.isnan(holed))
    np.testing.assert_allclose(smooth[:60], butterworth(values[:60], times[:60], 6.0))
    np.testing.assert_allclose(smooth[63:], butterworth(values[63:], times[63:], 6.0))


def test_runs_too_short_to_filter_come_back_as_they_were():
    values = np.random.default_rng(1).normal(0, 1, 60)
    values[[20, 20 + PAD + 1, 50]] = np.nan
    smooth = butterworth(values, np.arange(60) / 60, 6.0)
    np.testing.assert_array_equal(smooth[21 : 21 + PAD], values[21 : 21 + PAD])
    np.testing.assert_array_equal(smooth[51:], values[51:])
    assert (smooth[:20] != values[:20]).all()


def test_each_series_has_its_own_gaps_whatever_the_memory_order():
    values = np.random.default_rng(2).normal(0, 1, (80, 3, 2))
    values[10:14, 1] = np.nan
    values[40, 2, 0] = np.nan
    times = np.arange(80) / 60
    one_by_one = np.stack(
        [np.stack([butterworth(values[:, j, k], times, 6.0) for k in range(2)], -1) for j in range(3)], 1
    )
    np.testing.assert_array_equal(butterworth(values, times, 6.0), one_by_one)
    np.testing.assert_array_equal(butterworth(np.asfortranarray(values), times, 6.0), one_by_one)


def test_the_input_is_left_alone():
    values, times = sine(20.0, 1.0)
    before = values.copy()
    butterworth(values, times, 6.0)
    np.testing.assert_array_equal(values, before)


def test_dropped_frames_end_a_run_as_a_gap_does():
    values, times = sine(1.0, 3.0)
    values += np.random.default_rng(3).normal(0, 0.1, len(values))
    late = np.where(np.arange(len(times)) >= 90, times + 2 / FS, times)
    smooth = butterworth(values, late, 6.0)
    np.testing.assert_allclose(smooth[:90], butterworth(values[:90], times[:90], 6.0))
    np.testing.assert_allclose(smooth[90:], butterworth(values[90:], times[90:], 6.0))


def test_uneven_steps_of_a_phone_are_taken_at_their_own_times():
    # A path known at any time, seen at steps that waver by a fifth: read as if even, it would be off by up to 0.03.
    _, even = sine(1.0, 4.0)
    times = even + np.random.default_rng(4).uniform(-0.1, 0.1, len(even)) / FS
    path = np.sin(2 * np.pi * times)
    smooth, as_even = butterworth(path, times, 6.0), butterworth(path, even, 6.0)
    ideal = butterworth(np.sin(2 * np.pi * even), even, 6.0)
    inner = slice(30, -30)
    honest = np.abs(smooth - np.interp(times, even, ideal))[inner].max()
    assert honest < 0.002 < 0.005 < np.abs(as_even - np.interp(times, even, ideal))[inner].max()


def test_samples_of_unknown_time_come_back_as_they_were():
    values, times = sine(20.0, 2.0)
    times[60:] = np.nan
    smooth = butterworth(values, times, 6.0)
    np.testing.assert_array_equal(smooth[60:], values[60:])
    assert np.abs(smooth[20:40]).max() < 0.1


def test_nothing_to_smooth_is_nothing():
    assert butterworth(np.zeros((0, 2)), np.zeros(0), 6.0).shape == (0, 2)
    assert np.isnan(butterworth(np.full(30, np.nan), np.arange(30) / 60, 6.0)).all()


@pytest.mark.parametrize(
    "act",
    [
        lambda: butterworth_coefficients(60, 30.0),
        lambda: butterworth_coefficients(60, 0.0),
        lambda: butterworth_coefficients(60, float("nan")),
        lambda: butterworth_coefficients(0, 6.0),
        lambda: butterworth_coefficients(60, 6.0, 0),
        lambda: butterworth(np.zeros(30), np.arange(30) / 60, 6.0, 3),
        lambda: butterworth(np.zeros(30), np.arange(29) / 60, 6.0),
        lambda: butterworth(np.zeros(30), -np.arange(30) / 60, 6.0),
        lambda: butterworth(np.zeros(30), np.arange(30) / 10, 6.0),
    ],
)
def test_what_cannot_be_filtered_is_refused_with_a_sentence(act):
    with pytest.raises(CasebookError):
        act()
