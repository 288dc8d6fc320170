"""Limbs that leave the picture plane: by hand, against sampling, and at the plane where first order fails."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from casebook.plane.foreshorten import (
    SeenJoint,
    angle_in_space_deg,
    angle_in_space_sigma_deg,
    joint_in_space,
    out_of_plane,
    out_of_plane_deg,
    out_of_plane_sigma_deg,
    sign_carried,
)

UPPER, FORE = 100.0, 80.0


def direction(in_plane_deg, out_deg):
    """Unit vector with its angle in the picture plane and its angle away from it, depth last."""
    a, b = np.radians(in_plane_deg), np.radians(out_deg)
    return np.stack([np.cos(a) * np.cos(b), np.sin(a) * np.cos(b), np.sin(b) + 0 * a], -1)


def angle_deg(u, v):
    cosine = np.sum(u * v, -1) / np.linalg.norm(u, axis=-1) / np.linalg.norm(v, axis=-1)
    return np.degrees(np.arccos(np.clip(cosine, -1, 1)))


def joint_of(upper, fore, sigma, distance=np.inf, at=(0.0, 0.0)):
    """A joint as a pinhole at ``distance`` from the first far end sees it, in px of that distance; three marks.

    ``at`` is the place of the joint against the axis, in the same unit.
    """
    ends = np.stack([UPPER * upper, FORE * fore])
    if np.isinf(distance):
        seen, sight = ends[:, :2], np.zeros((2, 2))
    else:
        joint_depth = distance - ends[0, 2]
        far = distance * (np.array(at) + ends[:, :2]) / (joint_depth + ends[:, 2])[:, None]
        seen, sight = far - distance * np.array(at) / joint_depth, far / distance
    eye = np.eye(2) * sigma**2
    return SeenJoint(seen, np.block([[2 * eye, eye], [eye, 2 * eye]]), sight, 0.0, distance)


def test_a_limb_seen_at_half_its_length_points_60_degrees_out_of_the_picture():
    np.testing.assert_allclose(out_of_plane_deg([50, 100, 0, 120], 100), [60, 0, 90, 0], atol=1e-9)
    assert np.isnan(out_of_plane_deg(np.nan, 100.0))


@given(st.floats(-80, 80), st.floats(-80, 80), st.floats(-179, 179))
def test_angle_in_space_is_that_of_the_two_directions(a, b, turn):
    np.testing.assert_allclose(
        angle_in_space_deg(turn, a, b), angle_deg(direction(0.0, a), direction(turn, b)), atol=1e-6
    )


def test_first_order_agrees_with_sampling_where_limbs_are_clearly_out_of_the_plane():
    """Monte Carlo of 200,000 draws; tolerance 4 % of the value."""
    rng = np.random.default_rng(0)
    seen, fore, upper = 70.0, rng.normal(60, 1.0, 200_000), rng.normal(80, 0.8, 200_000)
    sigma_a = out_of_plane_sigma_deg(seen, 100.0, 0.0, 1.0)
    a = out_of_plane_deg(seen, rng.normal(100, 1.0, 200_000))
    assert a.std() == pytest.approx(sigma_a, rel=0.04)
    b = out_of_plane_deg(fore, upper)
    sigma_b = out_of_plane_sigma_deg(60.0, 80.0, 1.0, 0.8)
    assert b.std() == pytest.approx(sigma_b, rel=0.04)
    drawn = angle_in_space_deg(rng.normal(150, 2, 200_000), a, b)
    first = angle_in_space_sigma_deg(150.0, out_of_plane_deg(70, 100), out_of_plane_deg(60, 80), 2.0, sigma_a, sigma_b)
    assert drawn.std() == pytest.approx(float(first), rel=0.04)


def test_first_order_runs_away_in_the_plane_and_the_interval_does_not():
    assert out_of_plane_sigma_deg(100.0, 100.0, 2.0, 1.0) == np.inf
    flat = out_of_plane(100.0, 2.0, 100.0, 1.0)
    assert 0 <= flat.low < flat.deg < flat.high < 25
    assert flat.too_long == 0
    # The same doubt 50 degrees out says far more: 2 % of the length is 1 degree there.
    steep = out_of_plane(100 * np.cos(np.radians(50)), 1.3, 100.0, 1.0)
    assert steep.low < 50 < steep.high
    assert steep.high - steep.low < 0.5 * (flat.high - flat.low)


def test_a_limb_seen_longer_than_it_is_says_so():
    assert out_of_plane(115.0, 2.0, 100.0, 2.0).too_long > 4


@pytest.mark.parametrize(("a", "b"), [(35.0, 25.0), (-35.0, 25.0), (30.0, -40.0)])
def test_both_solutions_are_carried_until_another_view_tells_the_sign(a, b):
    u, v = direction(180.0, a), direction(30.0, b)
    true = float(angle_deg(u, v))
    joint, tight = joint_of(u, v, 0.3), np.diag([1e-4, 1e-4]) ** 1.0
    both = joint_in_space(joint, (UPPER, FORE), tight)
    same = a * b > 0
    assert (both.one_side_deg if same else both.through_deg) == pytest.approx(true, abs=1.5)
    assert both.low < true < both.high
    assert both.low < both.one_side_deg < both.through_deg < both.high
    known = np.zeros((2, 2))
    known[int(a > 0), int(b > 0)] = 1
    told = joint_in_space(joint, (UPPER, FORE), tight, leads=known)
    assert told.angle_deg == pytest.approx(true, abs=1.5)
    assert told.high - told.low < 0.5 * (both.high - both.low)


@pytest.mark.parametrize("a", [-35.0, 35.0])
def test_the_camera_s_distance_and_the_place_in_the_picture_are_allowed_for(a):
    """A pinhole 8 arm lengths away, the elbow 15 degrees off its axis."""
    u, v = direction(180.0, a), direction(40.0, 20.0)
    true = float(angle_deg(u, v))
    joint = joint_of(u, v, 0.2, distance=1000.0, at=(250.0, -100.0))
    known = np.zeros((2, 2))
    known[int(a > 0), 1] = 1
    told = joint_in_space(joint, (UPPER, FORE), np.diag([1e-5, 1e-5]), leads=known)
    assert told.angle_deg == pytest.approx(true, abs=1.5)
    far = SeenJoint(joint.limbs, joint.covariance, np.zeros((2, 2)))
    missed = joint_in_space(far, (UPPER, FORE), np.diag([1e-5, 1e-5]), leads=known)
    assert abs(missed.angle_deg - true) > 3


def test_the_sum_over_directions_agrees_with_sampling():
    """The same by drawing marks and lengths: each draw has its directions by the cosine."""
    u, v = direction(180.0, 30.0), direction(35.0, 25.0)
    joint, relative = joint_of(u, v, 1.5), np.diag([0.02, 0.03]) ** 2
    got = joint_in_space(joint, (UPPER, FORE), relative)
    rng = np.random.default_rng(3)
    n = 400_000
    ends = joint.limbs.ravel() + rng.multivariate_normal(np.zeros(4), joint.covariance, n)
    length = np.linalg.norm(ends.reshape(n, 2, 2), axis=-1)
    true = np.array([UPPER, FORE]) * (1 + rng.normal(size=(n, 2)) * np.sqrt(np.diag(relative)))
    # What is usual weighs them, over the slope of the cosine.
    ratio = length / true
    ok = (ratio < 1).all(-1)
    out = np.degrees(np.arccos(ratio[ok]))
    weight = np.exp(-0.5 * (out / 25.0) ** 2).prod(-1) / np.sin(np.radians(out)).prod(-1)
    seen = angle_deg(ends.reshape(n, 2, 2)[ok][:, 0], ends.reshape(n, 2, 2)[ok][:, 1])
    sign = rng.choice([-1.0, 1.0], len(out))
    drawn = angle_in_space_deg(seen, out[:, 0], sign * out[:, 1])
    mean = np.average(drawn, weights=weight)
    assert got.angle_deg == pytest.approx(mean, abs=1.0)
    assert got.sigma_deg == pytest.approx(np.sqrt(np.average((drawn - mean) ** 2, weights=weight)), rel=0.08)


def test_a_missing_point_gives_nothing():
    joint = SeenJoint(np.array([[np.nan, 0], [50, 0]]), np.eye(4), np.zeros((2, 2)))
    assert np.isnan(joint_in_space(joint, (100, 80), np.eye(2) * 1e-4).angle_deg)


def test_a_known_sign_is_carried_until_the_limb_may_lie_in_the_plane():
    low = np.array([8.0, 5.0, 0.1, 6.0, 9.0, 12.0, 0.1, 7.0])
    np.testing.assert_array_equal(sign_carried(low + 5, low, -1, 4), [0, 0, 0, -1, -1, -1, 0, 0])
    np.testing.assert_array_equal(sign_carried(low + 5, low, 1, 2), np.zeros(8))
