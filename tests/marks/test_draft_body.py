"""What counts as a swimmer's body, and which sequence of bodies is believed."""

from __future__ import annotations

import numpy as np
import pytest
from plain_body import body

from casebook.marks.pose_body import MOST_COST, Seen, oddness, stature, step
from casebook.marks.pose_choice import apart, choose

SIDE = {1: Seen(1, False, True, True), -1: Seen(-1, False, True, True)}
HEAD_ON = Seen(0, True, False, True)
FRAME_S = 1 / 30


def cost(xy, seen=SIDE[1], size=400.0, above=None) -> float:
    return float(oddness(xy, size, seen, above))


@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize("arm", np.linspace(0, 2 * np.pi, 7)[:-1])
def test_a_plain_swimmer_is_believed_wherever_the_arms_are(sign, arm):
    assert cost(body(sign, arms=(arm, arm + np.pi)), SIDE[sign]) < 0.3


def test_a_swimmer_found_feet_first_is_not_believed():
    assert cost(body(-1), SIDE[1]) > MOST_COST
    assert cost(body(1), SIDE[-1]) > MOST_COST


def test_a_body_standing_in_the_water_is_not_believed():
    upright = (body(1) - 270.0) @ np.array([[0.0, -1.0], [1.0, 0.0]]) + 270.0
    assert cost(upright) > MOST_COST


def test_limbs_longer_than_the_swimmers_own_are_not_believed():
    xy = body(1)
    xy[15:23:2] = xy[13] + 3.5 * (xy[15] - xy[13])
    xy[27:33] = xy[25] + 1.6 * (xy[27:33] - xy[25])
    assert cost(xy) > MOST_COST


def test_the_image_in_the_underside_of_the_surface_is_not_believed_where_the_water_line_is_drawn():
    water = 230.0
    xy = body(1, at=(480.0, 290.0))
    image = xy * [1.0, -1.0] + [0.0, 2 * water]
    assert cost(xy, above=xy[:, 1] < water) < 0.3
    assert cost(image, above=image[:, 1] < water) > MOST_COST


def test_without_a_water_line_the_upside_down_image_is_the_less_likely_of_two():
    xy = body(1)
    image = xy * [1.0, -1.0] + [0.0, 540.0]
    assert cost(image) > cost(xy) + 0.2


def test_no_body_has_no_cost():
    assert np.isnan(cost(np.full((33, 2), np.nan)))


@pytest.mark.parametrize("size", [120.0, 400.0, 900.0])
def test_stature_is_read_from_shoulder_to_ankle_and_holds_over_a_shot(size):
    # Source: Drillis and Contini (1966) as handbooks print them, 0.818 - 0.039 of stature; from memory.
    bodies = np.array([body(1, size), body(1, size), np.full((33, 2), np.nan), body(1, 2 * size)])
    assert stature(bodies, SIDE[1]) == pytest.approx(size, rel=0.01)
    assert np.isnan(stature(bodies[2:3], SIDE[1]))


def test_head_on_stature_is_read_from_the_widest_shoulders():
    bodies = np.zeros((10, 33, 2))
    bodies[:, 11, 0] = np.linspace(60, 84, 10)
    assert stature(bodies, HEAD_ON) == pytest.approx(0.95 * 84 / 0.21, rel=0.04)


def test_a_step_does_not_mind_which_arm_is_called_left():
    a, b = body(1), body(1, arms=(0.15, np.pi + 0.15))
    swapped = b.copy()
    swapped[[11, 12, 13, 14, 15, 16]] = b[[12, 11, 14, 13, 16, 15]]
    assert step(a, swapped, FRAME_S, 400.0) == pytest.approx(float(step(a, b, FRAME_S, 400.0)))
    assert step(a, b, FRAME_S, 400.0) < 0.3


def test_a_body_that_leaps_costs_more_than_one_that_swims_on():
    a = body(1)
    on = body(1, at=(486.0, 270.0), arms=(0.15, np.pi + 0.15))
    leap = body(1, at=(640.0, 270.0))
    wild = body(1, arms=(2.5, np.pi + 2.5))
    calm = step(a, on, FRAME_S, 400.0)
    assert step(a, leap, FRAME_S, 400.0) > 4 * calm and step(a, wild, FRAME_S, 400.0) > 4 * calm


# ---- choosing --------------------------------------------------------------------------------------------------------


def swim(n: int) -> np.ndarray:
    """Bodies (n, 33, 2) of an even swim."""
    return np.array([body(1, at=(300.0 + 4 * i, 270.0), arms=(0.15 * i, np.pi + 0.15 * i)) for i in range(n)])


def chosen(candidates) -> list[int]:
    bodies = [np.array(c).reshape(-1, 33, 2) for c in candidates]
    return choose(
        bodies, [oddness(b, 400.0, SIDE[1]) for b in bodies], np.arange(len(bodies)) * FRAME_S, 400.0
    ).tolist()


def test_the_body_that_swims_on_is_taken_whatever_its_place_in_the_list():
    even = swim(9)
    elsewhere = body(1, at=(700.0, 420.0), arms=(2.0, 5.0))
    assert chosen([[e] if i % 3 else [elsewhere, e] for i, e in enumerate(even)]) == [1, 0, 0] * 3


def test_a_frame_with_nothing_plausible_is_left_empty_and_its_neighbours_are_kept():
    even = swim(7)
    candidates = [[e] for e in even]
    candidates[3] = [body(-1)]
    candidates[4] = []
    assert chosen(candidates) == [0, 0, 0, -1, -1, 0, 0]


def test_a_single_leap_is_left_out_rather_than_followed():
    candidates = [[e] for e in swim(8)]
    candidates[4] = [body(1, at=(700.0, 430.0), arms=(2.5, 5.5))]
    assert chosen(candidates) == [0, 0, 0, 0, -1, 0, 0, 0]


def test_a_shot_without_any_body_is_left_empty():
    assert chosen([[], [], []]) == [-1, -1, -1]
    assert chosen([[body(-1)], [body(-1)]]) == [-1, -1]


def test_the_odd_one_out_of_several_bodies_is_known():
    three = np.array([body(1), body(1, at=(484.0, 272.0)), body(1, arms=(2.0, 5.0)), body(1, at=(478.0, 269.0))])
    assert apart(three, 400.0).argmax() == 2
    assert not apart(three[:2], 400.0).any()
