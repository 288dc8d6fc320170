"""What a camera's place fakes, against the arithmetic of the trade and against what the demo camera draws."""

from __future__ import annotations

import numpy as np
import pytest
from plane_makers import shot

from casebook.demo.camera import Camera
from casebook.demo.swimmer import Swimmer
from casebook.demo.trunk import trunk_inclination_deg
from casebook.errors import CasebookError
from casebook.plane.lies import (
    camera_part,
    height_from_deck,
    look_down_by_ropes_deg,
    look_down_by_rows_deg,
    look_down_deg,
    looks_down,
    nearer_larger,
    off_line,
    true_size,
)
from casebook.plane.lies_of import lies_of
from casebook.plane.plane import Plane
from casebook.plane.roll_tilt import false_tilt_deg, level_rows, mean_over_cycles, roll_tilts
from casebook.plane.square import square_window


def deck(height: float, away: float) -> Camera:
    return Camera("side_above", (0.0, -away, height), (0.0, 0.0, 0.0), 1200.0)


def test_deck_camera_looks_down_by_the_trades_figures():
    # Common practice, arithmetic shown: eye 1.6 m up, 4 m away, atan(1.6/4) = 22 deg; a hand 25 cm wide of the elbow
    # shifts by 25 cm sin(22 deg) = 9 cm, near and far arm 18 cm apart.
    angle = look_down_deg(1.6, 4.0)
    assert angle == pytest.approx(22, abs=0.5)
    lie = looks_down(angle, 0.25)
    assert 100 * lie.size == pytest.approx(9, abs=0.5)
    assert "18" in lie.sentence or "19" in lie.sentence
    assert lie.outcome == "refused"
    with pytest.raises(CasebookError, match=r"Height over the water cannot be measured.*by eye only"):
        lie.refuse("Height over the water")


def test_shift_of_a_wide_hand_is_what_the_demo_camera_draws():
    # Far off, so that all is drawn to one scale; near hand lower, far hand higher.
    camera = deck(16.0, 40.0)
    hands = np.array([[0.0, -0.25, 0.3], [0.0, 0.25, 0.3], [0.0, 0.0, 0.3]])
    rows = camera.project(hands, 0.0)[0][:, 1]
    metre = camera.focal_px / np.hypot(16, 40)
    near, far = (rows[0] - rows[2]) / metre, (rows[1] - rows[2]) / metre
    assert near == pytest.approx(looks_down(look_down_deg(16.0, 40.0), 0.25).size, rel=0.02)
    assert far == pytest.approx(-near, rel=0.05)


def test_ten_degrees_is_the_bound():
    assert looks_down(9.9).outcome == "corrected"
    assert looks_down(10.1).outcome == "refused"


def test_look_down_angle_from_the_picture_is_that_of_the_demo_camera():
    camera = deck(1.2, 6.0)
    rows = camera.project(np.array([[0.0, 0.0, 0.0], [0.0, 1e7, 0.0]]), 0.0)[0][:, 1]
    assert look_down_by_rows_deg(*rows, camera.centre_px[1], camera.focal_px) == pytest.approx(
        look_down_deg(1.2, 6.0), abs=1e-4
    )
    ropes = camera.project(np.array([[0.0, -1.25, 0.0], [0.0, 1.25, 0.0]]), 0.0)[0][:, 1]
    metre = np.hypot(1.2, 6.0) / camera.focal_px
    assert look_down_by_ropes_deg(*ropes, metre) == pytest.approx(look_down_deg(1.2, 6.0), rel=0.06)
    with pytest.raises(CasebookError, match="farther apart than a lane is wide"):
        look_down_by_ropes_deg(ropes[1], ropes[0], metre)


@pytest.mark.parametrize("wide", [-0.25, 0.0, 0.2])
def test_heights_from_a_low_deck_are_stretched_back_and_hold_the_truth(wide):
    camera = deck(0.9, 8.0)
    angle = look_down_deg(0.9, 8.0)
    rows = camera.project(np.array([[0.0, wide, 0.30], [0.0, 0.0, 0.0]]), 0.0)[0][:, 1]
    seen = (rows[1] - rows[0]) * np.hypot(0.9, 8.0) / camera.focal_px
    height, sigma = height_from_deck(seen, angle)
    assert abs(height - 0.30) < 1.96 * sigma
    if wide == 0:
        assert height == pytest.approx(0.30, rel=0.01)
    with pytest.raises(CasebookError, match="by eye only"):
        height_from_deck(seen, 15.0)


def test_head_on_camera_off_the_line_by_the_trades_figures():
    # Common practice, arithmetic shown: 10 deg off, a hand 0.6 m ahead moves sideways by 0.6 m sin(10 deg) = 10 cm.
    lie = off_line(10.0, 0.6)
    assert 100 * lie.size == pytest.approx(10, abs=0.5)
    assert lie.outcome == "refused"
    assert "swimmer's own line" in lie.sentence
    assert off_line(2.0).outcome == "shown"


def test_both_hands_to_one_side_is_the_camera():
    turn = np.radians(10.0)
    camera = Camera("front_under", (30 * np.cos(turn), 30 * np.sin(turn), 0.0), (0.0, 0.0, 0.0), 3000.0)
    # Both hands enter 0.6 m ahead, 15 cm outside of the swimmer's own line.
    hands, line = np.array([[0.6, 0.15, 0.0], [0.6, -0.15, 0.0]]), np.array([[0.0, 0.0, 0.0]])
    px = camera.project(np.vstack([hands, line]), 0.0)[0][:, 0]
    left, right = (px[:2] - px[2]) * 30 / camera.focal_px
    part, own_left, own_right = camera_part(left, right)
    assert abs(part) == pytest.approx(off_line(10.0, 0.6).size, rel=0.05)
    assert abs(own_left) == pytest.approx(0.15, rel=0.05)
    assert own_left == pytest.approx(-own_right)


def test_nearer_hand_is_drawn_larger_by_the_trades_figures():
    # Common practice, arithmetic shown: 3 m away and 0.6 m nearer, 3 / 2.4 = 25 % larger.
    lie = nearer_larger(3.0, 0.6)
    assert lie.size == pytest.approx(0.25)
    assert "never compare the near with the far limb" in lie.sentence
    assert nearer_larger(8.0, 0.2).outcome == "shown"
    with pytest.raises(CasebookError, match="cannot be nearer"):
        nearer_larger(1.0, 1.5)


def test_size_of_a_nearer_limb_is_put_right_as_the_demo_camera_draws_it():
    camera = Camera("side_under", (0, -3.0, 0), (0, 0, 0), 1000.0)
    ends = camera.project(np.array([[0.0, -0.4, -0.1], [0.27, -0.4, -0.1]]), 0.0)[0]
    seen = np.ptp(ends[:, 0]) * 3.0 / camera.focal_px
    size, sigma = true_size(seen, 3.0, 0.4, 0.05)
    assert seen > 0.3
    assert size == pytest.approx(0.27)
    assert sigma == pytest.approx(seen * 0.05 / 3)


def test_roll_fakes_trunk_tilt_by_the_trades_figures():
    # Common practice, arithmetic shown: 13 cm at 45 deg of roll, 5 cm at 20 deg; (13 - 5) cm over a trunk of 0.5 m is
    # 9 deg, "about 8".
    lie = roll_tilts(45.0, 20.0)
    assert "13 cm" in lie.sentence
    assert "5 cm" in lie.sentence
    assert lie.size == pytest.approx(8, abs=1.5)
    assert false_tilt_deg(-45.0, -20.0) == pytest.approx(-false_tilt_deg(45.0, 20.0))
    assert false_tilt_deg(0.0, 0.0) == 0


SWIMMER = Swimmer(breathing="none", roll=45.0, hip_roll=20.0)
CYCLE = SWIMMER.period_s


def side_tilt(times: np.ndarray, side: str = "r") -> np.ndarray:
    joints = SWIMMER.joints(times)
    d = joints[f"shoulder_{side}"] - joints[f"hip_{side}"]
    return np.degrees(np.arctan2(d[:, 2], d[:, 0]))


def test_whole_cycles_give_the_demo_swimmers_trunk_and_single_frames_do_not():
    times = np.linspace(0.1, 0.1 + 3.3 * CYCLE, 200)
    tilt = side_tilt(times)
    assert np.ptp(tilt) > 10
    mean, sigma = mean_over_cycles(times, tilt, CYCLE)
    true = trunk_inclination_deg(SWIMMER)
    # Shoulders lie a little over the trunk's own line; both sides share that.
    both = (mean + mean_over_cycles(times, side_tilt(times, "l"), CYCLE)[0]) / 2
    assert mean == pytest.approx(both, abs=0.6)
    assert mean == pytest.approx(true, abs=1.5)
    assert sigma < 0.3


def test_part_of_a_cycle_is_refused():
    times = np.linspace(0, 0.7 * CYCLE, 60)
    with pytest.raises(CasebookError, match="No whole cycle"):
        mean_over_cycles(times, side_tilt(times), CYCLE)
    gappy = np.concatenate([np.linspace(0, 0.3, 20), np.linspace(0.3 + 0.3 * CYCLE, 2 * CYCLE, 60)])
    with pytest.raises(CasebookError, match="No whole cycle"):
        mean_over_cycles(gappy, side_tilt(gappy), CYCLE)


def test_frames_with_level_shoulders_show_the_trunk_twice_a_cycle():
    times = np.linspace(0, 2 * CYCLE, 240)
    rows = level_rows(np.asarray(SWIMMER.measures(times)["roll"]))
    assert 3 <= len(rows) <= 5
    middle = np.mean(side_tilt(times)[rows])
    assert middle == pytest.approx(mean_over_cycles(times, side_tilt(times), CYCLE)[0], abs=3.0)


def test_square_on_window_by_the_trades_figures():
    # Common practice, arithmetic shown: 3 m away, 15 deg to either side, 2 * 3 m tan(15 deg) = 1.6 m, passed in 1.3 s
    # at 1.2 m/s.
    camera = Camera("side_under", (0.0, -3.0, -0.3), (0.0, 0.0, -0.3), 900.0, (1920, 1080))
    fps, speed = 60, 1.2
    frames = np.arange(240)
    x = speed * (frames / fps - 2.0)
    body = camera.project(np.stack([x, 0 * x, 0 * x - 0.3], -1), 0.0)[0]
    plane = Plane.given(1, m_per_px=3.0 / camera.focal_px)
    window = square_window(plane, body, frames, camera.size, distance_m=3.0)
    first, last = window.span
    assert (last - first) / fps == pytest.approx(1.3, abs=0.05)
    assert x[last] - x[first] == pytest.approx(1.6, abs=0.03)
    np.testing.assert_allclose(window.off_deg, np.degrees(np.arctan2(x, 3.0)), atol=1e-9)
    assert f"from frame {first} to {last}" in window.sentence
    by_focal = square_window(Plane.given(1), body, frames, camera.size, focal_px=camera.focal_px)
    np.testing.assert_array_equal(by_focal.inside, window.inside)


def test_square_window_of_a_swimmer_to_the_left_counts_ahead_as_positive():
    plane = Plane.given(-1, m_per_px=0.003)
    window = square_window(plane, [[100.0, 300.0], [1200.0, 300.0]], [0, 1], (1280, 720), distance_m=3.0)
    assert window.off_deg[0] > 0 > window.off_deg[1]


def test_no_square_frame_and_no_distance_are_said():
    plane = Plane.given(1, m_per_px=0.003)
    far = square_window(plane, [[10.0, 300.0], [np.nan, np.nan]], [4, 5], (1280, 720), distance_m=3.0)
    assert far.span is None
    assert "On no frame" in far.sentence
    assert not far.inside[1]
    with pytest.raises(CasebookError, match="distance from the swimmer's line"):
        square_window(plane, [[10.0, 300.0]], [0], (1280, 720))


@pytest.mark.parametrize(
    ("view", "known", "expected"),
    [
        ("side_above", {"height_m": 1.6, "distance_m": 4.0}, ["looks_down", "roll_tilts", "nearer_larger"]),
        ("side_above", {}, ["looks_down", "roll_tilts"]),
        ("side_under", {"distance_m": 3.0}, ["nearer_larger", "roll_tilts"]),
        ("front_under", {"distance_m": 3.0, "off_line_deg": 1.0}, ["nearer_larger", "off_line"]),
        ("rear_above", {}, ["off_line"]),
        ("bottom", {}, []),
    ],
)
def test_each_view_has_its_lies_and_what_refuses_comes_first(view, known, expected):
    direction = {"f": "toward", "r": "away"}.get(view[0], "right")
    found = lies_of(shot(direction, view), **known)
    assert [lie.key for lie in found] == expected
    refused = [lie.outcome == "refused" for lie in found]
    assert refused == sorted(refused, reverse=True)
    assert all(lie.sentence.endswith(".") for lie in found)


def test_unknown_place_of_the_camera_is_refused_with_what_to_state():
    (lie,) = (lie for lie in lies_of(shot(view="side_above")) if lie.key == "looks_down")
    assert "Give the lens's height over the water" in lie.sentence
    assert "10 degrees off" in lies_of(shot("toward", "front_under"))[0].sentence
