"""The demo body's mesh against geometry: closed, outward, of the right volume."""

from __future__ import annotations

import numpy as np
import pytest

from casebook.demo.body import make_body, volume_m3
from casebook.demo.body_shape import PARTS
from casebook.demo.cast import CAST
from casebook.demo.solid import Ellipsoid, Limb, outward, sampled, surface
from casebook.demo.swimmer import Swimmer

FRAME = {"bone": (np.eye(3), np.zeros(3))}


def directed_edges(triangles: np.ndarray) -> np.ndarray:
    return np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]])


def test_a_meshed_sphere_has_the_volume_and_radius_of_the_sphere() -> None:
    # Source: volume of a sphere, 4/3 pi r^3; the mesh of a convex body lies slightly inside, by about (step/r)^2.
    radius, step = 0.10, 0.006
    ball = Ellipsoid("p", "bone", np.array([0.3, -0.1, 0.2]), np.full(3, radius), 0.01)
    values, low = sampled([ball], FRAME, step)
    vertices, triangles = surface(values, low, step)
    assert volume_m3(vertices, triangles) == pytest.approx(4 / 3 * np.pi * radius**3, rel=0.01)
    assert np.linalg.norm(vertices - ball.centre, axis=1) == pytest.approx(radius, abs=0.1 * step)


def test_a_meshed_capsule_has_the_volume_of_a_cylinder_and_a_sphere() -> None:
    radius, length, step = 0.06, 0.4, 0.005
    limb = Limb("p", "bone", np.zeros(3), np.array([0.0, length, 0.0]), radius, radius, 0.01)
    values, low = sampled([limb], FRAME, step)
    expected = np.pi * radius**2 * length + 4 / 3 * np.pi * radius**3
    assert volume_m3(*surface(values, low, step)) == pytest.approx(expected, rel=0.01)


def test_normals_of_a_sphere_point_away_from_its_middle() -> None:
    # Source: the normal of a sphere is its radius.
    ball = Ellipsoid("p", "bone", np.array([0.1, 0.2, -0.1]), np.full(3, 0.2), 0.01)
    away = np.random.default_rng(5).normal(size=(200, 3))
    away /= np.linalg.norm(away, axis=1, keepdims=True)
    assert outward([ball], ball.centre + 0.2 * away, FRAME) == pytest.approx(away, abs=0.005)


def test_normals_of_the_body_agree_with_its_faces() -> None:
    body = make_body()
    a, b, c = (body.vertices[body.triangles[:, i]] for i in range(3))
    face = np.cross(b - a, c - a)
    length = np.linalg.norm(face, axis=1)
    mean = body.normals[body.triangles].mean(1)
    along = (face * mean).sum(1) / (length * np.linalg.norm(mean, axis=1))
    # Where one part ends inside another the joined solid has no such face; nothing of it is seen.
    assert np.quantile(along[length > np.median(length) / 2], 0.05) > 0.9


def test_every_part_of_the_body_is_closed_and_turned_outward() -> None:
    body = make_body()
    edges = directed_edges(body.triangles)
    forward = edges[:, 0] * len(body.vertices) + edges[:, 1]
    back = edges[:, 1] * len(body.vertices) + edges[:, 0]
    # Closed and evenly turned: every edge runs as often one way as the other.
    there, there_count = np.unique(forward, return_counts=True)
    again, again_count = np.unique(back, return_counts=True)
    assert np.array_equal(there, again) and np.array_equal(there_count, again_count)
    for number in range(len(PARTS)):
        own = body.triangles[body.part[body.triangles[:, 0]] == number]
        assert volume_m3(body.vertices, own) > 0


def test_skin_shares_sum_to_one() -> None:
    body = make_body()
    assert body.weight.sum(1) == pytest.approx(1.0)
    assert (body.weight >= 0).all()


def test_the_body_has_a_plausible_volume_that_the_stroke_keeps() -> None:
    # An adult of 1.78 m and 60 to 80 kg, about as dense as water: common practice, no source.
    swimmer = Swimmer()
    body = make_body()
    volumes = [
        volume_m3(body.posed(swimmer.bones(t), swimmer.stature_m)[0], body.triangles)
        for t in np.arange(24) / 24 * swimmer.period_s
    ]
    assert min(volumes) > 0.055 and max(volumes) < 0.085
    assert max(volumes) / min(volumes) < 1.02


@pytest.mark.parametrize("alias", sorted(CAST))
def test_volume_grows_with_the_cube_of_stature(alias: str) -> None:
    swimmer = CAST[alias].swimmer
    body = make_body()
    volume = volume_m3(body.posed(swimmer.bones(0.3), swimmer.stature_m)[0], body.triangles)
    at_rest = volume_m3(body.vertices, body.triangles)
    assert volume / at_rest == pytest.approx((swimmer.stature_m / 1.78) ** 3, rel=0.02)
