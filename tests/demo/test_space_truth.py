"""An arm that roll carries under the body, and its angles in space."""

from __future__ import annotations

import numpy as np
import pytest

from casebook.demo.cameras import camera_for
from casebook.demo.plane_truth import catch_truth
from casebook.demo.sampler import sample_setups
from casebook.demo.space_truth import OUT, SPACE, space_truth
from casebook.demo.swimmer import Swimmer

NUMBERS = np.arange(1, 4)


def truths(swimmer, side):
    camera = camera_for("side_under", speed=swimmer.speed, side=side)
    seen = catch_truth(swimmer, side, NUMBERS, camera)
    return seen, space_truth(swimmer, side, seen.instants)


@pytest.mark.parametrize("side", ["l", "r"])
def test_a_banked_arm_keeps_its_shape_and_points_inward(side):
    t = np.linspace(0, 3, 50)
    plain, banked = Swimmer(), Swimmer(arm_bank=40.0)
    for name in (f"elbow_angle_{side}", f"wrist_angle_{side}"):
        np.testing.assert_allclose(banked.measures(t)[name], plain.measures(t)[name], atol=1e-9)
    _, straight = truths(plain, side)
    _, inward = truths(banked, side)
    assert (inward["forearm_out_45_deg"] < straight["forearm_out_45_deg"] - 15).all()
    a, b = plain.joints(t), banked.joints(t)
    for first, second in (("shoulder", "elbow"), ("elbow", "wrist"), ("wrist", "fingertip")):
        lengths = [np.linalg.norm(j[f"{second}_{side}"] - j[f"{first}_{side}"], axis=-1) for j in (a, b)]
        np.testing.assert_allclose(lengths[0], lengths[1], atol=1e-12)


@pytest.mark.parametrize("side", ["l", "r"])
def test_inclination_of_a_banked_forearm_is_that_of_its_joints_seen_from_the_side(side):
    t = np.linspace(0, 1.3, 40)
    swimmer = Swimmer(arm_bank=30.0)
    joints = swimmer.joints(t)
    d = joints[f"wrist_{side}"] - joints[f"elbow_{side}"]
    seen = np.degrees(np.arctan2(-d[:, 2], d[:, 0]))
    off = swimmer.measures(t)[f"forearm_inclination_{side}"] - seen
    np.testing.assert_allclose((off + 180) % 360 - 180, 0, atol=1e-9)


def test_left_and_right_arms_mirror_each_other():
    """A swimmer whose arms are half a cycle apart does left what he does right, half a cycle later."""
    swimmer = Swimmer(arm_bank=25.0, breathing="none")
    left, right = (truths(swimmer, side)[1] for side in "lr")
    for name in (*SPACE, *OUT):
        np.testing.assert_allclose(left[name], right[name], atol=0.5)


def test_projection_alone_moves_the_elbow_by_tens_of_degrees():
    seen, space = truths(Swimmer(dropped_elbow=1.0, arm_bank=20.0), "r")
    assert (np.abs(seen.values["elbow_angle_under_deg"] - space["elbow_angle_under_space_deg"]) > 20).all()


def test_sampled_set_ups_carry_their_truth_in_space_and_what_is_wrong_with_the_camera():
    sample = sample_setups(24, 3, bank_deg=(10.0, 50.0), off_square_deg=3.0, behind_port=1.0)
    assert sample.behind_port.all()
    assert len(sample.space["elbow_angle_45_space_deg"]) == 24
    assert np.isfinite(sample.space["forearm_out_45_deg"]).all()
    assert ((sample.distance_m > 2) & (sample.distance_m < 6)).all()
    plain = sample_setups(24, 3)
    assert not plain.behind_port.any()
