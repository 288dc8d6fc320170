"""Drawings land on the right pixel, in the page's SVG and in the notebook's picture."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from invented_catch import InventedCatch, figure_to_aim_for, invented_desk
from PIL import Image

from casebook.checkpoints.drawing import Drawing, Label
from casebook.pages import show
from casebook.pages.aims import aim_drawing
from casebook.pages.overlay import drawing_data, labels, overlay_svg, points
from casebook.pages.palette import PICTURE, rgb
from casebook.pages.picture import around, boxes_of_one_size, cut, drawn, jpeg


def test_a_pixel_centre_is_half_a_pixel_from_the_edge_at_any_crop_and_scale() -> None:
    drawing = Drawing(body=(((10.0, 20.0), (30.0, 40.0)),), labels=(Label((10.0, 20.0), "9 cm"),))
    assert drawing_data(drawing)["body"] == [[[10.5, 20.5], [30.5, 40.5]]]
    moved = drawing_data(drawing, (8.0, 16.0), 0.5)
    assert moved["body"] == [[[1.2, 2.2], [11.2, 12.2]]]
    assert moved["labels"] == [{"at": [1.2, 2.2], "text": "9 cm"}]


def test_a_mark_on_a_bright_pixel_is_drawn_over_that_pixel() -> None:
    frame = np.zeros((90, 120, 3), np.uint8)
    frame[60, 45] = 255
    image, scale = cut(frame, (20, 30, 110, 90), 45)
    data = drawing_data(Drawing(body=(((45.0, 60.0), (45.0, 60.0)),)), (20, 30), scale)
    ((x, y), _) = points(data, "body")[0]
    bright = np.asarray(image).sum(-1)
    at = np.unravel_index(bright.argmax(), bright.shape)
    assert (at[1] + 0.5, at[0] + 0.5) == (pytest.approx(x, abs=0.5), pytest.approx(y, abs=0.5))
    over = np.asarray(drawn(image, data, weight=2.0)).astype(int)
    assert over[int(y), int(x)].min() > 240


def test_the_notebook_picture_uses_white_for_the_body_and_the_warm_tone_for_the_measure() -> None:
    image = Image.new("RGB", (200, 100), (90, 90, 90))
    data = drawing_data(Drawing(body=(((20, 20), (180, 20)),), measure=(((20, 80), (180, 80)),)))
    out = np.asarray(drawn(image, data, weight=4.0))
    assert tuple(out[20, 100]) == rgb(PICTURE.line)
    assert tuple(out[80, 100]) == rgb(PICTURE.measure)
    assert tuple(out[50, 100]) == (90, 90, 90)


def test_reference_lines_are_dashed_in_the_picture() -> None:
    image = Image.new("RGB", (300, 60), (90, 90, 90))
    row = np.asarray(drawn(image, drawing_data(Drawing(reference=(((10, 30), (290, 30)),))), weight=4.0))[30, 15:285, 0]
    changes = np.count_nonzero(np.diff((row > 180).astype(int)))
    assert changes >= 8


def test_the_overlay_is_hidden_from_screen_readers_and_escapes_its_words() -> None:
    data = drawing_data(Drawing(body=(((1, 2), (3, 4)),), labels=(Label((5, 6), "<script>"),)))
    svg = overlay_svg(data, (100, 50))
    assert 'aria-hidden="true"' in svg and "&lt;script&gt;" in svg and "<script>" not in svg
    assert 'd="M1.5 2.5L3.5 4.5"' in svg


@pytest.mark.parametrize(
    "bad", [None, "M0 0", [["1", "2"]], [[[1, 2, 3]]], [[[1, "x"]]], [[[float("nan"), 1]]], {"a": 1}]
)
def test_lines_that_are_no_numbers_are_not_drawn(bad: object) -> None:
    assert points({"body": bad}, "body") == []
    assert labels({"labels": bad}) == []


@given(
    st.lists(st.tuples(st.floats(-50, 700), st.floats(-50, 400)), min_size=1, max_size=4),
    st.floats(10, 900),
    st.floats(0.5, 3),
)
def test_close_ups_are_of_one_size_and_inside_the_frame(corners: list, side: float, aspect: float) -> None:
    boxes = boxes_of_one_size([(x, y, x + side, y + side / 2) for x, y in corners], (640, 360), aspect)
    sizes = {(x1 - x0, y1 - y0) for x0, y0, x1, y1 in boxes}
    assert len(sizes) == 1
    assert all(0 <= x0 < x1 <= 640 and 0 <= y0 < y1 <= 360 for x0, y0, x1, y1 in boxes)


def test_a_box_around_lines_holds_them_with_room() -> None:
    assert around([[(10, 10), (110, 60)]], margin=0.2) == (-10, -10, 130, 80)


def test_the_figure_to_aim_for_stands_at_the_swimmers_shoulder_and_in_the_swimmers_size(tmp_path: Path) -> None:
    desk, catch = invented_desk(tmp_path), InventedCatch()
    data = show.pair(desk, catch, figure_to_aim_for()).data
    you, aim = data["you"]["drawing"]["body"][0], data["aim"]["drawing"]["body"][0]
    # The figure's joints are the swimmer's own, enlarged and shifted: laid over each other they coincide.
    assert np.allclose(you, aim, atol=0.15)
    assert data["you"]["size"] == data["aim"]["size"]
    saved = Image.open(tmp_path / "out" / "media" / data["aim"]["file"])
    assert saved.mode == "RGBA" and saved.getpixel((1, 1))[3] == 0
    # The figure's block ends at x 700 and spans y 200 to 420 of its own picture, where its shoulder is at (420, 220).
    solid = np.argwhere(np.asarray(saved)[..., 3] > 128)
    (top, _), (bottom, right) = solid.min(0), solid.max(0) + 1
    scale = (aim[1][0] - aim[0][0]) / 180
    assert right == pytest.approx(aim[0][0] + scale * (700 - 420.5), abs=1.0)
    assert top == pytest.approx(aim[0][1] + scale * (200 - 220.5), abs=1.0)
    assert bottom == pytest.approx(aim[0][1] + scale * (420 - 220.5), abs=1.0)


def test_pictures_carry_no_metadata(tmp_path: Path) -> None:
    desk, catch = invented_desk(tmp_path), InventedCatch()
    show.stills(desk, catch)
    show.pair(desk, catch, figure_to_aim_for())
    for path in (tmp_path / "out" / "media").iterdir():
        image = Image.open(path)
        assert not image.getexif() and not {
            k for k in image.info if k not in ("jfif", "jfif_version", "jfif_unit", "jfif_density")
        }


def test_a_jpeg_is_the_same_every_time() -> None:
    image = Image.fromarray(np.arange(48 * 64 * 3, dtype=np.uint8).reshape(48, 64, 3))
    assert jpeg(image) == jpeg(image)
    assert Image.open(io.BytesIO(jpeg(image))).size == (64, 48)


def test_the_lines_on_the_figure_to_aim_for_are_those_of_the_moment() -> None:
    arm = [(0.0, 0.0), (30.0, 10.0), (40.0, 50.0), (45.0, 80.0)]
    down = aim_drawing(arm, "straight_down")
    assert down.reference == (((0.0, 0.0), (0.0, 80.0)),) and down.measure == (((0.0, 80.0), (45.0, 80.0)),)
    half = aim_drawing(arm, "halfway")
    (elbow, foot) = np.array(half.measure[0])
    assert np.dot(foot - elbow, np.array(arm[-1])) == pytest.approx(0) and foot[0] * 80 == pytest.approx(foot[1] * 45)
    assert aim_drawing(arm, "reach").reference == (((0.0, 0.0), (45.0, 0.0)),)
