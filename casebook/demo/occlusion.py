"""Which points the swimmer's own body hides from the camera, by spheres drawn along the limbs (capsules)."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from casebook.demo.proportions import REFERENCE_M

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Array: TypeAlias = NDArray[np.float64]

#: Capsules of the body: from, to, radius at a stature of 1.78 m, by eye. [m]
_MIDLINE = (("hips", "mid", 0.115), ("mid", "neck", 0.125), ("head", "crown", 0.075), ("head", "mouth", 0.060))
_PAIRED = (
    ("shoulder", "elbow", 0.043), ("elbow", "wrist", 0.032), ("wrist", "fingertip", 0.022), ("hip", "knee", 0.068),
    ("knee", "ankle", 0.042), ("ankle", "toe", 0.030),
)  # fmt: skip
CAPSULES = _MIDLINE + tuple((f"{a}_{s}", f"{b}_{s}", r) for s in "lr" for a, b, r in _PAIRED)
#: Points that lie on or in a part and are never hidden by it.
_ON = {
    "head": ("crown", "mouth", "neck"),
    "wrist": ("knuckle",),
    "ankle": ("heel",),
}
#: A part hides a point only if it crosses the line of sight at least this far before it. [m]
CLEAR_M = 0.06


def hidden(joints: dict[str, Array], points: Sequence[str], eye: Array, stature_m: float) -> NDArray[np.bool_]:
    """Points behind the swimmer's own body.

    Parameters
    ----------
    joints : dict
        Name -> (T, 3), as a swimmer has them. [m]
    points : sequence of str, length P
    eye : (T, 3) float array
        The lens. [m]

    Returns
    -------
    (T, P) bool array
    """
    target = np.stack([joints[name] for name in points], 1)
    start = eye[:, None, None]
    sight = target[:, :, None] - start
    a = np.stack([joints[name] for name, _, _ in CAPSULES], 1)[:, None]
    b = np.stack([joints[name] for _, name, _ in CAPSULES], 1)[:, None]
    radius = np.array([r for _, _, r in CAPSULES]) * (stature_m / REFERENCE_M)
    along, apart = _closest(start, sight, a, b - a)
    before = (1.0 - along) * np.linalg.norm(sight, axis=-1)
    own = np.array([[_own(name, part) for part in CAPSULES] for name in points])
    return ((apart < radius) & (before > CLEAR_M) & ~own).any(-1)


def _own(point: str, part: tuple[str, str, float]) -> bool:
    near, far, _ = part
    if point in (near, far):
        return True
    stem, tail = near.partition("_")[0], near.partition("_")[2]
    return any(point == (f"{name}_{tail}" if tail else name) for name in _ON.get(stem, ()))


def _closest(p: Array, u: Array, q: Array, v: Array) -> tuple[Array, Array]:
    """Closest approach of the segments p + s u and q + t v: the share s, and the distance. Ericson's clamping."""
    r = p - q
    a, e = np.sum(u * u, -1), np.sum(v * v, -1)
    b, c, f = np.sum(u * v, -1), np.sum(u * r, -1), np.sum(v * r, -1)
    denominator = a * e - b * b
    s = np.clip(np.divide(b * f - c * e, denominator, out=np.zeros_like(denominator), where=denominator > 1e-12), 0, 1)
    t = np.clip((b * s + f) / e, 0, 1)
    s = np.clip((b * t - c) / a, 0, 1)
    return s, np.linalg.norm(r + s[..., None] * u - t[..., None] * v, axis=-1)
