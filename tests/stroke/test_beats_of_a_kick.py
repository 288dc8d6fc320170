"""Beats per cycle from one foot's rhythm, and the honest "cannot tell"."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from casebook.stroke.beats import beats_of


def foot(beats, cycles=5, fps=60.0, period=1.35, amplitude=0.14, roll=0.03, noise=0.0, seed=0, drift=0.0):
    """Height of one foot that beats ``beats / 2`` times a cycle, on a body that rolls once. [m]"""
    t = np.arange(round(cycles * period * fps) + 1) / fps
    turn = 2 * np.pi * t / period
    height = amplitude * np.sin(turn * beats / 2 + 0.7) + roll * np.sin(turn + 0.2) + drift * t
    height = height + np.random.default_rng(seed).normal(0, noise, len(t))
    return t, height, np.full(len(t), max(noise, 1e-4)), period * np.arange(cycles + 1), 1 / fps


@pytest.mark.parametrize("beats", [2, 4, 6, 8])
@pytest.mark.parametrize("fps", [25.0, 60.0])
def test_an_n_beat_kick_swings_at_half_n_times_the_strokes_frequency(beats, fps):
    # Computed rule: 2 beats harmonic 1, 4 beats harmonic 2, 6 beats harmonic 3.
    found = beats_of(*foot(beats, fps=fps, noise=0.01))
    assert found.beats == beats and found and found.why == ""
    assert int(np.argmax(found.amplitude)) == beats // 2 - 1
    assert found.amplitude[beats // 2 - 1] == pytest.approx(0.14, abs=0.035)


@given(
    st.sampled_from([4, 6]), st.floats(0.9, 2.0), st.floats(0.04, 0.2), st.floats(-0.02, 0.02), st.integers(0, 10_000)
)
def test_rate_size_drift_and_noise_do_not_change_the_count(beats, period, amplitude, drift, seed):
    found = beats_of(
        *foot(
            beats,
            period=period,
            amplitude=amplitude,
            roll=0.2 * amplitude,
            noise=0.08 * amplitude,
            drift=drift,
            seed=seed,
        )
    )
    assert found.beats == beats


def test_quiet_legs_cannot_be_counted():
    found = beats_of(*foot(6, amplitude=0.0, roll=0.0, noise=0.01))
    assert not found and found.beats is None and "too little" in found.why


def test_two_rhythms_of_one_size_cannot_be_counted():
    t, height, sigma, starts, step = foot(6, amplitude=0.1, roll=0.0)
    found = beats_of(t, height + 0.1 * np.sin(4 * np.pi * t / 1.35), sigma, starts, step)
    assert not found and "broken or uneven" in found.why


def test_a_kick_that_changes_from_cycle_to_cycle_is_said_to():
    t, six, sigma, starts, step = foot(6, cycles=6)
    _, two, *_ = foot(2, cycles=6)
    found = beats_of(t, np.where(t < 3 * 1.35, six, two), sigma, starts, step)
    assert not found and "2 and 6 beats" in found.why
    assert found.per_cycle.tolist() == [6, 6, 6, 2, 2, 2]


def test_one_cycle_is_no_rhythm_and_none_is_nothing():
    assert "Only one" in beats_of(*foot(6, cycles=1)).why
    t, height, sigma, starts, step = foot(6)
    assert "No whole stroke cycle" in beats_of(t, np.full(len(t), np.nan), sigma, starts, step).why
    assert "No whole stroke cycle" in beats_of(t, height, sigma, starts[:1], step).why


def test_a_cycle_with_too_few_frames_is_left_out():
    t, height, sigma, starts, step = foot(6)
    height[(t > 1.5) & (t < 2.2)] = np.nan
    found = beats_of(t, height, sigma, starts, step)
    assert found.beats == 6 and found.read.tolist() == [True, False, True, True, True] and found.per_cycle[1] == 0
