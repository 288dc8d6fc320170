"""The kick of one leg as seen from the side: each downbeat, the knee, the thigh and the foot in it.

A kick goes from one lowest place of the ankle to the next; its downbeat from the highest to the lowest. Heights are the
ankle's against the hip of its side, so that the body's own bobbing counts for nothing.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from casebook.plane.geometry import angle_sigma_deg, inclination_sigma_deg, joint_angle_deg
from casebook.plane.propagate import TRACK_MEMORY_S
from casebook.stroke.body import completed, cycle_means
from casebook.stroke.points import Points, Smooth, Unread, smooth
from casebook.stroke.swings import crossing_after, least_swing, turns, vertex

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Array = NDArray[np.float64]

#: Points of a leg, and of the trunk that it is held against.
LEG = ("hip", "knee", "ankle", "heel", "toe")
#: The thigh is held against the trunk's mean over this long: about a stroke cycle, since roll fakes its tilt. [s]
#: common practice, no source
TRUNK_OVER_S = 1.4
#: A foot is read over a kick with at least this share of its frames.
LEAST_SEEN = 0.7
#: A fit leans on about this many frames by hand.
FIT_FRAMES = 3.0


@dataclass(frozen=True, slots=True, eq=False)
class Leg:
    """One leg over the frames of a shot; all (K,), NaN where unmarked.

    ``height`` is the ankle above the hip [px], ``knee`` the knee angle, 180 straight [deg], ``thigh`` how far the thigh
    points below the line of the trunk, positive bent at the hip [deg], ``foot`` how far heel to toe is off the line of
    the shank, 0 pointed, 90 hooked as in standing [deg]; ``*_sigma`` the standard deviation of each from the marks.
    """

    side: str
    points: Points
    level: Smooth
    height: Array
    height_sigma: Array
    knee: Array
    knee_sigma: Array
    thigh: Array
    thigh_sigma: Array
    foot: Array
    foot_sigma: Array


@dataclass(frozen=True, slots=True, eq=False)
class Kicks:
    """Downbeats of one leg, all (n,), in time order.

    Attributes
    ----------
    side : str
    top_s, middle_s, bottom_s : float arrays
        When the ankle is highest, halfway and lowest against the hip, by the clock of the marks. [s]
    middle_sigma_s : float array
        Standard deviation of ``middle_s`` from the marks, at least half a frame. [s]
    travel_px, travel_sigma_px : float arrays
        From highest to lowest. [px]
    knee_deg, thigh_deg, foot_deg, and ``*_sigma`` : float arrays
        Knee at its most bent and thigh at its lowest in the kick; foot as the mean over it. [deg]
    knee_row : int array
        Row of the marks with the knee most bent.
    top_row, bottom_row : int arrays
    rows : (n, 2) int array
        First and last row of each whole kick.
    run : int array
        Kicks of one run follow one another without a gap.
    """

    side: str
    top_s: Array
    middle_s: Array
    bottom_s: Array
    middle_sigma_s: Array
    travel_px: Array
    travel_sigma_px: Array
    knee_deg: Array
    knee_sigma: Array
    thigh_deg: Array
    thigh_sigma: Array
    foot_deg: Array
    foot_sigma: Array
    knee_row: NDArray[np.int64]
    top_row: NDArray[np.int64]
    bottom_row: NDArray[np.int64]
    rows: NDArray[np.int64]
    run: NDArray[np.int64]

    def __len__(self) -> int:
        return len(self.middle_s)


def leg_points(side: str) -> tuple[str, ...]:
    """Names of the points that a leg is read from; the shoulder gives the trunk's line."""
    return tuple(f"{name}_{side}" for name in (*LEG, "shoulder"))


def leg_of(points: Points, side: str, starts: ArrayLike = ()) -> Leg:
    """One leg from its marks; ``points`` holds those of ``leg_points``.

    ``starts`` (C + 1,) are the edges of the stroke cycles, where they are known [s]: the thigh is then held against the
    trunk of its cycle, also where the shoulder leaves the water for a part of it.
    """
    level = smooth(points)
    hip, knee, ankle, heel, toe, shoulder = (level.of(n) for n in leg_points(side))
    s_hip, s_knee, s_ankle, s_heel, s_toe, s_shoulder = (level.sigma_of(n) for n in leg_points(side))
    line, noise = shoulder - hip, np.hypot(s_hip, s_shoulder)
    trunk, trunk_sigma = _trunk(points, side, line, noise)
    if len(edges := np.asarray(starts, float)) > 1:
        trunk, trunk_sigma = _trunk_of_cycles(points, line, noise, edges, (trunk, trunk_sigma))
    thigh = _below(hip, knee) - trunk
    shank, sole = _below(knee, ankle), _below(heel, toe)
    return Leg(
        side,
        points,
        level,
        ankle[:, 1] - hip[:, 1],
        np.hypot(s_ankle, s_hip),
        joint_angle_deg(hip, knee, ankle),
        angle_sigma_deg(hip, knee, ankle, s_hip, s_knee, s_ankle),
        thigh,
        np.hypot(inclination_sigma_deg(hip, knee, s_hip, s_knee), trunk_sigma),
        _turn(sole - shank),
        np.hypot(inclination_sigma_deg(knee, ankle, s_knee, s_ankle), inclination_sigma_deg(heel, toe, s_heel, s_toe)),
    )


def kicks_of(leg: Leg) -> Kicks | Unread:
    """Every downbeat of a leg."""
    points, height = leg.points, leg.height
    if not np.isfinite(height).any():
        hip, ankle = f"hip_{leg.side}", f"ankle_{leg.side}"
        gone = " and ".join(n[:-2] for n in (hip, ankle) if not points.marked(n)) or "hip and ankle together"
        return Unread(f"Not marked: {gone}.", "Mark hip, knee, ankle and toe of the near leg in every frame.")
    found = turns(points.clock, height, points.step, least_swing(height, leg.height_sigma))
    down = np.flatnonzero(found.up[:-1] & ~found.up[1:] & (found.run[:-1] == found.run[1:]))
    if not len(down):
        reason = "No whole downbeat lies in the marked frames."
        return Unread(reason, "Mark the near leg's hip, knee, ankle and toe over two stroke cycles or more.")
    top, bottom = found.row[down], found.row[down + 1]
    before = np.where((down > 0) & (found.run[np.maximum(down - 1, 0)] == found.run[down]), found.row[down - 1], top)
    rows = np.stack([before, bottom], 1)
    middle = (found.value[down] + found.value[down + 1]) / 2
    middle_s = np.array(
        [crossing_after(points.clock, height, a, b, m) for a, b, m in zip(top, bottom, middle, strict=True)]
    )
    pace = (found.value[down] - found.value[down + 1]) / (found.clock[down + 1] - found.clock[down])
    # Halfway down a swing is pi/2 times as fast as on average.
    unsure = leg.height_sigma[top] / (np.pi / 2 * pace)
    knee_row, knee, knee_sigma = _extreme(leg.knee, leg.knee_sigma, rows, 1.0)
    _, thigh, thigh_sigma = _extreme(leg.thigh, leg.thigh_sigma, rows, -1.0)
    return Kicks(
        leg.side,
        found.clock[down],
        middle_s,
        found.clock[down + 1],
        np.maximum(unsure, points.step / 2),
        found.value[down] - found.value[down + 1],
        np.hypot(leg.height_sigma[top], leg.height_sigma[bottom]),
        knee,
        knee_sigma,
        thigh,
        thigh_sigma,
        *_mean(leg, rows),
        knee_row,
        top,
        bottom,
        rows,
        found.run[down],
    )


def _trunk_of_cycles(
    points: Points, line: Array, sigma: Array, edges: Array, otherwise: tuple[Array, Array]
) -> tuple[Array, Array]:
    """Inclination of the trunk as the mean over each row's stroke cycle; a row outside takes the nearest one's.

    ``otherwise`` is what serves where no cycle tells it.
    """
    spread = np.where(np.isfinite(sigma), sigma, np.nanmedian(sigma)) if np.isfinite(sigma).any() else sigma
    means = completed(cycle_means(points.clock, line, spread, edges), points.clock, line, spread, edges)
    told = np.flatnonzero(np.isfinite(means.value).all(-1) & np.isfinite(means.sigma))
    if not len(told):
        return otherwise
    middle = (edges[:-1] + edges[1:])[told] / 2
    own = told[np.argmin(np.abs(points.clock[:, None] - middle), 1)]
    value = means.value[own]
    slope = np.degrees(np.arctan2(value[:, 1], value[:, 0]))
    return slope, np.degrees(means.sigma[own] / np.linalg.norm(value, axis=-1))


def _trunk(points: Points, side: str, d: Array, sigma: Array) -> tuple[Array, Array]:
    """Inclination of hip to shoulder as a mean over ``TRUNK_OVER_S`` around each row, and its standard deviation."""
    clock = points.clock
    known = np.asarray(np.isfinite(d).all(-1))
    first = np.searchsorted(clock, clock - TRUNK_OVER_S / 2)
    last = np.searchsorted(clock, clock + TRUNK_OVER_S / 2, "right")
    total = np.concatenate([np.zeros((1, 2)), np.cumsum(np.where(known[:, None], d, 0.0), 0)])
    count = np.concatenate([[0], np.cumsum(known)])
    n = count[last] - count[first]
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = (total[last] - total[first]) / n[:, None]
        own = points.by_hand[:, points.names.index(f"hip_{side}")]
        alone = np.where(own, n / FIT_FRAMES, TRUNK_OVER_S / (2 * TRACK_MEMORY_S))
        usual = float(np.nanmedian(sigma)) if known.any() else np.nan
        unsure = np.degrees(usual / np.linalg.norm(mean, axis=-1) / np.sqrt(np.maximum(alone, 1.0)))
    return np.degrees(np.arctan2(mean[:, 1], mean[:, 0])), unsure


def _below(a: Array, b: Array) -> Array:
    """How far a limb that runs backward from ``a`` to ``b`` points below the horizontal. (K, 2) -> (K,) [deg]"""
    d = a - b
    return np.degrees(np.arctan2(d[..., 1], d[..., 0]))


def _turn(angle: Array) -> Array:
    return np.mod(angle + 180.0, 360.0) - 180.0


def _mean(leg: Leg, rows: NDArray[np.int64]) -> tuple[Array, Array]:
    """The foot as the mean over each kick, and its standard deviation."""
    known = np.isfinite(leg.foot)
    total, squares = (
        np.concatenate([[0.0], np.cumsum(np.where(known, v, 0.0))]) for v in (leg.foot, leg.foot_sigma**2)
    )
    count = np.concatenate([[0], np.cumsum(known)])
    # Both ends are the same place of the kick: one of them counts.
    first, last = rows[:, 0] + 1, rows[:, 1] + 1
    n = count[last] - count[first]
    whole = n >= LEAST_SEEN * (last - first)
    # Marks by hand err each for itself, but neighbours share a fit; those of a track err alike.
    own = leg.points.by_hand[:, leg.points.names.index(f"toe_{leg.side}")]
    alone = np.where(own[rows[:, 1]], np.minimum(1.0, FIT_FRAMES / np.maximum(n, 1)), 1.0)
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = (total[last] - total[first]) / n
        sigma = np.sqrt((squares[last] - squares[first]) / n * alone)
        # What a part out of sight could be is told by how the foot moves in what is seen.
        swing = np.array(
            [
                np.ptp(leg.foot[a:b][known[a:b]]) if known[a:b].any() else np.nan
                for a, b in zip(first, last, strict=True)
            ]
        )
        sigma = np.hypot(sigma, swing / 2 * (1 - n / (last - first)))
    return np.where(whole, mean, np.nan), np.where(whole, sigma, np.nan)


def _extreme(
    values: Array, sigma: Array, rows: NDArray[np.int64], sign: float
) -> tuple[NDArray[np.int64], Array, Array]:
    """Row, value and standard deviation of the least (``sign`` 1) or largest (-1) value in each span of rows.

    NaN where nothing is marked.
    """
    filled = np.where(np.isfinite(values), sign * values, np.inf)
    at = np.array([a + int(np.argmin(filled[a : b + 1])) for a, b in rows], dtype=np.int64)
    value = vertex(np.arange(len(values), dtype=float), values, at)[1]
    told = np.isfinite(filled[at])
    return np.where(told, at, -1), np.where(told, value, np.nan), np.where(told, sigma[at], np.nan)
