"""Pictures of a scene: pool, rope, swimmer, bubbles, then the camera's own traces."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from casebook.demo import particles, pool, rope
from casebook.demo.figure_layers import Layer, layers, mirror_image
from casebook.demo.pool import ROPE_Y_M
from casebook.demo.surface import WATER_INDEX
from casebook.demo.water import surface_at

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from casebook.demo.scene import Scene

    Array: TypeAlias = NDArray[np.float64]

#: The pool is drawn smaller and enlarged, more so under water, where all edges are soft.
COARSE, COARSE_UNDER = 2, 3
GAMMA = 1.12


def render(scene: Scene, time_s: float, frame: int = 0) -> NDArray[np.uint8]:
    """The picture at an instant, (H, W, 3) uint8 RGB. The frame's number decides the grain alone."""
    picture = backdrop(scene, time_s)
    if scene.under and scene.look.mirror > 0:
        _lay(picture, mirror_image(scene, time_s))
    picture = _with_swimmer(scene, picture, time_s)
    under = scene.under or scene.split
    sources = particles.under_water() if under else particles.above_water()
    particles.draw(picture, sources, scene.swimmer, scene.camera, time_s, scene.seed, under)
    return finished(picture, scene.look.grain, (scene.seed, frame))


def frames(scene: Scene, times: ArrayLike) -> Iterator[NDArray[np.uint8]]:
    """Pictures at the times of a clip's frames (N,) [s], numbered from 0."""
    for number, time_s in enumerate(np.asarray(times, float)):
        yield render(scene, float(time_s), number)


def backdrop(scene: Scene, time_s: float) -> Array:
    """The pool without the swimmer, (H, W, 3), 0 to 1."""
    import cv2

    width, height = scene.camera.size
    step = COARSE_UNDER if scene.under else COARSE
    columns, rows = (np.arange(n // step) * step + (step - 1) / 2 for n in (width, height))
    grid = np.stack(np.meshgrid(columns, rows), -1)
    pixel = step / scene.camera.focal_px
    eye, ray = scene.camera.rays(grid, time_s)
    if scene.split:
        coarse = _split_pool(scene, eye, ray, time_s, pixel)
    elif scene.under:
        coarse = pool.from_below(eye, ray, time_s, scene.look.murk, pixel)
    else:
        coarse = pool.from_above(eye, ray, time_s, pixel)
    full = cv2.resize(coarse.astype(np.float32), (width, height), interpolation=cv2.INTER_LINEAR)
    full = cv2.GaussianBlur(full, (0, 0), 1.2 if scene.under else 0.7)
    camera = replace(scene.camera, refraction="none")  # The rope floats: it is seen in air or along the surface.
    beyond = ROPE_Y_M if camera.pose(time_s)[0][1] < 0 else -ROPE_Y_M
    for across in (beyond,) if camera.view.startswith("side") else (ROPE_Y_M, -ROPE_Y_M):
        rope.draw(full, camera, time_s, across, scene.look.murk, scene.under)
    return full.astype(np.float64)


def finished(picture: Array, grain: float, seed: tuple[int, int]) -> NDArray[np.uint8]:
    """What the camera adds: grain of its own for every frame, darker corners, its curve of tones. (H, W, 3) uint8"""
    height, width = picture.shape[:2]
    noise = np.random.default_rng(seed).normal(0.0, grain, (height, width))[..., None]
    rows, columns = np.linspace(-1, 1, height)[:, None], np.linspace(-1, 1, width)
    corners = (1.0 - 0.07 * (rows**2 + columns**2))[..., None]
    return (255 * np.clip((picture + noise) * corners, 0, 1) ** (1 / GAMMA) + 0.5).astype(np.uint8)


def _with_swimmer(scene: Scene, behind: Array, time_s: float) -> Array:
    """The mean of a few instants within the open shutter, each at another place within the pixel."""
    count = scene.look.samples
    total = np.zeros_like(behind)
    for i in range(count):
        share = (i + 0.5) / count - 0.5
        other = ((2 * i + 1) % count + 0.5) / count - 0.5 if count > 1 else 0.0
        now = behind.copy()
        for layer in layers(scene, time_s + share * scene.look.shutter / scene.fps, behind, (share, other)):
            _lay(now, layer)
        total += now
    return total / count


def _lay(picture: Array, layer: Layer) -> None:
    """Lay a layer over a picture (H, W, 3), in place."""
    flat = picture.reshape(-1, 3)
    flat[layer.pixel] += layer.solid[:, None] * (layer.colour - flat[layer.pixel])


def _split_pool(scene: Scene, eye: Array, ray: Array, time_s: float, pixel: float) -> Array:
    """Hall above, water below; they meet where the swimmer's own distance meets the surface, with a bright brim."""
    near = -eye[1] / np.maximum(ray[..., 1], 0.2) if eye[1] < 0 else eye[1] / np.maximum(-ray[..., 1], 0.2)
    place = eye + near[..., None] * ray
    line = place[..., 2] - 0.35 * surface_at(place[..., 0], 0.0 * place[..., 0], time_s)[0]
    bent = ray
    if scene.camera.refraction == "port":
        axis = scene.camera.pose(time_s)[1][2]
        ahead = (ray @ axis)[..., None]
        aside = (ray - ahead * axis) / WATER_INDEX
        bent = aside + np.sqrt(1.0 - (aside * aside).sum(-1, keepdims=True)) * axis
    lens = np.array([eye[0], eye[1], min(eye[2], -0.01)])
    wet = pool.from_below(lens, bent, time_s, scene.look.murk, pixel)
    colour = np.where((line > 0)[..., None], pool.hall(eye, ray, pixel), wet)
    brim = 0.55 * np.exp(-((line / 0.009) ** 2))
    return colour + brim[..., None] * (np.array([0.80, 0.93, 0.98]) - colour)
