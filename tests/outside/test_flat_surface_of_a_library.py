"""Four points of a flat surface against a general computer-vision library and a published example."""

from __future__ import annotations

import numpy as np
import pytest
from source_tables import numbers

from casebook.plane.homography import homography

VIEWS = numbers("duarte_2023_square_views.csv")
MATRICES = {int(r["view"]): r for r in numbers("duarte_2023_square_matrices.csv")}


def corners(view: int) -> tuple[np.ndarray, np.ndarray]:
    own = [r for r in VIEWS if r["view"] == view]
    return np.array([[r["x"], r["y"]] for r in own]), np.array([[r["u"], r["v"]] for r in own])


@pytest.mark.parametrize("view", [1, 2])
def test_four_points_match_duarte_2023_square_views(view):
    surface, picture = corners(view)
    ours, said = homography(surface, picture), MATRICES[view]
    expected = [said[k] for k in ("h11", "h12", "h13", "h21", "h22", "h23", "h31", "h32")]
    # Nine digits are printed; 1e-6 leaves room for the linear algebra of another machine.
    np.testing.assert_allclose(ours.matrix.ravel()[:8], expected, rtol=1e-6)
    np.testing.assert_allclose(ours.to_picture([7.25, 6.15]), [said["middle_u"], said["middle_v"]], atol=5.1e-5)
    np.testing.assert_allclose(ours.to_surface(picture), surface, atol=1e-9)
    assert ours.rms_px < 1e-9


@pytest.mark.parametrize("n", [4, 5, 9, 40])
def test_exact_points_match_the_general_library(n):
    # Source: cv2.findHomography (OpenCV), method 0.
    cv2 = pytest.importorskip("cv2")
    random = np.random.default_rng(n)
    surface = np.array([[0, 0], [5, 0], [5, 2.5], [0, 2.5]])
    if n > 4:
        surface = np.vstack([surface, random.uniform([0, 0], [5, 2.5], (n - 4, 2))])
    true = np.array([[180, 20, 300], [-15, 140, 500], [0.01, 0.05, 1.0]])
    q = surface @ true[:, :2].T + true[:, 2]
    picture = q[:, :2] / q[:, 2:]
    theirs, _ = cv2.findHomography(surface, picture, 0)
    # For more than four points the library iterates on single-precision points and stops at about 1e-6 of the truth.
    np.testing.assert_allclose(homography(surface, picture).matrix, theirs, rtol=1e-6 if n == 4 else 1e-5, atol=1e-6)
    np.testing.assert_allclose(homography(surface, picture).matrix, true, rtol=1e-6, atol=1e-9)


def test_noisy_points_end_within_the_noise_of_the_general_library():
    # The library refines by distances in the picture; ours stops at the normalised linear equations. Where the two put
    # a place must differ by much less than the marking error that both were handed.
    cv2 = pytest.importorskip("cv2")
    random = np.random.default_rng(7)
    surface = random.uniform([0, 0], [5, 2.5], (30, 2))
    exact = homography([[0, 0], [5, 0], [5, 2.5], [0, 2.5]], [[300, 500], [1140, 400], [1050, 640], [310, 800]])
    picture = exact.to_picture(surface) + random.normal(0, 2.0, surface.shape)
    theirs, _ = cv2.findHomography(surface, picture, 0)
    there = cv2.perspectiveTransform(surface[:, None], theirs)[:, 0]
    ours = homography(surface, picture)
    assert np.abs(ours.to_picture(surface) - there).max() < 0.5
    residual = np.sqrt(np.mean(np.sum((there - picture) ** 2, -1)))
    assert ours.rms_px == pytest.approx(residual, rel=0.01)
