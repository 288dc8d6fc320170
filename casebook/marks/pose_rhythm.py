"""The rhythm of the arms: both do the same, half a cycle apart; a stretch with names exchanged breaks it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

#: Stroke rates looked for. [cycles/min] common practice, no source
RATES = np.arange(24.0, 91.0, 0.5)
#: Harmonics of the path of an arm.
HARMONICS = 3
#: A shot shows a rhythm from this many cycles on, in at least so many frames.
LEAST_CYCLES, LEAST_FRAMES = 1.4, 30
#: Weight of the rhythm against the way from frame to frame, and how far from it an arm ordinarily is, in statures.
WEIGHT, SPREAD = 1.0, 0.10
#: Dearest that one joint can be, in squares of ``SPREAD``.
MOST = 4.0
#: Keeps the fit of a path calm where an arm is never seen.
CALM = 0.3


def by_rhythm(
    where: NDArray[np.float64], sure: NDArray[np.float64], times: NDArray[np.float64]
) -> NDArray[np.float64] | None:
    """What names cost on each frame as they are and exchanged, (F, 2), by the rhythm; None where there is none.

    One closed path, a few harmonics of the stroke's frequency, is fitted to both arms at once, the right half a cycle
    after the left, for the stroke rate that it fits best.

    Parameters
    ----------
    where : (F, 2, J, 2) float array
        Joints of the left and the right arm against the trunk, in statures.
    sure : (F, 2, J) float array
        How likely each is in sight.
    times : (F,) float array [s]
    """
    if len(times) < LEAST_FRAMES:
        return None
    rates = RATES[RATES / 60 * np.ptp(times) >= LEAST_CYCLES]
    fits = [_fit(where, sure, times, float(rate)) for rate in rates]
    if not fits:
        return None
    path = min(fits, key=lambda fit: fit[0])[1]
    kept, exchanged = _misfit(where, sure, path), _misfit(where[:, ::-1], sure[:, ::-1], path)
    return WEIGHT * np.stack([kept, exchanged], -1)


def _fit(
    where: NDArray[np.float64], sure: NDArray[np.float64], times: NDArray[np.float64], rate: float
) -> tuple[float, NDArray[np.float64]]:
    """Mean misfit and the fitted path (F, 2, J, 2) at one stroke rate."""
    frames, _, joints = sure.shape
    phase = 2 * np.pi * rate / 60 * times[:, None] + np.array([0.0, np.pi])
    harmonic = np.arange(1, HARMONICS + 1)
    turns = phase[..., None] * harmonic
    base = np.concatenate([np.ones((frames, 2, 1)), np.cos(turns), np.sin(turns)], -1).reshape(2 * frames, -1)
    path = np.empty((2 * frames, joints, 2))
    for joint in range(joints):
        weight = sure[..., joint].ravel()[:, None]
        normal = base.T @ (base * weight) + CALM * np.diag(np.r_[0.0, harmonic, harmonic] ** 2)
        path[:, joint] = base @ np.linalg.solve(normal, base.T @ (weight * where[:, :, joint].reshape(-1, 2)))
    path = path.reshape(where.shape)
    return float(_misfit(where, sure, path).mean()), path


def _misfit(where: NDArray[np.float64], sure: NDArray[np.float64], path: NDArray[np.float64]) -> NDArray[np.float64]:
    """Mean squared distance from the path, each joint weighted by sight and at most ``MOST``, (F,)."""
    far = np.linalg.norm(where - path, axis=-1) / SPREAD
    return (np.minimum(far**2, MOST) * sure).mean((1, 2))
