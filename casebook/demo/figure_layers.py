"""The swimmer's layers in a picture: the mirror image in the surface, then the body, each for itself."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from casebook.demo.body import make_body
from casebook.demo.paint import reflectance
from casebook.demo.raster import Fragments, rasterize
from casebook.demo.shading import Surface, above_water, through_surface, under_water
from casebook.demo.water import HIGHEST_M, surface_at

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from casebook.demo.camera import Camera
    from casebook.demo.scene import Scene

    Array: TypeAlias = NDArray[np.float64]

MIRRORED = np.array([1.0, 1.0, -1.0])


@dataclass(frozen=True, slots=True, eq=False)
class Layer:
    """Pixels (F,) of a picture, colours (F, 3), how solid they are (F,), and the true ``place`` there (F, 3) [m]."""

    pixel: NDArray[np.int64]
    colour: Array
    solid: Array
    place: Array


def layers(scene: Scene, time_s: float, behind: Array, shift_px: tuple[float, float] = (0.0, 0.0)) -> Iterator[Layer]:
    """Layers of the body from back to front, to be laid over ``behind`` (H, W, 3): the pool, with the mirror image."""
    vertices, normals = make_body().posed(scene.swimmer.bones(time_s), scene.swimmer.stature_m)
    if scene.under:
        yield _dry_left_out(scene, vertices, normals, time_s, shift_px)
    elif scene.split:
        yield from _split(scene, vertices, normals, time_s, shift_px)
    else:
        yield _from_above(scene, vertices, normals, time_s, behind, shift_px)


def _fragments(
    camera: Camera, vertices: Array, triangles: NDArray[np.int64], time_s: float, shift_px: tuple[float, float]
) -> Fragments:
    xy, depth = camera.project(vertices, time_s)
    return rasterize(xy, depth, triangles, camera.size, shift_px)


def _seen(
    scene: Scene, found: Fragments, vertices: Array, normals: Array,
    triangles: NDArray[np.int64], time_s: float,
) -> Surface:  # fmt: skip
    body = make_body()
    values = found.interpolated(np.concatenate([vertices, normals, body.vertices], 1), triangles)
    place, normal, rest = values[:, :3], values[:, 3:6], values[:, 6:]
    normal = normal / np.linalg.norm(normal, axis=1, keepdims=True)
    view = scene.camera.pose(time_s)[0] - place
    way = np.linalg.norm(view, axis=1)
    part = body.part[triangles[found.triangle, 0]]
    return Surface(place, normal, reflectance(scene.kit, rest, part), view / way[:, None], way)


def _dry_left_out(scene: Scene, vertices: Array, normals: Array, time_s: float, shift_px: tuple[float, float]) -> Layer:
    """Seen from under water the body ends at the surface, which hides all above it."""
    triangles = make_body().triangles
    found = _fragments(scene.camera, vertices, triangles, time_s, shift_px)
    place = found.interpolated(vertices, triangles)
    found = found.only(place[:, 2] < np.minimum(_water(place, time_s), 0.0))
    seen = _seen(scene, found, vertices, normals, triangles, time_s)
    return Layer(found.pixel, under_water(seen, time_s, scene.look.murk), np.ones(len(found.pixel)), seen.place)


def mirror_image(scene: Scene, time_s: float) -> Layer:
    """The image of the submerged body in the underside of the surface, shaken by the waves: a layer behind the body."""
    body = make_body()
    vertices, normals = body.posed(scene.swimmer.bones(time_s), scene.swimmer.stature_m)
    triangles = body.triangles[:, ::-1]
    height, along, across = surface_at(vertices[:, 0], vertices[:, 1], time_s)
    shaken = vertices * MIRRORED
    shaken[:, 0] += 2.0 * shaken[:, 2] * along
    shaken[:, 1] += 2.0 * shaken[:, 2] * across
    shaken[:, 2] += 2.0 * height
    found = _fragments(scene.camera, shaken, triangles, time_s, (0.0, 0.0))
    place = found.interpolated(vertices, triangles)
    wet = (place[:, 2] < 0) & (found.interpolated(shaken, triangles)[:, 2] > 0)
    found = found.only(wet)
    seen = _seen(scene, found, vertices, normals, triangles, time_s)
    colour = under_water(replace(seen, way=1.6 * seen.way), time_s, scene.look.murk)
    fade = np.clip(1.0 + 0.9 * seen.place[:, 2], 0.2, 1.0)
    return Layer(found.pixel, colour, scene.look.mirror * fade, seen.place)


def _split(
    scene: Scene, vertices: Array, normals: Array, time_s: float, shift_px: tuple[float, float]
) -> Iterator[Layer]:
    """The body below the water line, then above it; a window before the lens may show them at different sizes."""
    triangles = make_body().triangles
    for dry in (False, True):
        camera = replace(scene.camera, refraction="none") if dry else scene.camera
        drawn = vertices if dry or camera.refraction == "none" else np.minimum(vertices, [np.inf, np.inf, -1e-6])
        found = _fragments(camera, drawn, triangles, time_s, shift_px)
        place = found.interpolated(vertices, triangles)
        found = found.only((place[:, 2] >= 0) == dry)
        seen = _seen(scene, found, vertices, normals, triangles, time_s)
        colour = above_water(seen) if dry else under_water(seen, time_s, scene.look.murk)
        yield Layer(found.pixel, colour, np.ones(len(found.pixel)), seen.place)


def _from_above(
    scene: Scene, vertices: Array, normals: Array, time_s: float,
    behind: Array, shift_px: tuple[float, float],
) -> Layer:  # fmt: skip
    """What is above water in daylight, the rest through the surface."""
    triangles = make_body().triangles
    found = _fragments(scene.camera, vertices, triangles, time_s, shift_px)
    seen = _seen(scene, found, vertices, normals, triangles, time_s)
    height = _water(seen.place, time_s)
    dry = seen.place[:, 2] > height
    wet_colour, wet_solid = through_surface(seen, behind.reshape(-1, 3)[found.pixel], time_s)
    colour = np.where(dry[:, None], above_water(seen), wet_colour)
    brim = 0.4 * np.exp(-(((seen.place[:, 2] - height) / 0.004) ** 2))
    colour += brim[:, None] * (np.array([0.93, 0.97, 1.0]) - colour)
    return Layer(found.pixel, colour, np.where(dry, 1.0, wet_solid), seen.place)


def _water(place: Array, time_s: float) -> Array:
    """Height of the water at places (F, 3): a third of the waves that are drawn, so that the truth holds. [m]"""
    height, _, _ = surface_at(place[:, 0], place[:, 1], time_s)
    return np.clip(0.3 * height, -HIGHEST_M, HIGHEST_M)
