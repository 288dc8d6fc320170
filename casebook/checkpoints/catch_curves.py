"""The measures as curves over the set-up, forearm inclination along x."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from casebook.checkpoints.catch_reading import STEEPEST_DEG
from casebook.checkpoints.catch_strokes import ArmLength, MeasuredStroke
from casebook.plane.geometry import height_over_line, joint_angle_deg, line_steepness_deg
from casebook.stroke.arm import ELBOW, FINGERTIP, NEEDED, SHOULDER, WRIST, covariance
from casebook.stroke.localfit import half_width, weights_at
from casebook.stroke.reading import forearm

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array: TypeAlias = NDArray[np.float64]

#: Curves run from full reach to a little past straight down. [deg]
_LAST_DEG = 100.0
#: Step of the differences that carry errors from points to values. [px]
STEP_PX = 1e-3


@dataclass(frozen=True, slots=True, eq=False)
class Curve:
    """One measure of one stroke over its set-up.

    ``frames`` (n,), ``inclination_deg`` (n,) of the forearm, ``value`` (n,) and ``sigma`` (n,), the independent
    standard deviation, in ``unit``. Elbow height is NaN where the line from shoulder to fingertips is steeper than 60
    degrees.
    """

    quantity: str
    side: str
    stroke: int
    frames: NDArray[np.int64]
    inclination_deg: Array
    value: Array
    sigma: Array
    unit: str
    stroke_class: str = "none"


def curves_of(strokes: Sequence[MeasuredStroke], lengths: dict[str, ArmLength | None]) -> tuple[Curve, ...]:
    """Hand ahead, elbow height and elbow angle of every stroke."""
    out = []
    for stroke in strokes:
        rows, points, spread = _points(stroke)
        if not len(rows):
            continue
        length = lengths.get(stroke.side)
        per = 100 / length.px if length else np.nan
        value, sigma = _measured(points, spread)
        frames = stroke.set_up.arm.frames[rows]
        for i, (quantity, scale, unit) in enumerate(
            (
                ("hand_ahead_pct", per, "% of arm length"),
                ("elbow_height_pct", per, "% of arm length"),
                ("elbow_angle_deg", 1.0, "deg"),
            )
        ):
            if np.isfinite(scale):
                out.append(
                    Curve(
                        quantity, stroke.side, stroke.number, frames, forearm(points), value[:, i] * scale,
                        sigma[:, i] * scale, unit, stroke.stroke_class,
                    )
                )  # fmt: skip
    return tuple(out)


def _points(stroke: MeasuredStroke) -> tuple[NDArray[np.int64], Array, Array]:
    """Rows of the set-up, the arm there (n, 4, 2) and the standard deviation of each coordinate (n, 4). [px]"""
    arm, level = stroke.set_up.arm, stroke.set_up.level
    rows = np.flatnonzero(arm.complete)
    points, spread = level[rows, :NEEDED], arm.sigma_px[rows, :NEEDED]
    smooth = stroke.set_up.moving[rows, 0]
    if stroke.set_up.dense:
        rows = rows[np.isfinite(smooth).all((-1, -2))]
        points = stroke.set_up.moving[rows, 0]
        weights = weights_at(arm.clock[rows], arm.clock, arm.complete, half_width(arm.step))[:, 0]
        spread = np.sqrt(np.einsum("ik,pkl,il->ip", weights, covariance(arm)[:NEEDED], weights, optimize=True))
    inclination = forearm(points)
    past = np.flatnonzero(inclination > _LAST_DEG)
    keep = (np.arange(len(rows)) < (past[0] if len(past) else len(rows))) & (arm.clock[rows] >= stroke.set_up.begins)
    keep &= np.isfinite(points).all((-1, -2))
    return rows[keep], points[keep], spread[keep]


def _measured(points: Array, spread: Array) -> tuple[Array, Array]:
    """Values (n, 3) and their sigma (n, 3) in px, px and degrees."""
    steps = STEP_PX * np.eye(2 * NEEDED).reshape(-1, NEEDED, 2)
    slopes = (_three(points[:, None] + steps) - _three(points[:, None] - steps)) / (2 * STEP_PX)
    return _three(points), np.sqrt(((slopes * np.repeat(spread, 2, axis=1)[..., None]) ** 2).sum(1))


def _three(p: Array) -> Array:
    s, e, w, f = (p[..., i, :] for i in (SHOULDER, ELBOW, WRIST, FINGERTIP))
    height = np.where(line_steepness_deg(s, f) > STEEPEST_DEG, np.nan, height_over_line(e, s, f))
    return np.stack([f[..., 0] - s[..., 0], height, joint_angle_deg(s, e, w)], -1)
