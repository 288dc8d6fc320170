"""Angles and distances: hand-made arms, and what mirroring, turning, scaling and a changed camera must leave alone."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from casebook.plane.geometry import (
    angle_sigma_deg,
    height_over_line,
    inclination_deg,
    inclination_sigma_deg,
    joint_angle_deg,
    line_steepness_deg,
)

coordinates = st.floats(-1000, 1000, width=32)
three = hnp.arrays(float, (3, 2), elements=coordinates)
turns = st.floats(-180, 180)


def apart(p: np.ndarray) -> bool:
    return all(np.linalg.norm(p[i] - p[j]) > 1 for i in range(3) for j in range(i))


def spun(p: np.ndarray, deg: float) -> np.ndarray:
    c, s = np.cos(np.radians(deg)), np.sin(np.radians(deg))
    return p @ np.array([[c, s], [-s, c]])


@pytest.mark.parametrize(
    ("wrist", "expected"), [((2, 0), 180), ((1, 1), 90), ((0, 0), 0), ((1 + 3**0.5 / 2, 0.5), 150), ((1, -3), 90)]
)
def test_elbow_in_the_middle_of_a_hand_made_arm(wrist, expected):
    assert joint_angle_deg((0, 0), (1, 0), wrist) == pytest.approx(expected, abs=1e-9)


def test_almost_straight_and_almost_folded_arms_keep_their_digits():
    tiny = 1e-6
    assert 180 - joint_angle_deg((-1, 0), (0, 0), (1, np.radians(tiny))) == pytest.approx(tiny, rel=1e-3)
    assert joint_angle_deg((1, 0), (0, 0), (1, np.radians(tiny))) == pytest.approx(tiny, rel=1e-6)


def test_joint_angle_in_space_is_the_true_one_and_in_the_picture_the_seen_one():
    shoulder, elbow, wrist = np.array([[0, 0, 0], [0.3, 0, 0], [0.3, 0.2, -0.2]])
    assert joint_angle_deg(shoulder, elbow, wrist) == pytest.approx(90)
    assert joint_angle_deg(shoulder[[0, 1]], elbow[[0, 1]], wrist[[0, 1]]) == pytest.approx(90)
    leaning = np.array([0.5, 0.2, -0.2])
    assert joint_angle_deg(shoulder[[0, 2]], elbow[[0, 2]], leaning[[0, 2]]) == pytest.approx(135)
    assert joint_angle_deg(shoulder, elbow, leaning) == pytest.approx(np.degrees(np.arccos(-1 / 3**0.5)))


@pytest.mark.parametrize(
    ("to", "expected"),
    [((1, 0), 0), ((1, -1), 45), ((0, -1), 90), ((-1, -1), 135), ((-1, 0), 180), ((-1, 1), 225), ((1, 1), -45)],
)
def test_inclination_goes_from_forward_through_down_to_back(to, expected):
    assert inclination_deg((0, 0), to) == pytest.approx(expected)


def test_inclination_of_a_turning_arm_never_jumps_between_forward_and_behind():
    true = np.linspace(-89.9, 269.9, 2000)
    tip = np.stack([np.cos(np.radians(true)), -np.sin(np.radians(true))], -1)
    np.testing.assert_allclose(inclination_deg(np.zeros(2), tip), true, atol=1e-9)


@pytest.mark.parametrize(("hand", "sign"), [((0.6, -0.3), 1), ((0.2, -0.6), 1), ((-0.2, -0.6), 1), ((-0.6, -0.1), 1)])
def test_height_is_positive_on_the_upper_side_whichever_way_the_line_runs(hand, sign):
    shoulder, hand = np.zeros(2), np.array(hand)
    upward = np.array([-hand[1], hand[0]]) * np.sign(hand[0]) / np.linalg.norm(hand)
    assert upward[1] > 0
    elbow = hand / 2 + 0.1 * upward
    assert height_over_line(elbow, shoulder, hand) == pytest.approx(0.1 * sign)
    assert height_over_line(elbow, hand, shoulder) == pytest.approx(0.1 * sign)
    assert height_over_line(hand / 2 - 0.1 * upward, shoulder, hand) == pytest.approx(-0.1)
    assert height_over_line(hand * 0.3, shoulder, hand) == pytest.approx(0, abs=1e-12)


def test_upright_line_has_no_upper_side():
    assert np.isnan(height_over_line((1, 0), (0, 0), (0, -1)))


@pytest.mark.parametrize(("to", "expected"), [((1, 0), 0), ((-1, 0), 0), ((1, 1), 45), ((1, -1), 45), ((0, -2), 90)])
def test_steepness_of_a_line_does_not_ask_which_way_it_runs(to, expected):
    assert line_steepness_deg((0, 0), to) == pytest.approx(expected)
    assert line_steepness_deg(to, (0, 0)) == pytest.approx(expected)


@pytest.mark.parametrize("missing", range(3))
def test_missing_points_stay_missing_and_leave_their_neighbours_alone(missing):
    p = np.random.default_rng(0).uniform(0, 100, (3, 5, 2))
    whole = joint_angle_deg(*p), height_over_line(*p), angle_sigma_deg(*p, 2.0)
    p[missing, 2] = np.nan
    for before, after in zip(whole, (joint_angle_deg(*p), height_over_line(*p), angle_sigma_deg(*p, 2.0)), strict=True):
        assert np.isnan(after[2])
        np.testing.assert_array_equal(np.delete(after, 2), np.delete(before, 2))


@pytest.mark.filterwarnings("error")
def test_two_points_in_one_place_have_no_direction():
    a = np.zeros(2)
    assert np.isnan(joint_angle_deg(a, a, (1, 0)))
    assert np.isnan(inclination_deg(a, a))
    assert np.isnan(line_steepness_deg(a, a))
    assert np.isnan(height_over_line((1, 1), a, a))
    assert np.isnan(inclination_sigma_deg(a, a, 2.0))
    assert np.isnan(angle_sigma_deg(a, a, (1, 0), 2.0))


def test_leading_axes_broadcast():
    p = np.random.default_rng(1).uniform(0, 100, (4, 3, 2))
    angles = joint_angle_deg(p[:, None, 0], p[None, :, 1], p[:, None, 2])
    assert angles.shape == (4, 4)
    assert angles[1, 2] == joint_angle_deg(p[1, 0], p[2, 1], p[1, 2])


@given(three, turns, st.floats(0.01, 100), hnp.arrays(float, 2, elements=coordinates))
def test_joint_angle_ignores_place_turn_size_mirror_and_order(p, turn, size, move):
    assume(apart(p))
    angle = joint_angle_deg(*p)
    assert joint_angle_deg(*(spun(p, turn) * size + move)) == pytest.approx(angle, abs=1e-3)
    assert joint_angle_deg(*(p * [-1, 1])) == pytest.approx(angle, abs=1e-9)
    assert joint_angle_deg(*p[::-1]) == pytest.approx(angle, abs=1e-9)
    assert 0 <= angle <= 180


@given(three, turns)
def test_inclination_follows_a_turn_degree_by_degree(p, turn):
    assume(apart(p))
    before, after = inclination_deg(p[0], p[1]), inclination_deg(*spun(p, -turn)[:2])
    assert -90 <= after <= 270
    assert abs((after - before - turn + 180) % 360 - 180) < 1e-6


@given(three)
def test_height_is_the_distance_from_the_line(p):
    assume(apart(p) and abs(p[1, 0] - p[2, 0]) > 1)
    foot = p[1] + (p[2] - p[1]) * np.dot(p[0] - p[1], p[2] - p[1]) / np.sum((p[2] - p[1]) ** 2)
    height = height_over_line(*p)
    assert abs(height) == pytest.approx(np.linalg.norm(p[0] - foot), abs=1e-6)
    if abs(height) > 1e-6:
        assert np.sign(height) == np.sign(p[0, 1] - foot[1])
    # Raising the point raises the height.
    assert height_over_line(p[0] + [0, 1], p[1], p[2]) > height


@given(three, st.floats(0.1, 5), st.floats(0.1, 10))
def test_angle_errors_grow_with_marking_error_and_shrink_with_size(p, sigma, size):
    assume(apart(p))
    own = angle_sigma_deg(*p, sigma)
    assert angle_sigma_deg(*p, 2 * sigma) == pytest.approx(2 * own, rel=1e-9)
    assert angle_sigma_deg(*(p * size), sigma) == pytest.approx(own / size, rel=1e-6)
    assert angle_sigma_deg(*p, sigma, sigma, sigma) == own
    assert angle_sigma_deg(*p[::-1], sigma) == pytest.approx(own, rel=1e-9)
