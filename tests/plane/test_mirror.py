"""The midpoint between a limb and its mirror image: where it lies on the water, and where it does not."""

from __future__ import annotations

import numpy as np
import pytest

from casebook.demo.camera import Camera
from casebook.errors import CasebookError
from casebook.plane.mirror import mirror_midpoint, water_from_mirrors


def drawn_bias(depth: float, camera_depth: float, away: float, up_deg: float) -> float:
    """The same by the demo camera: midpoint of limb and image, back onto the limb's plane. [m]"""
    rise = away * np.tan(np.radians(up_deg))
    camera = Camera("side_under", (0, -away, -camera_depth), (0, 0, -camera_depth + rise), 1000.0)
    limb, image = camera.project(np.array([[0.0, 0.0, -depth], [0.0, 0.0, depth]]), 0.0)[0]
    eye, ray = camera.rays((limb + image) / 2, 0.0)
    return float((eye + ray * (away / ray[1]))[2])


@pytest.mark.parametrize("depth", [0.05, 0.3, 0.8])
@pytest.mark.parametrize("camera_depth", [0.1, 0.5, 1.2])
def test_level_camera_sees_the_midpoint_on_the_water(depth, camera_depth):
    found = mirror_midpoint(depth, camera_depth, 3.0)
    assert found.bias_m == pytest.approx(0, abs=1e-12)
    assert found.serves


@pytest.mark.parametrize("up_deg", [-20.0, -5.0, 5.0, 15.0])
@pytest.mark.parametrize("depth", [0.1, 0.6])
def test_camera_that_does_not_look_level_misses_by_what_the_demo_camera_shows(up_deg, depth):
    found = mirror_midpoint(depth, 0.5, 3.0, up_deg)
    assert found.bias_m == pytest.approx(drawn_bias(depth, 0.5, 3.0, up_deg), abs=1e-9)
    assert np.sign(found.bias_m) == np.sign(-up_deg)


def test_large_miss_is_refused_in_words():
    found = mirror_midpoint(0.6, 0.5, 2.0, -20.0)
    assert not found.serves
    assert "looks down by 20 degrees: mark the water itself" in found.sentence
    assert "above the water" in found.sentence


def test_from_above_there_is_no_mirror_image():
    found = mirror_midpoint(0.3, -1.5, 4.0, -20.0)
    assert not found.serves
    assert "From above" in found.sentence


def test_steep_look_sees_out_of_the_water():
    # Source: the surface mirrors all light only beyond 48.6 degrees from upright.
    assert not mirror_midpoint(0.5, 1.5, 1.5).serves
    assert "out of the water" in mirror_midpoint(0.5, 1.5, 1.5).sentence
    assert mirror_midpoint(0.5, 1.5, 3.0).serves


def test_two_limbs_and_their_images_give_a_water_line():
    line = water_from_mirrors(7, [(100, 300), (900, 340)], [(100, 100), (902, 140)], "side_under", sigma_px=2.0)
    assert line.ends == (100, 200, 901, 240)
    assert line.line == "water"
    assert line.sigma_px == pytest.approx(np.sqrt(2))


@pytest.mark.parametrize(
    ("view", "images", "words"),
    [("side_above", [(1, 1), (2, 2)], "under water that looks level"), ("side_under", [(1, 1)], "two limbs")],
)
def test_mirror_images_that_tell_no_water_are_refused(view, images, words):
    with pytest.raises(CasebookError, match=words):
        water_from_mirrors(0, [(5, 9), (8, 9)], images, view)
