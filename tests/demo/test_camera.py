"""The demo camera against a general library, and light through water against published numbers."""

from __future__ import annotations

import numpy as np
import pytest

from casebook.demo.camera import Camera
from casebook.demo.cameras import camera_for
from casebook.demo.cast import CAST
from casebook.demo.surface import WATER_INDEX, crossing_point, port_stretch
from casebook.demo.swimmer import Swimmer
from casebook.errors import CasebookError
from casebook.marks.points import POINTS

VIEWS = ("side_under", "side_split", "side_above", "front_under", "front_above")
RNG = np.random.default_rng(7)


@pytest.mark.parametrize("view", VIEWS)
@pytest.mark.parametrize("mode", ["still", "following", "panning"])
def test_projection_agrees_with_opencv(view, mode):
    cv2 = pytest.importorskip("cv2")
    camera = camera_for(view, speed=1.4, mode=mode, at_s=1.0, roll_deg=2.5, tilt_deg=-1.5, zoom=1.1)
    points = RNG.uniform((-0.8, -0.5, -0.8), (0.8, 0.5, 0.3), (40, 3)) + np.array([1.4 * 1.3, 0, 0])
    eye, axes = camera.pose(1.3)
    matrix = np.array([[camera.focal_px, 0, (camera.size[0] - 1) / 2], [0, camera.focal_px, (camera.size[1] - 1) / 2]])
    matrix = np.vstack([matrix, [0, 0, 1]])
    expected, _ = cv2.projectPoints(points, cv2.Rodrigues(axes)[0], -axes @ eye, matrix, None)
    xy, depth = camera.project(points, 1.3)
    np.testing.assert_allclose(xy, expected[:, 0], atol=1e-7)
    assert (depth > 0).all()


@pytest.mark.parametrize("mode", ["still", "following", "panning"])
def test_many_instants_are_projected_as_one_by_one(mode):
    camera = camera_for("side_under", speed=1.4, mode=mode, roll_deg=1.0)
    times = np.linspace(0, 2, 7)
    points = RNG.uniform(-0.5, 0.5, (7, 3, 3))
    together = camera.project(points, times)[0]
    alone = np.stack([camera.project(points[i], t)[0] for i, t in enumerate(times)])
    np.testing.assert_allclose(together, alone, atol=1e-9)


def test_rays_go_through_the_points_that_they_show():
    camera = camera_for("front_under", speed=1.4, roll_deg=4.0, tilt_deg=2.0)
    points = RNG.uniform(-0.4, 0.4, (20, 3))
    xy, _ = camera.project(points, 0.4)
    eye, toward = camera.rays(xy, 0.4)
    off = np.cross(points - eye, toward)
    np.testing.assert_allclose(np.linalg.norm(off, axis=1), 0.0, atol=1e-9)


def test_the_axis_meets_the_middle_of_the_picture_with_pixel_centres_at_integers():
    camera = Camera("side_under", (0, -3, -0.5), (0, 0, -0.5), 1000.0, (1280, 720))
    np.testing.assert_allclose(camera.project(np.array([0.0, 0.0, -0.5]), 0.0)[0], [639.5, 359.5])
    right, up = camera.project(np.array([[0.3, 0.0, -0.5], [0.0, 0.0, -0.2]]), 0.0)[0]
    np.testing.assert_allclose(right, [739.5, 359.5])
    np.testing.assert_allclose(up, [639.5, 259.5])


def test_a_square_side_camera_scales_a_plane_by_focal_length_over_distance():
    camera = Camera("side_under", (0, -4, -0.5), (0, 0, -0.5), 1200.0)
    xy = camera.project(np.array([[-0.7, -0.2, -0.4], [0.9, -0.2, -0.4]]), 0.0)[0]
    assert np.ptp(xy[:, 0]) == pytest.approx(1.6 * 1200.0 / 3.8)
    assert np.ptp(xy[:, 1]) == pytest.approx(0.0, abs=1e-9)


def test_directions_are_named_as_the_picture_shows_them():
    assert camera_for("side_under", speed=1.0, side="r").direction == "right"
    assert camera_for("side_under", speed=1.0, side="l").direction == "left"
    assert camera_for("front_under", speed=1.0).direction == "toward"


def test_a_panning_camera_keeps_its_place_and_a_following_one_its_distance():
    panning, following = (camera_for("side_under", speed=1.5, mode=m) for m in ("panning", "following"))
    assert np.ptp(panning.pose(np.array([0.0, 2.0]))[0], axis=0) == pytest.approx([0, 0, 0])
    assert following.pose(2.0)[0] - following.pose(0.0)[0] == pytest.approx([3.0, 0, 0])
    for camera in (panning, following):
        target = np.array(camera.target) + np.array([3.0, 0, 0])
        np.testing.assert_allclose(camera.project(target, 2.0)[0], camera.centre_px, atol=1e-9)


@pytest.mark.parametrize("alias", CAST)
@pytest.mark.parametrize("view", VIEWS)
def test_the_whole_swimmer_stays_in_every_ready_picture(alias, view):
    swimmer = CAST[alias].swimmer
    camera = camera_for(view, speed=swimmer.speed)
    times = np.linspace(0.0, 2 * swimmer.period_s, 90)
    joints = swimmer.joints(times)
    xy, _ = camera.project(np.stack([joints[p] for p in POINTS], 1), times)
    assert xy.min() > 20
    assert (xy.max((0, 1)) < np.array(camera.size) - 20).all()


def test_unknown_settings_are_refused():
    with pytest.raises(CasebookError, match="no camera for the view"):
        camera_for("bottom", speed=1.0)
    with pytest.raises(CasebookError, match="refraction"):
        camera_for("side_above", speed=1.0, refraction="mirror")


def iapws_index(density, kelvin, micrometres):
    """IAPWS R9-97 (1997), eq. 1 and table 1."""
    a = (
        0.244257733, 9.74634476e-3, -3.73234996e-3, 2.68678472e-4, 1.58920570e-3, 2.45934259e-3, 0.900704920,
        -1.66626219e-2,
    )  # fmt: skip
    r, t, w = density / 1000.0, kelvin / 273.15, micrometres / 0.589
    right = (
        a[0] + a[1] * r + a[2] * t + a[3] * w * w * t + a[4] / w**2
        + a[5] / (w**2 - 0.2292020**2) + a[6] / (w**2 - 5.432937**2) + a[7] * r * r
    )  # fmt: skip
    return np.sqrt((2 * r * right + 1) / (1 - r * right))


def test_the_index_of_water_is_that_of_the_published_formula():
    # Check value of the release as carried by the package iapws 1.5.5.
    assert iapws_index(997.047435, 298.15, 0.2265) == pytest.approx(1.39277824, abs=1e-8)
    # Density of water at 27 degrees C, 996.51 kg/m3: handbook value, from memory.
    assert pytest.approx(iapws_index(996.51, 300.15, 0.5893), abs=2e-5) == WATER_INDEX


def test_from_under_water_the_whole_world_above_lies_inside_the_critical_angle():
    eye = np.array([0.0, 0.0, -1.0])
    surface = crossing_point(eye, np.array([1e7, 0.0, 1.0]), 1.333)
    # arcsin(1 / 1.333) = 48.607 degrees
    assert np.degrees(np.arctan2(surface[0], 1.0)) == pytest.approx(48.607, abs=1e-3)
    near = crossing_point(eye, np.array([3.0, 0.0, 1.0]), 1.333)
    assert np.degrees(np.arctan2(near[0], 1.0)) < 48.607


def test_light_bends_by_snells_law_whatever_the_side():
    for eye_z in (1.4, -0.6):
        eye = np.array([0.2, -3.0, eye_z])
        points = RNG.uniform((-1, -0.5, 0.02), (1, 0.5, 0.9), (200, 3)) * np.array([1, 1, -np.sign(eye_z)])
        bent = crossing_point(eye, points)
        assert np.abs(bent[:, 2]).max() == 0.0
        sines = [
            np.linalg.norm((end - bent)[:, :2], axis=1) / np.linalg.norm(end - bent, axis=1) for end in (eye, points)
        ]
        index = WATER_INDEX if eye_z > 0 else 1 / WATER_INDEX
        np.testing.assert_allclose(sines[0], index * sines[1], rtol=1e-8)


def test_seen_from_straight_above_a_thing_seems_at_three_quarters_of_its_depth():
    depth, height, off = 1.0, 2.0, 1e-4
    bent = crossing_point([0, 0, height], [off, 0, -depth], 4 / 3)
    slope = bent[0] / height
    # Apparent depth d / n, in any textbook of optics.
    assert off / slope - height == pytest.approx(0.75 * depth, abs=1e-6)


def test_points_on_the_eyes_side_stay_where_they_are():
    point = np.array([0.4, 0.1, 0.3])
    np.testing.assert_array_equal(crossing_point([0, -3, 1.0], point), point)
    camera = camera_for("side_above", speed=1.4, refraction="surface")
    plain = camera_for("side_above", speed=1.4)
    np.testing.assert_array_equal(camera.project(point, 0.0)[0], plain.project(point, 0.0)[0])
    sunk = np.array([0.4, 0.1, -0.3])
    assert camera.project(sunk, 0.0)[0][1] < plain.project(sunk, 0.0)[0][1]  # lifted toward the surface


@pytest.mark.parametrize(
    ("air_deg", "water_deg"), [(10.0, 7.485), (20.0, 14.867), (30.0, 22.030), (40.0, 28.830), (30.0, 44.06 / 2)]
)
def test_a_flat_window_bends_directions_by_snells_law(air_deg, water_deg):
    # Snell's law at n = 1.333, computed by hand to three decimals.
    w = np.radians(water_deg)
    out = port_stretch(np.array([np.sin(w), 0.0, np.cos(w)]), 1.333)
    assert np.degrees(np.arctan2(out[0], out[2])) == pytest.approx(air_deg, abs=0.02)


def test_a_flat_window_enlarges_the_middle_by_the_index_and_the_edge_by_more():
    # Limit of the published table of flat-plate magnifications (scubageek.com/articles/wwwbigr): n on the axis.
    x = np.array([1e-5, 0.5, 1.0, 1.5, 2.0, 3.0]) / 5.0
    out = port_stretch(np.stack([x, 0 * x, 1 + 0 * x], 1), 1.333)
    np.testing.assert_allclose(out[:, 0] / x, [1.333, 1.338, 1.354, 1.382, 1.425, 1.571], atol=6e-4)


def test_a_split_view_enlarges_what_is_under_water_only():
    plain, port = (camera_for("side_split", speed=1.4, refraction=r) for r in ("none", "port"))
    wet, dry = np.array([0.5, 0.0, -0.4]), np.array([0.5, 0.0, 0.4])
    np.testing.assert_array_equal(port.project(dry, 0.0)[0], plain.project(dry, 0.0)[0])
    grown = (port.project(wet, 0.0)[0] - port.centre_px) / (plain.project(wet, 0.0)[0] - plain.centre_px)
    assert (grown > WATER_INDEX).all() and (grown < 1.1 * WATER_INDEX).all()


def test_a_camera_never_sees_a_limb_from_a_point_behind_it():
    camera = camera_for("side_under", speed=1.4)
    assert np.isnan(camera.project(np.array([0.0, -9.0, 0.0]), 0.0)[0]).all()
    swimmer = Swimmer()
    assert np.isfinite(camera.project(swimmer.joints(0.0)["wrist_l"], np.array([0.0]))[0]).all()
