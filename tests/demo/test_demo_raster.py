"""The demo's rasteriser against pictures that can be worked out on paper."""

from __future__ import annotations

import numpy as np
import pytest

from casebook.demo.camera import Camera
from casebook.demo.raster import depth_picture, rasterize
from casebook.demo.solid import Ellipsoid, sampled, surface

SIZE = (120, 90)
#: A triangle in the picture, clockwise on a page where y points down would face away; this one faces the lens.
CORNERS = np.array([[10.3, 70.2], [100.7, 60.4], [40.1, 8.8]])


def faced(xy: np.ndarray) -> np.ndarray:
    a, b, c = xy
    area = (b[0] - a[0]) * (c[1] - a[1]) - (c[0] - a[0]) * (b[1] - a[1])
    return np.array([[0, 1, 2]]) if area < 0 else np.array([[0, 2, 1]])


def covered(xy: np.ndarray, size: tuple[int, int]) -> np.ndarray:
    """Pixel centres inside a triangle, by the sign of three cross products."""
    columns, rows = np.meshgrid(np.arange(size[0]), np.arange(size[1]))
    signs = []
    for k in range(3):
        a, b = xy[k], xy[(k + 1) % 3]
        signs.append((b[0] - a[0]) * (rows - a[1]) - (b[1] - a[1]) * (columns - a[0]))
    stack = np.stack(signs)
    return (stack >= 0).all(0) | (stack <= 0).all(0)


@pytest.mark.parametrize("scale", [0.02, 0.2, 1.0, 9.0])
def test_a_triangle_covers_exactly_the_pixels_whose_centres_it_holds(scale: float) -> None:
    xy = (CORNERS - CORNERS.mean(0)) * scale + np.array([57.3, 43.8])
    found = rasterize(xy, np.full(3, 2.0), faced(xy), SIZE)
    picture = np.zeros(SIZE[0] * SIZE[1], bool)
    picture[found.pixel] = True
    assert np.array_equal(picture.reshape(SIZE[1], SIZE[0]), covered(xy, SIZE))


def test_a_triangle_that_faces_away_is_not_drawn() -> None:
    assert len(rasterize(CORNERS, np.full(3, 2.0), faced(CORNERS)[:, ::-1], SIZE).pixel) == 0


def test_a_triangle_behind_the_lens_or_unknown_is_not_drawn() -> None:
    assert len(rasterize(CORNERS, np.array([2.0, 2.0, -1.0]), faced(CORNERS), SIZE).pixel) == 0
    unknown = CORNERS.copy()
    unknown[1] = np.nan
    assert len(rasterize(unknown, np.full(3, 2.0), faced(CORNERS), SIZE).pixel) == 0


def test_the_nearer_triangle_hides_the_farther_one_whatever_their_order() -> None:
    xy = np.concatenate([CORNERS, CORNERS + 4.0])
    near_first = np.concatenate([faced(CORNERS), faced(CORNERS) + 3])
    for triangles, near in ((near_first, 0), (near_first[::-1], 1)):
        found = rasterize(xy, np.array([2.0] * 3 + [3.0] * 3), triangles, SIZE)
        both = (covered(CORNERS, SIZE) & covered(CORNERS + 4.0, SIZE)).ravel()
        shown = np.full(both.shape, -1)
        shown[found.pixel] = found.triangle
        assert (shown[both] == near).all()


def test_places_on_a_slanted_triangle_are_where_the_lines_of_sight_meet_it() -> None:
    # Source: a ray meets a plane at (n . a) / (n . d) along it.
    camera = Camera("side_under", (0.0, -3.0, 0.0), (0.0, 0.0, 0.0), 100.0, SIZE)
    world = np.array([[-1.0, -1.5, -0.8], [1.2, 3.0, -0.6], [0.1, 0.4, 0.9]])
    xy, depth = camera.project(world, 0.0)
    triangles = faced(xy)
    found = rasterize(xy, depth, triangles, SIZE)
    place = found.interpolated(world, triangles)
    eye, ray = camera.rays(np.stack([found.pixel % SIZE[0], found.pixel // SIZE[0]], 1).astype(float), 0.0)
    normal = np.cross(world[1] - world[0], world[2] - world[0])
    way = (normal @ (world[0] - eye)) / (ray @ normal)
    assert len(place) > 500
    assert place == pytest.approx(eye + way[:, None] * ray, abs=1e-9)
    assert found.depth == pytest.approx(place[:, 1] + 3.0, abs=1e-9)


def test_the_depth_of_a_sphere_is_that_of_rays_that_meet_a_sphere() -> None:
    # Source: the nearer root of |e + t d - c|^2 = r^2.
    centre, radius, step = np.array([0.1, 0.0, -0.05]), 0.5, 0.02
    ball = Ellipsoid("p", "bone", centre, np.full(3, radius), 0.01)
    values, low = sampled([ball], {"bone": (np.eye(3), np.zeros(3))}, step)
    vertices, triangles = surface(values, low, step)
    camera = Camera("side_under", (0.0, -3.0, 0.2), (0.0, 0.0, 0.0), 180.0, SIZE)
    xy, depth = camera.project(vertices, 0.0)
    picture = depth_picture(rasterize(xy, depth, triangles, SIZE), SIZE)
    eye, ray = camera.rays(np.stack(np.meshgrid(np.arange(SIZE[0]), np.arange(SIZE[1])), -1).astype(float), 0.0)
    along = ray @ (centre - eye)
    under_root = along**2 - (centre - eye) @ (centre - eye) + radius**2
    forward = camera.pose(0.0)[1][2]
    expected = (along - np.sqrt(np.maximum(under_root, 0.0))) * (ray @ forward)
    well_inside = under_root > 0.03
    assert well_inside.sum() > 1500
    assert picture[well_inside] == pytest.approx(expected[well_inside], abs=0.003)
    assert np.isinf(picture[under_root < -0.05]).all()
    assert np.isfinite(picture).sum() == pytest.approx((under_root > 0).sum(), rel=0.01)
