"""The colours of the swimmer: skin, suit, cap, goggles and face, painted on the body at rest to keep edges sharp."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from casebook.demo.body_shape import PARTS
from casebook.demo.proportions import HEAD_FROM_NECK, MID_FROM_HIPS, NECK_FROM_MID

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array: TypeAlias = NDArray[np.float64]

Colour: TypeAlias = "tuple[float, float, float]"
_HEAD = MID_FROM_HIPS + NECK_FROM_MID + HEAD_FROM_NECK
#: Where the suit ends on the thigh and above the hips, and a one-piece on the chest; along the body at rest. [m]
_HEM, _WAIST, _NECKLINE = -0.282, 0.09, 0.445


@dataclass(frozen=True, slots=True)
class Kit:
    """What an invented swimmer wears. Colours are reflectances in red, green and blue, 0 to 1."""

    skin: Colour = (0.82, 0.55, 0.41)
    suit: Colour = (0.045, 0.075, 0.19)
    stripe: Colour = (0.82, 0.16, 0.13)
    cap: Colour = (0.93, 0.80, 0.15)
    goggles: Colour = (0.03, 0.04, 0.06)
    one_piece: bool = False


def reflectance(kit: Kit, rest: Array, part: NDArray[np.int64]) -> Array:
    """Colour of the body at places of its surface.

    Parameters
    ----------
    rest : (F, 3) float array
        The same places on the body at rest, at a stature of 1.78 m. [m]
    part : (F,) int array
        Index into ``body_shape.PARTS``.

    Returns
    -------
    (F, 3) float array
        Reflectances.
    """
    x, y, z = rest.T
    mottle = 0.03 * np.sin(23 * x + 9 * y) * np.sin(17 * y - 11 * z)
    out = np.array(kit.skin) * (1.0 + mottle)[:, None]
    trunk = (part == PARTS.index("body")) & (np.abs(y) < 0.30)
    _suit(out, kit, rest, trunk)
    head = part == PARTS.index("head")
    out[head] = _head(out[head], kit, rest[head] - _HEAD)
    return out


def _step(low: float, high: float, x: Array) -> Array:
    """0 below ``low``, 1 above ``high``, smooth between."""
    t = np.clip((x - low) / (high - low), 0.0, 1.0)
    return t * t * (3 - 2 * t)


def _lay(out: Array, share: Array, colour: Colour) -> None:
    out += share[:, None] * (np.array(colour) - out)


def _suit(out: Array, kit: Kit, rest: Array, trunk: NDArray[np.bool_]) -> None:
    x, y, z = rest.T
    if kit.one_piece:
        # Low legs, straps over the shoulders, an open back.
        leg = _step(-0.004, 0.004, x + 0.085 + 0.10 * (1 - np.abs(y) / 0.12))
        strap = np.where(x > 0.40, _step(0.012, 0.006, np.abs(np.abs(y) - 0.085)), 1.0)
        back = 1.0 - (z > 0.03) * _step(0.17, 0.19, x) * _step(0.11, 0.10, np.abs(y))
        edge = (1.0 - _step(0.52, 0.53, x)) * (1.0 - _step(0.155, 0.165, np.abs(y)) * (x > 0.34))
        worn = trunk * leg * strap * back * edge
        _lay(out, worn, kit.suit)
        _lay(out, worn * np.exp(-(((np.abs(y) - 0.105 + 0.10 * (x - 0.1)) / 0.016) ** 4)) * (x < 0.40), kit.stripe)
        return
    worn = trunk * _step(_HEM - 0.003, _HEM + 0.003, x) * (1.0 - _step(_WAIST - 0.003, _WAIST + 0.003, x))
    _lay(out, worn, kit.suit)
    side = _step(0.126, 0.130, np.abs(y) - 0.144 * np.clip(-x, 0.0, 0.4))
    _lay(out, 0.9 * worn * side, kit.stripe)
    band = trunk * _step(_WAIST - 0.022, _WAIST - 0.018, x) * (1.0 - _step(_WAIST - 0.004, _WAIST, x))
    _lay(out, 0.6 * band, (0.60, 0.65, 0.70))
    spot = trunk * np.exp(-((((x - 0.40) / 0.009) ** 2 + ((np.abs(y) - 0.095) / 0.009) ** 2) ** 2)) * (z < 0)
    out *= 1.0 - 0.3 * spot[:, None] * np.array([0.6, 1.0, 1.0])


def _head(out: Array, kit: Kit, local: Array) -> Array:
    """Face, cap and goggles; ``local`` are places in the head's frame, crown along x, face toward -z."""
    x, y, z = local.T
    y = np.abs(y)
    lips = np.exp(-((((x - 0.030) / 0.0085) ** 2 + (y / 0.026) ** 2) ** 2)) * (z < -0.08)
    _lay(out, 0.6 * lips, (0.62, 0.30, 0.27))
    out *= 1.0 - 0.6 * (np.exp(-(((x - 0.030) / 0.0022) ** 2) - (y / 0.022) ** 4) * (z < -0.08))[:, None]
    nostril = np.exp(-(((x - 0.050) / 0.004) ** 2 + ((y - 0.008) / 0.004) ** 2)) * (z < -0.11)
    out *= 1.0 - 0.5 * nostril[:, None]
    edge = x - 0.118 + 0.55 * (z + 0.09) + 0.02 * (y > 0.06)
    _lay(out, _step(-0.003, 0.003, edge), kit.cap)
    lens = np.exp(-((((x - 0.089) / 0.016) ** 2 + ((y - 0.033) / 0.025) ** 2) ** 4)) * (z < -0.05)
    _lay(out, lens, kit.goggles)
    strap = _step(0.0075, 0.0055, np.abs(x - 0.090 - 0.12 * np.maximum(z + 0.06, 0.0))) * ((y > 0.05) | (z > -0.05))
    _lay(out, strap, kit.goggles)
    return out
