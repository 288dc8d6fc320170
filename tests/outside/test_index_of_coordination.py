"""The index of coordination: a worked example by hand, an identity, and published figures.

Names and signs: Seifert, Boulesteix & Chollet 2004, Int J Sports Med 25:217-223 (abstract read): catch-up below zero,
opposition at zero, superposition above. The worked example is made up and follows by hand arithmetic.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "stroke"))

from made_strokes import CYCLE, EXAMPLE, train

from casebook.stroke.coordination import coordination, difference, kind, variability_pct
from casebook.stroke.phases import phases


@pytest.mark.parametrize(
    ("delay", "to_left", "to_right"),
    [
        # (end of the right arm 0.88 - start of the left 0.36 + delay) / 1.20, and the other way round.
        (0.60, -6.667, -6.667),
        (0.64, -10.0, -3.333),
    ],
)
def test_a_worked_example_by_hand(delay, to_left, to_right):
    right, left = train("r", 4, CYCLE, EXAMPLE), train("l", 4, CYCLE, EXAMPLE, delay)
    got = coordination(left, right)
    np.testing.assert_allclose(phases(right).percent[0], [30.0, 20.0, 23.333, 26.667, 43.333], atol=5e-4)
    assert got.one_sided("l") == pytest.approx(to_left, abs=5e-4)
    assert got.one_sided("r") == pytest.approx(to_right, abs=5e-4)
    assert got.index_pct == pytest.approx(-6.667, abs=5e-4)
    assert kind(got.index_pct - 1, got.index_pct + 1) == "catch-up"


@given(
    cycle=st.floats(0.9, 3.0),
    shares=st.lists(
        st.tuples(st.floats(0.15, 0.45), st.floats(0.1, 0.25), st.floats(0.1, 0.25)), min_size=2, max_size=2
    ),
    phase=st.floats(0.42, 0.58),
)
@settings(max_examples=150, deadline=None)
def test_for_equal_cycles_the_index_is_the_mean_propulsive_share_less_half_whatever_the_phase(cycle, shares, phase):
    """Identity: adding both hand-overs of a cycle leaves both propulsive times less one cycle."""
    parts = [np.cumsum(share) * cycle for share in shares]
    right, left = train("r", 5, cycle, parts[0]), train("l", 5, cycle, parts[1], phase * cycle)
    lags = [parts[0][2] - phase * cycle - parts[1][0], parts[1][2] + phase * cycle - parts[0][0] - cycle]
    if max(map(abs, lags)) >= 0.45 * cycle:
        return
    got = coordination(left, right)
    propulsive = [phases(arm).propulsive_pct.mean() for arm in (right, left)]
    assert got.index_pct == pytest.approx(sum(propulsive) / 2 - 50, abs=1e-6)


@pytest.mark.parametrize(
    ("index", "propulsive", "name"),
    [
        # Mean index of 14 elite men and 10 elite women at top speed, same source; the share by the identity above.
        (2.57, 52.57, "superposition"),
        (-3.88, 46.12, "catch-up"),
    ],
)
def test_published_means_fit_the_identity_and_the_names(index, propulsive, name):
    push = propulsive / 100
    arm = (0.3, 0.3 + push / 2, 0.3 + push)
    got = coordination(train("l", 4, 1.0, arm, 0.5), train("r", 4, 1.0, arm))
    assert got.index_pct == pytest.approx(index, abs=1e-6)
    assert kind(got.index_pct - 0.1, got.index_pct + 0.1) == name


def test_the_index_error_is_that_of_many_noisy_cycles():
    rng = np.random.default_rng(8)
    sigma = 0.012

    def once():
        arms = [train(s, 4, CYCLE, EXAMPLE, d, sigma, rng) for s, d in (("l", 0.6), ("r", 0.0))]
        return coordination(*arms).index_pct

    clean = coordination(train("l", 4, CYCLE, EXAMPLE, 0.6, sigma), train("r", 4, CYCLE, EXAMPLE, 0.0, sigma))
    assert np.std([once() for _ in range(1500)]) == pytest.approx(clean.sigma_pct, rel=0.12)


def test_left_against_right_has_welchs_interval():
    scipy_stats = pytest.importorskip("scipy.stats")
    rng = np.random.default_rng(1)
    a, b = rng.normal(-6, 2, 5), rng.normal(-9, 1, 8)
    gap, low, high = difference(a, b)
    outside = scipy_stats.ttest_ind(a, b, equal_var=False).confidence_interval(0.95)
    assert (gap, low, high) == pytest.approx((a.mean() - b.mean(), outside.low, outside.high))
    assert np.isnan(difference([1.0], [2.0, 3.0])[1])


def test_strokes_vary_by_their_standard_deviation_over_their_mean():
    assert variability_pct([9.0, 10.0, 11.0]) == pytest.approx(10.0)
    assert np.isnan(variability_pct([1.0]))
