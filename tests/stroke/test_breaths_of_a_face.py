"""Breaths from how far a face is turned, and their place among the strokes."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from casebook.stroke.breath import against_arm, breaths_of, strokes_between
from casebook.stroke.head import FaceTurn
from casebook.stroke.points import Points, Unread

T = np.arange(0, 6, 1 / 60)


def face(turn, sigma=2.0, away="", common=4.0):
    count = len(turn)
    points = Points(
        ("mouth",), np.arange(count), T[:count], True, 1 / 60, np.zeros((count, 1, 2)), np.zeros((count, 1, 2)),
        np.full((count, 1), 2.0), np.full((count, 1), True), np.zeros((count, 1), bool),
    )  # fmt: skip
    return FaceTurn(points, np.asarray(turn, float), np.full(count, sigma), common, "by hand", away)


def turned(middles, to, most=100.0, half=0.35):
    """A face that turns out and back as a squared cosine around each middle, positive to the left."""
    out = np.zeros(len(T))
    for middle, side in zip(middles, to, strict=True):
        u = np.clip((T - middle) / half, -1, 1)
        out += most * np.cos(np.pi * u / 2) ** 2 * (1 if side == "l" else -1)
    return out


def test_start_and_end_are_where_the_face_passes_45_degrees():
    found = breaths_of(face(turned([1.0, 3.0], "rl")))
    assert found.side.tolist() == ["r", "l"]
    # 100 cos^2(pi u / 2) = 45 at u = 2/pi arccos(sqrt(0.45)), times the half length.
    out = 0.35 * 2 / np.pi * np.arccos(np.sqrt(0.45))
    assert found.start_s == pytest.approx([1 - out, 3 - out], abs=2e-3)
    assert found.duration_s == pytest.approx(2 * out, abs=3e-3)
    assert found.most_deg == pytest.approx(100, abs=0.5)
    assert (found.start_sigma_s >= 0.5 / 60).all()


def test_a_short_flick_is_no_breath_and_a_face_that_stays_in_has_none():
    assert isinstance(breaths_of(face(turned([2.0], "r", most=47.0))), Unread)
    assert isinstance(breaths_of(face(np.zeros(len(T)))), Unread)


def test_a_breath_cut_by_the_marks_has_no_length():
    found = breaths_of(face(turned([0.05, 3.0], "rr")))
    assert np.isnan(found.start_s[0]) and np.isfinite(found.end_s[0]) and np.isnan(found.duration_s[0])
    assert np.isfinite(found.duration_s[1])


def test_an_arm_before_the_face_does_not_cut_a_breath_and_makes_its_edge_unsure():
    turn = turned([2.0], "r")
    turn[(T > 1.75) & (T < 1.9)] = np.nan
    found = breaths_of(face(turn))
    assert len(found) == 1 and np.isfinite(found.duration_s[0])
    assert found.start_sigma_s[0] > 0.04 > found.end_sigma_s[0]


def test_a_breath_away_from_a_side_camera_is_seen_and_not_timed():
    turn = turned([1.0, 3.0], "lr")
    turn[turn > 60] = np.nan
    found = breaths_of(face(turn, away="l"))
    assert found.side.tolist() == ["l", "r"]
    assert np.isnan(found.duration_s[0]) and np.isfinite(found.duration_s[1])


def test_a_turn_read_wrong_alike_moves_both_ends():
    turn = turned([2.0], "r")
    exact, off = breaths_of(face(turn)), breaths_of(face(turn - 4.0))
    assert off.duration_s[0] - exact.duration_s[0] == pytest.approx(2 * exact.shared_s[0], rel=0.1)


@given(st.integers(2, 5), st.floats(0.9, 1.8), st.floats(0.05, 0.45), st.booleans())
def test_strokes_from_breath_to_breath_are_counted_with_one_hand_or_two(every, period, at, both):
    entries = {"r": period * np.arange(12), "l": period * (np.arange(12) + 0.5)}
    breaths = period * (1 + at) + period / 2 * every * np.arange(4)
    known = entries if both else {"r": entries["r"]}
    inside = breaths[breaths < period * 10.5]
    assert strokes_between(inside, known).tolist() == [every] * (len(inside) - 1)


def test_without_an_entry_nothing_is_counted():
    assert strokes_between([1.0, 3.0], {}).tolist() == [0]
    assert strokes_between([1.0], {"r": [0.0, 1.0]}).tolist() == []


def test_a_breath_is_placed_in_the_cycle_of_its_own_arm():
    found = breaths_of(face(turned([1.0, 3.0], "rl")))
    entries = {"r": [0.0, 1.4, 2.8], "l": [2.0, 3.5]}
    against = against_arm(found, entries, 0.01)
    start = found.start_s
    assert against.start_pct == pytest.approx([100 * start[0] / 1.4, 100 * (start[1] - 2.0) / 1.5])
    assert against.back_before_s == pytest.approx([1.4 - found.end_s[0], 3.5 - found.end_s[1]])
    assert np.isnan(against_arm(found, {"r": [2.0, 3.4]}, 0.01).start_pct).all()
    assert (against.back_sigma > 0.01).all()
