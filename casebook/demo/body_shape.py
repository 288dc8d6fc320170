"""The invented swimmer's body as soft-joined ellipsoids and limbs, at 1.78 m. Girths are our own, by eye."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from casebook.demo.proportions import REFERENCE_M, length_m
from casebook.demo.rhythm import SIDES
from casebook.demo.solid import Ellipsoid, Limb, Primitive

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

#: Parts that are meshed for themselves; ``body`` bends, the others are rigid and reach into it.
PARTS = ("body", "head", "hand_l", "hand_r", "foot_l", "foot_r")
#: Fingers: across the palm, length beyond the knuckle's end of the palm. [m]
FINGERS = ((0.024, 0.078), (0.005, 0.091), (-0.013, 0.084), (-0.030, 0.064))
TOES = ((-0.024, 0.195), (-0.008, 0.192), (0.008, 0.185), (0.022, 0.175))
#: How far the foot points down from the line of the shank at rest. [rad]
FOOT_DOWN = 0.28


def primitives() -> tuple[Primitive, ...]:
    """All primitives; places in the frame of their bone (x headward, y left, z to the back). [m]"""
    out = _trunk() + _head()
    for side, s in SIDES:
        out += _shoulder(side, s) + _arm(side, s) + _hand(side, s) + _leg(side, s) + _foot(side, s)
    return tuple(out)


def _ball(part: str, bone: str, centre: Sequence[float], radii: Sequence[float], blend: float) -> Primitive:
    return Ellipsoid(part, bone, np.array(centre, float), np.array(radii, float), blend)


def _limb(
    part: str, bone: str, start: ArrayLike, end: ArrayLike, radii: tuple[float, float], blend: float,
    belly: tuple[float, float] = (0.0, 0.5),
) -> Primitive:  # fmt: skip
    return Limb(part, bone, np.array(start, float), np.array(end, float), *radii, blend, *belly)


def _trunk() -> list[Primitive]:
    return [
        _ball("body", "thorax", (0.10, 0, 0.005), (0.20, 0.150, 0.105), 0.05),
        _ball("body", "thorax", (0.185, 0, 0.005), (0.085, 0.165, 0.088), 0.05),
        _ball("body", "pelvis", (0.165, 0, 0.0), (0.17, 0.122, 0.090), 0.06),
        _ball("body", "pelvis", (0.02, 0, 0.0), (0.12, 0.150, 0.100), 0.06),
        _limb("body", "neck", (-0.02, 0, 0), (0.11, 0, -0.002), (0.060, 0.055), 0.04),
    ]


def _shoulder(side: str, s: int) -> list[Primitive]:
    clav = f"clav_{side}"
    return [
        _limb("body", clav, (0.235, s * 0.04, 0.015), (0.243, s * 0.165, 0.012), (0.058, 0.052), 0.05),
        _limb("body", clav, (0.33, s * 0.03, 0.03), (0.255, s * 0.12, 0.028), (0.034, 0.034), 0.05),
        _limb("body", "thorax", (0.18, s * 0.140, 0.02), (-0.03, s * 0.095, 0.02), (0.048, 0.045), 0.05),
        _ball("body", "thorax", (0.165, s * 0.068, -0.066), (0.06, 0.07, 0.033), 0.04),
        _ball("body", "pelvis", (-0.03, s * 0.070, 0.048), (0.085, 0.072, 0.062), 0.04),
    ]


def _arm(side: str, s: int) -> list[Primitive]:
    upper, fore = (s * length_m(name, REFERENCE_M) for name in ("upper", "fore"))
    return [
        _ball("body", f"upper_{side}", (0.002, s * 0.028, 0.004), (0.056, 0.080, 0.057), 0.04),
        _limb("body", f"upper_{side}", (0, s * 0.02, 0), (0, upper, 0), (0.047, 0.039), 0.03, (0.007, 0.45)),
        _limb("body", f"fore_{side}", (0, 0, 0), (0, fore, 0), (0.039, 0.026), 0.03, (0.008, 0.28)),
    ]


def _hand(side: str, s: int) -> list[Primitive]:
    name = f"hand_{side}"
    palm = [
        _ball(name, name, (0, s * 0.048, 0), (0.043, 0.060, 0.019), 0.015),
        _limb(name, name, (0, s * -0.03, 0), (0, s * 0.02, 0), (0.026, 0.024), 0.02),
        _limb(name, name, (0.026, s * 0.02, -0.004), (0.055, s * 0.072, -0.012), (0.014, 0.010), 0.012),
        _limb(name, name, (0.055, s * 0.072, -0.012), (0.060, s * 0.098, -0.014), (0.0105, 0.008), 0.008),
    ]
    fingers = [
        _limb(name, name, (0.9 * x, s * 0.085, 0), (1.25 * x, s * (0.093 + long), -0.008), (0.0105, 0.0078), 0.008)
        for x, long in FINGERS
    ]
    return palm + fingers


def _leg(side: str, s: int) -> list[Primitive]:
    thigh, shank = length_m("thigh", REFERENCE_M), length_m("shank", REFERENCE_M)
    return [
        _limb("body", f"thigh_{side}", (-0.01, 0, 0), (-thigh, 0, 0), (0.083, 0.053), 0.045, (0.010, 0.35)),
        _limb("body", f"shank_{side}", (0, 0, 0), (-shank, 0, 0), (0.051, 0.033), 0.03, (0.004, 0.3)),
        _ball("body", f"shank_{side}", (-0.125, 0, 0.022), (0.125, 0.043, 0.040), 0.03),
        _ball("body", f"thigh_{side}", (-thigh, 0, -0.012), (0.05, 0.044, 0.045), 0.03),
    ]


def _foot(side: str, s: int) -> list[Primitive]:
    name = f"foot_{side}"
    down = np.array([-np.cos(FOOT_DOWN), 0.0, -np.sin(FOOT_DOWN)])
    out = [
        _limb(name, name, (0.03, 0, 0), (-0.01, 0, 0), (0.034, 0.036), 0.02),
        _ball(name, name, (-0.028, 0, 0.036), (0.032, 0.030, 0.032), 0.025),
        _limb(name, name, (-0.02, 0, 0.01), 0.13 * down, (0.036, 0.026), 0.03),
        _limb(name, name, (-0.035, 0, 0.03), 0.14 * down + [0, 0, 0.01], (0.026, 0.022), 0.03),
    ]
    for y, long in TOES:
        start, end = 0.13 * down + [0, -0.9 * s * y, 0.004], long * down + [0, -s * y, 0.006]
        out.append(_limb(name, name, start, end, (0.020, 0.010), 0.012))
    return out


def _head() -> list[Primitive]:
    out = [
        _ball("head", "head", (0.113, 0, -0.002), (0.094, 0.075, 0.096), 0.03),
        _ball("head", "head", (0.045, 0, -0.045), (0.070, 0.056, 0.062), 0.03),
        _ball("head", "head", (0.016, 0, -0.086), (0.030, 0.034, 0.022), 0.02),
        _ball("head", "head", (0.085, 0, -0.083), (0.030, 0.050, 0.018), 0.02),
        _limb("head", "head", (0.088, 0, -0.098), (0.054, 0, -0.116), (0.008, 0.0135), 0.012),
        _limb("head", "head", (-0.05, 0, 0), (0.06, 0, -0.002), (0.055, 0.056), 0.03),
        _limb("head", "head", (0.030, -0.018, -0.106), (0.030, 0.018, -0.106), (0.006, 0.006), 0.008),
    ]
    for s in (1, -1):
        out += [
            _ball("head", "head", (0.07, s * 0.074, 0.004), (0.030, 0.010, 0.019), 0.008),
            _ball("head", "head", (0.058, s * 0.040, -0.078), (0.022, 0.020, 0.018), 0.02),
            _ball("head", "head", (0.089, s * 0.032, -0.098), (0.0165, 0.026, 0.0125), 0.004),
        ]
    return out
