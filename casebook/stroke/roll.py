"""Roll of shoulders and hips from head-on or from behind: the tilt of the line between both joints.

Positive with the left side up. Twist is shoulders minus hips frame by frame; its range is not the difference of the two
ranges, for their peaks do not fall together. A view from the side shows no roll as a number: a shoulder that rises may
roll, shrug or bob alike.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from casebook.plane.geometry import inclination_sigma_deg
from casebook.stroke.circular import phase_at, wrapped
from casebook.stroke.points import Points, Smooth, Unread, smooth
from casebook.stroke.swings import least_swing, turns

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

    from casebook.clip.shot import Shot

    Array = NDArray[np.float64]

POINTS = ("shoulder_l", "shoulder_r", "hip_l", "hip_r")
#: The base of the neck stands in for a shoulder that has left the water.
NECK = "neck"
#: From neck and one shoulder the line of both follows where the three are alike all along; shoulder blades slide by up
#: to a twentieth of the shoulders' breadth, which turns half of that line by this much: standard deviation. [deg] own
#: judgement, no source; on the demo swimmer, whose blades do not slide, under 1.5
BY_NECK_DEG = 5.0
#: So many frames with both shoulders and the neck show how they lie to each other. own judgement, no source
LEAST_WITH_NECK = 12
VIEWS = ("front_under", "rear_under")
OVER_WATER = ("front_above", "rear_above")
#: A joint reaches ahead of the other by so much of the line's own length, for the shoulder blade slides and the pelvis
#: turns: standard deviation, own judgement, no source
AHEAD = {"shoulder": 0.20, "hip": 0.10}
#: How far up or down a camera in line with the swimmer looks, where it is not known: standard deviation. [deg] own
#: judgement, no source
LOOKS_DEG = 10.0
#: A body rolls to and fro in no less and no more than this. [s] common practice, no source
PERIODS_S = (0.8, 3.0)
#: A wave is fitted to more frames than this, and has to tell this share of the roll's variance. own judgement
LEAST_FOR_A_WAVE, LEAST_TOLD = 12, 0.8
#: Focal length of a lens as a share of the picture's longer side: phones and action cameras. common practice, no source
USUAL_FOCAL = 0.9


@dataclass(frozen=True, slots=True, eq=False)
class Roll:
    """Roll over the frames of a shot, all (K,); NaN where a joint is not marked. [deg]

    ``*_sigma`` is the independent standard deviation from the marks; ``*_lens`` that of perspective, which errs alike
    in every stroke: a joint that is nearer to the camera is drawn further from the picture's centre. ``by_neck`` says
    where one shoulder was hidden and the neck stood in for it; what that may err by is in ``shoulder_lens``.
    """

    points: Points
    shoulder: Array
    hip: Array
    twist: Array
    shoulder_sigma: Array
    hip_sigma: Array
    twist_sigma: Array
    shoulder_lens: Array
    hip_lens: Array
    by_neck: NDArray[np.bool_]

    def of(self, which: str) -> tuple[Array, Array, Array]:
        """Values, independent and perspective standard deviation of shoulder, hip or twist."""
        lens = {"shoulder": self.shoulder_lens, "hip": self.hip_lens}
        lens["twist"] = np.hypot(*lens.values())
        values = {"shoulder": self.shoulder, "hip": self.hip, "twist": self.twist}
        sigma = {"shoulder": self.shoulder_sigma, "hip": self.hip_sigma, "twist": self.twist_sigma}
        return values[which], sigma[which], lens[which]


@dataclass(frozen=True, slots=True, eq=False)
class RollPeaks:
    """Largest roll to each side in turn, all (n,).

    ``side`` is the side that is up, ``value`` the roll to that side, positive [deg]; ``row``, ``clock`` [s] say where.
    """

    side: NDArray[np.str_]
    value: Array
    sigma: Array
    lens: Array
    row: NDArray[np.int64]
    clock: Array

    def __len__(self) -> int:
        return len(self.value)


def roll_of(shot: Shot, points: Points, focal_px: float | None = None) -> Roll | Unread:
    """Roll of every frame.

    Parameters
    ----------
    shot : Shot
        Filmed head-on or from behind.
    points : Points
        Those of ``POINTS``, with ``NECK`` if it is marked; level x runs to the swimmer's left.
    focal_px : float, optional
        Of the lens; taken as usual for a phone where not known. [px]
    """
    if shot.view in OVER_WATER:
        # On the demo swimmer 24 degrees instead of 40.
        return Unread(
            "From over the water the lower side is seen through the surface, which lifts it and hides roll.",
            "Film head-on or from behind under water for a number; from here judge by eye.",
        )
    if shot.view not in VIEWS:
        return Unread(
            "Roll is no number in this view: a shoulder that rises may roll, shrug or bob.",
            "Film head-on or from behind, in line with the swimmer.",
        )
    level = smooth(points)
    parts: dict[str, tuple[Array, Array, Array]] = {}
    for name in ("shoulder", "hip"):
        left, right = level.of(f"{name}_l"), level.of(f"{name}_r")
        d = left - right
        # Beyond 90 degrees the left joint is drawn on the right: that is no roll of a crawl, but a swap of marks.
        angle = np.degrees(np.arctan2(d[:, 1], d[:, 0]))
        sigma = inclination_sigma_deg(right, left, level.sigma_of(f"{name}_r"), level.sigma_of(f"{name}_l"))
        parts[name] = angle, sigma, _lens(shot, points, level, name, focal_px)
    if not np.isfinite(parts["shoulder"][0]).any() and not np.isfinite(parts["hip"][0]).any():
        return Unread(
            "Neither both shoulders nor both hips are marked in one frame.",
            "Mark both shoulders and both hips in every frame of two stroke cycles.",
        )
    (shoulder, s_shoulder, l_shoulder), (hip, s_hip, l_hip) = parts["shoulder"], parts["hip"]
    angle, sigma = _by_neck(level)
    by_neck = ~np.isfinite(shoulder) & np.isfinite(angle)
    shoulder, s_shoulder = np.where(by_neck, angle, shoulder), np.where(by_neck, sigma, s_shoulder)
    usual = float(np.nanmedian(l_shoulder)) if np.isfinite(l_shoulder).any() else 0.0
    l_shoulder = np.where(by_neck, np.hypot(usual, BY_NECK_DEG), l_shoulder)
    twist = np.mod(shoulder - hip + 180.0, 360.0) - 180.0
    return Roll(points, shoulder, hip, twist, s_shoulder, s_hip, np.hypot(s_shoulder, s_hip), l_shoulder, l_hip,
                by_neck)  # fmt: skip


def _by_neck(level: Smooth) -> tuple[Array, Array]:
    """Roll of the shoulders from the neck and the one that is seen, and its standard deviation; NaN where not. [deg]

    How the neck lies to the line of the shoulders, along it and off it, is the median over frames that show all three.
    """
    nothing = np.full(len(level.at), np.nan)
    if NECK not in level.names:
        return nothing, nothing
    left, right, neck = (_plane_number(level.of(n)) for n in ("shoulder_l", "shoulder_r", NECK))
    with np.errstate(invalid="ignore", divide="ignore"):
        lies = (neck - (left + right) / 2) / (left - right)
    lies = lies[np.isfinite(lies)]
    if len(lies) < LEAST_WITH_NECK:
        return nothing, nothing
    usual = complex(np.median(lies.real), np.median(lies.imag))
    seen_right = np.isfinite(right)
    line = np.where(seen_right, (neck - right) / (0.5 + usual), (neck - left) / (usual - 0.5))
    noise = np.where(seen_right, level.sigma_of("shoulder_r"), level.sigma_of("shoulder_l"))
    with np.errstate(invalid="ignore", divide="ignore"):
        sigma = np.degrees(np.hypot(noise, level.sigma_of(NECK)) / np.abs(line) / abs(0.5 + usual))
    return np.where(np.isfinite(line), np.degrees(np.angle(line)), np.nan), sigma


def _plane_number(xy: Array) -> NDArray[np.complex128]:
    """Places (K, 2) as complex numbers, so that turning and stretching is one product."""
    return xy[:, 0] + 1j * xy[:, 1]


def _lens(shot: Shot, points: Points, level: Smooth, name: str, focal_px: float | None) -> Array:
    """Standard deviation of a tilt from perspective: one joint is nearer, off the axis it is drawn further out. [deg]

    A joint that is ahead by a share r of the line's length L, seen at an angle a off the line of swimming, is drawn
    r L tan(a) off; over the line's length that turns it by r tan(a).
    """
    size = np.array(shot.clip.size, float)
    focal = float(size.max()) * USUAL_FOCAL if focal_px is None else focal_px
    columns = [points.names.index(f"{name}_{side}") for side in "lr"]
    middle = points.xy[:, columns].mean(1)
    off = np.linalg.norm(middle - (size - 1) / 2, axis=-1) / focal
    return np.degrees(np.arctan(AHEAD[name] * np.hypot(off, np.tan(np.radians(LOOKS_DEG)))))


def peaks_of(roll: Roll, which: str = "shoulder") -> RollPeaks:
    """Largest roll to the left and to the right, in turn, of ``shoulder``, ``hip`` or ``twist``."""
    values, sigma, lens = roll.of(which)
    found = turns(roll.points.clock, values, roll.points.step, least_swing(values, sigma))
    side = np.where(found.up, "l", "r")
    return RollPeaks(
        side, np.where(found.up, 1, -1) * found.value, sigma[found.row], lens[found.row], found.row, found.clock
    )


def ranges(roll: Roll, starts: Sequence[float] | Array, which: str) -> tuple[Array, Array, NDArray[np.int64]]:
    """Whole range from most left to most right in each cycle, its standard deviation, and the rows of both ends.

    Parameters
    ----------
    roll : Roll
    starts : (C + 1,) float array
        Beginnings of the cycles and the end of the last. [s]
    which : str
        ``shoulder``, ``hip`` or ``twist``.

    Returns
    -------
    value, sigma : (C,) float arrays
        NaN for a cycle that is not marked throughout. [deg]
    rows : (C, 2) int array
        Of the left-most and the right-most roll; -1 where not known.
    """
    values, sigma, _ = roll.of(which)
    edges = np.asarray(starts, float)
    n = max(len(edges) - 1, 0)
    value, unsure, rows = np.full(n, np.nan), np.full(n, np.nan), np.full((n, 2), -1)
    spans = np.searchsorted(roll.points.clock, edges)
    for c in range(n):
        part = values[spans[c] : spans[c + 1]]
        needed = (edges[c + 1] - edges[c]) / roll.points.step
        if np.isfinite(part).sum() < 0.8 * needed - 1:
            continue
        top, bottom = spans[c] + int(np.nanargmax(part)), spans[c] + int(np.nanargmin(part))
        value[c], unsure[c], rows[c] = values[top] - values[bottom], np.hypot(sigma[top], sigma[bottom]), (top, bottom)
    return value, unsure, rows


def cycles_of(roll: Roll, apart_from: ArrayLike = ()) -> Array:
    """Stroke cycles from the roll itself: from one largest roll to the next to the same side. (C + 1,) [s]

    The body rolls once in a cycle, so that a clip without a mark on the hands still has its cycles. Where an arm hides
    a shoulder at its largest roll, that cycle's beginning is set evenly between its neighbours.

    Parameters
    ----------
    roll : Roll
    apart_from : (n,) float array
        Instants, as of breaths, that had better not fall on the edge of a cycle. [s]
    """
    values, sigma, _ = roll.of("shoulder" if np.isfinite(roll.shoulder).any() else "hip")
    found = turns(roll.points.clock, values, roll.points.step, least_swing(values, sigma))
    halves = np.diff(found.clock)[np.diff(found.run) == 0]
    if len(halves):
        usual = 2 * float(np.median(halves))
        both = [_filled(found.clock[found.up == up], usual) for up in (True, False)]
    else:
        both = _by_a_wave(roll.points.clock, values)
    off = [np.abs(wrapped(phase_at(apart_from, edges), -180.0)) for edges in both]
    if all(np.isfinite(o).any() for o in off):
        return max(zip(both, off, strict=True), key=lambda pair: float(np.nanmin(pair[1])))[0]
    return max(both, key=len)


def _by_a_wave(clock: Array, values: Array) -> list[Array]:
    """Tops and bottoms of the one wave that fits the roll best, where it is seen in short pieces alone; else none."""
    known = np.isfinite(values)
    t, v = clock[known], values[known] - np.mean(values[known])
    periods = np.geomspace(*PERIODS_S, 240)
    periods = periods[periods < np.ptp(t)] if len(t) > LEAST_FOR_A_WAVE else periods[:0]
    fits = []
    for period in periods:
        turn = 2 * np.pi * t / period
        design = np.stack([np.ones_like(t), np.cos(turn), np.sin(turn)], 1)
        solved = np.linalg.lstsq(design, v, rcond=None)[0]
        fits.append((float(np.mean((v - design @ solved) ** 2)), period, solved))
    if not fits or min(f[0] for f in fits) > (1 - LEAST_TOLD) * np.var(v):
        return [np.empty(0), np.empty(0)]
    _, period, (_, cos, sin) = min(fits, key=lambda f: f[0])
    top = np.arctan2(sin, cos) / (2 * np.pi) * period
    out = []
    for first in (top, top + period / 2):
        k = np.arange(np.ceil((t[0] - first) / period), np.floor((t[-1] - first) / period) + 1)
        out.append(first + k * period)
    return out


def _filled(edges: Array, usual: float) -> Array:
    """Beginnings of cycles, with those that were not seen set evenly between their neighbours."""
    out = list(edges[:1])
    for a, b in pairwise(edges):
        count = max(round((b - a) / usual), 1)
        out += list(np.linspace(a, b, count + 1)[1:])
    return np.array(out)
