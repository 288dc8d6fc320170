"""The hip through the pool: distance per cycle, speed over whole cycles, and how speed swings within one.

Needs metres, and a camera that stands still or whose path is known. Over whole cycles distance and time come from two
instants and nothing is differentiated; within a cycle the hip's path is smoothed first, and its marking noise taken out
of the swing.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from casebook.marks.marks import Origin
from casebook.marks.smooth import SWIMMER_CUTOFF_HZ, butterworth
from casebook.stroke.localfit import half_width, weights_at

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from casebook.clip.shot import Shot
    from casebook.marks.marks import Marks
    from casebook.plane.plane import Plane
    from casebook.stroke.strokes import Stroke

    Array: TypeAlias = NDArray[np.float64]


#: A scale is taken where the arm is or the lane's middle, and the hip lies up to 20 cm beside that, nearer to the
#: camera or farther: evenly, at 3.5 m, 0.20 / 3.5 / sqrt(3). Relative, shared by all distances. own estimate, no source
HIP_DEPTH = 0.033


@dataclass(frozen=True, slots=True, eq=False)
class HipPath:
    """The hip along the pool.

    Attributes
    ----------
    frames : (K,) int array
    times : (K,) float array [s]
    x : (K,) float array
        Along the swim direction, fixed to the pool. [m]
    sigma : (K,) float array
        Standard deviation of each place, by marks and by the camera's path. [m]
    by_hand : bool
        The errors of neighbouring frames are independent.
    scale_sigma : float
        Relative standard deviation of every distance, shared: of the scale, and of the hip's own distance.
    """

    frames: NDArray[np.int64]
    times: Array
    x: Array
    sigma: Array
    by_hand: bool
    scale_sigma: float
    #: Usual time between frames, by the first hundred. [s]
    step: float = field(init=False)

    def __post_init__(self) -> None:
        step = float(np.median(np.diff(self.times[:100]))) if len(self.times) > 1 else 1.0
        object.__setattr__(self, "step", step)

    def at(self, time_s: float) -> tuple[float, float]:
        """Place at an instant by the frames around it, and its standard deviation; NaN where they lack. [m]"""
        step = self.step
        reach = half_width(step)
        near = np.arange(*np.searchsorted(self.times, [time_s - reach, time_s + reach], "right"))
        if len(near) < 3 or not self.times[near[0]] - step <= time_s <= self.times[near[-1]] + step:
            return float("nan"), float("nan")
        weights = weights_at(time_s, self.times[near], np.ones(len(near), bool), reach)[0]
        size = float(np.linalg.norm(weights * self.sigma[near]))
        return float(weights @ self.x[near]), size if self.by_hand else max(size, float(self.sigma[near].mean()))


@dataclass(frozen=True, slots=True)
class NoPath:
    """Why the hip's way in the pool is not known, and what to do. Falsy."""

    reason: str
    remedy: str

    def __bool__(self) -> bool:
        return False


@dataclass(frozen=True, slots=True)
class CycleWay:
    """One whole cycle of one arm, entry to next entry, and the hip's way in it.

    ``own_*`` are standard deviations of this cycle's own; the scale's relative one is shared by all.
    """

    side: str
    number: int
    stroke_class: str
    time_s: float
    seconds: float
    metres: float
    own_seconds: float
    own_metres: float
    frames: tuple[int, ...]

    @property
    def speed(self) -> float:
        """Mean speed. [m/s]"""
        return self.metres / self.seconds

    @property
    def own_speed(self) -> float:
        """Its own standard deviation: an end later in time is further on too, so that time's error nearly drops out."""
        return self.own_metres / self.seconds


def hip_path(shot: Shot, marks: Marks, plane: Plane, side: str) -> HipPath | NoPath:
    """The marked hip of one side along the pool."""
    if shot.swim is not None and shot.swim.place == "flume":
        return NoPath("In a flume the swimmer stays where he is.", "Take the flume's own speed.")
    if shot.camera != "still" and plane.path is None:
        return NoPath(
            "The camera moves, so the way through the pool is not seen.",
            "Film with a camera that stands still, or track places fixed to the pool.",
        )
    if not shot.view.startswith("side"):
        return NoPath("Only from the side is the way along the pool seen.", "Film from the side.")
    if not plane.has_scale:
        return NoPath("The picture has no scale.", "Mark a known length in the swimmer's plane.")
    own = marks.pick([f"hip_{side}"], shot.frames)
    times = shot.times[own.frames]
    frames = own.frames[np.isfinite(own.xy[:, 0]).all(-1) & np.isfinite(times)]
    if len(frames) < 3:
        return NoPath("The hip is not marked.", f"Track the {'left' if side == 'l' else 'right'} hip through the shot.")
    own = own.pick([f"hip_{side}"], frames)
    if plane.path is None:
        x, camera = plane.level(own.xy[:, 0])[:, 0], np.zeros(len(frames))
    else:
        x, camera = plane.pool_x(own.xy[:, 0], frames), plane.pool_sigma_px(frames)
    known = np.isfinite(x)
    if known.sum() < 3:
        return NoPath("The camera's path does not hold the frames of the hip.", "Track the pool on those frames too.")
    m = plane.m_per_px
    sigma = np.hypot(own.sigma_px[:, 0], camera) * m
    return HipPath(
        frames[known],
        shot.times[frames[known]],
        x[known] * m,
        sigma[known],
        bool((own.origin[known] == int(Origin.hand)).all()),
        float(np.hypot(plane.scale_sigma, HIP_DEPTH)),
    )


def cycle_ways(path: HipPath, strokes: Sequence[Stroke]) -> tuple[CycleWay, ...]:
    """Every whole stroke of one arm during which the hip's path is known at both ends."""
    out = []
    for s in strokes:
        first, last = s.time_s("entry"), s.time_s("next_entry")
        if not np.isfinite(last - first):
            continue
        (a, sa), (b, sb) = path.at(first), path.at(last)
        if np.isfinite(b - a):
            seconds, metres = last - first, b - a
            timing = float(np.hypot(s.own_s("entry"), s.own_s("next_entry")))
            frames = tuple(path.frames[slice(*path.times.searchsorted([first, last]))].tolist())
            spread = float(np.hypot(np.hypot(sa, sb), timing * metres / seconds))
            out.append(CycleWay(s.side, s.number, s.stroke_class, first, seconds, metres, timing, spread, frames))
    return tuple(out)


def speed_curve(path: HipPath, cutoff_hz: float = SWIMMER_CUTOFF_HZ) -> tuple[Array, Array]:
    """Speed at every frame of the path and its standard deviation, smoothed. (K,), (K,) [m/s]

    NaN around gaps of the track. Marking errors count as independent, which for tracked points is too cautious.
    """
    x, t = path.x, path.times
    step = float(np.median(np.diff(t)))
    if cutoff_hz >= 0.45 / step:
        return np.full(len(x), np.nan), np.full(len(x), np.nan)
    smooth = butterworth(x, t, cutoff_hz)
    speed = np.gradient(smooth, t)
    gaps = np.flatnonzero(np.diff(t) > 1.5 * step)
    speed[np.unique(np.concatenate([gaps, gaps + 1]))] = np.nan
    return speed, path.sigma * _gain(step, cutoff_hz)


def _gain(step: float, cutoff_hz: float) -> float:
    """Standard deviation of the smoothed speed for independent errors of 1 in place. [1/s]"""
    n = 4 * int(np.ceil(1 / (cutoff_hz * step))) + 20
    pulse = np.zeros(2 * n + 1)
    pulse[n] = 1.0
    times = step * np.arange(len(pulse))
    return float(np.linalg.norm(np.gradient(butterworth(pulse, times, cutoff_hz), times)))


@dataclass(frozen=True, slots=True)
class Swing:
    """How much the hip's speed swings in one cycle, as a share of its mean. [%]"""

    number: int
    stroke_class: str
    time_s: float
    percent: float
    sigma: float
    frames: tuple[int, ...]


def swings(path: HipPath, strokes: Sequence[Stroke], cutoff_hz: float = SWIMMER_CUTOFF_HZ) -> tuple[Swing, ...]:
    """Standard deviation of the hip's speed within each whole stroke, marking noise taken out, in % of its mean.

    A stroke whose swing is smaller than its noise gets 0, with that noise as its standard deviation.
    """
    speed, noise = speed_curve(path, cutoff_hz)
    step, out = float(np.median(np.diff(path.times))), []
    for s in strokes:
        first, last = s.time_s("entry"), s.time_s("next_entry")
        if not np.isfinite(last - first):
            continue
        span = np.arange(*path.times.searchsorted([first, last]))
        inside = span[np.isfinite(speed[span])]
        if len(inside) * step < 0.9 * (last - first):
            continue
        v, error = speed[inside], float(np.sqrt(np.mean(noise[inside] ** 2)))
        true = max(float(v.var()) - error**2, 0.0)
        # So many independent values fit into the stroke at this cut-off.
        n = max(2.0, 2 * cutoff_hz * (last - first))
        unsure = np.sqrt((4 * true * error**2 + 2 * error**4) / n)
        sigma = unsure / (2 * np.sqrt(true)) if true > unsure else np.sqrt(unsure)
        per = 100 / float(v.mean())
        frames = tuple(path.frames[inside].tolist())
        out.append(Swing(s.number, s.stroke_class, first, per * float(np.sqrt(true)), per * float(sigma), frames))
    return tuple(out)


def slowing(path: HipPath, between: tuple[float, float], cycle: tuple[float, float]) -> tuple[float, float]:
    """By how much the hip is slower in a stretch than over its cycle, and the standard deviation. [%]

    Parameters
    ----------
    between, cycle : (first, last)
        Instants. [s]
    """
    (a, sa), (b, sb) = path.at(between[0]), path.at(between[1])
    (c, sc), (d, sd) = path.at(cycle[0]), path.at(cycle[1])
    part, whole = between[1] - between[0], cycle[1] - cycle[0]
    if not np.isfinite(a + b + c + d) or part <= 0 or whole <= 0:
        return float("nan"), float("nan")
    share = (b - a) / part / ((d - c) / whole)
    relative = np.hypot(np.hypot(sa, sb) / (b - a), np.hypot(sc, sd) / (d - c))
    return 100 * (1 - share), float(100 * abs(share) * relative)
