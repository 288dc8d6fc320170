"""Four points of a flat surface: there and back, errors, and points that cannot serve."""

from __future__ import annotations

import numpy as np
import pytest

from casebook.errors import CasebookError
from casebook.plane.homography import homography

SURFACE = np.array([[0, 0], [5, 0], [5, 2.5], [0, 2.5]])
PICTURE = np.array([[300.0, 500.0], [1140.0, 400.0], [1050.0, 640.0], [310.0, 800.0]])


def test_places_go_there_and_back():
    view = homography(SURFACE, PICTURE)
    places = np.random.default_rng(0).uniform([0, 0], [5, 2.5], (3, 7, 2))
    np.testing.assert_allclose(view.to_surface(view.to_picture(places)), places, atol=1e-9)


def test_straight_lines_stay_straight():
    view = homography(SURFACE, PICTURE)
    a, b, c = view.to_picture([[0.5, 0.2], [2.0, 0.9], [4.5, 0.2 + 4 * 0.7 / 1.5]])
    assert abs(np.linalg.det([[*a, 1], [*b, 1], [*c, 1]])) < 1e-5


def test_covariance_on_the_surface_matches_random_draws():
    view = homography(SURFACE, PICTURE)
    at = view.to_picture([4.0, 1.0])
    drawn = view.to_surface(at + np.random.default_rng(1).normal(0, 2.0, (100_000, 2)))
    np.testing.assert_allclose(view.surface_sigma(at, 2.0), np.cov(drawn.T), rtol=0.03, atol=1e-7)
    assert view.surface_sigma(np.zeros((4, 3, 2)), np.ones((4, 3))).shape == (4, 3, 2, 2)


def test_horizon_of_the_surface_is_nowhere():
    view = homography(SURFACE, PICTURE)
    inverse = np.linalg.inv(view.matrix)
    horizon = [0.0, -inverse[2, 2] / inverse[2, 1]]
    far = view.to_surface(horizon)
    assert np.isnan(far).any() or np.abs(far).max() > 1e6


@pytest.mark.parametrize(
    ("surface", "picture", "words"),
    [
        (SURFACE[:3], PICTURE[:3], "four or more"),
        (SURFACE, PICTURE[:3], "four or more"),
        (SURFACE, np.where(PICTURE == 300.0, np.nan, PICTURE), "four or more"),
        (np.array([[0, 0], [1, 0], [2, 0], [0, 1]]), PICTURE, "on a line"),
        (SURFACE, np.array([[0, 0], [1, 1], [2, 2], [0, 1.0]]), "on a line"),
        (np.arange(12.0).reshape(6, 2), np.random.default_rng(0).uniform(0, 9, (6, 2)), "on a line"),
    ],
)
def test_points_that_cannot_serve_are_refused(surface, picture, words):
    with pytest.raises(CasebookError, match=words):
        homography(surface, picture)
