"""What a clip is good for, from figures that can be measured in it: pictures a second, blur, size, tilt, framing.

Every figure comes with what it does to a measurement, so that a coach can film again before he spends time on marks.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

#: A camera left to itself opens its shutter for about half the time between two pictures indoors; outdoors for less.
#: common practice, no source
OPEN_SHARE = 0.5
#: How long one cycle of both arms lasts, for what a picture's time means. [s] common practice, no source
CYCLE_S = 1.2
#: A marked joint is unsure by about this share of a blurred streak: evenly smeared, its middle is the best guess.
#: computed: 1 / sqrt(12)
SMEAR_SIGMA = 1 / np.sqrt(12)
#: A mark set by hand is unsure by so much anyway [px], so that a shorter streak does no harm.
HAND_SIGMA_PX = 2.0
#: This close to the picture's edge counts as leaving it, as a share of its smaller side. own judgement, no source
EDGE_SHARE = 0.01


@dataclass(frozen=True, slots=True)
class Need:
    """What a checkpoint needs: pictures a second, pixels per arm, level to so many degrees (NaN: does not matter)."""

    checkpoint: str
    fps: float
    arm_px: float
    tilt_deg: float


#: common practice, no source: a moment to 1/50 of a cycle, an angle to about 3 degrees with marks 2 px off (an arm of
#: 200 px has limbs of 70 to 85 px), and a level that matters only where something is held against it.
NEEDS = (
    Need("body_line", 24.0, 150.0, 2.0),
    Need("entry", 50.0, 150.0, 5.0),
    Need("extension", 50.0, 150.0, 5.0),
    Need("catch", 50.0, 200.0, 3.0),
    Need("pull", 50.0, 200.0, 5.0),
    Need("recovery", 50.0, 150.0, 5.0),
    Need("breathing", 24.0, 100.0, 10.0),
    Need("roll", 50.0, 150.0, 3.0),
    Need("alignment", 24.0, 80.0, 5.0),
    Need("kick", 50.0, 150.0, 5.0),
    Need("timing", 50.0, 80.0, np.nan),
    Need("rate", 24.0, 40.0, np.nan),
)


@dataclass(frozen=True, slots=True)
class ClipQuality:
    """Measured facts of a clip; NaN where nothing told them.

    Attributes
    ----------
    fps : float
        Pictures a second of real time.
    blur_px : float
        Length of the streak that the hand draws at its fastest. [px]
    exposure_s : float
        The exposure it was computed with. [s]
    exposure_guessed : bool
        Nobody stated the exposure: ``OPEN_SHARE`` of the time between pictures.
    arm_px : float
        Length of the arm in the picture. [px]
    tilt_deg : float
        How far level is turned in the picture. [deg]
    cut_off : tuple of int
        Frames on which a marked point touches the picture's edge.
    """

    fps: float
    blur_px: float
    exposure_s: float
    exposure_guessed: bool
    arm_px: float
    tilt_deg: float
    cut_off: tuple[int, ...]

    @property
    def angle_sigma_deg(self) -> float:
        """Standard deviation of an elbow angle by marks and blur together, for this arm. [deg]"""
        blur = self.blur_px if np.isfinite(self.blur_px) else 0.0
        sigma = float(np.hypot(HAND_SIGMA_PX, SMEAR_SIGMA * blur))
        # Upper arm and forearm are about 0.42 and 0.33 of the arm; a straight elbow is the least sure.
        limbs = np.array([0.42, 0.33]) * self.arm_px
        return float(np.degrees(sigma * np.sqrt(2 * np.sum(1 / limbs**2) + 2 / np.prod(limbs))))

    def lacks(self, need: Need) -> tuple[str, ...]:
        """Why this clip does not serve a checkpoint; empty where nothing measured speaks against it."""
        out = []
        if self.fps < need.fps:
            out.append(f"{self.fps:.0f} pictures a second, {need.fps:.0f} needed")
        if self.arm_px < need.arm_px:
            out.append(f"the arm is {self.arm_px:.0f} px long, {need.arm_px:.0f} needed")
        if abs(self.tilt_deg) > need.tilt_deg:
            out.append(
                f"the picture is turned by {abs(self.tilt_deg):.0f} degrees: draw the water line, to have it taken out"
            )
        return tuple(out)

    def text(self, needs: Sequence[Need] = NEEDS) -> str:
        """Plain lines: figures, then what they rule out."""
        return "\n".join(
            [*self.figures(), *(f"{n.checkpoint}: {'; '.join(self.lacks(n))}." for n in needs if self.lacks(n))]
        )

    def figures(self) -> tuple[str, ...]:
        """The measured facts, one sentence each."""
        out = []
        if np.isfinite(self.fps):
            out.append(
                f"{self.fps:.0f} pictures a second: one is {frame_pct(self.fps):.1f} % of a cycle of {CYCLE_S:g} s, "
                f"and a time between two moments is sure to {interval_sigma_pct(self.fps):.2f} % of it."
            )
        if np.isfinite(self.blur_px):
            told = "taken to be half the time between pictures" if self.exposure_guessed else "stated"
            out.append(
                f"At its fastest the hand is smeared over {self.blur_px:.0f} px (exposure 1/{1 / self.exposure_s:.0f} "
                f"s, {told})"
                + ("." if self.blur_px <= 2 * HAND_SIGMA_PX else ": more light or a shorter shutter helps.")
            )
        if np.isfinite(self.arm_px):
            out.append(
                f"The arm is {self.arm_px:.0f} px long: one stroke's elbow angle is unsure by "
                f"{self.angle_sigma_deg:.0f} degrees (standard deviation)."
            )
        if np.isfinite(self.tilt_deg):
            out.append(f"The picture is turned by {self.tilt_deg:+.1f} degrees.")
        if self.cut_off:
            out.append(
                f"The swimmer touches the picture's edge on {len(self.cut_off)} frames (first {self.cut_off[0]}): film "
                "from farther away or wider."
            )
        return tuple(out)


def frame_pct(fps: float, cycle_s: float = CYCLE_S) -> float:
    """Time between two pictures as a share of a cycle. [%]

    >>> round(frame_pct(50), 2)
    1.67
    """
    return 100 / fps / cycle_s


def interval_sigma_pct(fps: float, cycle_s: float = CYCLE_S) -> float:
    """Standard deviation of a time whose two ends are rounded to a picture, as a share of a cycle. [%]

    Each end is off evenly by up to half a picture: sqrt(2 / 12) of it.

    >>> round(interval_sigma_pct(50), 2)
    0.68
    """
    return frame_pct(fps, cycle_s) / math.sqrt(6)


def blur_m(speed_m_s: ArrayLike, exposure_s: ArrayLike) -> NDArray[np.float64]:
    """Length over which something is smeared while the shutter is open: speed times exposure. [m]"""
    return np.asarray(speed_m_s, float) * np.asarray(exposure_s, float)


def fastest_px_s(times_s: ArrayLike, xy_px: ArrayLike, share: float = 0.95) -> float:
    """Speed of a point at its fastest, from frames that follow each other: an upper quantile. [px/s]

    Parameters
    ----------
    times_s : (K,) float array
    xy_px : (K, 2) float array
        NaN where it is not marked.
    share : float
        Quantile, so that one wrong mark does not count.

    Returns
    -------
    float
        NaN where fewer than two neighbouring frames are marked.
    """
    t, xy = np.asarray(times_s, float), np.asarray(xy_px, float)
    if len(t) < 2:
        return float("nan")
    step = np.diff(t)
    speed = np.linalg.norm(np.diff(xy, axis=0), axis=-1) / step
    known = np.isfinite(speed) & (step <= 1.5 * np.median(step))
    return float(np.quantile(speed[known], share)) if known.any() else float("nan")


def edge_width_px(profile: ArrayLike) -> float:
    """Width of an edge from 10 to 90 % of its rise: what a streak along the profile leaves of a sharp edge.

    Parameters
    ----------
    profile : (n,) float array
        Brightness along a line across one edge, one sample a pixel.

    Returns
    -------
    float
        NaN for a flat profile. A sharp edge has 0.8; a streak of b pixels makes it 0.8 b. [px]
    """
    p = np.asarray(profile, float)
    ends = np.array([p[: max(1, len(p) // 6)].mean(), p[-max(1, len(p) // 6) :].mean()])
    if abs(np.diff(ends)[0]) < 1e-9 * max(1.0, np.abs(p).max()):
        return float("nan")
    rise = np.maximum.accumulate((p - ends[0]) / (ends[1] - ends[0]))
    at = [float(np.interp(level, rise, np.arange(len(p)))) for level in (0.1, 0.9)]
    return at[1] - at[0]


def clip_quality(
    times_s: ArrayLike,
    size: tuple[int, int],
    *,
    hand_px: ArrayLike | None = None,
    marked_px: ArrayLike | None = None,
    frames: Sequence[int] = (),
    arm_px: float = float("nan"),
    tilt_deg: float = float("nan"),
    exposure_s: float | None = None,
) -> ClipQuality:
    """Facts of a clip from its times and whatever is marked.

    Parameters
    ----------
    times_s : (N,) float array
        Real time of every frame of the shot, NaN where not known. [s]
    size : (width, height) [px]
    hand_px : (N, 2) float array, optional
        The hand on every frame, NaN where it is not marked.
    marked_px : (K, P, 2) float array, optional
        All marked points of the frames ``frames`` (K,).
    arm_px, tilt_deg : float
        Where known.
    exposure_s : float, optional
        As the camera states it; otherwise guessed, and said so.
    """
    t = np.asarray(times_s, float)
    steps = np.diff(t[np.isfinite(t)])
    fps = float(1 / np.median(steps)) if len(steps) else float("nan")
    exposure = exposure_s if exposure_s is not None else OPEN_SHARE / fps
    speed = float("nan") if hand_px is None else fastest_px_s(t, hand_px)
    return ClipQuality(
        fps, speed * exposure, exposure, exposure_s is None, arm_px, tilt_deg, _cut_off(size, marked_px, frames)
    )


def _cut_off(size: tuple[int, int], marked_px: ArrayLike | None, frames: Sequence[int]) -> tuple[int, ...]:
    if marked_px is None or not len(frames):
        return ()
    xy, margin = np.asarray(marked_px, float), EDGE_SHARE * min(size)
    with np.errstate(invalid="ignore"):
        outside = (xy < margin) | (xy > np.array(size) - 1 - margin)
    return tuple(int(f) for f in np.asarray(frames)[outside.any((-1, -2))])
