"""The demo swimmer's pose: lengths, stated angles, ranges, symmetry, water."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from casebook.demo.cast import CAST
from casebook.demo.proportions import SEGMENTS, arm_length_m
from casebook.demo.swimmer import FAULTS, Swimmer, rest_bones
from casebook.errors import CasebookError
from casebook.marks.points import POINTS, mirrored

TIMES = np.linspace(0.0, 6.0, 701)
FAULTY = Swimmer(variation=1.0, dropped_elbow=0.6, crossover=0.5, scissor=0.8, head_lift=0.5, late_catch=0.3)
EVERY = {"plain": Swimmer(), "faulty": FAULTY} | {role.alias: role.swimmer for role in CAST.values()}
EACH = pytest.mark.parametrize("swimmer", EVERY.values(), ids=EVERY.keys())


def angle(a, joint, b):
    """Angle at a joint by the law of cosines, in degrees: an own formula, not the demo's."""
    p, q, r = (np.linalg.norm(x - y, axis=-1) for x, y in ((a, joint), (b, joint), (a, b)))
    return np.degrees(np.arccos(np.clip((p * p + q * q - r * r) / (2 * p * q), -1, 1)))


@EACH
def test_every_point_a_coach_can_mark_is_there(swimmer):
    joints = swimmer.joints(TIMES)
    assert set(POINTS) <= set(joints)
    assert all(joints[name].shape == (len(TIMES), 3) and np.isfinite(joints[name]).all() for name in joints)


@EACH
def test_segments_keep_their_length(swimmer):
    joints = swimmer.joints(TIMES)
    wrist_to_tip = SEGMENTS["hand"]
    for side in "lr":
        for a, b, share in (
            ("shoulder", "elbow", SEGMENTS["upper"]),
            ("elbow", "wrist", SEGMENTS["fore"]),
            ("wrist", "fingertip", wrist_to_tip),
            ("hip", "knee", SEGMENTS["thigh"]),
            ("knee", "ankle", SEGMENTS["shank"]),
        ):
            length = np.linalg.norm(joints[f"{a}_{side}"] - joints[f"{b}_{side}"], axis=1)
            np.testing.assert_allclose(length, share * swimmer.stature_m, rtol=0, atol=1e-12)
        foot = np.linalg.norm(joints[f"heel_{side}"] - joints[f"toe_{side}"], axis=1)
        assert np.ptp(foot) < 1e-12
        assert np.ptp(np.linalg.norm(joints[f"ear_{side}"] - joints["crown"], axis=1)) < 1e-12


@EACH
def test_stated_angles_are_those_of_the_joints(swimmer):
    joints, stated = swimmer.joints(TIMES), swimmer.measures(TIMES)
    for side in "lr":
        s, e, w, f, h, k, a = (
            joints[f"{n}_{side}"] for n in ("shoulder", "elbow", "wrist", "fingertip", "hip", "knee", "ankle")
        )
        # The arccosine loses half of its digits near a straight joint.
        np.testing.assert_allclose(angle(s, e, w), stated[f"elbow_angle_{side}"], atol=2e-6)
        np.testing.assert_allclose(angle(e, w, f), stated[f"wrist_angle_{side}"], atol=2e-6)
        np.testing.assert_allclose(angle(h, k, a), stated[f"knee_angle_{side}"], atol=2e-6)
        forearm = w - e
        down = np.degrees(np.arctan2(-forearm[:, 2], forearm[:, 0]))
        np.testing.assert_allclose((down - stated[f"forearm_inclination_{side}"] + 180) % 360 - 180, 0, atol=1e-9)


@EACH
def test_roll_is_that_of_the_shoulders_and_hips(swimmer):
    joints, stated = swimmer.joints(TIMES), swimmer.measures(TIMES)
    hips = joints["hip_l"] - joints["hip_r"]
    lifted = np.degrees(np.arcsin(hips[:, 2] / np.linalg.norm(hips, axis=1)))
    # The line of the hips leans forward a little with the trunk's inclination.
    tilt = np.radians(stated["trunk_inclination"])
    expected = np.degrees(np.arcsin(np.sin(np.radians(stated["hip_roll"])) * np.cos(tilt)))
    np.testing.assert_allclose(lifted, expected, atol=1e-9)


@EACH
def test_angles_stay_in_human_ranges(swimmer):
    stated = swimmer.measures(TIMES)
    # common practice, no source: a coach's idea of what occurs
    assert 70 < np.ptp(stated["roll"]) < 125
    assert stated["hip_roll"].max() < stated["roll"].max()
    for side in "lr":
        assert stated[f"elbow_angle_{side}"].min() > 75 and stated[f"elbow_angle_{side}"].max() < 180
        assert stated[f"knee_angle_{side}"].min() > 120 and stated[f"knee_angle_{side}"].max() <= 180.0
        assert stated[f"wrist_angle_{side}"].min() > 140


@EACH
def test_feet_stay_in_the_water_and_recovering_hands_out_of_it(swimmer):
    joints, stated = swimmer.joints(TIMES), swimmer.measures(TIMES)
    for side in "lr":
        assert joints[f"heel_{side}"][:, 2].max() < 0.01
        assert joints[f"toe_{side}"][:, 2].max() < 0.02
        recovery = np.abs(stated[f"phase_{side}"] % 1 - 0.83) < 0.07
        assert joints[f"fingertip_{side}"][recovery, 2].min() > 0.0
        assert joints[f"wrist_{side}"][recovery, 2].min() > 0.02


@EACH
def test_a_breath_brings_the_mouth_to_the_surface_and_turns_one_goggle_out(swimmer):
    joints, stated = swimmer.joints(TIMES), swimmer.measures(TIMES)
    for side in "lr":
        out, quiet = stated[f"breath_{side}"] > 0.95, stated["breath_l"] + stated["breath_r"] < 0.02
        if out.any():
            # In the trough beside the head the water stands lower than at rest: common practice, no source.
            assert joints["mouth"][out, 2].mean() > -0.04
            assert joints["mouth"][quiet, 2].mean() < -0.08
            upper, lower = joints[f"goggle_{side}"], joints[f"goggle_{'r' if side == 'l' else 'l'}"]
            assert (upper[out, 2] > lower[out, 2] + 0.04).all()


def test_the_good_swimmer_bends_the_elbow_to_about_a_right_angle_and_more_in_the_pull():
    stated = Swimmer().measures(TIMES)
    pull = np.abs(stated["phase_l"] % 1 - 0.5) < 0.07
    # brief of the project, common practice, no source
    assert 95 < stated["elbow_angle_l"][pull].min() < 125


def test_left_and_right_are_mirror_images_half_a_cycle_apart():
    right, left = Swimmer(breathing="r"), Swimmer(breathing="l")
    a, b = right.joints(TIMES), left.joints(TIMES + right.period_s / 2)
    flip = np.array([1.0, -1.0, 1.0])
    gone = np.array([right.speed * right.period_s / 2, 0.0, 0.0])
    for name in POINTS:
        np.testing.assert_allclose(b[mirrored(name)] - gone, a[name] * flip, atol=1e-9)


def test_one_instant_is_the_same_alone_and_among_many():
    joints, bones, stated = FAULTY.joints(TIMES), FAULTY.bones(TIMES), FAULTY.measures(TIMES)
    for i in (0, 137, 700):
        one = FAULTY.joints(TIMES[i])
        assert all(np.allclose(one[n][0], joints[n][i], rtol=0, atol=1e-13) for n in joints)
        alone = FAULTY.bones(TIMES[i])
        assert all(alone[n][0].shape == (3, 3) and alone[n][1].shape == (3,) for n in alone)
        assert all(np.allclose(alone[n][0], bones[n][0][i], rtol=0, atol=1e-12) for n in bones)
        assert all(np.allclose(FAULTY.measures(TIMES[i])[n][0], stated[n][i]) for n in stated)


@EACH
def test_bone_frames_are_rotations_and_carry_the_joints(swimmer):
    joints, bones, rest = swimmer.joints(TIMES), swimmer.bones(TIMES), rest_bones(swimmer.stature_m)
    assert set(bones) == set(rest)
    for name, (turn, _) in bones.items():
        np.testing.assert_allclose(turn @ np.swapaxes(turn, 1, 2), np.broadcast_to(np.eye(3), turn.shape), atol=1e-9)
        np.testing.assert_allclose(np.linalg.det(turn), 1.0, atol=1e-9, err_msg=name)
    for side in "lr":
        for bone, child, joint in (
            ("upper", "fore", "elbow"),
            ("fore", "hand", "wrist"),
            ("thigh", "shank", "knee"),
            ("shank", "foot", "ankle"),
        ):
            turn, origin = bones[f"{bone}_{side}"]
            turn0, origin0 = rest[f"{bone}_{side}"]
            carried = origin + (turn @ turn0.T) @ (rest[f"{child}_{side}"][1] - origin0)
            np.testing.assert_allclose(carried, joints[f"{joint}_{side}"], atol=1e-9)


def test_strokes_differ_a_little_and_smoothly_with_variation_and_not_without():
    period = Swimmer().period_s
    same, other = Swimmer(), replace(Swimmer(), variation=1.0)
    gap = [s.joints(0.5 + k * period)["wrist_r"][0, 2] for s in (same, other) for k in range(4)]
    assert np.ptp(gap[:4]) < 1e-9
    assert 0.001 < np.ptp(gap[4:]) < 0.08
    assert not np.allclose(other.joints(TIMES)["wrist_r"], replace(other, seed=5).joints(TIMES)["wrist_r"], atol=1e-3)
    step = np.linalg.norm(np.diff(other.joints(np.arange(0, 3, 1e-3))["fingertip_l"], axis=0), axis=1)
    assert step.max() < 0.008  # 8 m/s: no jumps


@settings(max_examples=25, deadline=None)
@given(
    stature=st.floats(1.2, 2.1),
    rate=st.floats(25, 70),
    roll=st.floats(10, 60),
    fault=st.sampled_from(FAULTS),
    amount=st.floats(0, 1),
)
def test_any_body_and_fault_gives_a_whole_pose(stature, rate, roll, fault, amount):
    swimmer = Swimmer(stature_m=stature, rate=rate, roll=roll, variation=1.0, **{fault: amount})
    joints = swimmer.joints(np.linspace(0, 3, 61))
    assert all(np.isfinite(xyz).all() for xyz in joints.values())
    reach = np.linalg.norm(joints["shoulder_l"] - joints["fingertip_l"], axis=1)
    assert reach.max() <= arm_length_m(stature) + 1e-12


def test_impossible_parameters_are_refused():
    with pytest.raises(CasebookError, match="Use 0 to 1"):
        Swimmer(scissor=1.5)
    with pytest.raises(CasebookError, match="cannot breathe"):
        Swimmer(breathing="up")
