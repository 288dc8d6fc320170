"""Error propagation: derivatives against closed forms, correlated marks, intervals."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from casebook.plane.propagate import (
    block_covariance,
    first_order,
    interval95,
    jacobian,
    t95,
    track_covariance,
)


def test_jacobian_of_a_curved_map_matches_its_closed_form():
    def f(x):
        return np.stack([x[:, 0] * x[:, 1], np.sin(x[:, 2]), np.exp(x[:, 0] / 100)], -1)

    x = np.array([300.0, -2.0, 0.3])
    expected = [[-2, 300, 0], [0, 0, np.cos(0.3)], [np.exp(3) / 100, 0, 0]]
    np.testing.assert_allclose(jacobian(f, x), expected, rtol=1e-8, atol=1e-9)


def test_jacobian_asks_for_all_its_points_at_once():
    calls = []

    def f(x):
        calls.append(x.shape)
        return x.sum(1)

    np.testing.assert_allclose(jacobian(f, np.ones(5)), np.ones((1, 5)))
    assert calls == [(10, 5)]


def test_jacobian_takes_own_steps_and_leaves_missing_results_missing():
    def f(x):
        return np.stack([x[:, 0] ** 3, np.full(len(x), np.nan)], -1)

    jac = jacobian(f, [2.0], step=[0.1])
    assert jac[0, 0] == pytest.approx(12.01)
    assert np.isnan(jac[1, 0])


def test_first_order_takes_variances_or_a_matrix_and_batches():
    jac = np.random.default_rng(0).normal(size=(4, 2, 3))
    variances = np.array([1.0, 4.0, 9.0])
    np.testing.assert_allclose(first_order(jac, variances), first_order(jac, np.diag(variances)))
    np.testing.assert_allclose(first_order(jac[1], variances), jac[1] @ np.diag(variances) @ jac[1].T)


def test_independent_blocks_stand_on_the_diagonal():
    out = block_covariance([[1, 0.5], [0.5, 2]], 3.0)
    np.testing.assert_array_equal(out, [[1, 0.5, 0], [0.5, 2, 0], [0, 0, 3]])


def test_interval_is_normal_or_students():
    np.testing.assert_allclose(interval95(10.0, 2.0), (10 - 3.919928, 10 + 3.919928), atol=1e-6)
    low, high = interval95([10.0, 0.0], [2.0, 1.0], [1, np.inf])
    np.testing.assert_allclose(high - [10, 0], [2 * 12.7062, 1.959964], atol=1e-4)
    np.testing.assert_allclose(low, [20, 0] - high)
    assert np.isnan(t95(0))


@given(st.integers(1, 200))
def test_students_t_falls_toward_the_normal(dof):
    assert 1.96 < t95(dof + 1) < t95(dof)


def spread(by_hand: list[bool], clock: list[float], sigma: float = 2.0) -> np.ndarray:
    """Covariance (K, K) of one point's marks."""
    return track_covariance(np.full((len(clock), 1), sigma), np.array(by_hand)[:, None], clock)[0]


def test_hand_marks_are_independent():
    np.testing.assert_array_equal(spread([True] * 4, [0.0, 0.1, 0.2, 0.3]), 4 * np.eye(4))


def test_tracked_marks_share_their_error_for_a_while():
    """Correlation falls to 1/e in a quarter of a second: by hand."""
    cov = spread([False] * 3, [0.0, 0.25, 1.0])
    np.testing.assert_allclose(cov[0], 4 * np.exp([0.0, -1.0, -4.0]))
    mixed = spread([False, True, False], [0.0, 0.1, 0.2])
    np.testing.assert_allclose(mixed[1], [0, 4, 0])
    assert mixed[0, 2] > 0


def test_a_mark_that_is_not_there_adds_nothing():
    cov = track_covariance([[2.0], [np.nan]], [[False], [False]], [0.0, 0.1])
    np.testing.assert_array_equal(cov[0], [[4, 0], [0, 0]])


def test_mean_over_a_track_keeps_its_error_and_over_hand_marks_loses_it():
    clock = list(np.arange(9) / 60)
    mean = np.full(9, 1 / 9)
    assert np.sqrt(mean @ spread([True] * 9, clock) @ mean) == pytest.approx(2 / 3)
    assert np.sqrt(mean @ spread([False] * 9, clock) @ mean) > 1.8


@given(st.lists(st.booleans(), min_size=1, max_size=12))
def test_covariance_of_any_marks_is_a_covariance(by_hand):
    cov = spread(by_hand, list(np.arange(len(by_hand)) / 30))
    np.testing.assert_array_equal(cov, cov.T)
    assert np.linalg.eigvalsh(cov).min() > -1e-9
