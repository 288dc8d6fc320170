"""A plane from a rectangle that the demo camera sees askew: lengths and heights come back wherever the swimmer is."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from casebook.clip.shot import Shot
from casebook.demo.camera import Camera
from casebook.errors import CasebookError
from casebook.marks.lines import LineMark
from casebook.plane.propagate import jacobian
from casebook.plane.rectangle import plane_of_rectangle

#: Askew: 25 degrees off square, looking a little down, rolled.
ASKEW = Camera("side_under", (-1.9, -4.0, -0.3), (0.2, 0.0, -0.6), 1100.0, roll_deg=4.0)
TILES = np.array([[-1.0, -1.5], [1.25, -1.5], [1.25, -0.25], [-1.0, -0.25]])
PLACES = np.array([[-0.9, -0.1], [0.3, -0.4], [1.0, -0.9], [-0.3, -1.3]])


def shot(camera: Camera = ASKEW) -> Shot:
    clip = SimpleNamespace(n_frames=10, times=np.arange(10) / 60, size=camera.size)
    return Shot("pass", clip, "side_under", camera.direction, 0, 10)


def seen(xz: np.ndarray, y: float = 0.0, camera: Camera = ASKEW) -> np.ndarray:
    return camera.project(np.column_stack([xz[:, 0], np.full(len(xz), y), xz[:, 1]]), 0.0)[0]


def test_places_in_the_plane_of_the_rectangle_come_back_in_metres():
    plane = plane_of_rectangle(shot(), 0, TILES, seen(TILES))
    world = plane.world(seen(PLACES))
    np.testing.assert_allclose(world - world[0], PLACES - PLACES[0], atol=1e-9)
    assert plane.tilt_deg == pytest.approx(0, abs=1e-9)
    assert not plane.has_water


def test_places_nearer_than_the_rectangle_come_back_with_its_distance_ratio():
    # The wall stands 2 m behind the swimmer, both square to the wall's normal; the lens is 4 m before the swimmer.
    wall = seen(TILES, y=2.0)
    plane = plane_of_rectangle(shot(), 0, TILES, wall, distance_ratio=4.0 / 6.0)
    world = plane.world(seen(PLACES))
    np.testing.assert_allclose(world - world[0], PLACES - PLACES[0], atol=1e-9)


def test_water_line_gives_heights_beside_a_rectangle():
    ends = seen(np.array([[-0.8, 0.0], [1.1, 0.0]]))
    plane = plane_of_rectangle(shot(), 0, TILES, seen(TILES), lines=[LineMark(0, "water", *ends.ravel())])
    np.testing.assert_allclose(plane.world(seen(PLACES))[:, 1], PLACES[:, 1], atol=1e-9)


def test_camera_that_is_not_square_shortens_without_a_rectangle_and_not_with_one():
    plane = plane_of_rectangle(shot(), 0, TILES, seen(TILES))
    near, far = seen(np.array([[-0.9, -0.6], [-0.6, -0.6], [1.3, -0.6], [1.6, -0.6]])).reshape(2, 2, 2)
    bare = np.linalg.norm(np.diff([near, far], axis=1), axis=-1).ravel()
    assert bare[0] / bare[1] > 1.3
    laid = np.diff(plane.world([near, far])[..., 0], axis=1).ravel()
    np.testing.assert_allclose(laid, 0.3, atol=1e-9)


def test_errors_of_the_corners_reach_lengths_as_random_draws_say():
    picture, places = seen(TILES), seen(PLACES)

    def reach(plane):
        world = plane.world(places)
        return np.concatenate([world[1] - world[0], world[2] - world[3]])

    plane = plane_of_rectangle(shot(), 0, TILES, picture, sigma_px=2.0)
    zero = np.zeros(len(plane.params))
    jac = jacobian(lambda d: np.array([reach(plane.shifted(row)) for row in d]), zero, plane.steps)
    said = np.sqrt(np.diag(jac @ plane.covariance @ jac.T))
    random = np.random.default_rng(0)
    drawn = [
        reach(plane_of_rectangle(shot(), 0, TILES, picture + random.normal(0, 2, picture.shape))) for _ in range(300)
    ]
    # 300 draws know a standard deviation to 4 %.
    np.testing.assert_allclose(np.std(drawn, axis=0), said, rtol=0.15)


def test_size_of_the_rectangle_and_its_distance_are_in_the_scale():
    plane = plane_of_rectangle(
        shot(), 0, TILES, seen(TILES), sigma_px=0.01, sigma_m=0.02, distance_ratio=0.8, distance_sigma=0.04
    )
    side = np.hypot(2.25, 1.25)
    assert plane.scale_sigma == pytest.approx(np.hypot(0.02 / side, 0.05), rel=1e-2)


def test_rectangle_that_does_not_stand_upright_is_refused():
    diamond = np.array([[0, -1.0], [0.7, -0.6], [0.1, 0.1], [-0.9, -0.4]])
    with pytest.raises(CasebookError, match="straight above each other"):
        plane_of_rectangle(shot(), 0, diamond, seen(diamond))
    with pytest.raises(CasebookError, match="four or more"):
        plane_of_rectangle(shot(), 0, TILES[:3], seen(TILES[:3]))
