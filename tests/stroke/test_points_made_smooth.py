"""Every frame's own parabola: exact where the motion is one, honest about its error, blind to gaps."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import savgol_filter

from casebook.stroke.points import Points, smooth
from casebook.stroke.swings import least_swing, turns


def made(clock, level, sigma=2.0, by_hand=True):
    level = np.asarray(level, float)
    shape = level.shape[:2]
    known = np.isfinite(level).all(-1)
    return Points(
        tuple(f"p{k}" for k in range(shape[1])), np.arange(shape[0]), np.asarray(clock, float), True,
        float(np.median(np.diff(clock))), level, level, np.where(known, sigma, np.nan), np.full(shape, by_hand),
        np.zeros(shape, bool),
    )  # fmt: skip


def test_a_parabola_comes_back_with_its_speed():
    t = np.sort(np.random.default_rng(0).uniform(0, 1, 80))
    t = np.concatenate([t[:1], t[1:][np.diff(t) > 2e-3]])
    level = np.stack([3 + 40 * t - 90 * t**2, 5 - 7 * t], -1)[:, None]
    got = smooth(made(t, level))
    told = np.isfinite(got.speed[:, 0, 0])
    assert told.mean() > 0.9
    assert got.at[told] == pytest.approx(level[told], abs=1e-8)
    assert got.speed[told, 0, 0] == pytest.approx(40 - 180 * t[told], abs=1e-5)


def test_even_frames_by_hand_err_as_stated():
    rng = np.random.default_rng(1)
    t = np.arange(4000) / 60
    got = smooth(made(t, rng.normal(0, 2.0, (4000, 2, 2))))
    assert np.std(got.at[10:-10]) == pytest.approx(got.sigma[10:-10].mean(), rel=0.03)
    assert got.sigma[100, 0] < 1.3


def test_it_is_of_the_kind_that_a_library_knows():
    # A weighted local parabola lies between the raw marks and scipy's unweighted one of the same seven frames.
    rng = np.random.default_rng(2)
    t = np.arange(400) / 60
    raw = np.stack([np.sin(9 * t), np.cos(9 * t)], -1)[:, None] + rng.normal(0, 0.02, (400, 1, 2))
    ours, theirs = smooth(made(t, raw)).at, savgol_filter(raw, 7, 2, axis=0)
    assert np.std(ours - theirs) < 0.4 * np.std(raw - theirs)


def test_a_tracks_error_is_not_smoothed_away():
    t = np.arange(50) / 60
    got = smooth(made(t, np.zeros((50, 1, 2)), by_hand=False))
    assert (got.sigma == 2.0).all()


def test_what_is_not_marked_stays_so_and_a_lonely_mark_stays_itself():
    t = np.arange(40) / 60
    level = np.stack([t, t**2], -1)[:, None] * np.ones((1, 2, 1))
    level[10:14, 0] = np.nan
    level[20:, 1] = np.nan
    level[30, 1] = (7.0, 7.0)
    got = smooth(made(t, level))
    assert np.isnan(got.at[10:14, 0]).all() and np.isfinite(got.at[10:14, 1]).all()
    assert got.at[30, 1].tolist() == [7.0, 7.0] and np.isnan(got.speed[30, 1]).all() and got.sigma[30, 1] == 2.0


def test_tops_and_bottoms_of_a_wave_alternate_and_lie_between_the_frames():
    t = np.arange(0, 4, 1 / 30)
    found = turns(t, np.sin(2 * np.pi * t * 1.3 + 0.4), 1 / 30, 0.5)
    tops = (np.pi / 2 - 0.4 + 2 * np.pi * np.arange(6)) / (2 * np.pi * 1.3)
    assert found.clock[found.up] == pytest.approx(tops[tops < 3.97], abs=1.5e-3)
    assert found.value[found.up] == pytest.approx(1.0, abs=2e-3)
    assert (found.up[1:] != found.up[:-1]).all()


def test_a_gap_cuts_a_wave_in_two_runs_and_noise_makes_no_turn():
    t = np.arange(0, 4, 1 / 60)
    wave = np.sin(2 * np.pi * t) + np.random.default_rng(4).normal(0, 0.02, len(t))
    wave[100:130] = np.nan
    found = turns(t, wave, 1 / 60, least_swing(wave, np.full(len(t), 0.02)))
    assert set(found.run) == {0, 1}
    assert found.up.sum() == 3 and not ((found.clock > t[99]) & (found.clock < t[130])).any()
    assert len(turns(t, np.full(len(t), np.nan), 1 / 60, 1.0).row) == 0
