"""Entry, reach, pull, exit and recovery on the demo swimmer, against the joints of the skeleton itself.

The truth here is taken from the joints in the pool by plain arithmetic, and shares nothing with the measuring code. A
side view sees the plane x-z; what lies nearer to the camera is drawn larger, so that lengths of an arm that leans
toward the camera differ by a few per cent (0.3 m at 4 m is 8 %): bounds below say how much of that is let pass.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from demo_shots import EVERYTHING, at_frames, down_through, filmed, joint

from casebook.checkpoints.alignment import measure_alignment
from casebook.checkpoints.bands import load_bands
from casebook.checkpoints.entry import measure_entry
from casebook.checkpoints.extension import measure_extension
from casebook.checkpoints.finding import Finding, NotMeasured
from casebook.checkpoints.pull import measure_pull
from casebook.checkpoints.recovery import measure_recovery
from casebook.demo.swimmer import Swimmer
from casebook.marks.events import EventMark
from casebook.plane.measured import Measured

BANDS = load_bands("distance")
FLUENT = Swimmer(rate=44.3, variation=0.5, seed=3)


def arm_m(truth, side="r"):
    names = ("shoulder", "elbow", "wrist", "fingertip")
    p = [joint(truth, f"{n}_{side}") for n in names]
    return float(np.mean(sum(np.linalg.norm(b - a, axis=1) for a, b in pairwise(p))))


def slope(a, b):
    d = b - a
    return np.degrees(np.arctan2(-d[:, 2], d[:, 0]))


def values(found):
    assert isinstance(found, Finding), str(found)
    return np.array([s.value for s in found.strokes])


def nearest(finding, frames):
    """Which of the true instants belongs to each stroke."""
    read = np.array([np.mean(s.frames) for s in finding.strokes])
    return np.argmin(np.abs(read[:, None] - np.asarray(frames)[None]), axis=1)


def test_the_hand_at_entry_is_where_the_skeleton_has_it():
    shot, marks, plane, truth = filmed(FLUENT, "side_split", marked=EVERYTHING)
    got = measure_entry(shot, marks, plane, bands=BANDS, arm_length=Measured(arm_m(truth), 0.005))
    frames = down_through(joint(truth, "fingertip_r")[:, 2])
    ahead = (joint(truth, "fingertip_r") - joint(truth, "shoulder_r"))[:, 0] / arm_m(truth) * 100
    hand = slope(joint(truth, "wrist_r"), joint(truth, "fingertip_r"))
    arm = slope(joint(truth, "elbow_r"), joint(truth, "wrist_r"))
    for quantity, true, allowed in (
        ("entry_ahead_pct", ahead, 8.0), ("entry_hand_slope_deg", hand, 4.0), ("entry_arm_slope_deg", arm, 4.0),
    ):  # fmt: skip
        found = got.get(quantity, "r")
        off = values(found) - at_frames(true, frames)[nearest(found, frames)]
        assert len(off) >= 3 and np.abs(off).max() < allowed, (quantity, off)


def test_the_reach_is_read_from_tracks_and_from_one_still_a_stroke():
    shot, marks, plane, truth = filmed(FLUENT)
    whole = measure_extension(shot, marks, plane, bands=BANDS)
    depth = whole.get("reach_depth_m", "r")
    true = -at_frames(joint(truth, "fingertip_r")[:, 2], [np.mean(s.frames) for s in depth.strokes])
    assert np.abs(values(depth) - true).max() < 0.04, "the hand is a little off the shoulder's plane"
    from casebook.demo.truth_marks import key_still_frames

    stills = key_still_frames(truth, "r")
    few = measure_extension(*filmed(FLUENT, frames=stills)[:3], bands=BANDS)
    for quantity in ("reach_slope_deg", "reach_hand_slope_deg", "reach_elbow_deg"):
        a, b = values(whole.get(quantity, "r")), values(few.get(quantity, "r"))
        assert len(b) >= 3 and abs(a.mean() - b.mean()) < 4.0, quantity
    assert isinstance(few.get("wait_s", "r"), NotMeasured)


def test_the_depth_of_the_pull_and_the_exit_behind_the_hip():
    shot, marks, plane, truth = filmed(FLUENT, marked=EVERYTHING)
    length = Measured(arm_m(truth), 0.005)
    depth = measure_pull(shot, marks, plane, bands=BANDS, arm_length=length).get("pull_depth_pct", "r")
    down = (joint(truth, "shoulder_r") - joint(truth, "fingertip_r"))[:, 2] / arm_m(truth) * 100
    at = np.array([s.frames[0] for s in depth.strokes])
    off = values(depth) - np.array([down[k - 8 : k + 9].max() for k in at])
    assert len(off) >= 2 and np.abs(off).max() < 6.0, off
    gone = measure_recovery(shot, marks, plane, bands=BANDS, arm_length=length).get("exit_past_hip_pct", "r")
    frames = down_through(-joint(truth, "wrist_r")[:, 2])
    behind = (joint(truth, "hip_r") - joint(truth, "wrist_r"))[:, 0] / arm_m(truth) * 100
    off = values(gone) - at_frames(behind, frames)[nearest(gone, frames)]
    assert len(off) >= 3 and np.abs(off).max() < 4.0, off


def test_how_long_the_forearm_faces_back_agrees_with_the_skeleton():
    shot, marks, plane, truth = filmed(FLUENT, marked=EVERYTHING)
    found = measure_pull(shot, marks, plane, bands=BANDS).get("forearm_back_pct", "r")
    angle = slope(joint(truth, "elbow_r"), joint(truth, "wrist_r"))
    upright = (angle >= 60) & (angle <= 120)
    for s in found.strokes:
        first, last = s.frames[0], s.frames[-1]
        true = 100 * upright[first : last + 1].mean()
        assert abs(s.value - true) < 1.96 * np.hypot(s.sigma, s.common) + 2.0, (s.value, true)
    assert len(found.strokes) >= 2


@pytest.mark.parametrize("amount", [0.0, 0.6, 1.0])
def test_a_hand_that_crosses_is_seen_from_the_front_and_a_clean_one_is_not(amount):
    shot, marks, plane, truth = filmed(replace(FLUENT, crossover=amount), "front_under")
    got = measure_entry(shot, marks, plane, bands=BANDS, distance=Measured(3.0, 0.3))
    breadth = np.linalg.norm(joint(truth, "shoulder_l") - joint(truth, "shoulder_r"), axis=1).mean()
    for side, outward in (("l", 1.0), ("r", -1.0)):
        found = got.get("entry_from_midline_pct", side)
        middle = (joint(truth, "shoulder_l") + joint(truth, "shoulder_r"))[:, 1] / 2
        true = outward * (joint(truth, f"fingertip_{side}")[:, 1] - middle) / breadth * 100
        seen = np.array([true[s.frames[0]] for s in found.strokes])
        inside = [abs(v - t) < 1.96 * np.hypot(s.sigma, s.common) for v, t, s in
                  zip(values(found), seen, found.strokes, strict=True)]  # fmt: skip
        assert all(inside), (values(found), seen)
        front = got.get("front_from_midline_pct", side)
        for s in front.strokes:
            assert abs(s.value - true[s.frames[0]]) < 1.96 * np.hypot(s.sigma, s.common)
        assert front.verdict == "within" if amount == 0 else front.value < 20
        if amount == 1.0:
            assert front.value < 0 and front.verdict in ("outside", "near", "undecided")


def test_the_pull_from_the_front_is_read_where_the_hand_is_deep():
    shot, marks, plane, truth = filmed(FLUENT, "front_under")
    got = measure_pull(shot, marks, plane, bands=BANDS, distance=Measured(3.0, 0.3))
    breadth = np.linalg.norm(joint(truth, "shoulder_l") - joint(truth, "shoulder_r"), axis=1).mean()
    middle = (joint(truth, "shoulder_l") + joint(truth, "shoulder_r"))[:, 1] / 2
    for side, outward in (("l", 1.0), ("r", -1.0)):
        found = got.get("pull_from_midline_pct", side)
        true = outward * (joint(truth, f"fingertip_{side}")[:, 1] - middle) / breadth * 100
        for s in found.strokes:
            assert abs(s.value - true[s.frames[0]]) < 1.96 * np.hypot(s.sigma, s.common)


def test_the_body_wanders_as_far_as_its_joints_do():
    shot, marks, plane, truth = filmed(replace(FLUENT, crossover=0.8), "front_under")
    got = measure_alignment(shot, marks, plane, bands=BANDS, distance=Measured(3.0, 0.3))
    breadth = np.linalg.norm(joint(truth, "shoulder_l") - joint(truth, "shoulder_r"), axis=1).mean()
    for quantity, name in (("hips_wander_pct", "hip"), ("ankles_wander_pct", "ankle")):
        found = next(f for f in got.findings if f.quantity == quantity)
        y = (joint(truth, f"{name}_l") + joint(truth, f"{name}_r"))[:, 1] / 2
        true = np.ptp(y[: round(60 * 60 / FLUENT.rate)]) / breadth * 100
        assert abs(found.value - true) < max(6.0, 0.25 * true), (quantity, found.value, true)


def test_without_marks_or_in_a_wrong_view_nothing_is_guessed():
    shot, marks, plane, _ = filmed(FLUENT, frames=[0, 1])
    for measure in (measure_entry, measure_extension, measure_pull, measure_recovery):
        got = measure(shot, marks, plane, bands=BANDS)
        assert got.results and all(isinstance(r, NotMeasured) and r.reason and r.remedy for r in got.results)
    front = filmed(FLUENT, "front_under", seconds=1.0)[:3]
    for measure in (measure_extension, measure_recovery):
        assert all(isinstance(r, NotMeasured) for r in measure(*front, bands=BANDS).results)
    assert all(isinstance(r, NotMeasured) for r in measure_alignment(shot, marks, plane, bands=BANDS).results)


def test_an_entry_set_by_the_coach_is_read_on_that_frame():
    shot, marks, plane, truth = filmed(FLUENT, "side_split", marked=EVERYTHING)
    frame = round(float(down_through(joint(truth, "fingertip_r")[:, 2])[1])) - 6
    found = measure_entry(shot, marks, plane, bands=BANDS, events=[EventMark("entry", "r", float(frame), by="kb")])
    assert any(frame in s.frames for s in found.get("entry_ahead_pct", "r").strokes)


def test_the_stills_show_what_was_measured():
    shot, marks, plane, _ = filmed(FLUENT, "side_split", marked=EVERYTHING)
    for measure, key in ((measure_entry, "entry"), (measure_extension, "reach"), (measure_recovery, "exit")):
        stills = [s for s in measure(shot, marks, plane, bands=BANDS).stills if s.key == key and s.side == "r"]
        assert len(stills) >= 3
        assert all(s.drawing.body and s.drawing.reference and s.crop for s in stills)
