"""Body line and head of demo swimmers against their joints in the side plane, and the faults that move them."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from demo_shots import EVERYTHING, filmed, joint

from casebook.checkpoints.bands import load_bands
from casebook.checkpoints.body_line import ORDER, measure_body_line
from casebook.checkpoints.finding import Finding, NotMeasured
from casebook.clip.shot import Swim
from casebook.demo.swimmer import FAULTS, Swimmer
from casebook.plane.plane import Plane

BANDS = load_bands("distance")
PLAIN = Swimmer(breathing="none")


@cache
def seen(swimmer=PLAIN, sigma=0.0, seconds=6.0):
    shot, marks, plane, truth = filmed(swimmer, sigma=sigma, seconds=seconds, marked=EVERYTHING)
    return measure_body_line(shot, marks, plane, bands=BANDS), truth


def value(result, quantity, name="none"):
    found = result.get(quantity, "r", name)
    assert isinstance(found, Finding), found
    return found.value


def true_slope(truth):
    """Direction from hip to shoulder of the near side, as the mean of its joints. [deg]"""
    d = (joint(truth, "shoulder_r") - joint(truth, "hip_r")).mean(0)
    return float(np.degrees(np.arctan2(d[2], d[0])))


@pytest.mark.parametrize("swimmer", [PLAIN, replace(PLAIN, pitch=9.0, depth=0.2), replace(PLAIN, head_lift=1.0)])
def test_slope_and_depths_are_those_of_the_joints_within_their_intervals(swimmer):
    result, truth = seen(swimmer)
    for quantity, true in (
        ("trunk_tilt_deg", true_slope(truth)),
        ("hip_depth_m", -joint(truth, "hip_r")[:, 2].mean()),
        ("heel_depth_m", -joint(truth, "heel_r")[:, 2].mean()),
        ("crown_height_m", joint(truth, "crown")[:, 2].mean()),
    ):
        found = result.get(quantity, "r")
        assert found.these.low - 0.01 < true < found.these.high + 0.01, quantity
        assert found.these.half < (3.0 if quantity == "trunk_tilt_deg" else 0.05)


def test_one_frame_would_be_off_by_what_roll_fakes_and_the_mean_is_not():
    result, truth = seen(replace(PLAIN, roll=45.0, hip_roll=20.0))
    d = joint(truth, "shoulder_r") - joint(truth, "hip_r")
    single = np.degrees(np.arctan2(d[:, 2], d[:, 0]))
    # Computed for a trunk of half a metre: plus and minus about 8 degrees and more.
    assert np.abs(single - true_slope(truth)).max() > 8
    assert value(result, "trunk_tilt_deg") == pytest.approx(true_slope(truth), abs=2.0)


def test_stills_half_a_cycle_apart_do_as_well_as_every_frame():
    shot, marks, plane, _ = filmed(PLAIN, marked=EVERYTHING)
    start = next(s.time_s for s in seen()[0].get("hip_depth_m", "r").strokes)
    period = 60 * PLAIN.period_s
    pair = [round(60 * start + 5), round(60 * start + 5 + period / 2)]
    few = marks.pick(marks.points, marks.frames)
    arm = [few.index(n) for n in few.points if n.startswith(("shoulder", "hip", "heel", "ear", "crown"))]
    off = ~np.isin(few.frames, pair)
    few.xy[np.ix_(np.flatnonzero(off), arm)] = np.nan
    result = measure_body_line(shot, few, plane, bands=BANDS)
    assert value(result, "trunk_tilt_deg") == pytest.approx(value(seen()[0], "trunk_tilt_deg"), abs=0.8)
    few.xy[few.frames == pair[1]] = np.nan
    alone = measure_body_line(shot, few, plane, bands=BANDS).get("trunk_tilt_deg", "r")
    assert isinstance(alone, NotMeasured) and "half a cycle apart" in alone.remedy


def test_a_lifted_head_moves_head_crown_trunk_hips_and_heels():
    plain, lifted = seen(Swimmer(breath_every=2))[0], seen(Swimmer(breath_every=2, head_lift=1.0))[0]
    for quantity, least in (
        ("head_angle_deg", 5.0), ("head_level_deg", 12.0), ("crown_height_m", 0.06), ("trunk_tilt_deg", 5.0),
        ("hip_depth_m", 0.04), ("heel_depth_m", 0.08),
    ):  # fmt: skip
        assert value(lifted, quantity) - value(plain, quantity) > least, quantity
    assert (
        lifted.get("head_level_deg", "r").verdict == "outside" and plain.get("head_level_deg", "r").verdict == "within"
    )
    assert lifted.get("trunk_tilt_deg", "r").verdict == "outside"
    assert lifted.get("heel_depth_m", "r").verdict == "outside"


@pytest.mark.parametrize("fault", [f for f in FAULTS if f != "head_lift"])
def test_no_other_planted_fault_moves_the_body_line(fault):
    result, plain = seen(replace(PLAIN, **{fault: 1.0}))[0], seen()[0]
    for quantity, limit in zip(ORDER, (1.5, 0.015, 0.04, 2.5, 2.5, 0.015), strict=True):
        assert value(result, quantity) == pytest.approx(value(plain, quantity), abs=limit), quantity


def test_the_head_against_the_level_is_the_slope_from_shoulder_to_ear_of_the_swimmer():
    for swimmer in (PLAIN, replace(PLAIN, head_lift=1.0), replace(PLAIN, pitch=9.0)):
        result, truth = seen(swimmer)
        ahead = joint(truth, "ear_r") - joint(truth, "shoulder_r")
        true = np.degrees(np.arctan2(ahead[:, 2].mean(), ahead[:, 0].mean()))
        assert value(result, "head_level_deg") == pytest.approx(true, abs=2.5)


def test_a_turn_to_breathe_is_left_out_of_head_and_crown():
    still, breathing = seen()[0], seen(Swimmer(breath_every=1))[0]
    assert value(breathing, "crown_height_m", "breath_r") == pytest.approx(value(still, "crown_height_m"), abs=0.012)
    assert value(breathing, "head_angle_deg", "breath_r") == pytest.approx(value(still, "head_angle_deg"), abs=2.5)
    assert any("face in the water" in n for n in breathing.get("crown_height_m", "r", "breath_r").notes)


def test_the_crown_carries_the_caution_of_the_bow_wave():
    assert any("bow wave" in n for n in seen()[0].get("crown_height_m", "r").notes)


def test_without_water_or_scale_angles_are_left():
    shot, marks, plane, _ = filmed(PLAIN, marked=EVERYTHING)
    bare = Plane.given(plane.sign, water_px=plane.water_px)
    result = measure_body_line(shot, marks, bare, bands=BANDS)
    assert {f.quantity for f in result.findings} == {"trunk_tilt_deg", "head_angle_deg", "head_level_deg"}
    assert all("scale" in r.reason for r in result.missing)
    # Without the water line no hand is seen to enter, and cycles are counted by the hand under the shoulder.
    dry = measure_body_line(shot, marks, Plane.given(plane.sign, m_per_px=plane.m_per_px), bands=BANDS)
    assert all("water line" in r.reason for r in dry.missing) and dry.findings


def test_kit_is_minded():
    shot, marks, plane, _ = filmed(PLAIN, marked=EVERYTHING)
    buoy = measure_body_line(replace(shot, swim=Swim("a", kit="pull buoy")), marks, plane, bands=BANDS)
    assert isinstance(buoy.get("hip_depth_m", "r"), NotMeasured) and isinstance(
        buoy.get("trunk_tilt_deg", "r"), Finding
    )
    suit = measure_body_line(replace(shot, swim=Swim("a", kit="wetsuit")), marks, plane, bands=BANDS)
    assert any("wetsuit" in n for n in suit.get("heel_depth_m", "r").notes)


@pytest.mark.parametrize("view", ["side_above", "front_under", "rear_under"])
def test_other_views_refuse_and_say_what_to_film(view):
    shot, marks, plane, _ = filmed(PLAIN, "front_under" if view == "rear_under" else view, seconds=3.0)
    result = measure_body_line(replace(shot, view=view), marks, plane, bands=BANDS)
    assert not result.findings and len(result.missing) == len(ORDER)
    assert all("from the side" in r.remedy for r in result.missing)


def test_stills_show_the_whole_body_against_the_water():
    result, _ = seen(Swimmer(breath_every=2))
    assert {s.key for s in result.stills} == {"line", "line_breath"}
    assert all(len(s.drawing.body[0]) == 4 and s.drawing.reference for s in result.stills)


def test_marks_of_two_pixels_are_told_within_the_stated_errors():
    exact, rough = seen()[0], seen(sigma=2.0)[0]
    for quantity in ORDER:
        a, b = exact.get(quantity, "r"), rough.get(quantity, "r")
        for one, other in zip(a.strokes, b.strokes, strict=True):
            assert abs(one.value - other.value) < 3.5 * other.sigma, quantity
