"""The plane as a noun: level and metre coordinates, there and back, and what no change of the picture alters."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from casebook.errors import CasebookError
from casebook.plane.measured import Measured
from casebook.plane.plane import Plane

signs = st.sampled_from([1, -1])
tilts = st.floats(-40, 40)
scales = st.floats(1e-4, 0.1)
places = st.tuples(st.floats(-200, 2000), st.floats(-200, 2000))
points = hnp.arrays(float, (4, 2), elements=st.floats(-2000, 4000))


@st.composite
def planes(draw):
    return Plane.given(
        draw(signs), m_per_px=draw(scales), tilt_deg=draw(tilts), water_px=draw(st.none() | places), scale_sigma=0.01
    )


def test_swimming_right_counts_right_and_up_from_the_water():
    plane = Plane.given(1, m_per_px=0.002, water_px=(100, 50))
    np.testing.assert_allclose(plane.level([[110, 50], [100, 80]]), [[10, 0], [0, -30]])
    np.testing.assert_allclose(plane.world([110, 80]), [0.02, -0.06])


def test_swimming_left_counts_left_as_forward():
    np.testing.assert_allclose(Plane.given(-1, water_px=(100, 50)).level([90, 40]), [10, 10])


def test_water_that_sinks_to_the_right_makes_places_along_it_level():
    plane = Plane.given(1, tilt_deg=30, water_px=(100, 50))
    along = np.array([100, 50]) + 20 * np.array([np.cos(np.radians(30)), np.sin(np.radians(30))])
    np.testing.assert_allclose(plane.level(along), [20, 0], atol=1e-12)


def test_without_scale_metres_are_missing_and_level_pixels_are_not():
    plane = Plane.given(1, water_px=(0, 0))
    assert not plane.has_scale
    assert np.isnan(plane.m_per_px)
    assert np.isnan(plane.scale_sigma)
    assert np.isnan(plane.world([1, 1])).all()
    np.testing.assert_allclose(plane.level([1, 1]), [1, -1])


def test_without_water_heights_count_from_the_upper_edge_and_the_water_is_missing():
    plane = Plane.given(1, m_per_px=0.01)
    assert not plane.has_water
    assert np.isnan(plane.water_px).all()
    np.testing.assert_allclose(plane.level([5, 100])[1], -100)


@given(planes(), points)
def test_picture_undoes_level(plane, xy):
    np.testing.assert_allclose(plane.picture(plane.level(xy)), xy, atol=1e-8)


@given(planes(), points)
def test_metres_are_level_pixels_times_one_length(plane, xy):
    np.testing.assert_allclose(plane.world(xy), plane.level(xy) * plane.m_per_px, rtol=1e-9)


@given(planes(), points)
def test_distances_in_the_picture_are_distances_in_level_pixels(plane, xy):
    np.testing.assert_allclose(
        np.linalg.norm(np.diff(plane.level(xy), axis=0), axis=-1),
        np.linalg.norm(np.diff(xy, axis=0), axis=-1),
        atol=1e-7,
    )


@given(planes(), points, hnp.arrays(float, 3, elements=st.floats(-0.2, 0.2)))
def test_shift_in_a_call_is_the_shifted_plane(plane, xy, d):
    np.testing.assert_allclose(plane.level(xy, np.broadcast_to(d, (1, 3))), plane.shifted(d).level(xy), atol=1e-8)
    np.testing.assert_allclose(
        plane.world(xy, np.broadcast_to(d, (1, 3))), plane.shifted(d).world(xy), rtol=1e-9, atol=1e-9
    )
    np.testing.assert_allclose(plane.shifted(d).picture(plane.level(xy, d[None])), xy, atol=1e-8)


def test_batch_of_shifts_gives_one_result_per_plane():
    plane = Plane.given(-1, m_per_px=0.002, tilt_deg=2, water_px=(300, 60))
    xy = np.random.default_rng(0).uniform(0, 1000, (5, 2))
    shifts = np.random.default_rng(1).normal(0, 0.01, (7, 1, 3))
    batch = plane.world(xy, shifts)
    assert batch.shape == (7, 5, 2)
    np.testing.assert_allclose(batch[3], plane.shifted(shifts[3, 0]).world(xy), rtol=1e-9)


def test_water_offset_lifts_the_water_and_lowers_the_heights():
    plane = Plane.given(1, water_px=(100, 50)).shifted([0, 0, 5])
    np.testing.assert_allclose(plane.water_px, [100, 45])
    np.testing.assert_allclose(plane.level([100, 50]), [0, -5])


@given(planes())
def test_water_point_lies_at_height_zero(plane):
    if plane.has_water:
        np.testing.assert_allclose(plane.shifted([0, 0, 7]).level(plane.shifted([0, 0, 7]).water_px)[1], 0, atol=1e-8)


def test_missing_points_stay_missing():
    xy = np.array([[1, 2], [np.nan, np.nan]])
    assert np.isnan(Plane.given(1, m_per_px=1, water_px=(0, 0)).world(xy)[1]).all()


def test_params_and_covariance_are_as_stated_and_cannot_be_written():
    plane = Plane.given(
        1, m_per_px=0.004, scale_sigma=0.02, tilt_deg=1, tilt_sigma_deg=0.5, water_px=(0, 0), water_sigma_px=3
    )
    np.testing.assert_allclose(plane.params, [np.log(0.004), np.radians(1), 0])
    np.testing.assert_allclose(np.sqrt(np.diag(plane.covariance)), [0.02, np.radians(0.5), 3])
    assert (plane.m_per_px, plane.tilt_deg, plane.scale_sigma) == pytest.approx((0.004, 1, 0.02))
    assert plane.tilt_sigma_deg == pytest.approx(0.5)
    with pytest.raises(ValueError, match="read-only"):
        plane.params[0] = 1


@pytest.mark.parametrize("sign", [0, 2])
def test_plane_without_a_direction_is_refused(sign):
    with pytest.raises(CasebookError, match="sign is 1 or -1"):
        Plane.given(sign)


@pytest.mark.parametrize("m_per_px", [0, -0.1])
def test_pixel_without_length_is_refused(m_per_px):
    with pytest.raises(CasebookError, match="cannot be"):
        Plane.given(1, m_per_px=m_per_px)


@pytest.mark.parametrize(("value", "sigma"), [(float("nan"), 0.1), (1.0, -0.1), (1.0, float("inf"))])
def test_measured_value_that_makes_no_sense_is_refused(value, sigma):
    with pytest.raises(CasebookError, match="makes no sense"):
        Measured(value, sigma)
