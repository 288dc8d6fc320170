"""Pixel counting: whole numbers at centres against whole numbers at edges."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from casebook.plane.pixels import centre_from_edge, edge_from_centre, resize_xy

sizes = st.tuples(st.integers(1, 4000), st.integers(1, 4000))
places = st.tuples(st.floats(-10, 4000), st.floats(-10, 4000))


def test_middle_of_the_first_pixel_is_a_half_from_the_edge():
    np.testing.assert_array_equal(edge_from_centre([0, 0]), [0.5, 0.5])
    np.testing.assert_array_equal(centre_from_edge([0.5, 0.5]), [0, 0])


@given(places)
def test_there_and_back(xy):
    np.testing.assert_allclose(centre_from_edge(edge_from_centre(xy)), xy, atol=1e-9)


@given(places, sizes, sizes)
def test_resizing_back_restores_every_place(xy, size, other):
    np.testing.assert_allclose(resize_xy(resize_xy(xy, size, other), other, size), xy, rtol=1e-9, atol=1e-6)


@given(sizes, sizes)
def test_resizing_keeps_the_edges_and_the_middle_of_the_picture(size, other):
    w, h = other
    np.testing.assert_allclose(resize_xy([-0.5, -0.5], size, other), [-0.5, -0.5], atol=1e-9)
    np.testing.assert_allclose(resize_xy([size[0] - 0.5, size[1] - 0.5], size, other), [w - 0.5, h - 0.5], atol=1e-9)
    np.testing.assert_allclose(resize_xy([(size[0] - 1) / 2, 0], size, other)[0], (w - 1) / 2, atol=1e-9)


def test_doubling_a_picture_puts_a_pixel_in_the_middle_of_its_four():
    np.testing.assert_array_equal(resize_xy([3, 5], (10, 10), (20, 20)), [6.5, 10.5])


def test_resizing_agrees_with_a_library_that_averages_pixels():
    # A bright pixel's centre of brightness after resizing by area, counted in whole-number centres.
    image = np.zeros((12, 20))
    image[7, 4] = 1.0
    small = image.reshape(6, 2, 10, 2).mean((1, 3))
    y, x = np.unravel_index(small.argmax(), small.shape)
    # Pixel (4, 7) lies in the left half and the lower half of pixel (2, 3).
    np.testing.assert_array_equal(resize_xy([4, 7], (20, 12), (10, 6)), [x - 0.25, y + 0.25])
