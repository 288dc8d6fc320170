"""Front-arm timing of the demo swimmer against his pose, and where an arm is in words."""

from __future__ import annotations

import numpy as np
import pytest
from filmed_swimmer import CAST, Film
from made_strokes import stroke

from casebook.plane.geometry import inclination_deg
from casebook.stroke.front_arm import front_hands, other_arms, where_is
from casebook.stroke.strokes import strokes_of


@pytest.mark.parametrize("k", [0, 1, 4])
def test_the_front_hand_is_where_the_pose_has_it_when_the_other_hand_enters(k):
    film = Film(CAST[k], seed=k)
    truth, marks, shot, plane = film.make()
    own, other = (strokes_of(shot, marks, plane, s) for s in "rl")
    got = front_hands(shot, marks, plane, own, other)
    assert len(got) >= 4
    off = []
    for hand in got:
        true = film._on_plane("r", np.array([hand.entry.time_s]))
        ahead = float(true["fingertip"][0, 0] - true["shoulder"][0, 0]) / plane.m_per_px
        off.append((hand.ahead_px - ahead) / hand.sigma_px)
        slope = inclination_deg(true["shoulder"], true["fingertip"])[0]
        assert hand.slope_deg == pytest.approx(slope, abs=4)
        crown = truth.world[round(hand.entry.frame), truth.index("crown"), 0]
        assert hand.head_point == "crown"
        assert hand.head_px * plane.m_per_px == pytest.approx(float(true["fingertip"][0, 0]) - crown, abs=0.08)
    assert np.mean(np.abs(off) < 2) > 0.8


def test_the_other_arm_is_told_by_its_own_stroke():
    entry = {"entry": 0.0, "past_body": 0.4, "shoulder": 0.6, "exit": 0.9}
    other = [stroke("l", 1, entry, 1.2), stroke("l", 2, {k: v + 1.2 for k, v in entry.items()}, 2.4)]
    own = [
        stroke("r", 1, {"entry": 0.5, "past_body": 0.85}, 1.7),
        stroke("r", 2, {"entry": 1.7, "past_body": 2.25}, 2.9),
    ]
    first, second = other_arms(own, other)
    assert first.phase_pct == pytest.approx(100 * 0.85 / 1.2)
    assert first.where == "still pushing"
    assert second.phase_pct == pytest.approx(100 * 1.05 / 1.2)
    assert "over the water" in second.where
    assert first.sigma_pct == pytest.approx(100 * np.hypot(0.005, 0.005) / 1.2)


@pytest.mark.parametrize(
    ("time_s", "words"),
    [
        (0.01, "just entering"),
        (0.3, "still pulling"),
        (0.7, "still pushing"),
        (0.95, "over the water, in the first half of its way"),
        (1.1, "over the water, on its way in"),
        (1.19, "just entering"),
        (1.3, "already in front"),
    ],
)
def test_places_in_a_stroke_have_words(time_s, words):
    one = stroke("l", 1, {"entry": 0.0, "past_body": 0.4, "shoulder": 0.6, "exit": 0.9}, 1.2)
    assert where_is(one, time_s, 1.2) == words


def test_an_arm_whose_exit_is_not_known_has_no_word():
    assert where_is(stroke("l", 1, {"entry": 0.0}, 1.2), 0.8, 1.2) == ""


def test_without_marks_of_the_front_arm_nothing_is_said():
    _, marks, shot, plane = Film(CAST[0], seconds=3.0).make()
    own, other = (strokes_of(shot, marks, plane, s) for s in "rl")
    assert front_hands(shot, marks.pick(["hip_r"]), plane, own, other) == ()
    assert front_hands(shot, marks, plane, (), other) == ()
