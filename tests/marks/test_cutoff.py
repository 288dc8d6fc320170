"""How much to smooth: residual analysis and the smoothing spline, on own signals whose truth is known."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import make_smoothing_spline
from scipy.signal import butter, filtfilt

from casebook.errors import CasebookError
from casebook.marks.cutoff import LEAST_SAMPLES, cutoff_by_residual, is_even, smoothed, smoothing_spline
from casebook.marks.smooth import butterworth

FS = 60.0
TIMES = np.arange(480) / FS
UNEVEN = np.cumsum(np.random.default_rng(5).uniform(0.6, 1.4, 480)) / FS


def stroke(t, derivative: int = 0):
    """A path of arm-like content: 0.8 Hz with three overtones; or its 1st or 2nd derivative, worked out on paper."""
    out = np.zeros_like(t)
    for k, (height, phase) in enumerate([(100, 0.0), (30, 0.7), (8, 1.9), (2, 0.3)], 1):
        w = 2 * np.pi * 0.8 * k
        out += height * w**derivative * np.sin(w * t + phase + derivative * np.pi / 2)
    return out


def noisy(times, sigma, seed=0):
    return stroke(times) + np.random.default_rng(seed).normal(0, sigma, len(times))


@pytest.mark.parametrize("sigma", [0.5, 2.0, 5.0])
@pytest.mark.parametrize("seed", range(4))
def test_the_noise_of_a_path_is_found(sigma, seed):
    assert cutoff_by_residual(noisy(TIMES, sigma, seed), TIMES).noise == pytest.approx(sigma, rel=0.15)


@pytest.mark.parametrize("sigma", [0.5, 2.0, 5.0])
@pytest.mark.parametrize("seed", range(4))
def test_the_cut_off_found_is_nearly_the_best_there_is(sigma, seed):
    """The best is known here, since the path without noise is. Above the best, errors grow slowly with the cut-off."""
    path, truth = noisy(TIMES, sigma, seed), stroke(TIMES)
    off = {hz: np.sqrt(np.mean((butterworth(path, TIMES, hz) - truth)[30:-30] ** 2)) for hz in np.arange(1, 15, 0.25)}
    found = cutoff_by_residual(path, TIMES).hz
    mine = np.sqrt(np.mean((butterworth(path, TIMES, found) - truth)[30:-30] ** 2))
    assert mine < 1.6 * min(off.values())
    assert mine < 0.75 * sigma


def test_more_noise_asks_for_a_lower_cut_off():
    low, high = (np.mean([cutoff_by_residual(noisy(TIMES, s, k), TIMES).hz for k in range(5)]) for s in (5.0, 0.3))
    assert low < high


def test_both_coordinates_are_judged_together_and_the_longest_run_counts():
    xy = np.stack([noisy(TIMES, 2.0, 1), noisy(TIMES, 2.0, 2)], -1)
    whole = cutoff_by_residual(xy[100:400], TIMES[100:400])
    xy[50:100], xy[400:420] = np.nan, np.nan
    parted = cutoff_by_residual(xy, TIMES)
    assert parted.hz == whole.hz and parted.noise == pytest.approx(2.0, rel=0.15)


def test_a_path_too_short_or_empty_has_no_cut_off():
    for path in (noisy(TIMES, 1.0)[: LEAST_SAMPLES - 1], np.full(60, np.nan)):
        found = cutoff_by_residual(path, TIMES[: len(path)])
        assert np.isnan(found.hz) and np.isnan(found.noise)


def test_uneven_times_are_refused_by_residual_analysis():
    assert not is_even(UNEVEN) and is_even(TIMES)
    with pytest.raises(CasebookError, match="not sampled evenly"):
        cutoff_by_residual(stroke(UNEVEN), UNEVEN)


def test_the_spline_is_that_of_a_general_library():
    # Source: scipy.interpolate.make_smoothing_spline, generalised cross-validation, in steps and spreads of the path.
    path = noisy(UNEVEN, 2.0)
    step, spread = (UNEVEN[-1] - UNEVEN[0]) / 479, path.std()
    x = (UNEVEN - UNEVEN[0]) / step
    expected = make_smoothing_spline(x, (path - path.mean()) / spread)(x) * spread + path.mean()
    np.testing.assert_allclose(smoothing_spline(path, UNEVEN), expected, atol=1e-9)


@pytest.mark.parametrize("times", [TIMES, UNEVEN], ids=["even", "uneven"])
@pytest.mark.parametrize(("derivative", "share"), [(0, 0.02), (1, 0.06), (2, 0.2)])
def test_derivatives_of_a_known_path(times, derivative, share):
    """Error against the derivatives on paper, as a share of their own size, away from the ends."""
    found, truth = smoothed(noisy(times, 1.0), times, derivative), stroke(times, derivative)
    inner = slice(30, -30)
    assert np.std((found - truth)[inner]) < share * np.std(truth[inner])


def test_smoothing_by_spline_is_nearer_to_the_truth_than_the_marks():
    path, truth = noisy(UNEVEN, 2.0), stroke(UNEVEN)
    assert np.std(smoothing_spline(path, UNEVEN) - truth) < 0.6 * 2.0


@pytest.mark.parametrize("times", [TIMES, UNEVEN], ids=["even", "uneven"])
@pytest.mark.parametrize("derivative", [0, 1, 2])
def test_gaps_stay_gaps_and_touch_nothing_beside_them(times, derivative):
    path = np.stack([noisy(times, 1.0, 1), noisy(times, 1.0, 2)], -1)
    path[200:205, 0], path[333, 1] = np.nan, np.nan
    out = smoothed(path, times, derivative)
    np.testing.assert_array_equal(np.isnan(out), np.isnan(path))
    if times is UNEVEN:
        alone = smoothing_spline(path[:200, 0], times[:200], derivative)
        np.testing.assert_allclose(out[:200, 0], alone, rtol=1e-6, atol=1e-6)


def test_runs_too_short_for_a_spline_keep_their_places_and_have_no_speed():
    path = noisy(UNEVEN, 1.0)
    path[[10, 14]] = np.nan
    np.testing.assert_array_equal(smoothing_spline(path, UNEVEN)[11:14], path[11:14])
    assert np.isnan(smoothing_spline(path, UNEVEN, 1)[11:14]).all()


def test_nothing_to_smooth_is_nothing():
    assert smoothed(np.zeros((0, 2)), np.zeros(0)).shape == (0, 2)
    assert np.isnan(smoothed(np.full(40, np.nan), TIMES[:40])).all()
    assert np.isnan(smoothed(stroke(TIMES[:40]), np.full(40, np.nan), 1)).all()


@settings(max_examples=25, deadline=None)
@given(
    st.floats(-1e4, 1e4), st.floats(-500, 500), st.floats(0.1, 1e3), st.integers(0, 2), st.sampled_from(["even", "not"])
)
def test_shifted_tilted_and_stretched_paths_smooth_alike(shift, slope, stretch, derivative, kind):
    """Smoothing is linear up to its choice of how much, and that choice does not hang on place, pace or unit."""
    times = TIMES[:120] if kind == "even" else UNEVEN[:120]
    path = noisy(times, 1.0)
    plain = smoothing_spline(path, times, derivative)
    # A path's own spread sets the range in which stiffness is looked for; hence the loose bound.
    moved = smoothing_spline(stretch * path + shift, times, derivative)
    np.testing.assert_allclose(
        moved, stretch * plain + (shift if derivative == 0 else 0), rtol=1e-3, atol=1e-2 * stretch
    )
    line = (
        butterworth(shift + slope * times, times) if kind == "even" else smoothing_spline(shift + slope * times, times)
    )
    np.testing.assert_allclose(line, shift + slope * times, rtol=1e-5, atol=1e-2)


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10_000), st.floats(0.2, 5.0))
def test_cut_offs_do_not_hang_on_place_or_unit(seed, stretch):
    path = noisy(TIMES, 2.0, seed)
    plain, moved = cutoff_by_residual(path, TIMES), cutoff_by_residual(stretch * path + 300.0, TIMES)
    assert moved.hz == pytest.approx(plain.hz, rel=1e-3) and moved.noise == pytest.approx(
        stretch * plain.noise, rel=1e-3
    )


# ---- a published benchmark, where a developer has it -----------------------------------------------------------------


@pytest.fixture(scope="module")
def pezzack():
    """Angle [rad], noisy angle [rad], measured acceleration [rad/s2] over time.

    Source: Pezzack, Norman, Winter (1977), J Biomech 10:377-382, with the noisy column of Vint & Hinrichs (1996),
    J Biomech 29:1637-1642. The table is its publisher's and is not shipped: put its path into CASEBOOK_PEZZACK.
    """
    path = Path(os.environ.get("CASEBOOK_PEZZACK", ""))
    if not path.is_file():
        pytest.skip("CASEBOOK_PEZZACK does not name the file of Pezzack's benchmark, which is not shipped.")
    rows = [line.replace(",", " ").split() for line in path.read_text("utf-8", errors="replace").splitlines()]
    table = np.array([[float(v) for v in row[:4]] for row in rows if len(row) >= 4 and _is_number(row[0])])
    return table.T


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True


def test_pezzacks_acceleration_by_the_published_recipe(pezzack):
    # Values recomputed from that table by butter(2, (6 / 0.802) / (fs / 2)), filtfilt, second differences: 4.17 rad/s2
    # root mean square for the clean angle, 4.81 for the noisy one.
    times, clean, noisy_angle, truth = pezzack
    rate = 49.7512
    b, a = butter(2, (6 / 0.802) / (rate / 2))
    for angle, expected in ((clean, 4.17), (noisy_angle, 4.81)):
        found = np.diff(filtfilt(b, a, angle), 2) * rate**2
        assert np.sqrt(np.mean((found - truth[1:-1]) ** 2)) == pytest.approx(expected, abs=0.02)
        mine = np.diff(butterworth(angle, times, 6.0), 2) * rate**2
        assert np.sqrt(np.mean((mine - truth[1:-1]) ** 2)) < 1.15 * expected


def test_pezzacks_acceleration_by_own_choice_of_how_much(pezzack):
    # Unfiltered, the clean angle misses by 10.92 rad/s2.
    times, _, noisy_angle, truth = pezzack
    found = smoothed(noisy_angle, times, 2)
    assert np.sqrt(np.mean((found - truth)[3:-3] ** 2)) < 10.92
