"""The catch of motions described in words, whose values follow by hand."""

from __future__ import annotations

import numpy as np
import pytest
from planar_arm import Camera, PlanarArm, with_

from casebook.checkpoints.bands import load_bands
from casebook.checkpoints.catch import measure_catch
from casebook.checkpoints.catch_reading import HEIGHT, HEIGHT_KNUCKLE, halfway
from casebook.plane.measured import Measured

BANDS = load_bands("triathlete")
CAMERA = Camera(seconds=3.6, following=True)
BOTH = pytest.mark.parametrize("stills", [False, True], ids=["track", "stills"])
#: Adult proportions of the coach's sheet. [m]
UPPER, FORE, HAND = 0.31, 0.27, 0.19
REACH = UPPER + FORE + HAND


def measured(arm, stills=False, camera=CAMERA, points=None, moments=(12.0, 45.0, 90.0), **kw):
    frames = camera.key_stills(arm, (0, 1), moments) if stills else None
    marks = camera.marks(arm, frames, **({"points": points} if points else {}))
    return measure_catch(camera.shot(), marks, camera.plane(**kw.pop("errors", {})), bands=BANDS, **kw)


@BOTH
def test_a_straight_arm_scores_nothing(stills):
    catch = measured(PlanarArm(straight=True, flex_deg=0.0), stills)
    assert catch.get("hand_ahead_pct", "r").value == pytest.approx(0, abs=0.5 if stills else 0.1)
    height = catch.get("elbow_height_pct", "r")
    assert height.value == pytest.approx(0, abs=0.1)
    assert height.outcome == "straight on"
    assert catch.get("elbow_angle_45_deg", "r").value == pytest.approx(180, abs=1)
    assert catch.get("hand_ahead_pct", "r").verdict == "outside"


@BOTH
@pytest.mark.parametrize(("slope", "expected"), [(30.0, 35.0), (60.0, 20.0)])
def test_a_resting_upper_arm_puts_the_hand_ahead_by_its_cosine(stills, slope, expected):
    """Upper arm 30 degrees down: 0.31 cos 30 / 0.77 = 35 %; 60 degrees down: 20 % (computed by hand)."""
    arm = PlanarArm(upper=UPPER, fore=FORE, hand=HAND, upper_reach_deg=slope, upper_finish_deg=slope, flex_deg=0.0)
    got = measured(arm, stills).get("hand_ahead_pct", "r").value
    assert got == pytest.approx(100 * UPPER * np.cos(np.radians(slope)) / REACH, abs=0.3)
    assert got == pytest.approx(expected, abs=0.5)


@BOTH
@pytest.mark.parametrize(("slope", "angle", "height_cm"), [(3.0, 138.0, 13.0), (15.0, 150.0, 10.0)])
def test_elbow_height_and_angle_of_a_resting_upper_arm(stills, slope, angle, height_cm):
    """Forearm 45 down: with the upper arm 3 down 180 - 42 = 138 deg and 13 cm; 15 down, 150 deg and 10 cm (by hand)."""
    arm = PlanarArm(upper=UPPER, fore=FORE, hand=HAND, upper_reach_deg=slope, upper_finish_deg=slope, flex_deg=0.0)
    catch = measured(arm, stills)
    assert catch.get("elbow_angle_45_deg", "r").value == pytest.approx(angle, abs=0.5)
    metres = catch.get("elbow_height_m", "r")
    assert metres.value * 100 == pytest.approx(height_cm, abs=0.5)
    assert metres.verdict == "shown"
    height = catch.get("elbow_height_pct", "r")
    assert height.value == pytest.approx(100 * metres.value / REACH, abs=0.1)
    assert height.outcome == "bent above"
    assert height.sentence.startswith(f"Elbow {height_cm:.0f} cm above the straight line")


@BOTH
def test_an_elbow_that_leads_is_below_the_line(stills):
    arm = PlanarArm(upper_reach_deg=30.0, upper_finish_deg=160.0, lag=-0.05, flex_deg=0.0)
    height = measured(arm, stills).get("elbow_height_pct", "r")
    assert height.outcome == "dropped below"
    assert height.value < -5
    assert "below" in height.sentence


def test_a_bent_wrist_alone_fakes_five_centimetres():
    """Straight arm 30 deg down, hand bent to 70: 0.31 sin(39.6 - 30 deg) = 5 cm; to the knuckle less (by hand)."""

    def toward(deg, length):
        return length * np.array([np.cos(np.radians(deg)), -np.sin(np.radians(deg))])

    wrist = toward(30, UPPER + FORE)
    points = np.array(
        [np.zeros(2), toward(30, UPPER), wrist, wrist + toward(70, HAND), wrist + toward(70, 0.1), [-0.5, 0.0]]
    )
    values = halfway(points)
    assert values[HEIGHT] == pytest.approx(0.05, abs=0.002)
    assert values[HEIGHT_KNUCKLE] == pytest.approx(0.03, abs=0.003)


def test_over_twenty_degrees_of_wrist_the_line_runs_to_the_knuckle():
    arm = PlanarArm(straight=True, flex_deg=30.0)
    with_knuckle = measured(arm).get("elbow_height_m", "r")
    assert any("knuckle" in note for note in with_knuckle.notes)
    p = arm.joints(np.array(arm.forearm_at(45)))
    line = (p[4] - p[0]) / np.linalg.norm(p[4] - p[0])
    by_hand = line[0] * (p[1] - p[0])[1] - line[1] * (p[1] - p[0])[0]
    assert with_knuckle.value == pytest.approx(by_hand, abs=0.002)
    without = measured(arm, points=("shoulder", "elbow", "wrist", "fingertip")).get("elbow_height_m", "r")
    assert not without
    assert "Mark the knuckle in frame" in without.remedy
    assert measured(arm).get("wrist_angle_45_deg", "r").value == pytest.approx(150, abs=0.5)


@BOTH
def test_the_upper_arm_s_turn_is_counted_against_the_trunk(stills):
    still_arm = PlanarArm(upper_reach_deg=12.0, upper_finish_deg=12.0)
    assert measured(still_arm, stills).get("upper_arm_turn_deg", "r").value == pytest.approx(0, abs=0.3)
    whole_arm = PlanarArm(straight=True)
    assert measured(whole_arm, stills).get("upper_arm_turn_deg", "r").value == pytest.approx(40, abs=0.5)


def test_the_angle_under_the_shoulder_is_read_where_the_wrist_passes_it():
    arm = PlanarArm()
    p = arm.joints(np.array(arm.instant(lambda q: q[0, 0] - q[2, 0])))
    u, v = p[0] - p[1], p[2] - p[1]
    by_hand = np.degrees(np.arccos(u @ v / np.linalg.norm(u) / np.linalg.norm(v)))
    assert measured(arm).get("elbow_angle_under_deg", "r").value == pytest.approx(by_hand, abs=0.3)
    stills = measured(arm, True, moments=(12.0, 45.0, 90.0, 125.0))
    assert stills.get("elbow_angle_under_deg", "r").value == pytest.approx(by_hand, abs=0.5)


@BOTH
def test_left_and_right_and_a_tilted_camera_give_the_same_numbers(stills):
    arm = PlanarArm()
    level = measured(arm, stills)
    mirror = measured(with_(arm, side="l"), stills, with_(CAMERA, sign=-1))
    tilted = measured(arm, stills, with_(CAMERA, tilt_deg=7.0))
    for quantity in ("hand_ahead_pct", "elbow_height_pct", "elbow_angle_45_deg", "upper_arm_turn_deg"):
        value = level.get(quantity, "r").value
        assert mirror.get(quantity, "l").value == pytest.approx(value, abs=1e-6)
        assert tilted.get(quantity, "r").value == pytest.approx(value, abs=1e-6)


@BOTH
def test_without_a_scale_angles_and_percentages_are_the_same_and_metres_are_not_measured(stills):
    arm = PlanarArm()
    with_scale, without = measured(arm, stills), measured(arm, stills, errors={"no_scale": True})
    for quantity in ("hand_ahead_pct", "elbow_height_pct", "elbow_angle_45_deg", "wrist_angle_45_deg"):
        assert without.get(quantity, "r").value == pytest.approx(with_scale.get(quantity, "r").value)
    gap = without.get("elbow_height_m", "r")
    assert not gap
    assert "Mark a known length" in gap.remedy
    assert without.arm_length is None
    assert "% of the arm above" in without.get("elbow_height_pct", "r").sentence


def test_a_stated_arm_length_is_used_and_its_error_is_common_to_all_strokes():
    arm = PlanarArm()
    stated = measured(arm, arm_length=Measured(0.80, 0.02))
    own = measured(arm)
    ratio = stated.get("hand_ahead_pct", "r").value / own.get("hand_ahead_pct", "r").value
    assert ratio == pytest.approx(0.77 / 0.80, rel=2e-3)
    first = stated.get("hand_ahead_pct", "r").strokes[0]
    assert first.common == pytest.approx(first.value * 0.02 / 0.80, rel=1e-3)
    assert stated.arm_length.value == pytest.approx(0.80)


def test_a_doubtful_scale_widens_metres_and_leaves_percentages_of_the_measured_arm():
    arm = PlanarArm()
    rough = measured(arm, errors={"scale_sigma": 0.05})
    metres = rough.get("elbow_height_m", "r")
    assert metres.strokes[0].common == pytest.approx(0.05 * metres.value, rel=1e-6)
    sure = measured(arm).get("elbow_height_pct", "r")
    assert rough.get("elbow_height_pct", "r").these.half == pytest.approx(sure.these.half)


@BOTH
def test_the_common_part_of_a_tilt_is_the_change_that_the_tilt_makes_and_does_not_shrink(stills):
    arm = PlanarArm()
    moments = (12.0, 45.0, 90.0, 125.0)
    doubtful = measured(arm, stills, moments=moments, errors={"tilt_sigma_deg": 1.0})
    frames = CAMERA.key_stills(arm, (0, 1), moments) if stills else None
    turned = CAMERA.plane().shifted([0, np.radians(1.0), 0])
    moved = measure_catch(CAMERA.shot(), CAMERA.marks(arm, frames), turned, bands=BANDS)
    for quantity in ("elbow_angle_under_deg", "elbow_angle_45_deg", "upper_arm_turn_deg"):
        finding = doubtful.get(quantity, "r")
        change = abs(moved.get(quantity, "r").strokes[0].value - finding.strokes[0].value)
        common = finding.strokes[0].common
        if stills and quantity == "elbow_angle_under_deg":
            assert common > change, "strokes share the doubt of the join through the stills too"
        else:
            assert common == pytest.approx(change, rel=0.05, abs=0.02)
    under = doubtful.get("elbow_angle_under_deg", "r")
    assert under.strokes[0].common > 0.1
    assert under.these.half > 1.96 * under.strokes[0].common


def test_a_line_steeper_than_sixty_degrees_is_not_asked_what_is_above_it():
    # The upper arm hangs almost straight down: forearm 45, line to the fingertips steeper than 60.
    arm = PlanarArm(upper_reach_deg=85.0, upper_finish_deg=85.0, flex_deg=20.0)
    gap = measured(arm).get("elbow_height_pct", "r")
    assert not gap
    assert "steeper than 60" in gap.reason
    assert measured(arm).get("elbow_angle_45_deg", "r")


def test_stills_are_the_marked_frames_nearest_to_their_moments_and_carry_their_lines():
    arm = PlanarArm(lag=0.05)
    catch = measured(arm, True)
    keys = CAMERA.key_stills(arm, (0, 1))
    assert [(s.key, s.stroke, s.frame) for s in catch.stills] == [
        (key, 1 + i // 3, frame)
        for i, (key, frame) in enumerate(zip(("reach", "halfway", "straight_down") * 2, keys, strict=True))
    ]
    half = catch.stills[1].drawing
    shoulder, elbow, _, tip = half.body[0]
    assert half.reference[0] == pytest.approx(np.array([shoulder, tip]))
    (start, foot), (across_a, across_b) = half.measure[0], half.reference[0]
    assert start == pytest.approx(elbow)
    # The warm stroke meets the dashed line at a right angle.
    assert np.dot(np.subtract(foot, start), np.subtract(across_b, across_a)) == pytest.approx(0, abs=1e-6)
    assert half.labels[0].text.endswith("cm above")
    down = catch.stills[2].drawing
    assert down.reference[0][0][0] == pytest.approx(down.reference[0][1][0])
    assert down.measure[0][0][1] == pytest.approx(down.measure[0][1][1])
    assert down.labels[0].text.endswith("% ahead")


def test_curves_run_with_the_forearm_and_pass_through_the_readings():
    arm = PlanarArm()
    for stills in (False, True):
        catch = measured(arm, stills)
        for curve in catch.curves:
            assert len(curve.frames) == len(curve.value) == len(curve.sigma)
            assert np.all(np.diff(curve.inclination_deg) > -1)
            assert (curve.sigma[np.isfinite(curve.value)] > 0).all()
    track = measured(arm)
    for quantity, inclination in (("hand_ahead_pct", 90), ("elbow_height_pct", 45)):
        curve = next(c for c in track.curves if c.quantity == quantity)
        read = track.get(quantity, "r").strokes[0].value
        assert np.interp(inclination, curve.inclination_deg, curve.value) == pytest.approx(read, abs=0.3)


def test_the_table_is_the_same_every_time_and_names_what_is_missing():
    first, second = measured(PlanarArm(), True).text(), measured(PlanarArm(), True).text()
    assert first == second
    assert "31 % of arm length" in first
    assert "not measured: elbow angle, hand under the shoulder" in first
