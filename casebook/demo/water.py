"""The water: its moving surface, the net of light that it throws, and what it does to colours."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeAlias

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Array: TypeAlias = NDArray[np.float64]

#: What far water looks like, near the surface and below; the colour that shines from it. Red, green, blue.
BLUE = np.array([0.075, 0.43, 0.60])
DEEP = np.array([0.035, 0.27, 0.43])
#: How much of red, green and blue a metre of water takes away; shaped after clear water, stronger in red.
#: Common practice, no source: chosen for the look.
TAKEN_PER_M = np.array([0.16, 0.045, 0.028])
#: Waves: along x and y [rad/m], frequency [rad/s], height [m], phase [rad]. Small, as in a quiet pool.
WAVES = np.array([
    [2.1, 0.6, 3.1, 0.0085, 0.0],
    [-1.3, 3.2, 3.9, 0.0060, 1.0],
    [4.7, -2.2, 5.6, 0.0038, 2.0],
    [6.1, 5.2, 7.0, 0.0021, 4.0],
    [-9.0, 3.9, 8.2, 0.0013, 5.0],
    [5.3, -12.0, 10.4, 0.0009, 2.7],
])  # fmt: skip
#: No wave is higher than this. [m]
HIGHEST_M = float(WAVES[:, 3].sum())


def surface_at(x: ArrayLike, y: ArrayLike, time_s: float) -> tuple[Array, Array, Array]:
    """Height of the surface [m] and its slopes along x and y, at places of the still surface (...) [m]."""
    x, y = np.asarray(x, float), np.asarray(y, float)
    height, along, across = np.zeros(x.shape), np.zeros(x.shape), np.zeros(x.shape)
    for kx, ky, frequency, size, phase in WAVES:
        angle = kx * x + ky * y + frequency * time_s + phase
        cosine = size * np.cos(angle)
        height += size * np.sin(angle)
        along += kx * cosine
        across += ky * cosine
    return height, along, across


def surface_normal(along: Array, across: Array) -> Array:
    """Upward unit normals (..., 3) from slopes (...)."""
    normal = np.stack([-along, -across, np.ones_like(along)], -1)
    return normal / np.linalg.norm(normal, axis=-1, keepdims=True)


def light_net(x: Array, y: Array, time_s: float) -> Array:
    """Brightness of the dancing net of light at places (...) [m], about 0.25 on average, bright along thin lines."""
    u = 3.1 * x + 0.6 * np.sin(1.9 * y + 0.9 * time_s) + 0.35 * np.sin(4.3 * x - 1.3 * time_s)
    v = 3.3 * y + 0.6 * np.sin(2.3 * x - 1.1 * time_s) + 0.35 * np.sin(4.1 * y + 1.7 * time_s)
    a = np.sin(u) + np.sin(v) + 0.8 * np.sin(0.7 * u + 1.2 * v + time_s)
    b = np.sin(1.7 * u - 0.6 * v - 1.3 * time_s) + np.sin(1.1 * u + 1.6 * v + 0.7 * time_s)
    return 0.7 * (1 - np.minimum(0.9 * np.abs(a), 1)) ** 2.2 + 0.6 * (1 - np.minimum(0.8 * np.abs(b), 1)) ** 2.5


def through(colour: Array, way_m: Array, murk: float, glow: Array | None = None) -> Array:
    """Colours (..., 3) after a way (...) through water: red goes first, then all fades into the water's own glow."""
    kept = colour * np.exp(-way_m[..., None] * TAKEN_PER_M)
    lost = 1.0 - np.exp(-way_m * murk)
    return kept + lost[..., None] * ((BLUE if glow is None else glow) - kept)
