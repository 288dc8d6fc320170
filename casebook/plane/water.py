"""Level and still water from marked lines: an orthogonal fit of their ends, weighted by how well each was marked."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from casebook.errors import CasebookError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from casebook.marks.lines import LineMark

#: A mark is never taken to be better than this. [px] common practice, no source
LEAST_SIGMA_PX = 1e-3
#: Lines disagree when chance would make them differ so much less often than this. common practice, no source
CHANCE = 0.01
#: A line that should be level and is steeper than this was marked wrong, or the picture lies on its side. [deg]
#: common practice, no source
MOST_TILT_DEG = 45.0
#: How far a line along the lane can lean in the picture because the camera is not square to the lane: about 6 degrees
#: off square, 20 degrees above or below the axis. [deg] computed: tan(20 deg) sin(6 deg)
LANE_LEAN_DEG = 2.0
#: How level a camera is held or mounted by eye. [deg] common practice, no source
HELD_LEVEL_DEG = 3.0


@dataclass(frozen=True, slots=True)
class LevelFit:
    """Direction of level in the picture and, for a water line, a place on it.

    ``tilt_rad`` is positive where level sinks to the right; ``anchor_px`` (2,) is the weighted middle of the marks,
    where the errors of tilt and height (``offset_sigma_px``) are independent. ``moves_px`` is how far the line moves
    between frames beyond what marking explains, 0 where it does not.
    """

    anchor_px: NDArray[np.float64]
    tilt_rad: float
    tilt_sigma_rad: float
    offset_sigma_px: float
    n: int
    moves_px: float = 0.0


def fit_water(lines: Sequence[LineMark]) -> LevelFit:
    """The one straight line nearest to all ends of all marked water lines.

    Each end weighs 1 / sigma^2 and its distance is taken across the line. Where the lines of different frames differ by
    more than marking explains (waves, a camera that bobs), their spread between frames is added to both errors, because
    a result read in one frame meets that frame's water.

    Raises
    ------
    CasebookError
        The line runs upright.
    """
    ends = np.array([line.ends for line in lines], float).reshape(-1, 2, 2)
    sigma = np.maximum([line.sigma_px for line in lines], LEAST_SIGMA_PX)
    points, weight = ends.reshape(-1, 2), np.repeat(sigma**-2, 2)
    anchor = weight @ points / weight.sum()
    d = points - anchor
    direction = np.linalg.eigh((d * weight[:, None]).T @ d)[1][:, -1]
    tilt = _near_level(math.atan2(direction[1], direction[0]), lines)
    along, across = d @ [math.cos(tilt), math.sin(tilt)], d @ [math.sin(tilt), -math.cos(tilt)]
    variance = np.array([1 / (weight @ along**2), 1 / weight.sum()])
    moves = np.zeros(2)
    dof = len(points) - 2
    chi2 = float(weight @ across**2)
    if dof > 0 and chance(chi2, dof) < CHANCE:
        variance *= chi2 / dof
        tilts = np.array([_turn(e) for e in ends]) - tilt
        heights = across.reshape(-1, 2).mean(1)
        noise = np.array([2 * sigma**2 / np.sum(np.diff(ends, axis=1) ** 2, (1, 2)), sigma**2 / 2])
        moves = np.maximum(np.mean(np.array([tilts, heights]) ** 2 - noise, axis=1), 0)
    tilt_var, offset_var = variance + moves
    return LevelFit(anchor, tilt, math.sqrt(tilt_var), math.sqrt(offset_var), len(lines), math.sqrt(moves[1]))


def fit_direction(lines: Sequence[LineMark], lean_deg: float = 0.0) -> LevelFit:
    """Level from lines that share a direction and not a place: plumb lines (level is across them) or lane lines.

    ``lean_deg`` is the standard deviation of an error that all of them share; it is added. The anchor is NaN.

    Raises
    ------
    CasebookError
        A plumb line runs level, or a lane line upright.
    """
    tilts = np.array([_near_level(_turn(np.reshape(m.ends, (2, 2)), m.line == "plumb"), [m]) for m in lines])
    sigma = np.maximum([m.sigma_px for m in lines], LEAST_SIGMA_PX)
    variance = np.array(
        [2 * s**2 / ((m.x1_px - m.x0_px) ** 2 + (m.y1_px - m.y0_px) ** 2) for s, m in zip(sigma, lines, strict=True)]
    )
    tilt, tilt_var, chi2 = weighted_mean(tilts, variance)
    if len(lines) > 1 and chance(chi2, len(lines) - 1) < CHANCE:
        # Frames of a camera that rolls, or a pole that swings: one frame is as far off as they are apart.
        tilt_var = max(float(np.mean((tilts - tilt) ** 2)), tilt_var)
    return LevelFit(np.full(2, np.nan), tilt, math.hypot(math.sqrt(tilt_var), math.radians(lean_deg)), 0.0, len(lines))


def weighted_mean(values: NDArray[np.float64], variances: NDArray[np.float64]) -> tuple[float, float, float]:
    """Mean weighted by 1 / variance, its variance, and chi-square of the values about it (n - 1 degrees of freedom)."""
    weight = 1 / variances
    mean = float(weight @ values / weight.sum())
    return mean, float(1 / weight.sum()), float(weight @ (values - mean) ** 2)


def chance(chi2: float, dof: int) -> float:
    """Probability that chance alone makes chi-square of ``dof`` degrees of freedom this large or larger."""
    from scipy.special import chdtrc

    return float(chdtrc(dof, chi2))


def _turn(ends: NDArray[np.float64], upright: bool = False) -> float:
    dx, dy = ends[1] - ends[0]
    if upright:
        # A quarter turn of the plumb line is level.
        dx, dy = -dy, dx
    return math.atan2(dy, dx)


def _near_level(tilt: float, lines: Sequence[LineMark]) -> float:
    tilt = math.remainder(tilt, math.pi)
    if abs(tilt) > math.radians(MOST_TILT_DEG):
        kind, frame = lines[0].line, lines[0].frame
        wrong = "level" if kind == "plumb" else "upright"
        raise CasebookError(
            f"The {kind} line on frame {frame} runs too {wrong}: {math.degrees(tilt):.0f} degrees off.",
            "Mark it again; if the whole picture lies on its side, turn the clip first.",
        )
    return tilt
