"""Plane truth, truth files, occlusion."""

from __future__ import annotations

import ast
import math
from pathlib import Path

import numpy as np
import pytest

import casebook.demo
from casebook.demo.cameras import camera_for
from casebook.demo.cast import CAST
from casebook.demo.occlusion import hidden
from casebook.demo.plane_truth import INSTANTS, QUANTITIES, catch_truth, in_view
from casebook.demo.swimmer import Swimmer
from casebook.demo.truth import VISIBLE, make_truth, truth_table
from casebook.demo.truth_files import COLUMNS, fixed, points_csv, read_truth, write_truth
from casebook.errors import CasebookError
from casebook.plane.geometry import height_over_line, inclination_deg, joint_angle_deg

SWIMMER = CAST["rowan"].swimmer
CAMERA = camera_for("side_under", speed=SWIMMER.speed)
TRUTH = make_truth("rowan_side", SWIMMER, CAMERA, np.arange(200) / 50)
SIDES = pytest.mark.parametrize("side", ["l", "r"])


def as_the_picture_shows(swimmer, camera, side, times, plane_y):
    """Level metres from pixels: a square pinhole shows the plane as it is, only smaller. name -> (K, 2)"""
    joints = swimmer.joints(times)
    scale = camera.focal_px / abs(plane_y - camera.position[1])
    out = {}
    for name in ("shoulder", "elbow", "wrist", "fingertip", "hip"):
        xy, _ = camera.project(joints[f"{name}_{side}"], times)
        turned = np.radians(camera.roll_deg)
        x, y = (xy - camera.centre_px).T
        level = np.stack([x * np.cos(turned) - y * np.sin(turned), -(x * np.sin(turned) + y * np.cos(turned))], 1)
        out[name] = level / scale * ([1, 1] if camera.direction == "right" else [-1, 1])
    return out


@SIDES
@pytest.mark.parametrize("from_side", ["l", "r"])
@pytest.mark.parametrize("alias", CAST)
def test_plane_truth_is_what_an_ideal_picture_shows(alias, side, from_side):
    swimmer = CAST[alias].swimmer
    camera = camera_for("side_under", speed=swimmer.speed, side=from_side, roll_deg=3.0)
    truth = catch_truth(swimmer, side, np.arange(1, 5), camera)

    def shown(name):
        return as_the_picture_shows(swimmer, camera, side, truth.instants[name], truth.plane_y_m)

    half, down, under = shown("forearm_45"), shown("forearm_90"), shown("under_shoulder")
    np.testing.assert_allclose(inclination_deg(half["elbow"], half["wrist"]), 45.0, atol=1e-5)
    np.testing.assert_allclose(inclination_deg(down["elbow"], down["wrist"]), 90.0, atol=1e-5)
    np.testing.assert_allclose(under["wrist"][:, 0], under["shoulder"][:, 0], atol=1e-7)
    v = truth.values
    ahead = down["fingertip"][:, 0] - down["shoulder"][:, 0]
    np.testing.assert_allclose(v["hand_ahead_m"], ahead, atol=1e-6)
    np.testing.assert_allclose(v["hand_ahead_pct"], 100 * ahead / swimmer.arm_length_m, atol=1e-4)
    height = height_over_line(half["elbow"], half["shoulder"], half["fingertip"])
    np.testing.assert_allclose(v["elbow_height_m"], height, atol=1e-6)
    bend = [joint_angle_deg(p["shoulder"], p["elbow"], p["wrist"]) for p in (half, under)]
    np.testing.assert_allclose(v["elbow_angle_45_deg"], bend[0], atol=1e-5)
    np.testing.assert_allclose(v["elbow_angle_under_deg"], bend[1], atol=1e-5)
    first = as_the_picture_shows(swimmer, camera, side, truth.events["end_of_extension"], truth.plane_y_m)
    then = shown("forearm_turned_40")
    slope = [inclination_deg(p["elbow"], p["wrist"]) for p in (first, then)]
    np.testing.assert_allclose(slope[1] - slope[0], 40.0, atol=1e-5)
    turn = [
        inclination_deg(p["shoulder"], p["elbow"]) - inclination_deg(p["hip"], p["shoulder"]) for p in (first, then)
    ]
    np.testing.assert_allclose(v["upper_arm_turn_deg"], turn[1] - turn[0], atol=1e-5)


@SIDES
@pytest.mark.parametrize("mode", ["still", "following"])
def test_the_hand_turns_backward_where_the_plane_shows_it(side, mode):
    swimmer = CAST["wren"].swimmer
    camera = camera_for("side_under", speed=swimmer.speed, mode=mode, at_s=2.0)
    truth = catch_truth(swimmer, side, np.array([2]), camera)

    def gone(name, against):
        h = np.array([-2, -1, 1, 2]) * 1e-3
        points = as_the_picture_shows(swimmer, camera, side, truth.events[name][0] + h, truth.plane_y_m)
        x = points["wrist"][:, 0] - (points["shoulder"][:, 0] if against else 0.0)
        return (x[0] - 8 * x[1] + 8 * x[2] - x[3]) / 12e-3

    assert gone("past_body", True) == pytest.approx(0.0, abs=1e-3)
    # A following camera moves along, so that only a still one shows the hand against the water.
    assert (abs(gone("catch", False)) < 1e-3) == (mode == "still")


@SIDES
def test_a_camera_very_far_away_sees_the_square_values(side):
    swimmer = Swimmer(variation=1.0)
    far = camera_for("side_under", speed=swimmer.speed, distance_m=4000.0)
    plane = catch_truth(swimmer, side, np.arange(2, 5), far)
    square = catch_truth(swimmer, side, np.arange(2, 5), way="square")
    for name in QUANTITIES:
        np.testing.assert_allclose(plane.values[name], square.values[name], atol=0.05, err_msg=name)


def test_space_values_are_the_stated_joint_angles():
    swimmer = CAST["heron"].swimmer
    truth = catch_truth(swimmer, "r", np.arange(1, 4), way="space")
    for name, instant in (("elbow_angle_45_deg", "forearm_45"), ("elbow_angle_under_deg", "under_shoulder")):
        stated = swimmer.measures(truth.instants[instant])["elbow_angle_r"]
        np.testing.assert_allclose(truth.values[name], stated, atol=1e-9)


def test_the_good_swimmer_and_the_three_outcomes_of_the_elbow():
    def of(**fault):
        swimmer = Swimmer(**fault)
        truth = catch_truth(swimmer, "l", np.array([2]), way="square")
        return {name: float(v[0]) for name, v in truth.values.items()}

    # Orders of size: common practice, no source.
    good, straight, dropped = of(), of(straight_arm=1.0), of(dropped_elbow=1.0)
    assert 25 < good["hand_ahead_pct"] < 35 and good["elbow_height_pct"] > 5
    assert 0 < straight["hand_ahead_pct"] < 8 and abs(straight["elbow_height_pct"]) < 3
    assert dropped["elbow_height_pct"] < -4
    assert good["hand_ahead_pct"] - of(late_hand=1.0)["hand_ahead_pct"] > 5


def handmade(elbow, wrist, fingertip, knuckle):
    """Values of an arm that holds still, shoulder and hip level, seen square."""
    still = {
        "shoulder": (0, 0),
        "elbow": elbow,
        "wrist": wrist,
        "fingertip": fingertip,
        "knuckle": knuckle,
        "hip": (-0.5, 0),
    }
    arm = {name: np.array([xz], float) for name, xz in still.items()}
    instants = dict.fromkeys((*INSTANTS, "end_of_extension"), np.zeros(1))
    return {name: float(v[0]) for name, v in in_view(lambda t: arm, instants, instants).items()}


def test_an_arm_laid_out_on_paper_is_read_as_a_protractor_would():
    # Level upper arm of 3, forearm of 2 straight down, hand of 1 on: elbow 3 * 3 / sqrt(18) above the line.
    values = handmade((3, 0), (3, -2), (3, -3), (3, -2.5))
    assert values["hand_ahead_m"] == pytest.approx(3.0)
    assert values["elbow_angle_45_deg"] == pytest.approx(90.0)
    assert values["wrist_angle_45_deg"] == pytest.approx(180.0)
    assert values["elbow_height_m"] == pytest.approx(9 / np.sqrt(18))
    below = handmade((0, -3), (3, -3), (4, -3), (3.5, -3))
    assert below["elbow_height_m"] == pytest.approx(-3 * 4 / 5)


def test_a_line_steeper_than_60_degrees_has_no_elbow_height():
    edge = np.tan(np.radians(60.0))
    assert np.isfinite(handmade((1, 0), (1, -0.5), (1, -edge + 0.01), (1, -1))["elbow_height_m"])
    assert np.isnan(handmade((1, 0), (1, -0.5), (1, -edge - 0.01), (1, -1))["elbow_height_m"])


def test_where_the_wrist_bends_over_20_degrees_the_knuckle_takes_the_fingertips_place():
    def hand(bend, length):
        a = np.radians(45 + bend)
        return 2 + length * np.cos(a), -1 - length * np.sin(a)

    for bend, used in ((19.0, 0.2), (21.0, 0.1)):
        values = handmade((1, 0), (2, -1), hand(bend, 0.2), hand(bend, 0.1))
        x, z = hand(bend, used)
        assert values["wrist_angle_45_deg"] == pytest.approx(180 - bend)
        assert values["elbow_height_m"] == pytest.approx(abs(z) / np.hypot(x, z))


def test_truth_shares_nothing_with_the_measuring_code():
    folder = Path(casebook.demo.__file__).parent
    for name in ("plane_truth", "truth", "events", "roots", "swimmer", "sampler", "truth_files"):
        tree = ast.parse((folder / f"{name}.py").read_text(encoding="utf-8"))
        used = {n.module or "" for n in ast.walk(tree) if isinstance(n, ast.ImportFrom)}
        assert not [m for m in used if m.startswith(("casebook.plane", "casebook.stroke", "casebook.checkpoints"))]


def test_the_gap_to_space_is_printed_as_a_table():
    text = truth_table(SWIMMER, CAMERA, "r", 0.0, 4.0)
    assert all(name in text for name in QUANTITIES)
    assert text.splitlines()[0].split()[-5:] == ["square", "space", "plane", "-", "space"]


def test_catches_lie_wholly_inside_the_clip():
    for catch in TRUTH.catches:
        assert len(catch.numbers)
        assert (catch.events["end_of_extension"] >= TRUTH.times[0]).all()
        assert (catch.instants["under_shoulder"] <= TRUTH.times[-1]).all()


def test_a_short_clip_may_hold_no_catch():
    tiny = make_truth("tiny", SWIMMER, CAMERA, np.arange(3) / 50)
    assert [len(catch.numbers) for catch in tiny.catches] == [0, 0]


def test_visibility_words():
    assert set(np.unique(TRUTH.visible)) <= set(VISIBLE)
    above = TRUTH.world[..., 2] > 0
    assert (TRUTH.visible[above] == "above_water").all()
    near, far = ((TRUTH.visible[:, TRUTH.index(f"hip_{s}")] == "occluded").mean() for s in "rl")
    assert near < 0.2 and far > 0.8
    zoomed = make_truth("z", SWIMMER, camera_for("side_under", speed=SWIMMER.speed, zoom=3.0), np.arange(5) / 50)
    assert (zoomed.visible[:, zoomed.index("toe_l")] == "out_of_frame").all()
    split = make_truth("s", SWIMMER, camera_for("side_split", speed=SWIMMER.speed), np.arange(50) / 50)
    assert not (split.visible == "above_water").any()


def test_a_point_behind_the_trunk_is_hidden_and_one_before_it_is_not():
    joints = {name: xyz[:1] for name, xyz in Swimmer().joints(np.array([0.2])).items()}
    middle = joints["mid"][0]
    eye = middle + np.array([0.0, -3.0, 0.0])
    joints["wrist_l"] = (middle + np.array([0.0, 0.35, 0.0]))[None]
    joints["wrist_r"] = (middle + np.array([0.0, -0.35, 0.0]))[None]
    assert hidden(joints, ["wrist_l", "wrist_r"], eye[None], 1.78).tolist() == [[True, False]]


def test_files_come_back_as_they_were_written(tmp_path):
    write_truth(tmp_path, TRUTH)
    back = read_truth(tmp_path, TRUTH.name)
    assert back.swimmer == TRUTH.swimmer and back.camera == TRUTH.camera and back.points == TRUTH.points
    np.testing.assert_allclose(back.xy, TRUTH.xy, atol=6e-4)
    np.testing.assert_allclose(back.world, TRUTH.world, atol=6e-6)
    np.testing.assert_allclose(back.times, TRUTH.times, atol=6e-7)
    assert (back.visible == TRUTH.visible).all()
    for name, values in TRUTH.angles.items():
        np.testing.assert_allclose(back.angles[name], values, atol=6e-5)
    for old, new in zip(TRUTH.strokes, back.strokes, strict=True):
        assert (old.side, old.number, old.stroke_class) == (new.side, new.number, new.stroke_class)
        assert new.times == pytest.approx(old.times, abs=6e-7)
    for old, new in zip(TRUTH.catches, back.catches, strict=True):
        assert old.side == new.side and (old.numbers == new.numbers).all() and (old.classes == new.classes).all()
        for name in QUANTITIES:
            np.testing.assert_allclose(new.values[name], old.values[name], atol=6e-7)
        for name in INSTANTS:
            np.testing.assert_allclose(new.instants[name], old.instants[name], atol=6e-7)


def test_a_rebuild_gives_the_same_bytes(tmp_path):
    first = [p.read_bytes() for p in write_truth(tmp_path / "a", TRUTH)]
    again = make_truth("rowan_side", SWIMMER, CAMERA, np.arange(200) / 50)
    second = [p.read_bytes() for p in write_truth(tmp_path / "b", again)]
    assert first == second
    assert all(b"\r" not in data and b"nan" not in data and b"-0.000000" not in data for data in first)


def test_the_points_file_has_the_agreed_columns():
    head, columns, row, *_ = points_csv(TRUTH).splitlines()
    assert head == "# schema = 1"
    assert columns == "frame,time_s,point,x_px,y_px,visible,x_m,y_m,z_m" == ",".join(COLUMNS)
    assert row.startswith("0,0.000000,crown,")


def test_a_head_on_clip_has_no_side_view_catch_and_comes_back(tmp_path):
    truth = make_truth("front", SWIMMER, camera_for("front_under", speed=SWIMMER.speed), np.arange(20) / 25)
    write_truth(tmp_path, truth)
    assert truth.catches == () == read_truth(tmp_path, "front").catches


@pytest.mark.parametrize(("value", "text"), [(-0.00001, "0.000"), (1.23456, "1.235"), (math.nan, ""), (-2.0, "-2.000")])
def test_numbers_are_written_with_fixed_decimals(value, text):
    assert fixed(value, 3) == text


def test_torn_and_foreign_files_are_refused(tmp_path):
    points, _, facts = write_truth(tmp_path, TRUTH)
    whole = points.read_text(encoding="utf-8")
    points.write_text(whole[: whole.rindex("\n", 0, -1)] + "\n", encoding="utf-8")
    with pytest.raises(CasebookError, match="torn"):
        read_truth(tmp_path, TRUTH.name)
    facts.write_text(facts.read_text(encoding="utf-8").replace("schema = 1", "schema = 9"), encoding="utf-8")
    with pytest.raises(CasebookError, match="schema 9"):
        read_truth(tmp_path, TRUTH.name)
    with pytest.raises(CasebookError, match="cannot be read"):
        read_truth(tmp_path, "nothing")
