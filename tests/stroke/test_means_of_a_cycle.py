"""Means over a cycle: roll cancels over every frame of it and over two frames half a cycle apart, and in one never."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from casebook.stroke.body import cycle_means

STARTS = np.array([0.0, 1.3, 2.6, 3.9])
T = np.arange(0, 3.9, 1 / 60)


def tilt(t, roll=8.0, phase=0.4):
    """A trunk of 5 degrees whose seen tilt swings once a cycle."""
    return 5.0 + roll * np.sin(2 * np.pi * np.asarray(t) / 1.3 + phase)


def test_every_frame_of_a_cycle_gives_the_mean():
    got = cycle_means(T, tilt(T), np.full(len(T), 2.0), STARTS)
    assert got.value == pytest.approx(5.0, abs=0.05)
    # Of the marks, and of ends of the cycle that are known to half a frame each.
    ends = 8.0 * 0.5 / 60 * np.sqrt(2) / 1.3
    assert got.sigma == pytest.approx(np.hypot(2.0 / np.sqrt(78), ends), rel=0.02)
    assert got.told.all()


@given(st.floats(0.0, 0.62), st.floats(0, 6.28))
def test_two_stills_half_a_cycle_apart_do_as_well(first, phase):
    t = np.array([first, first + 0.65])
    got = cycle_means(t, tilt(t, phase=phase), np.full(2, 2.0), STARTS)
    assert got.value[0] == pytest.approx(5.0, abs=1e-6)
    assert got.sigma[0] == pytest.approx(2.0 / np.sqrt(2))
    assert not got.told[1:].any()


@pytest.mark.parametrize("times", [[0.3], [0.1, 0.3], [0.0, 0.2, 0.4], list(np.arange(0, 0.8, 1 / 60))])
def test_frames_of_one_part_of_a_cycle_give_none(times):
    t = np.array(times)
    assert not cycle_means(t, tilt(t), np.full(len(t), 2.0), STARTS).told.any()


def test_places_are_averaged_by_coordinate_and_unmarked_frames_left_out():
    values = np.stack([tilt(T), 2 * tilt(T)], -1)
    values[::7] = np.nan
    got = cycle_means(T, values, np.full(len(T), 1.0), STARTS)
    assert got.value == pytest.approx(np.broadcast_to([5.0, 10.0], (3, 2)), abs=0.4)
    assert all(np.isfinite(values[rows]).all() for rows in got.rows)
