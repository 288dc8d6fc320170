"""Bubbles, drops and foam: born at set instants, living by set rules, so that a frame depends on its time alone."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from casebook.demo.camera import Camera
    from casebook.demo.swimmer import Swimmer

    Array: TypeAlias = NDArray[np.float64]

Joints: TypeAlias = "dict[str, Array]"
Strength: TypeAlias = "Callable[[Joints, Joints], Array]"
#: Random numbers of a particle are drawn in blocks of this many.
BLOCK = 64
FOAM, BUBBLE = np.array([0.90, 0.96, 0.98]), np.array([0.80, 0.94, 0.98])
GRAVITY = 9.81


@dataclass(frozen=True, slots=True)
class Source:
    """Where particles come from.

    Attributes
    ----------
    point : str
        Of the swimmer.
    per_s, life_s : float
    spread_m : float
        Around the point at birth.
    drift, rise : float
        Speed of the random motion, and upward. [m/s]
    size_m : (float, float)
        Smallest and largest radius.
    strength : callable
        From joints and measures of the swimmer at T times: the share 0 to 1 of particles that are really born. (T,)
    solid : float
        How opaque a young one is.
    fall : bool
        Whether gravity pulls.
    """

    point: str
    per_s: float
    life_s: float
    spread_m: float
    drift: float
    rise: float
    size_m: tuple[float, float]
    strength: Strength
    solid: float = 0.7
    fall: bool = False


def _entry(side: str) -> Strength:
    def strength(_: Joints, measures: Joints) -> Array:
        past = (measures[f"phase_{side}"] + 0.03) % 1.0
        return np.where(past < 0.22, np.exp(-past / 0.07), 0.0)

    return strength


def _kick(side: str) -> Strength:
    def strength(joints: Joints, _: Joints) -> Array:
        return np.clip(1.0 + joints[f"heel_{side}"][:, 2] / 0.14, 0, 1) ** 2

    return strength


def _breath_out(_: Joints, measures: Joints) -> Array:
    return 0.75 * (1.0 - np.clip(2.5 * (measures["breath_l"] + measures["breath_r"]), 0, 1))


def under_water() -> tuple[Source, ...]:
    """Bubbles that a camera under water sees."""
    out = [Source("mouth", 55, 0.9, 0.012, 0.05, 0.30, (0.0025, 0.008), _breath_out)]
    for side in "lr":
        out.append(Source(f"knuckle_{side}", 420, 0.75, 0.030, 0.09, 0.10, (0.002, 0.008), _entry(side)))
        out.append(Source(f"toe_{side}", 210, 0.45, 0.050, 0.10, 0.16, (0.003, 0.011), _kick(side), 0.5))
    return tuple(out)


def above_water() -> tuple[Source, ...]:
    """Drops and foam that a camera above water sees."""
    out = []
    for side in "lr":
        out.append(Source(f"knuckle_{side}", 260, 0.40, 0.040, 0.45, 0.90, (0.002, 0.007), _entry(side), 0.8, True))
        out.append(Source(f"toe_{side}", 280, 0.35, 0.070, 0.40, 0.80, (0.003, 0.009), _kick(side), 0.8, True))
        out.append(Source(f"toe_{side}", 130, 0.90, 0.090, 0.08, 0.00, (0.010, 0.040), _kick(side), 0.34))
        out.append(Source(f"knuckle_{side}", 130, 0.60, 0.050, 0.08, 0.00, (0.008, 0.030), _entry(side), 0.34))
    return tuple(out)


def draw(
    picture: Array, sources: tuple[Source, ...], swimmer: Swimmer, camera: Camera, time_s: float, seed: int, under: bool
) -> None:
    """Draw the particles alive at ``time_s`` onto the picture (H, W, 3), the far ones first."""
    births = [_births(source, time_s) for source in sources]
    every = np.concatenate(births) / np.repeat([s.per_s for s in sources], [len(b) for b in births])
    joints, measures = swimmer.joints(every), swimmer.measures(every)
    ends = np.cumsum([0] + [len(b) for b in births])
    alive = []
    for number, source in enumerate(sources):
        own = slice(ends[number], ends[number + 1])
        strength = source.strength(*({n: v[own] for n, v in what.items()} for what in (joints, measures)))
        luck = np.concatenate([*_luck(births[number], number, seed), np.zeros((0, 8))])
        born = luck[:, 0] < strength
        alive.append(_alive(source, joints[source.point][own][born], time_s - every[own][born], luck[born]))
    place, radius, solid = (np.concatenate(part) for part in zip(*alive, strict=True))
    place[:, 2] = np.minimum(place[:, 2], -0.004) if under else np.maximum(place[:, 2], 0.0)
    xy, depth = camera.project(place, time_s)
    for i in np.argsort(-depth, kind="stable"):
        if depth[i] > 0.3:
            draw_one = _dot if under else _blob
            draw_one(picture, xy[i], radius[i] * camera.focal_px / depth[i], solid[i])


def _births(source: Source, time_s: float) -> NDArray[np.int64]:
    """Numbers of the particles that may be alive, the first born at time 0."""
    return np.arange(np.ceil((time_s - source.life_s) * source.per_s), np.floor(time_s * source.per_s) + 1).astype(int)


def _alive(source: Source, start: Array, age_s: Array, luck: Array) -> tuple[Array, Array, Array]:
    """Places (K, 3) and radii [m], and how solid they are, of particles born at ``start`` (K, 3) so long ago."""
    age = age_s[:, None]
    scatter = 2.0 * (luck[:, 1:4] + np.roll(luck[:, 1:4], 1, 1)) - 2.0  # Triangular, standard deviation 0.8.
    motion = 2.0 * luck[:, 4:7] - 1.0
    rise = source.rise * (0.4 + 0.6 * luck[:, 7:8])
    if source.fall or source.rise == 0.0:
        start = start * [1.0, 1.0, 0.0]
    up = rise * age - (0.5 * GRAVITY * age * age if source.fall else 0.0)
    place = start + source.spread_m * scatter + source.drift * motion * age + up * [0.0, 0.0, 1.0]
    small, large = source.size_m
    radius = (small + (large - small) * luck[:, 7] ** 2) * (1.0 + age[:, 0])
    if source.fall:
        radius = np.where(place[:, 2] > 0, radius, 0.0)
    return place, radius, source.solid * (1.0 - age[:, 0] / source.life_s) * (radius > 0)


def _luck(born_as: NDArray[np.int64], number: int, seed: int) -> Iterator[Array]:
    """Eight random numbers for each particle, always the same for the same particle."""
    for block in np.unique(born_as // BLOCK):
        # Particles born before time 0 have negative numbers, seeds must not.
        drawn = np.random.default_rng((seed, number, int(block) + 2**31)).random((BLOCK, 8))
        yield drawn[born_as[born_as // BLOCK == block] % BLOCK]


def _dot(picture: Array, centre: Array, radius: float, solid: float) -> None:
    """A bubble: a soft ring with a bright spot."""
    radius = max(radius, 0.7)
    part, across, down = _near(picture, centre, 1.6 * radius + 2)
    ring = np.hypot(across, down) / radius
    cover = np.clip((1.15 - ring) * radius * 0.9, 0, 1) * (0.35 + 0.65 * np.clip(ring, 0, 1) ** 2) * solid
    cover += np.exp(-((across + 0.3 * radius) ** 2 + (down + 0.35 * radius) ** 2) / (0.25 * radius) ** 2) * 0.5 * solid
    part += np.clip(cover, 0, 1)[..., None] * (BUBBLE - part)


def _blob(picture: Array, centre: Array, radius: float, solid: float) -> None:
    """Foam or a drop: white in the middle, fading outward, flat as it lies on the water."""
    radius = max(radius, 0.7)
    part, across, down = _near(picture, centre, 2.5 * radius + 2)
    cover = solid * np.exp(-((across**2 + (1.6 * down) ** 2) / radius**2))
    part += cover[..., None] * (FOAM - part)


def _near(picture: Array, centre: Array, reach: float) -> tuple[Array, Array, Array]:
    """The part of the picture around a place, and how far its pixels lie right (W,) and down (H, 1) of it. [px]"""
    (x0, y0), (x1, y1) = (np.maximum(np.rint(centre + d), 0).astype(int) for d in (-reach, reach))
    part = picture[y0 : y1 + 1, x0 : x1 + 1]
    return part, np.arange(part.shape[1]) + x0 - centre[0], (np.arange(part.shape[0]) + y0 - centre[1])[:, None]
