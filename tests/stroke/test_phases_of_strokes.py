"""Phases of strokes written down by their instants; shares and errors follow by hand."""

from __future__ import annotations

import numpy as np
import pytest
from made_strokes import CYCLE, EXAMPLE, stroke, train

from casebook.errors import CasebookError
from casebook.stroke.phases import PHASES, phases


def test_four_phases_fill_the_stroke_and_pull_and_push_are_the_propulsive_share():
    got = phases(train("r", 3, CYCLE, EXAMPLE))
    np.testing.assert_allclose(got.seconds, np.tile([0.36, 0.24, 0.28, 0.32], (3, 1)))
    np.testing.assert_allclose(got.percent[:, :4].sum(1), 100)
    np.testing.assert_allclose(got.propulsive_pct, got.percent[:, 1] + got.percent[:, 2])
    assert list(PHASES) == ["entry", "pull", "push", "recovery"]


def test_a_missing_event_takes_only_the_phases_beside_it():
    times = {"entry": 0.0, "past_body": 0.36, "exit": 0.88}
    got = phases([stroke("r", 1, times, 1.2)])
    assert np.isfinite(got.percent[0]).tolist() == [True, False, False, True, True]


def test_without_the_next_entry_there_are_seconds_and_no_shares():
    times = {"entry": 0.0, "past_body": 0.36, "shoulder": 0.6, "exit": 0.88}
    got = phases([stroke("r", 1, times)])
    assert np.isfinite(got.seconds[0]).tolist() == [True, True, True, False]
    assert np.isnan(got.percent).all()


def test_the_pull_begins_against_the_body_or_against_the_water_and_nowhere_else():
    times = {"entry": 0.0, "past_body": 0.30, "catch": 0.50, "shoulder": 0.6, "exit": 0.9}
    one = [stroke("r", 1, times, 1.2)]
    assert phases(one, "past_body").seconds[0, 0] == pytest.approx(0.30)
    assert phases(one, "catch").seconds[0, 0] == pytest.approx(0.50)
    with pytest.raises(CasebookError, match="does not begin"):
        phases(one, "entry")


def test_the_error_of_a_share_is_that_of_many_noisy_strokes():
    rng = np.random.default_rng(2)
    noisy = phases(train("r", 1, CYCLE, EXAMPLE, sigma_s=0.01))
    drawn = np.concatenate([phases(train("r", 1, CYCLE, EXAMPLE, sigma_s=0.01, rng=rng)).percent for _ in range(4000)])
    np.testing.assert_allclose(noisy.percent_sigma[0], drawn.std(0), rtol=0.06)


def test_a_water_line_drawn_wrong_moves_both_entries_alike():
    shared = {"entry": 0.02}
    times = {"entry": 0.0, "past_body": 0.36, "shoulder": 0.6, "exit": 0.88}
    got = phases([stroke("r", 1, times, 1.2, shared=shared, sigma_s=0.03)])
    # Entry and next entry 0.02 s late: entry and catch lose it, the pull loses nothing, recovery gains it.
    np.testing.assert_allclose(got.percent_shared[0], [100 * 0.02 / 1.2, 0, 0, 100 * 0.02 / 1.2, 0], atol=1e-9)
