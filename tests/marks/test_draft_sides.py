"""Left and right, made one story over a shot: arms half a cycle apart, legs that cross, front views by place."""

from __future__ import annotations

import numpy as np
import pytest
from plain_body import body, seen

from casebook.marks.marks import Marks, Origin
from casebook.marks.pose_rhythm import by_rhythm
from casebook.marks.pose_sides import ARMS, LEGS, alone, by_hand, by_place, exchanged, left_lies, sides, word

FPS, SIZE = 30, 400.0


def swim(seconds: float = 3.0, rate: float = 50.0) -> np.ndarray:
    """Bodies (F, 33, 3) of a swimmer at this many cycles a minute, the arms half a cycle apart, the legs kicking."""
    times = np.arange(round(seconds * FPS)) / FPS
    angle = 2 * np.pi * rate / 60 * times
    bodies = np.array([body(arms=(a, a + np.pi)) for a in angle])
    for first, phase in ((25, 0.0), (26, np.pi)):
        kick = 0.06 * SIZE * np.sin(3 * angle + phase)
        bodies[:, first, 1] += 0.5 * kick
        for index in (first + 2, first + 4, first + 6):
            bodies[:, index, 1] += kick
    return seen(bodies)


def times_of(bodies) -> np.ndarray:
    return np.arange(len(bodies)) / FPS


def repaired(bodies, group=ARMS, prefer=None) -> np.ndarray:
    prefer = word(bodies, group) if prefer is None else prefer
    return sides(bodies, times_of(bodies), SIZE, group, prefer).exchanged


@pytest.mark.parametrize("seed", range(3))
def test_arms_whose_names_change_in_bursts_are_put_right(seed):
    # The true names are those of `swim`; a burst lasts up to a third of a second, as seen with the pose model.
    bodies = swim()
    rng = np.random.default_rng(seed)
    wrong = np.zeros(len(bodies), bool)
    for start in rng.choice(len(bodies) - 10, 4, replace=False):
        wrong[start : start + rng.integers(1, 10)] = True
    bodies[..., :2] += rng.normal(0, 0.006 * SIZE, bodies[..., :2].shape)
    np.testing.assert_array_equal(repaired(exchanged(bodies, wrong, ARMS)), wrong)


def test_a_stretch_under_the_other_name_breaks_the_rhythm_of_the_arms():
    bodies = swim(4.0)
    wrong = np.zeros(len(bodies), bool)
    wrong[44:52] = True
    where = exchanged(bodies, wrong, ARMS)[:, [[13, 15], [14, 16]], :2] / SIZE
    where = where - bodies[:, [11, 12, 23, 24], :2].mean(1)[:, None, None] / SIZE
    told = by_rhythm(where, np.ones(where.shape[:-1]), times_of(bodies))
    np.testing.assert_array_equal(told[:, 1] < told[:, 0], wrong)
    assert by_rhythm(where[:12], np.ones(where[:12].shape[:-1]), times_of(bodies[:12])) is None


@pytest.mark.parametrize("seed", range(3))
def test_legs_taken_for_each_other_on_single_frames_while_apart_are_put_right(seed):
    bodies = swim()
    rng = np.random.default_rng(seed)
    apart = np.abs(bodies[:, 27, 1] - bodies[:, 28, 1]) > 0.08 * SIZE
    wrong = apart & (rng.random(len(bodies)) < 0.15)
    bodies[..., :2] += rng.normal(0, 0.006 * SIZE, bodies[..., :2].shape)
    found = repaired(exchanged(bodies, wrong, LEGS), LEGS)
    assert wrong.sum() >= 4
    # Most of them: legs cross, and two wrong frames in a row at a crossing pass for a kick.
    assert (found[apart] != wrong[apart]).mean() <= 0.5 * wrong[apart].mean()


def test_arms_and_legs_are_judged_apart():
    bodies = swim()
    wrong = np.zeros(len(bodies), bool)
    wrong[20:26] = True
    mixed = exchanged(bodies, wrong, ARMS)
    assert (repaired(mixed, ARMS) == wrong).all() and not repaired(mixed, LEGS).any()


def test_an_arm_that_is_not_seen_does_not_drag_the_other_along():
    # The arm above the surface is invented somewhere along the trunk, and held for unlikely.
    bodies = swim()
    rng = np.random.default_rng(7)
    for first in (11, 12):
        up = bodies[:, first + 4, 1] < bodies[:, first, 1] - 5
        for index in (first + 2, first + 4):
            bodies[up, index, :2] = bodies[up, 23, :2] + rng.normal(0, 30, (up.sum(), 2))
            bodies[up, index, 2] = 0.05
    wrong = np.zeros(len(bodies), bool)
    wrong[30:38] = True
    found = repaired(exchanged(bodies, wrong, ARMS))
    assert (found == wrong).mean() > 0.98


def test_frames_without_a_body_are_bridged_and_stay_as_they_are():
    bodies = swim()
    wrong = np.zeros(len(bodies), bool)
    wrong[40:] = True
    wrong[50:] = False
    bodies = exchanged(bodies, wrong, ARMS)
    bodies[38:42] = np.nan
    found = repaired(bodies)
    assert not found[38:42].any()
    np.testing.assert_array_equal(found[42:], wrong[42:])
    assert not repaired(np.full((4, 33, 3), np.nan)).any()


def test_exchanging_twice_changes_nothing_and_leaves_the_other_limbs_alone():
    bodies = swim(0.5)
    some = np.arange(len(bodies)) % 2 == 0
    once = exchanged(bodies, some, ARMS)
    np.testing.assert_array_equal(exchanged(once, some, ARMS), bodies)
    np.testing.assert_array_equal(once[:, 23:], bodies[:, 23:])
    np.testing.assert_array_equal(once[~some], bodies[~some])
    np.testing.assert_array_equal(once[0, 15], bodies[0, 16])


# ---- where nothing tells --------------------------------------------------------------------------------------------


def doubted(bodies, group=ARMS, left=True, right=True) -> np.ndarray:
    found = sides(bodies, times_of(bodies), SIZE, group, word(bodies, group))
    return found.doubtful(group, np.full(len(bodies), left), np.full(len(bodies), right))


def test_arms_in_plain_sight_are_never_in_doubt():
    assert not doubted(swim()).any()


def test_a_single_arm_on_which_both_were_laid_is_left_out():
    bodies = swim()
    blurred = np.zeros(len(bodies), bool)
    blurred[30:34] = True
    middle = bodies[blurred][:, [13, 15]] / 2 + bodies[blurred][:, [14, 16]] / 2
    bodies[np.ix_(blurred, [13, 15])] = bodies[np.ix_(blurred, [14, 16])] = middle
    np.testing.assert_array_equal(doubted(bodies, left=False), blurred)


def test_legs_that_never_come_near_each_other_but_for_a_gap_keep_their_names():
    bodies = swim()
    bodies[:, [26, 28, 30, 32], 1] += 0.3 * SIZE
    assert not doubted(bodies, LEGS).any()


def test_legs_after_a_long_gap_are_named_by_the_model_alone_and_so_in_doubt_where_it_does_not_see_them_well():
    bodies = swim()
    bodies[40:48] = np.nan
    bodies[48:, 25:33, 2] = 0.3
    wide = np.abs(bodies[:, 27, 1] - bodies[:, 28, 1]) > 0.08 * SIZE
    late = np.arange(len(bodies)) >= 48
    assert doubted(bodies, LEGS)[wide & late].any()
    assert not doubted(bodies, LEGS)[np.isnan(bodies[:, 0, 0])].any()


def test_a_shot_too_short_to_tell_keeps_the_models_own_names():
    assert not doubted(swim(0.5)).any()


def test_a_limb_shown_on_one_frame_only_is_a_chance_find():
    shown = np.array([1, 1, 0, 0, 1, 0, 0, 1, 1], bool)
    np.testing.assert_array_equal(np.flatnonzero(alone(shown, np.arange(9) / 30)), [])
    np.testing.assert_array_equal(np.flatnonzero(alone(shown, np.arange(9) / 12)), [4])
    # Frames so far from each other say nothing of each other.
    assert not alone(shown, np.arange(9) / 5).any()


# ---- by place --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("view", "direction", "sign", "toward"),
    [
        # Facing the camera a person's left is on the picture's right, as in any portrait. common practice, no source
        ("front_under", "toward", 0, (1, 0)),
        ("rear_above", "away", 0, (-1, 0)),
        # From above a swimmer to the right has the left hand at the picture's top; from below, mirrored.
        ("top", "right", 1, (0, -1)),
        ("bottom", "right", 1, (0, 1)),
        ("top", "left", -1, (0, 1)),
    ],
)
def test_where_the_view_says_that_left_must_be(view, direction, sign, toward):
    assert left_lies(view, direction, sign) == toward


def test_from_the_side_the_view_does_not_say_where_left_is():
    assert left_lies("side_under", "right", 1) is None


def test_head_on_the_names_follow_the_place_even_where_they_are_wrong_from_end_to_end():
    bodies = np.zeros((12, 33, 3))
    bodies[..., 2] = 1.0
    bodies[:, [11, 13, 15], 0], bodies[:, [12, 14, 16], 0] = -40.0, 40.0
    bodies[4:6, [11, 13, 15], 0], bodies[4:6, [12, 14, 16], 0] = 40.0, -40.0
    found = repaired(bodies, ARMS, by_place(bodies, ARMS, (1.0, 0.0), SIZE))
    np.testing.assert_array_equal(found, [True] * 4 + [False] * 2 + [True] * 6)


# ---- by the coach's hand ---------------------------------------------------------------------------------------------


def hand_marks(bodies, frame: int, point: str, landmark: int, origin=Origin.hand) -> Marks:
    return Marks.from_arrays((point,), [frame], bodies[frame, landmark, :2][None, None], 2.0, origin)


@pytest.mark.parametrize("mirrored_file", [False, True])
def test_one_mark_of_the_coach_names_the_arms_of_the_whole_shot(mirrored_file):
    bodies = exchanged(swim(), np.ones(90, bool), ARMS)
    frames = np.arange(90)
    # The true left wrist bears the right one's name. In a mirrored file the coach calls it right.
    hand = hand_marks(bodies, 12, "wrist_r" if mirrored_file else "wrist_l", 16)
    prefer = word(bodies, ARMS) + by_hand(bodies, frames, ARMS, hand, mirrored_file, SIZE)
    assert repaired(bodies, ARMS, prefer).all()


def test_marks_that_no_coach_has_seen_name_nothing():
    bodies = swim()
    hand = hand_marks(bodies, 12, "wrist_l", 16, Origin.tracked)
    assert not by_hand(bodies, np.arange(90), ARMS, hand, False, SIZE).any()
    assert not by_hand(bodies, np.arange(90), LEGS, hand_marks(bodies, 12, "wrist_l", 16), False, SIZE).any()
