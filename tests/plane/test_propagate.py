"""Error propagation: derivatives against closed forms, correlated marks, intervals."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from casebook.marks.marks import Marks, Origin
from casebook.plane.propagate import (
    block_covariance,
    first_order,
    interval95,
    jacobian,
    marks_covariance,
    t95,
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


def track(origins: list[list[int]], frames: list[int], sigma: float = 2.0) -> Marks:
    origin = np.array(origins, np.int8)
    xy = np.where((origin > 0)[..., None], 100.0, np.nan) * np.ones(2)
    marks = Marks.from_arrays(("elbow_l", "wrist_l")[: origin.shape[1]], frames, xy, sigma)
    return replace(marks, origin=origin)


def correlations(marks: Marks, **how: float) -> np.ndarray:
    """Correlation of the x of point 0 between frames."""
    cov = marks_covariance(marks, **how)
    f, p = marks.sigma_px.shape
    x = np.arange(f) * p * 2
    s = np.sqrt(np.diag(cov)[x])
    return cov[np.ix_(x, x)] / np.outer(s, s)


def test_hand_marks_are_independent():
    marks = track([[Origin.hand]] * 4, [3, 4, 5, 6])
    np.testing.assert_array_equal(marks_covariance(marks), 4 * np.eye(8))


def test_unbroken_track_shares_one_error():
    t = Origin.tracked
    np.testing.assert_array_equal(correlations(track([[t], [t], [t]], [3, 4, 5])), np.ones((3, 3)))
    np.testing.assert_allclose(correlations(track([[t], [t]], [3, 4]), correlation=0.4), [[1, 0.4], [0.4, 1]])
    confirmed = track([[t], [Origin.confirmed], [t]], [3, 4, 5])
    np.testing.assert_array_equal(correlations(confirmed), np.ones((3, 3)))


@pytest.mark.parametrize(
    ("origins", "frames"),
    [
        ([Origin.tracked, Origin.hand, Origin.tracked], [1, 2, 3]),
        ([Origin.tracked, Origin.unmarked, Origin.tracked], [1, 2, 3]),
        ([Origin.tracked, Origin.tracked], [1, 4]),
    ],
)
def test_track_that_breaks_starts_a_new_error(origins, frames):
    cov = marks_covariance(track([[o] for o in origins], frames))
    np.testing.assert_array_equal(cov, np.diag(np.diag(cov)))


def test_points_and_coordinates_err_apart():
    t = Origin.tracked
    cov = marks_covariance(track([[t, t], [t, t]], [0, 1], sigma=3.0)).reshape(2, 2, 2, 2, 2, 2)
    for p in range(2):
        for c in range(2):
            np.testing.assert_array_equal(cov[:, p, c, :, p, c], 9)
            assert not cov[:, p, c, :, 1 - p].any()
            assert not cov[:, p, c, :, p, 1 - c].any()


def test_mean_over_a_track_keeps_its_error_and_over_hand_marks_loses_it():
    def error_of_mean(origin):
        marks = track([[origin]] * 9, list(range(9)))
        jac = np.tile([1 / 9, 0], 9)[None]
        return np.sqrt(first_order(jac, marks_covariance(marks))[0, 0])

    assert error_of_mean(Origin.hand) == pytest.approx(2 / 3)
    assert error_of_mean(Origin.tracked) == pytest.approx(2)


@given(st.lists(st.sampled_from(list(Origin)), min_size=1, max_size=12), st.floats(0, 1))
def test_covariance_of_any_marks_is_a_covariance(origins, correlation):
    cov = marks_covariance(track([[o] for o in origins], list(range(len(origins)))), correlation)
    np.testing.assert_array_equal(cov, cov.T)
    assert np.linalg.eigvalsh(cov).min() > -1e-9
