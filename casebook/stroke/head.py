"""The head: how far the face is turned out, how it is carried against the trunk, how deep crown and goggles are."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from casebook.stroke.body import CycleMeans, cycle_means
from casebook.stroke.points import Points, Unread, smooth

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from casebook.clip.shot import Shot

    Array = NDArray[np.float64]

#: Points of the head, those of the side toward a side camera first.
FACE = ("mouth", "goggle_l", "goggle_r", "ear_l", "ear_r", "crown", "neck")
#: A face looks down in at least this share of the frames, so that this share of the largest offsets is taken as down.
#: own judgement, no source
DOWN_SHARE = 0.10
#: From the side the mouth lies at least this share of the head's length (neck to crown) below its axis when the face
#: looks down; less, and the clip shows no frame with the face down. own judgement, no source
LEAST_OFFSET = 0.20
#: Where it then lies as a rule, and half the distance of the ears, as shares of that length. own judgement, no source
MOUTH_SHARE, EAR_SHARE = 0.38, 0.27
#: Where an arcsine or arccosine is flatter than this, its error is no larger any more.
LEAST_SLOPE = 0.3
#: A face that looks down is drawn turned by no more than this, from a camera over the water. [deg] own judgement
LOOKS_DOWN_DEG = 40.0
#: How far a turn near 45 degrees is read wrong alike in every breath: the head nods and bends as it turns, and a camera
#: above the water looks down on it. Standard deviations, from the demo's own swimmers. [deg]
COMMON_DEG = {"front": 4.0, "side_under": 6.0, "side_split": 6.0, "side_above": 12.0}


@dataclass(frozen=True, slots=True, eq=False)
class FaceTurn:
    """How far the face is turned out from looking straight down, over the frames; (K,) each.

    ``turn`` is positive to the swimmer's left, 90 looking to the side [deg]; ``sigma`` its independent standard
    deviation, ``common`` the one that errs alike in every breath, from how the turn is read in this view [deg]. NaN
    where the face is not marked. ``away`` is the far side of a side camera, empty in other views: a breath to it is
    seen to be one, and not how long it is.
    """

    points: Points
    turn: Array
    sigma: Array
    common: float
    how: str
    away: str = ""


def face_turn(shot: Shot, points: Points, near: str = "") -> FaceTurn | Unread:
    """How far the face is turned out.

    Parameters
    ----------
    shot : Shot
    points : Points
        Those of ``FACE``.
    near : str
        The side toward a side camera, ``l`` or ``r``.

    Notes
    -----
    Head-on and from behind it is the direction from the middle of the head (between the ears, or the crown) to the
    mouth. From the side the near ear rises over the axis from neck to crown by the sine of the turn, up when the face
    turns to the camera and down when it turns away, and the mouth lies below the axis by its cosine.
    """
    if shot.view.startswith(("front", "rear")):
        return _head_on(points)
    if shot.view.startswith("side"):
        return _from_the_side(points, near, COMMON_DEG[shot.view])
    return Unread("From above or below the turn of the head is not read.", "Film head-on or from the side.")


def _head_on(points: Points) -> FaceTurn | Unread:
    level = smooth(points)
    ears = (level.of("ear_l") + level.of("ear_r")) / 2
    known = np.asarray(np.isfinite(ears).all(-1, keepdims=True))
    middle = np.where(known, ears, level.of("crown"))
    unsure = np.where(known[:, 0], np.hypot(level.sigma_of("ear_l"), level.sigma_of("ear_r")) / 2,
                      level.sigma_of("crown"))  # fmt: skip
    d = level.of("mouth") - middle
    if not np.isfinite(d).all(-1, keepdims=True).any():
        return Unread(
            "Mouth and crown, or mouth and both ears, are not marked in one frame.", "Mark them through the breath."
        )
    with np.errstate(invalid="ignore", divide="ignore"):
        sigma = np.degrees(np.hypot(level.sigma_of("mouth"), unsure) / np.linalg.norm(d, axis=-1))
    return FaceTurn(
        points,
        np.degrees(np.arctan2(d[:, 0], -d[:, 1])),
        sigma,
        COMMON_DEG["front"],
        "mouth against the middle of the head",
    )


def _from_the_side(points: Points, near: str, common: float) -> FaceTurn | Unread:
    level = smooth(points)
    crown, neck, mouth, ear = (level.of(n) for n in ("crown", "neck", "mouth", f"ear_{near}"))
    axis = crown - neck
    long = np.linalg.norm(axis, axis=-1)
    below, above = -_off(mouth, neck, axis), _off(ear, neck, axis) / EAR_SHARE
    if not (np.isfinite(below) | np.isfinite(above)).any():
        return Unread(
            "Crown, base of the neck and near ear or mouth are not marked in one frame.",
            "Mark them through the breath.",
        )
    down = float(np.nanpercentile(below, 100 * (1 - DOWN_SHARE))) if np.isfinite(below).any() else np.nan
    cos = np.clip(below / (down if down >= LEAST_OFFSET else MOUTH_SHARE), -1.0, 1.0)
    sin = np.clip(above, -1.0, 1.0)
    # The ear tells the side; a mouth alone that can be seen is turned to the near one.
    by_ear, by_mouth = np.degrees(np.arcsin(sin)), np.degrees(np.arccos(cos))
    turn = np.where(np.isfinite(cos), by_mouth, by_ear)
    both = np.isfinite(cos) & np.isfinite(sin)
    turn = np.where(both, np.degrees(np.arctan2(sin, cos)), turn)
    # A camera over the water looks down on the head, which turns it in the picture by one angle all along.
    down_now = both & (np.abs(turn) < LOOKS_DOWN_DEG)
    turn = turn - float(np.median(turn[down_now])) if down_now.any() else turn
    unsure = np.hypot(level.sigma_of("crown"), level.sigma_of("neck")) / 2
    ear_noise = np.hypot(level.sigma_of(f"ear_{near}"), unsure) / long / EAR_SHARE
    mouth_noise = np.hypot(level.sigma_of("mouth"), unsure) / long / MOUTH_SHARE
    # One alone says little where its curve is flat; both together err by less than the worse of them.
    flat = np.maximum(
        np.abs(np.where(np.isfinite(cos), np.sin(np.radians(turn)), np.cos(np.radians(turn)))), LEAST_SLOPE
    )
    noise = np.where(both, np.fmax(ear_noise, mouth_noise), np.where(np.isfinite(cos), mouth_noise, ear_noise) / flat)
    sign = -1.0 if near == "r" else 1.0
    return FaceTurn(
        points,
        sign * turn,
        np.degrees(noise),
        common,
        "ear and mouth against the axis from neck to crown",
        "lr".replace(near, ""),
    )


def _off(point: Array, start: Array, axis: Array) -> Array:
    """Distance of a point above an axis that runs forward, as a share of the axis. (K, 2) -> (K,)"""
    d = point - start
    with np.errstate(invalid="ignore", divide="ignore"):
        return (axis[:, 0] * d[:, 1] - axis[:, 1] * d[:, 0]) / (axis**2).sum(-1)


def head_angle(points: Points, side: str, starts: ArrayLike, calm: ArrayLike | None = None) -> CycleMeans:
    """Ear against the line from hip to shoulder, as a mean over each cycle, seen from the side. (C,) [deg]

    Positive: the ear lies above the line carried on past the shoulder, the head is lifted; 0 in line.

    Parameters
    ----------
    points : Points
        With ear, shoulder and hip of ``side``.
    side : str
    starts : (C + 1,) float array [s]
    calm : (K,) bool array, optional
        Frames with the face in the water: only these count for the ear. The trunk's line takes all, for roll cancels
        only over a whole cycle.
    """
    value, sigma, trunk = _carried(points, side, starts, calm)
    return CycleMeans(value[:, 0] - value[:, 1], np.hypot(*sigma.T), trunk.rows)


def head_level(points: Points, side: str, starts: ArrayLike, calm: ArrayLike | None = None) -> CycleMeans:
    """Shoulder to ear against the level, as a mean over each cycle, seen from the side. (C,) [deg]

    Positive: the ear is the higher one. Parameters as for ``head_angle``; a trunk that lies at a slope does not hide a
    lifted head here.
    """
    value, sigma, trunk = _carried(points, side, starts, calm)
    return CycleMeans(value[:, 0], sigma[:, 0], trunk.rows)


def _carried(points: Points, side: str, starts: ArrayLike, calm: ArrayLike | None) -> tuple[Array, Array, CycleMeans]:
    """Slopes of head and trunk over the level, and their standard deviations, (C, 2) each [deg]; the trunk's means."""
    level = smooth(points)
    ear, shoulder, hip = (level.of(f"{n}_{side}") for n in ("ear", "shoulder", "hip"))
    s_ear, s_shoulder, s_hip = (level.sigma_of(f"{n}_{side}") for n in ("ear", "shoulder", "hip"))
    # Forward against the hip, for the camera may follow; up against the water, for the hip itself rolls.
    along = np.stack([shoulder[:, 0] - hip[:, 0], hip[:, 1], shoulder[:, 1]], -1)
    trunk = cycle_means(points.clock, along, np.hypot(s_shoulder, s_hip), starts)
    lifted = np.stack([ear[:, 0] - hip[:, 0], ear[:, 1]], -1)
    value, sigma = np.full((len(trunk.rows), 2), np.nan), np.full((len(trunk.rows), 2), np.nan)
    quiet = np.ones(len(points.clock), bool) if calm is None else np.asarray(calm, bool)
    for c, rows in enumerate(trunk.rows):
        own = rows[quiet[rows] & np.isfinite(lifted[rows]).all(-1)]
        if not len(own) or not np.isfinite(trunk.sigma[c]):
            continue
        long, low, high = trunk.value[c]
        x, z = lifted[own].mean(0)
        ahead = np.hypot(x - long, z - high)
        value[c] = np.degrees([np.arctan2(z - high, x - long), np.arctan2(high - low, long)])
        noise = np.hypot(np.sqrt(np.sum(s_ear[own] ** 2)) / len(own), trunk.sigma[c])
        sigma[c] = np.degrees([noise / ahead, trunk.sigma[c] / long])
    return value, sigma, trunk
