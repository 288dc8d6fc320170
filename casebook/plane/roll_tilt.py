"""Body roll lifts the near shoulder and hip, and a trunk that lies level then looks tilted: how much, and when not."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from casebook.errors import CasebookError
from casebook.plane.lies import CORRECTED, CameraLie

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Array = NDArray[np.float64]

#: Half the distance between the shoulder joints and between the hip joints, and trunk length, of an adult. [m]
#: worked back from 13 cm at 45 deg of roll, 5 cm at 20 deg; common practice, no source
HALF_SHOULDERS_M, HALF_HIPS_M, TRUNK_M = 0.184, 0.146, 0.50
#: Shoulders count as level within this. [deg] own judgement, no source
LEVEL_DEG = 5.0


def false_tilt_deg(
    shoulder_roll_deg: ArrayLike,
    hip_roll_deg: ArrayLike,
    half_shoulders_m: float = HALF_SHOULDERS_M,
    half_hips_m: float = HALF_HIPS_M,
    trunk_m: float = TRUNK_M,
) -> Array:
    """Tilt of a level trunk as one side's shoulder and hip show it, head up positive where that side is up. [deg]

    Parameters
    ----------
    shoulder_roll_deg, hip_roll_deg : (...) float arrays
        Roll that lifts this side. [deg]
    """
    shoulder = half_shoulders_m * np.sin(np.radians(shoulder_roll_deg))
    hip = half_hips_m * np.sin(np.radians(hip_roll_deg))
    return np.degrees(np.arctan2(shoulder - hip, trunk_m))


def roll_tilts(shoulder_roll_deg: float = 45.0, hip_roll_deg: float = 20.0) -> CameraLie:
    """The lie in a sentence, for the most that a swimmer rolls."""
    tilt = abs(float(false_tilt_deg(shoulder_roll_deg, hip_roll_deg)))
    rides = [
        100 * h * math.sin(math.radians(r))
        for h, r in ((HALF_SHOULDERS_M, shoulder_roll_deg), (HALF_HIPS_M, hip_roll_deg))
    ]
    return CameraLie(
        "roll_tilts", tilt, "deg", CORRECTED,
        f"Rolling by {shoulder_roll_deg:.0f} degrees the near shoulder rides up and down by {rides[0]:.0f} cm, the hip "
        f"by {rides[1]:.0f} cm: a level trunk looks tilted by up to {tilt:.0f} degrees either way. Trunk tilt is read "
        "as the mean over whole cycles, or where the shoulders are level.",
    )  # fmt: skip


def mean_over_cycles(times_s: ArrayLike, tilt_deg: ArrayLike, cycle_s: float) -> tuple[float, float]:
    """Mean trunk tilt over as many whole cycles as were seen, and its standard deviation. [deg]

    Parameters
    ----------
    times_s, tilt_deg : (K,) float arrays
        Real time, and tilt from one side's shoulder and hip; NaN where not marked.
    cycle_s : float
        Seconds of one cycle (one arm's entry to its next).

    Returns
    -------
    mean, sigma : float
        The mean weighs time, not marks. The sigma is from the spread of cycles, NaN where only one was seen.

    Raises
    ------
    CasebookError
        Less than one whole cycle is marked, or a gap of more than a quarter of a cycle is in it.
    """
    t, tilt = np.asarray(times_s, float), np.asarray(tilt_deg, float)
    known = np.isfinite(t) & np.isfinite(tilt)
    t, tilt = t[known], tilt[known]
    whole = int((t[-1] - t[0]) / cycle_s + 1e-9) if len(t) > 1 and cycle_s > 0 else 0
    if whole < 1 or np.diff(t).max() > cycle_s / 4:
        raise CasebookError(
            "No whole cycle of shoulder and hip is marked: roll lifts one side, and its tilt is not the trunk's.",
            "Mark shoulder and hip over one cycle or more, at least on every tenth of it.",
        )
    edges = t[0] + cycle_s * np.arange(whole + 1)
    each = np.array([_time_mean(t, tilt, a, b) for a, b in pairwise(edges)])
    spread = float(np.std(each, ddof=1) / math.sqrt(whole)) if whole > 1 else float("nan")
    return float(each.mean()), spread


def level_rows(shoulder_roll_deg: ArrayLike, within_deg: float = LEVEL_DEG) -> NDArray[np.int64]:
    """Rows on which the shoulders are level, at each passage the nearest: two of them in a cycle. (M,)"""
    roll = np.asarray(shoulder_roll_deg, float)
    near = np.abs(roll) <= within_deg
    starts = np.flatnonzero(near & ~np.concatenate([[False], near[:-1]]))
    ends = np.flatnonzero(near & ~np.concatenate([near[1:], [False]])) + 1
    rows = [a + int(np.argmin(np.abs(roll[a:b]))) for a, b in zip(starts, ends, strict=True)]
    return np.array(rows, np.int64)


def _time_mean(t: Array, tilt: Array, start: float, stop: float) -> float:
    inside = (t > start) & (t < stop)
    at = np.concatenate([[start], t[inside], [stop]])
    return float(np.trapezoid(np.interp(at, t, tilt), at) / (stop - start))
