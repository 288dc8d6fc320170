"""The map of off-axis errors: what it says of windows and lenses, and its picture."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image

from casebook.demo.camera import Camera
from casebook.errors import CasebookError
from casebook.pages.optics_map import optics_map_png
from casebook.plane.error_map import error_map
from casebook.plane.lens import Lens
from casebook.plane.optics import Optics
from casebook.plane.port import FlatPort

SIZE = (960, 540)
CENTRE = (np.array(SIZE) - 1) / 2
PORT = FlatPort(900.0, CENTRE, 5.0, behind_m=0.0, glass_m=0.0, water=1.333)


def test_window_makes_the_rim_too_long_and_leaves_the_middle():
    found = error_map(PORT, SIZE)
    assert found.percent.shape == (54, 96)
    middle = np.abs(found.percent[26:28, 47:49]).max()
    assert middle < 0.1
    assert (found.percent[0] > 5).all()
    # By hand, from Snell's law: n tan(water) = u n / sqrt(n2 + (n2 - 1) u2) for u = tan(air); its slope against that of
    # the middle, at the corner, u = 550 / 900.
    u, n2 = np.hypot(*CENTRE) / 900, 1.333**2
    assert found.percent[0, 0] == pytest.approx(100 * ((1 + (1 - 1 / n2) * u * u) ** 1.5 - 1), rel=1e-3)
    assert f"{found.percent[0, 0]:.0f} % at its rim" in found.sentence


def test_barrel_makes_the_rim_too_short():
    found = error_map(Lens(600.0, [-0.2, 0.04, 0, 0, 0, *CENTRE]), SIZE)
    assert found.percent[0, 0] < -5
    assert found.inside(1.0)[26, 47]
    assert not found.inside(1.0)[0, 0]


def test_no_distortion_is_no_error():
    found = error_map(Optics((Lens(600.0, [0, 0, 0, 0, 0, *CENTRE]),)), SIZE)
    np.testing.assert_allclose(found.percent, 0, atol=1e-6)
    np.testing.assert_allclose(found.shift_px, 0, atol=1e-9)


def test_what_shows_nothing_stays_missing_and_is_said():
    found = error_map(Lens(300.0, [-0.3, 0, 0, 0, 0, *CENTRE]), SIZE)
    assert np.isnan(found.percent[0, 0])
    assert np.isfinite(found.percent[27, 48])
    assert "show nothing" in found.sentence


def test_map_without_columns_is_refused():
    with pytest.raises(CasebookError, match="1 column"):
        error_map(PORT, SIZE, columns=1)


@pytest.mark.parametrize("with_picture", [False, True])
def test_picture_of_the_map_darkens_toward_the_rim(with_picture):
    frame = np.full((SIZE[1], SIZE[0], 3), 120, np.uint8) if with_picture else None
    image = np.asarray(Image.open(io.BytesIO(optics_map_png(error_map(PORT, SIZE), frame))).convert("L"), float)
    high, wide = image.shape
    assert image[high // 2 - 20 : high // 2 + 20, wide // 2 - 20 : wide // 2 + 20].mean() > image[-25:, :25].mean()


def test_window_of_the_demo_camera_is_taken_out_by_the_measuring_code():
    # Two paths that share nothing: the demo bends directions; the measuring code solves for rays to a plane.
    camera = Camera("side_split", (0.0, -4.0, 0.02), (0.0, 0.0, 0.02), 900.0, SIZE, refraction="port")
    x, z = np.meshgrid(np.linspace(-1.3, 1.3, 9), np.linspace(-0.9, -0.05, 5))
    xy = camera.project(np.stack([x, 0 * x, z], -1), 0.0)[0]
    port = FlatPort(900.0, camera.centre_px, 4.0, behind_m=0.0, glass_m=0.0, water=camera.water_index)
    straight = port.straight(xy)
    scale = 900.0 * camera.water_index / 4.0
    np.testing.assert_allclose(straight[..., 0] - camera.centre_px[0], scale * x, atol=1e-6)
    np.testing.assert_allclose(straight[..., 1] - camera.centre_px[1], scale * (0.02 - z), atol=1e-6)
