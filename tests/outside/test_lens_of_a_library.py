"""The lens model against OpenCV, and lenses recovered from straight lines that OpenCV bent."""

from __future__ import annotations

import numpy as np
import pytest

from casebook.plane.lens import Lens
from casebook.plane.plumb import fit_lens

SIZE = (1920, 1080)
CENTRE = np.array([966.0, 536.0])
FOCAL = 1100.0


def bent_by_library(xy: np.ndarray, k: np.ndarray) -> np.ndarray:
    """Straight picture places as cv2.projectPoints draws them; k in its order k1, k2, p1, p2, k3."""
    cv2 = pytest.importorskip("cv2")
    matrix = np.array([[FOCAL, 0, CENTRE[0]], [0, FOCAL, CENTRE[1]], [0, 0, 1]])
    rays = np.column_stack([(xy - CENTRE) / FOCAL, np.ones(len(xy))])
    return cv2.projectPoints(rays, np.zeros(3), np.zeros(3), matrix, k)[0][:, 0]


@pytest.mark.parametrize(
    "k", [(-0.22, 0.05, 0, 0, 0), (0.15, -0.02, 0.003, -0.002, 0.001), (-0.3, 0.12, -0.004, 0.005, -0.02)]
)
def test_lens_draws_as_the_library_does_and_takes_it_back(k):
    xy = np.random.default_rng(0).uniform([250, 100], [1650, 980], (60, 2))
    lens = Lens(FOCAL, np.array([k[0], k[1], k[4], k[2], k[3], *CENTRE]))
    drawn = bent_by_library(xy, np.array(k))
    np.testing.assert_allclose(lens.bent(xy), drawn, atol=1e-9)
    np.testing.assert_allclose(lens.straight(drawn), xy, atol=1e-7)


def edges(k: np.ndarray, noise: float, seed: int, count: int = 8) -> list[np.ndarray]:
    """Straight lines from rim to rim, bent by the library and clicked in nine places."""
    random = np.random.default_rng(seed)
    out = []
    for i in range(count):
        a, b = random.uniform(0.05, 0.95, 2)
        ends = [[a * SIZE[0], 0], [b * SIZE[0], SIZE[1]]] if i % 2 else [[0, a * SIZE[1]], [SIZE[0], b * SIZE[1]]]
        line = np.array(ends[0]) + np.linspace(0, 1, 9)[:, None] * np.subtract(ends[1], ends[0])
        out.append(bent_by_library(line, k) + random.normal(0, noise, line.shape))
    return out


@pytest.mark.parametrize("k", [(-0.25, 0.06), (-0.12, 0.0), (0.10, 0.02)])
def test_lens_is_recovered_from_lines_that_the_library_bent(k):
    k5 = np.array([*k, 0, 0, 0])
    lens = fit_lens(edges(k5, 0.0, 1), SIZE, sigma_px=0.05)
    xy = np.random.default_rng(2).uniform([100, 60], [1820, 1020], (50, 2))
    # The centre is held near the middle of the picture by what is usual, not by the lines: it gives way in full.
    np.testing.assert_allclose(lens.straight(bent_by_library(xy, k5)), xy, atol=0.5)


def test_intervals_of_the_lens_hold_the_truth():
    k5 = np.array([-0.22, 0.05, 0, 0, 0])
    unit = np.hypot(*SIZE) / 2
    true = np.array([k5[0] * (unit / FOCAL) ** 2, k5[1] * (unit / FOCAL) ** 4, *CENTRE])
    off = []
    for seed in range(24):
        lens = fit_lens(edges(k5, 2.0, seed), SIZE, sigma_px=2.0)
        kept = np.array([0, 1, 5, 6])
        off.append((lens.params[kept] - true) / np.sqrt(np.diag(lens.covariance)[kept]))
    # 24 draws know a standard deviation to 15 %.
    assert (np.std(off, axis=0) < 1.45).all()
    assert (np.std(off, axis=0)[:2] > 0.6).all()
    assert np.mean(np.abs(off) < 1.96) > 0.9


def test_corners_come_back_within_a_few_pixels_from_hand_clicks():
    k5 = np.array([-0.22, 0.05, 0, 0, 0])
    lens = fit_lens(edges(k5, 2.0, 3, count=12), SIZE, sigma_px=2.0)
    corner = np.array([[60.0, 40.0], [1860.0, 1040.0]])
    seen = bent_by_library(corner, k5)
    assert np.abs(seen - corner).max() > 60
    assert np.abs(lens.straight(seen) - corner).max() < 6
