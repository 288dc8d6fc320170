"""Passages of a signal in closed form: between frames, beyond the end of a track, across a gap."""

from __future__ import annotations

import numpy as np
import pytest

from casebook.stroke.passing import appearances, passings
from casebook.stroke.search import crossings, first_crossing

STEP = 1 / 60
CLOCK = np.arange(180) * STEP


def wave(t):
    """Rises through zero at 0.25 s and every second after."""
    return -80 * np.cos(2 * np.pi * t)


def found(keep=slice(None), sigma=1.0, **how):
    clock = CLOCK[keep]
    return passings(clock, wave(clock), np.full(len(clock), sigma), STEP, **{"independent": True} | how)


def test_every_rise_is_found_between_two_frames():
    np.testing.assert_allclose(found().clock, [0.25, 1.25, 2.25], atol=2e-4)
    np.testing.assert_allclose(found().rate, 80 * 2 * np.pi, rtol=0.03)


def test_noise_shows_in_the_instant_as_said():
    rng = np.random.default_rng(0)
    off = []
    for _ in range(300):
        got = passings(CLOCK, wave(CLOCK) + rng.normal(0, 5, len(CLOCK)), np.full(180, 5.0), STEP, independent=True)
        off.append(got.clock[1] - 1.25)
    assert np.std(off) == pytest.approx(got.sigma_s[1], rel=0.2)
    assert abs(np.mean(off)) < 1e-3


@pytest.mark.parametrize(("how", "first", "sign"), [("before", 1.27, 1), ("after", 1.27, -1)])
def test_a_track_that_begins_or_ends_just_beyond_is_carried_on(how, first, sign):
    keep = (first <= CLOCK) & (CLOCK < 1.6) if sign > 0 else (CLOCK <= 2.23) & (CLOCK > 1.8)
    got = found(keep, beyond=how)
    assert got.clock == pytest.approx([1.25 if sign > 0 else 2.25], abs=0.006)
    assert got.sigma_s[0] >= 0.3 * 0.015
    assert len(found(keep).clock) == 0


def test_a_track_that_begins_too_far_beyond_says_nothing():
    assert len(found((CLOCK >= 1.37) & (CLOCK < 1.7), beyond="before").clock) == 0


def test_a_hidden_passage_lies_anywhere_in_its_gap():
    keep = (CLOCK < 1.2) | (CLOCK > 1.32)
    got = found(keep)
    assert got.clock[1] == pytest.approx(1.25, abs=0.03)
    assert got.sigma_s[1] >= 0.12 / np.sqrt(12)
    assert len(found((CLOCK < 1.1) | (CLOCK > 1.4)).clock) == 2


def test_coming_into_sight_is_half_a_step_before_the_first_mark():
    clock = np.concatenate([CLOCK[10:40], CLOCK[70:100], CLOCK[105:120]])
    np.testing.assert_allclose(appearances(clock, STEP, "before").clock, clock[[0, 30]] - STEP / 2)
    np.testing.assert_allclose(appearances(clock, STEP, "after").clock, clock[[29, 74]] + STEP / 2)


def test_all_crossings_hold_the_first():
    rng = np.random.default_rng(4)
    for _ in range(50):
        signal = np.cumsum(rng.normal(0.1, 1, 40)) - 3
        every, first = crossings(signal, 3), first_crossing(signal, 3)
        assert (np.isnan(first) and not len(every)) or every[0] == pytest.approx(float(first))
