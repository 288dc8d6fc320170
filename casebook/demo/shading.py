"""Light on the swimmer: under water, above it, and seen from above through the surface, for fragments (F, ...)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from casebook.demo.water import BLUE, TAKEN_PER_M, light_net

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array: TypeAlias = NDArray[np.float64]

#: Where the light of the hall comes from: high, a little from ahead and from the camera's right-hand side.
LAMP = np.array([0.25, -0.45, 0.86])


@dataclass(frozen=True, slots=True, eq=False)
class Surface:
    """What is seen of the swimmer.

    ``place`` [m], unit ``normal``, reflectances ``paint``, unit directions ``view`` to the camera, (F, 3) each; ``way``
    to the camera (F,) [m].
    """

    place: Array
    normal: Array
    paint: Array
    view: Array
    way: Array


def under_water(seen: Surface, time_s: float, murk: float) -> Array:
    """Soft light from above through the surface, a net of light on what faces up, a rim, then the way to the camera."""
    x, y, z = seen.place.T
    up = seen.normal[:, 2]
    facing = np.clip((seen.normal * seen.view).sum(1), 0, 1)
    net = light_net(1.5 * x + 0.4 * z, 1.5 * y, 1.2 * time_s)
    soft = 0.49 + 0.20 * up + 0.14 * facing
    key = np.clip(0.75 * up + 0.30 * (seen.normal * _level(seen.view)).sum(1) + 0.30, 0, 1.2)
    key = key * (0.50 + 0.85 * net * np.clip(0.25 + up, 0, 1))
    light = 1.05 * soft[:, None] * np.array([0.84, 0.93, 0.98]) + key[:, None] * np.array([1.05, 1.0, 0.90])
    colour = seen.paint * light + (0.16 * (1 - facing) ** 3)[:, None] * np.array([0.35, 0.75, 0.90])
    colour += 0.10 * _shine(seen, np.array([0.0, 0.0, 1.0]), 30)[:, None]
    taken = np.exp(-0.6 * (np.clip(-z, 0, 3) + 0.5 * seen.way)[:, None] * TAKEN_PER_M)
    fog = 1.0 - np.exp(-0.45 * murk * seen.way)
    return colour * taken + fog[:, None] * (BLUE - colour * taken)


def above_water(seen: Surface) -> Array:
    """Daylight of the hall on wet skin."""
    key = np.clip(seen.normal @ LAMP, 0, 1)
    soft = 0.50 + 0.25 * seen.normal[:, 2]
    light = soft[:, None] * np.array([0.86, 0.93, 1.0]) + 0.62 * key[:, None] * np.array([1.0, 0.97, 0.90])
    return seen.paint * light + (0.40 * _shine(seen, LAMP, 60) + 0.08 * _shine(seen, LAMP, 12))[:, None]


def through_surface(seen: Surface, behind: Array, time_s: float) -> tuple[Array, Array]:
    """Colours of what lies under water as a camera above it sees it, and how solid they are (F,).

    ``behind`` (F, 3) is the pool's picture at the same pixels: its shine lies over the body too.
    """
    x, y, z = seen.place.T
    down = np.clip(-z, 0, 3)
    way = down * 1.25
    net = light_net(1.5 * x, 1.5 * y, time_s)
    light = 0.56 + 0.30 * seen.normal[:, 2] + 0.50 * net
    colour = seen.paint * light[:, None] * np.array([0.85, 0.98, 1.0])
    lost = 1.0 - np.exp(-0.55 * way)
    colour += lost[:, None] * (np.array([0.14, 0.56, 0.68]) - colour)
    shine = 0.03 + 0.97 * (1 - np.clip(seen.view[:, 2], 0, 1)) ** 5
    colour += 0.6 * shine[:, None] * (behind - colour)
    return colour, 0.97 * np.exp(-0.22 * way)


def _level(view: Array) -> Array:
    return view * np.array([1.0, 1.0, 0.0])


def _shine(seen: Surface, lamp: Array, sharpness: float) -> Array:
    half = seen.view + lamp
    half /= np.linalg.norm(half, axis=1, keepdims=True)
    return np.clip((seen.normal * half).sum(1), 0, 1) ** sharpness
