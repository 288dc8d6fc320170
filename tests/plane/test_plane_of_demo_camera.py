"""A plane made from lines and lengths that an independent pinhole camera drew gives the pool's metres back."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from casebook.clip.shot import Shot
from casebook.demo.camera import Camera
from casebook.marks.lines import LineMark
from casebook.marks.scales import LengthMark
from casebook.plane.make import plane_of
from casebook.plane.plane import Plane

SWIMMER_Y, DISTANCE = 0.0, 5.0
PLACES = np.array([[0.0, SWIMMER_Y, -0.2], [0.6, SWIMMER_Y, -0.3], [0.9, SWIMMER_Y, -0.7], [-0.8, SWIMMER_Y, 0.1]])


def camera(side: float, roll_deg: float) -> Camera:
    """On one side of the lane, square to it, lens in the depth of the swimmer."""
    return Camera(
        "side_under",
        (0.1, side * DISTANCE, -0.3),
        (0.1, 0.0, -0.3),
        900.0,
        (1280, 720),
        roll_deg=roll_deg,
        mode="following",
    )


def seen(cam: Camera, points: list[list[float]]) -> np.ndarray:
    return cam.project(np.array(points), 0.0)[0]


def made(cam: Camera, behind_m: float, pole_x: float = 1.0) -> Plane:
    """The water line above the swimmer, and a pole of 2 m that stands farther from the camera than he swims."""
    far = -np.sign(cam.position[1]) * behind_m
    water = seen(cam, [[-1.2, SWIMMER_Y, 0], [1.2, SWIMMER_Y, 0]])
    pole = seen(cam, [[pole_x, far, -1.5], [pole_x, far, 0.5]])
    clip = SimpleNamespace(n_frames=10, times=np.arange(10) / 60, size=cam.size)
    return plane_of(
        Shot("pass", clip, "side_under", cam.direction, 0, 10, camera="following"),
        [LineMark(0, "water", *water.ravel())],
        [LengthMark(0, *pole.ravel(), length_m=2.0, sigma_m=0.0, distance_ratio=DISTANCE / (DISTANCE + behind_m))],
    )


@pytest.mark.parametrize("side", [1.0, -1.0])
@pytest.mark.parametrize("roll_deg", [0.0, 6.0, -15.0])
@pytest.mark.parametrize("behind_m", [0.0, 1.25])
def test_swimmers_places_come_back_in_metres(side, roll_deg, behind_m):
    cam = camera(side, roll_deg)
    world = made(cam, behind_m).world(seen(cam, PLACES.tolist()))
    # Forward along the swim and up from the water, whichever side the camera stands on.
    np.testing.assert_allclose(world[:, 1], PLACES[:, 2], atol=1e-9)
    np.testing.assert_allclose(world[:, 0] - world[0, 0], PLACES[:, 0] - PLACES[0, 0], atol=1e-9)


@pytest.mark.parametrize("off_deg", [0.0, 15.0, 30.0])
def test_camera_that_is_not_square_shortens_what_lies_along_the_lane_by_the_cosine(off_deg):
    cam = Camera("side_under", (5 * np.tan(np.radians(off_deg)), 5.0, 0.0), (0.0, 0.0, 0.0), 900.0)
    # The pole is upright where the camera looks, so its length is seen in full.
    reach = made(cam, 0.0, pole_x=0.0).world(seen(cam, [[-0.05, 0, -0.1], [0.05, 0, -0.1]]))
    assert abs(np.diff(reach[:, 0])[0]) / 0.1 == pytest.approx(np.cos(np.radians(off_deg)), rel=0.002)
