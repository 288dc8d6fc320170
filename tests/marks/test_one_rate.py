"""Tracks at uneven times, brought to one rate without closing a gap."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from casebook.errors import MarksError
from casebook.marks.one_rate import at_one_rate


def straight(times: np.ndarray) -> np.ndarray:
    """A point that moves evenly, (F, 1, 3)."""
    return np.stack([2.0 * times, 0 * times, 1 - times], -1)[:, None, :]


def test_even_frames_stay_as_they_are():
    times = np.arange(30) / 59.94
    xyz = straight(times)
    even = at_one_rate(times, xyz, np.ones((30, 1)))
    assert even.xyz is xyz and not even.moved and even.rate_hz == pytest.approx(59.94)


def test_times_rounded_to_milliseconds_count_as_even():
    times = np.round(np.arange(200) / 59.94, 3)
    even = at_one_rate(times, straight(times), np.ones((200, 1)))
    assert not even.moved and even.rate_hz == pytest.approx(59.94, rel=1e-3)


@given(st.lists(st.floats(0.008, 0.05), min_size=3, max_size=30))
def test_an_even_motion_read_between_uneven_frames_is_still_on_its_line(steps):
    times = np.concatenate([[0.0], np.cumsum(steps)])
    even = at_one_rate(times, straight(times), np.ones((len(times), 1)))
    if even.moved:
        grid = np.arange(len(even.xyz)) / even.rate_hz
        assert even.xyz[:, 0] == pytest.approx(straight(grid)[:, 0], abs=1e-9)
        assert grid[-1] <= times[-1] + 1e-9 and (even.sigma <= 1 + 1e-12).all()


def test_a_gap_stays_a_gap():
    times = np.array([0.0, 0.02, 0.04, 0.06, 0.12, 0.14])
    xyz = straight(times)
    xyz[3] = np.nan
    even = at_one_rate(times, xyz, np.where(np.isnan(xyz[..., 0]), np.nan, 1.0))
    grid = np.arange(len(even.xyz)) / even.rate_hz
    inside = (grid > 0.04 + 1e-9) & (grid < 0.12 - 1e-9)
    assert even.moved and inside.sum() >= 3
    assert np.isnan(even.xyz[inside]).all() and np.isnan(even.sigma[inside]).all()
    assert np.isfinite(even.xyz[~inside]).all()


@pytest.mark.parametrize(
    ("times", "word"),
    [([0.0, np.nan, 0.1], "slow motion"), ([0.0], "two frames"), ([0.0, 0.1, 0.1], "rising")],
)
def test_times_without_a_rate_are_refused_with_what_to_do(times, word):
    n = len(times)
    with pytest.raises(MarksError, match=word) as refused:
        at_one_rate(np.array(times), np.zeros((n, 1, 3)), np.zeros((n, 1)))
    assert refused.value.remedy
