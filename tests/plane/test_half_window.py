"""A picture half in air and half in water, made one: against the demo's own camera, and Snell's law."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from casebook.demo.cameras import camera_for
from casebook.marks.lines import LineMark
from casebook.plane.half_window import MARGIN_PX, HalfWindow, half_window
from casebook.plane.refraction import water_index

CAMERA = camera_for("side_split", speed=1.4, mode="still", refraction="port")
PLAIN = replace(CAMERA, refraction="none")
WATER_Y = float(PLAIN.project(np.array([0.0, 0.0, 0.0]), 0.0)[0][1])


def window(**more) -> HalfWindow:
    return HalfWindow(CAMERA.focal_px, CAMERA.centre_px, np.array([CAMERA.centre_px[0], WATER_Y]), **more)


def seen(camera, x, z) -> np.ndarray:
    """Pixels of places in the swimmer's plane."""
    return camera.project(np.stack([x, np.zeros_like(x), z], -1), 0.0)[0]


def test_both_halves_come_out_as_a_camera_in_air_would_draw_them():
    # The demo's camera bends the rays by a code path of its own.
    x, z = (g.ravel() for g in np.meshgrid(np.linspace(-1.2, 1.5, 12), [-0.9, -0.4, -0.1, 0.05, 0.3]))
    filmed, plain = seen(CAMERA, x, z), seen(PLAIN, x, z)
    assert np.abs(filmed - plain).max() > 100, "uncorrected, the lower half is far off"
    np.testing.assert_allclose(window().straight(filmed), plain, atol=1.0)


def test_near_the_axis_the_lower_half_shrinks_by_the_index_of_water():
    # IAPWS 1997: 1.333 in visible light, as tests/sources has it.
    below = CAMERA.centre_px + np.array([0.0, 40.0])
    shrunk = (window().straight(below) - CAMERA.centre_px)[1]
    assert 40.0 / shrunk == pytest.approx(float(water_index()), rel=0.002)


@given(x=st.floats(0, 1279), y=st.floats(0, 719))
def test_drawing_back_undoes_it(x, y):
    part, place = window(), np.array([x, y])
    straight = part.straight(place)
    # Where shrinking lifts a place over the line itself, there is no way back.
    if (y > WATER_Y + MARGIN_PX) == (straight[1] > WATER_Y + MARGIN_PX):
        np.testing.assert_allclose(part.bent(straight), place, atol=1e-6)


def test_the_water_line_itself_stays_where_it_was_marked():
    ends = [
        (0, "water", 20.0, WATER_Y + 1.5, 1250.0, WATER_Y - 1.0),
        (30, "water", 40.0, WATER_Y - 1, 1200.0, WATER_Y + 1),
    ]
    lines = [LineMark(*e) for e in ends]
    optics = half_window(lines, CAMERA.size)
    for line in lines:
        places = np.array(line.ends).reshape(2, 2)
        np.testing.assert_allclose(optics.straight(places), places, atol=1e-9)


def test_without_a_water_line_nothing_is_undone():
    assert half_window([LineMark(0, "plumb", 100.0, 0.0, 101.0, 700.0)], CAMERA.size) is None


def test_marks_at_the_line_are_unclear_and_others_are_not():
    optics = half_window([LineMark(0, "water", 20.0, WATER_Y, 1250.0, WATER_Y)], CAMERA.size)
    places = np.array([[600.0, WATER_Y + d] for d in (-30.0, -3.0, 0.0, 3.0, 30.0)])
    np.testing.assert_array_equal(optics.unclear(places, np.full(5, 2.0)), [False, True, True, True, False])


def test_an_unsure_focal_length_makes_the_rim_unsure_and_the_middle_hardly():
    part = window()
    near, far = CAMERA.centre_px + np.array([30.0, 60.0]), CAMERA.centre_px + np.array([560.0, 200.0])
    moved = [np.linalg.norm(part.straight(p, np.array([0.2])) - part.straight(p)) for p in (near, far)]
    assert moved[0] < 0.1 < 1.0 < moved[1]
