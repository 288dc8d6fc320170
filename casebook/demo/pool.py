"""The pool without the swimmer: tiled floor and walls, the surface from below and from above, the hall behind.

A pool of 25 m; the swimmer swims along y = 0 over the black line, a rope floats beside the lane.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from casebook.demo.surface import WATER_INDEX
from casebook.demo.water import BLUE, DEEP, light_net, surface_at, surface_normal, through

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array: TypeAlias = NDArray[np.float64]

DEPTH_M = 2.0
#: Walls: ends of the pool along x, sides along y. [m]
ENDS_M, SIDES_M = (-9.0, 16.0), (-6.25, 6.25)
TILE_M, LANE_M = 0.25, 2.5
#: The rope beside the lane on the far side, and the length of its blocks of one colour. [m]
ROPE_Y_M, ROPE_BLOCK_M = LANE_M / 2, 1.2
TILE = np.array([0.60, 0.80, 0.86])
LINE = np.array([0.05, 0.09, 0.18])
HALL = np.array([0.80, 0.82, 0.82])
#: Slopes of the small waves that the shape of the surface leaves out, for its look only.
RIPPLE = 2.2


def inside(eye: Array, ray: Array, time_s: float, murk: float, pixel: float) -> Array:
    """Colours of floor and walls seen through water.

    Parameters
    ----------
    eye : (..., 3) float array
        Under water. [m]
    ray : (..., 3) float array
        Unit directions.
    murk : float
        Share of light lost to the glow of the water, per metre for small ways.
    pixel : float
        Angle of a pixel, to draw thin lines no sharper than can be seen. [rad]
    """
    way, wall = _hit(eye, ray)
    place = eye + way[..., None] * ray
    floor = wall == 0
    u = np.where(wall == 2, place[..., 1], place[..., 0])
    v = np.where(floor, place[..., 1], place[..., 2])
    grout = _tiles(u, v, way * pixel)
    colour = TILE * np.where(floor, 1.0, 0.84)[..., None] * (1.0 - 0.30 * grout[..., None])
    off_line = np.abs((place[..., 1] + LANE_M / 2) % LANE_M - LANE_M / 2)
    edge = 0.01 + 0.7 * way * pixel
    on_line = np.clip((0.125 - off_line) / edge + 0.5, 0, 1) * floor * (np.abs(place[..., 0] - 3.5) < 10.5)
    colour += on_line[..., None] * (LINE - colour)
    colour[~floor & (place[..., 2] > -0.10)] = (0.16, 0.30, 0.52)
    net = light_net(np.where(floor, 0.8, 0.5) * u, np.where(floor, 0.8, 0.5) * v, time_s)
    on_wall = (0.78 + 0.30 * net) * (1.0 + 0.12 * np.clip(place[..., 2], -2, 0))
    colour *= np.where(floor, 0.60 + 0.85 * net, on_wall)[..., None]
    share = np.clip((place[..., 2] + 2.2) / 2.2, 0, 1)[..., None]
    return through(colour * np.array([0.80, 0.97, 1.0]), way, murk, DEEP + (1.1 * BLUE - DEEP) * share)


def from_below(eye: Array, ray: Array, time_s: float, murk: float, pixel: float) -> Array:
    """What a camera under water sees without the swimmer: the surface as a restless mirror, else floor and walls."""
    colour = inside(np.broadcast_to(eye, ray.shape), ray, time_s, murk, pixel)
    up = ray[..., 2] > 1e-4
    way = np.where(up, -eye[2] / np.where(up, ray[..., 2], 1.0), np.inf)
    seen = up & (way < _hit(np.broadcast_to(eye, ray.shape), ray)[0])
    place = eye + way[seen][:, None] * ray[seen]
    _, along, across = surface_at(place[:, 0], place[:, 1], time_s)
    calm = np.exp(-0.07 * way[seen])  # Far waves are smaller than a pixel and even out.
    normal = surface_normal(RIPPLE * along * calm, RIPPLE * across * calm)
    steep = np.clip((normal * ray[seen]).sum(-1), 0, 1)
    back = ray[seen] - 2 * (normal * ray[seen]).sum(-1, keepdims=True) * normal
    back[:, 2] = np.minimum(back[:, 2], -0.02)
    back /= np.linalg.norm(back, axis=-1, keepdims=True)
    start = place * [1.0, 1.0, 0.0] - [0.0, 0.0, 0.005]
    mirror = 0.92 * inside(start, back, time_s, murk, 3 * pixel)
    sky = np.array([0.78, 0.93, 1.0])
    window = 1.0 / (1.0 + np.exp(-(steep - np.sqrt(1 - WATER_INDEX**-2)) / 0.02))
    glint = np.exp(-(((across * calm + 0.030) / 0.016) ** 2)) * (0.15 + 0.85 * calm)
    mirror += window[:, None] * (sky - mirror)
    mirror += 0.33 * glint[:, None] * (sky - mirror)
    glow = BLUE + 0.10 * np.array([0.5, 0.9, 1.0])
    colour[seen] = through(mirror, 0.75 * way[seen], murk, glow)
    return colour


def from_above(eye: Array, ray: Array, time_s: float, pixel: float) -> Array:
    """What a camera over water sees without the swimmer: floor through the surface, the hall in it, the far deck."""
    colour = hall(eye, ray, pixel)
    down = ray[..., 2] < -1e-4
    way = np.where(down, eye[2] / np.where(down, -ray[..., 2], 1.0), np.inf)
    place = eye + np.where(down, way, 0.0)[..., None] * ray
    seen = down & (place[..., 1] < SIDES_M[1]) & (place[..., 0] > ENDS_M[0]) & (place[..., 0] < ENDS_M[1])
    place, look, way = place[seen], ray[seen], way[seen]
    _, along, across = surface_at(place[:, 0], place[:, 1], time_s)
    calm = np.exp(-0.05 * way)
    normal = surface_normal(1.5 * along * calm, 1.5 * across * calm)
    facing = -(normal * look).sum(-1)
    bent = _refracted(look, normal, facing)
    below = inside(place - [0.0, 0.0, 0.005], bent, time_s, 0.10, 2 * pixel)
    shine = 0.02 + 0.98 * (1 - np.clip(facing, 0, 1)) ** 5
    mirrored = look + 2 * facing[:, None] * normal
    light = np.array([0.80, 0.88, 0.93]) * (0.72 + 0.35 * np.clip(mirrored[:, 2], 0, 1))[:, None]
    row = np.abs((mirrored[:, 0] / np.maximum(mirrored[:, 2], 0.05) * 1.2 + 0.5) % 1 - 0.5)
    light += 0.5 * (np.exp(-((row / 0.12) ** 2)) * (mirrored[:, 2] > 0.05))[:, None]
    bright = 1.18 * below + 0.02
    colour[seen] = bright + shine[:, None] * (light - bright)
    return colour


def hall(eye: Array, ray: Array, pixel: float) -> Array:
    """The far wall of the hall and the edge of the pool, above water."""
    aside = np.maximum(np.abs(ray[..., 1]), 1e-6)
    ahead = np.maximum(np.abs(ray[..., 0]), 1e-6)
    to_end = np.where(ray[..., 0] < 0, eye[0] - ENDS_M[0], ENDS_M[1] - eye[0]) / ahead
    to_side = (SIDES_M[1] - np.sign(ray[..., 1]) * eye[1]) / aside
    way = np.minimum(to_side, to_end)
    place = eye + way[..., None] * ray
    height = place[..., 2]
    along = np.where(to_side < to_end, place[..., 0], place[..., 1])
    grout = _tiles(along, height, way * pixel)
    colour = np.array([0.70, 0.74, 0.76]) * (1.06 - 0.08 * np.clip(height, 0, 4))[..., None]
    window = np.exp(-((((along / 2.4) % 1 - 0.5) / 0.36) ** 6)) * np.clip((height - 0.9) / 0.3, 0, 1)
    colour += 0.25 * window[..., None] * (np.array([0.90, 0.93, 0.94]) - colour)
    edge = HALL * (1 - 0.2 * grout[..., None])
    colour = np.where((height < 0.35)[..., None], edge, colour)
    return np.where((height < 0.10)[..., None], np.array([0.36, 0.60, 0.72]), colour)


def _hit(eye: Array, ray: Array) -> tuple[Array, NDArray[np.int64]]:
    """Way to the first of floor (0), side walls (1) and end walls (2). [m]"""
    ways = []
    for axis, low, high in ((2, -DEPTH_M, np.inf), (1, *SIDES_M), (0, *ENDS_M)):
        part = np.where(np.abs(ray[..., axis]) < 1e-6, 1e-6, ray[..., axis])
        ways.append((np.where(part > 0, high, low) - eye[..., axis]) / part)
    stack = np.stack(ways)
    wall = stack.argmin(0)
    return np.minimum(stack.min(0), 40.0), wall


def _tiles(u: Array, v: Array, pixel_m: Array) -> Array:
    """How much of a pixel the joints between tiles fill, 0 to 1, drawn softer and fainter where a pixel is large."""
    width = 0.010 + 0.6 * pixel_m
    lines = [np.exp(-(((np.abs((q / TILE_M + 0.5) % 1 - 0.5) * TILE_M) / width) ** 2)) for q in (u, v)]
    return np.maximum(*lines) * np.minimum(1.0, 0.014 / width)


def _refracted(look: Array, normal: Array, facing: Array) -> Array:
    """Directions in water of light that a camera in air sees (Snell's law as a vector equation)."""
    ratio = 1.0 / WATER_INDEX
    inner = np.sqrt(np.maximum(0.0, 1 - ratio * ratio * (1 - facing * facing)))
    return ratio * look + (ratio * facing - inner)[:, None] * normal
