"""From a shot's lines and lengths to its plane, and what no camera, mirror or order of marking may change."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp
from plane_makers import SIZE, flipped, length, lifted, line, shot, turned

from casebook.marks.scales import LengthMark
from casebook.plane.geometry import height_over_line, inclination_deg, joint_angle_deg
from casebook.plane.limits import square_on_m
from casebook.plane.make import plane_of
from casebook.plane.propagate import first_order, jacobian
from casebook.plane.water import HELD_LEVEL_DEG, LANE_LEAN_DEG
from casebook.words import VIEWS

WATER = np.array([[100.0, 120.0], [1180.0, 140.0]])
ARM = np.array([[600.0, 300.0], [760.0, 330.0], [820.0, 460.0], [830.0, 560.0]])
arms = hnp.arrays(float, (4, 2), elements=st.floats(150, 600)).filter(
    lambda p: all(np.linalg.norm(p[i] - p[j]) > 20 for i in range(4) for j in range(i)) and abs(p[0, 0] - p[3, 0]) > 5
)


def numbers(plane, xy):
    """What a checkpoint reads from shoulder, elbow, wrist and fingertip: angles, height, reach and depth."""
    p, m = plane.level(xy), plane.world(xy)
    return np.array(
        [
            joint_angle_deg(p[0], p[1], p[2]),
            inclination_deg(p[1], p[2]),
            height_over_line(m[1], m[0], m[3]),
            m[3, 0] - m[0, 0],
            m[3, 1],
        ]
    )


def marked(xy, turn=0.0, direction="right", mirror=False):
    """Plane and arm of one scene, the picture turned or mirrored."""
    move = (lambda p: flipped(turned(p, turn))) if mirror else (lambda p: turned(p, turn))
    tape = move(np.array([[300.0, 620.0], [800.0, 620.0]]))
    plane = plane_of(
        shot(direction), [line(move(WATER))], [LengthMark(0, *tape.ravel(), length_m=1.5, sigma_m=0.01, what="pole")]
    )
    return plane, move(xy)


def test_plane_says_in_words_how_it_was_made():
    plane, _ = marked(ARM)
    assert "water line, marked once: tilt 1.1 deg" in plane.how
    assert "1 known length (pole): 3.00 mm per pixel" in plane.how
    assert plane.has_water
    assert plane.has_scale
    assert plane.sign == 1
    assert plane.m_per_px == pytest.approx(0.003)
    assert plane.tilt_deg == pytest.approx(math.degrees(math.atan2(20, 1080)))
    np.testing.assert_allclose(plane.water_px, [640, 130])


@given(arms, st.floats(-40, 40))
def test_turning_the_camera_changes_no_number(xy, turn):
    np.testing.assert_allclose(numbers(*marked(xy, turn)), numbers(*marked(xy)), atol=1e-6)


@given(arms)
def test_mirrored_clip_of_the_other_direction_changes_no_number(xy):
    np.testing.assert_allclose(
        numbers(*marked(xy, direction="left", mirror=True)), numbers(*marked(xy)), rtol=1e-9, atol=1e-8
    )


@given(arms, st.floats(0.3, 3))
def test_filming_in_another_size_changes_no_number(xy, size):
    plane = plane_of(shot(), [line(WATER * size)], [length(500 * size, 1.5, what="pole")])
    own = plane_of(shot(), [line(WATER)], [length(500, 1.5, what="pole")])
    np.testing.assert_allclose(numbers(plane, xy * size), numbers(own, xy), rtol=1e-6, atol=1e-6)


@given(arms, st.permutations(range(3)))
def test_order_and_frames_of_marking_change_no_number(xy, order):
    lines = [line(lifted(WATER, d), frame=i) for i, d in enumerate((0, 1, -1))]
    lengths = [length(500 + d, 1.5, what="pole", frame=i) for i, d in enumerate((0, 1, -1))]
    later = [line(np.reshape(lines[i].ends, (2, 2)), frame=lines[i].frame + 50) for i in order]
    plane = plane_of(shot(), later, [lengths[i] for i in order])
    np.testing.assert_allclose(numbers(plane, xy), numbers(plane_of(shot(), lines, lengths), xy), rtol=1e-9, atol=1e-9)


@given(arms)
def test_angles_need_no_scale(xy):
    bare = plane_of(shot(), [line(WATER)])
    np.testing.assert_allclose(numbers(bare, xy)[:2], numbers(marked(ARM)[0], xy)[:2], rtol=1e-9)
    assert np.isnan(numbers(bare, xy)[2:]).all()


def test_covariance_carries_into_results_as_random_draws_say():
    random = np.random.default_rng(4)
    plane, xy = marked(ARM)
    jac = jacobian(lambda d: np.array([numbers(plane.shifted(row), xy) for row in d]), np.zeros(3))
    said = np.sqrt(np.diag(first_order(jac, plane.covariance)))
    drawn = []
    for _ in range(3000):
        water = WATER + random.normal(0, 2, (2, 2))
        tape = np.array([[300.0, 620.0], [800.0, 620.0]]) + random.normal(0, 2, (2, 2))
        # The tape's own length is off too: what is read as 1.5 m is not.
        scale = LengthMark(0, *tape.ravel(), length_m=1.5 + random.normal(0, 0.01), sigma_m=0.01, what="pole")
        drawn.append(numbers(plane_of(shot(), [line(water)], [scale]), xy))
    # The elbow angle does not depend on the plane at all.
    assert said[0] == pytest.approx(0, abs=1e-6)
    np.testing.assert_allclose(np.std(drawn, axis=0)[1:], said[1:], rtol=0.05)


def test_plumb_line_serves_where_no_water_is_marked():
    plane = plane_of(shot(), [line(turned([[500, 100], [500, 600]], 4), "plumb")])
    assert plane.tilt_deg == pytest.approx(4)
    assert not plane.has_water
    assert "from the plumb line" in plane.how
    assert not any("own upright" in s for s in plane.limits)
    assert any("depths and heights above the water cannot be given" in s for s in plane.limits)


def test_lane_line_serves_last_and_is_trusted_least():
    lane = line([[100, 600], [1100, 600]], "lane")
    plane = plane_of(shot(), [lane])
    assert plane.tilt_sigma_deg == pytest.approx(LANE_LEAN_DEG, rel=0.01)
    assert plane_of(shot(), [lane, line([[500, 100], [520, 600]], "plumb")]).tilt_deg == pytest.approx(-2.29, abs=0.01)
    assert plane_of(shot(direction="toward", view="front_under"), [lane]).tilt_sigma_deg == pytest.approx(
        HELD_LEVEL_DEG
    )
    assert plane_of(shot(view="bottom"), [lane]).tilt_sigma_deg < 1


def test_nothing_marked_takes_the_picture_for_level_and_says_so():
    plane = plane_of(shot())
    assert plane.tilt_deg == 0
    assert plane.tilt_sigma_deg == pytest.approx(HELD_LEVEL_DEG)
    np.testing.assert_allclose(plane.level([(SIZE[0] - 1) / 2, 0]), [0, 0])
    assert any("own upright is taken for upright" in s for s in plane.limits)
    assert any("metres cannot be given" in s for s in plane.limits)
    assert plane.how.endswith("No scale.")


def test_plumb_line_that_contradicts_the_water_is_reported():
    plumb = line(turned([[500, 100], [500, 600]], 9), "plumb")
    plane = plane_of(shot(), [line(WATER), plumb])
    assert any("plumb line and the water line disagree by 7.9 deg" in s for s in plane.limits)
    agreeing = line(turned([[500, 100], [500, 600]], 1.06), "plumb")
    assert not any("disagree" in s for s in plane_of(shot(), [line(WATER), agreeing]).limits)


def test_moving_water_and_odd_lengths_are_reported():
    lines = [line(lifted(WATER, d), frame=i) for i, d in enumerate((-20, 0, 20))]
    lengths = [length(500, 1.5, what="pole"), length(700, 1.5, what="rope")]
    limits = " ".join(plane_of(shot(), lines, lengths).limits)
    assert "water line moves up and down by about 16 px" in limits
    assert "disagree by 40 %" in limits


def test_length_without_a_distance_is_taken_to_lie_at_the_swimmer_and_that_is_said():
    assert any("exactly as far from the camera" in s for s in plane_of(shot(), (), [length(500, 1.5)]).limits)
    stated = [length(500, 1.5, ratio=0.8, ratio_sigma=0.02)]
    assert not any("exactly as far from the camera" in s for s in plane_of(shot(), (), stated).limits)


@pytest.mark.parametrize("view", VIEWS)
def test_every_view_says_what_it_cannot_see(view):
    direction = "toward" if view.startswith("front") else "away" if view.startswith("rear") else "right"
    limits = plane_of(shot(direction, view)).limits
    assert all(s.endswith(".") for s in limits)
    assert len(set(limits)) == len(limits)
    flat = view in ("bottom", "top")
    assert flat == any("heights and depths cannot be seen" in s for s in limits)


def test_still_camera_is_square_only_inside_a_window():
    # Source: by hand, a camera 3 m from the lane and 15 degrees to either side: 2 * 3 m * tan(15 deg) = 1.61 m.
    assert square_on_m(3.0) == pytest.approx(1.61, abs=0.005)
    assert any("about 1.6 m of swimming" in s for s in plane_of(shot(camera="still")).limits)
    assert not any("stands still" in s for s in plane_of(shot(camera="following")).limits)
    assert any("camera turns" in s for s in plane_of(shot(camera="panning")).limits)


@pytest.mark.parametrize(
    ("direction", "view", "sign"),
    [("right", "side_under", 1), ("left", "side_under", -1), ("toward", "front_under", 1), ("away", "rear_under", -1)],
)
def test_forward_or_the_swimmers_left_is_positive(direction, view, sign):
    plane = plane_of(shot(direction, view))
    assert plane.sign == sign
    assert np.sign(plane.level([900.0, 100.0])[0]) == sign


def test_swimmer_who_does_not_cross_a_side_picture_is_pointed_out():
    assert any("does not cross this picture" in s for s in plane_of(shot("toward", "side_under")).limits)
