"""The one search behind every event: signals written out by hand, places that follow by hand."""

from __future__ import annotations

import numpy as np
import pytest

from casebook.stroke.moment import half_frame
from casebook.stroke.search import first_crossing, last_crossing


def test_the_change_is_placed_between_two_samples_by_a_straight_line():
    assert first_crossing([-3.0, -1.0, 3.0, 5.0]) == pytest.approx(1.25)


def test_a_change_that_does_not_last_is_passed_over():
    signal = [-1.0, 1.0, -1.0, -1.0, 3.0, 3.0, 3.0]
    assert first_crossing(signal, hold=1) == pytest.approx(0.5)
    assert first_crossing(signal, hold=3) == pytest.approx(3.25)
    assert np.isnan(first_crossing(signal, hold=4))


def test_a_signal_already_beyond_does_not_change():
    assert np.isnan(first_crossing([1.0, 2.0, 3.0]))


def test_an_unknown_sample_neither_starts_nor_sustains_a_change():
    nan = np.nan
    assert np.isnan(first_crossing([-1.0, nan, 1.0]))
    assert np.isnan(first_crossing([-1.0, 1.0, nan, 1.0], hold=2))
    assert first_crossing([-1.0, 1.0, nan, 1.0], hold=1) == pytest.approx(0.5)


def test_nothing_is_found_in_one_sample_or_none():
    assert np.isnan(first_crossing([1.0]))
    assert np.isnan(first_crossing([]))


def test_a_batch_gives_what_a_loop_gives():
    rng = np.random.default_rng(3)
    signals = np.cumsum(rng.normal(0.3, 1, (4, 50, 30)), -1) - 4
    loop = np.array([[first_crossing(s, hold=3) for s in row] for row in signals])
    np.testing.assert_array_equal(first_crossing(signals, hold=3), loop)
    assert np.isfinite(loop).mean() > 0.5


def test_the_last_crossing_is_the_one_after_which_nothing_turns_back():
    assert last_crossing([-1.0, 1.0, -1.0, -1.0, 3.0, 3.0]) == pytest.approx(3.25)
    assert np.isnan(last_crossing([-1.0, 1.0, -1.0]))
    assert np.isnan(last_crossing([1.0, 1.0]))


def test_no_instant_is_surer_than_half_its_frame():
    times = [0.0, 0.01, 0.05, 0.06]
    assert half_frame(times, 0.5) == pytest.approx(0.005)
    assert half_frame(times, 1.9) == pytest.approx(0.02)
    assert half_frame(times, 3.0) == pytest.approx(0.005)
    assert np.isnan(half_frame(times, np.nan))
