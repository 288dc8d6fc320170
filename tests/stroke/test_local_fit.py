"""Parabolas through neighbouring frames."""

from __future__ import annotations

import numpy as np
import pytest

from casebook.stroke.localfit import fit_at, fit_track, weights_at


def parabola(t):
    """Two points on parabolas written out: (K, 2, 2)."""
    one = np.stack([3 + 2 * t - 5 * t**2, 1 - t], -1)
    two = np.stack([t**2, 7 + 0 * t], -1)
    return np.stack([one, two], -2)


def test_a_parabola_is_given_back_with_its_velocity_and_acceleration():
    clock = np.array([0.0, 0.02, 0.03, 0.06, 0.09, 0.1])
    fit = fit_at(0.05, clock, parabola(clock), 0.08)
    np.testing.assert_allclose(fit[0], parabola(np.array(0.05)), atol=1e-12)
    np.testing.assert_allclose(fit[1, 0], [2 - 10 * 0.05, -1], atol=1e-10)
    np.testing.assert_allclose(fit[2, 1], [1, 0], atol=1e-9)


def test_a_missing_frame_is_left_out_and_too_few_give_nan():
    clock = np.arange(6) / 50
    xy = parabola(clock)
    xy[2, 0, 0] = np.nan
    np.testing.assert_allclose(fit_at(0.05, clock, xy, 0.06)[0], parabola(np.array(0.05)), atol=1e-12)
    assert np.isnan(fit_at(0.05, clock, xy, 0.025)).all()


def test_weights_add_up_to_one_and_shrink_noise():
    clock = np.arange(30) / 100
    weights = weights_at(0.15, clock, np.ones(30, bool), 0.075)
    assert np.isclose(weights[0].sum(), 1)
    assert np.isclose(weights[1].sum(), 0, atol=1e-9)
    # 15 frames, a parabola: noise falls to less than a half.
    assert np.sum(weights[0] ** 2) < 0.25


def test_many_instants_at_once_give_what_each_gives():
    clock = np.sort(np.random.default_rng(0).uniform(0, 1, 80))
    at = np.linspace(0.1, 0.9, 7)
    both = fit_at(at, clock, np.sin(9 * parabola(clock)), 0.1)
    for one, t in zip(both, at, strict=True):
        np.testing.assert_allclose(one, fit_at(t, clock, np.sin(9 * parabola(clock)), 0.1))


@pytest.mark.parametrize("jitter", [0.0, 0.2])
@pytest.mark.parametrize(("reach", "degree"), [(0.06, 2), (0.06, 3), (0.12, 3)])
def test_a_whole_track_at_once_gives_what_each_instant_gives(jitter, reach, degree):
    rng = np.random.default_rng(6)
    clock = (np.arange(300) + jitter * rng.uniform(-1, 1, 300)) / 60
    clock[200:] += 0.3
    xy = rng.normal(0, 1, (300, 3, 2))
    xy[50:54, 1] = np.nan
    xy[120, 2, 0] = np.nan
    known = np.isfinite(xy).all((1, 2))
    whole, each = fit_track(clock, xy, reach, degree), fit_at(clock, clock, xy, reach, degree)
    np.testing.assert_allclose(whole[known], each[known], rtol=1e-6, atol=1e-7)
    assert np.isnan(whole[~known]).all()
    assert fit_track(clock[:0], xy[:0], reach, degree).shape == (0, 3, 3, 2)
