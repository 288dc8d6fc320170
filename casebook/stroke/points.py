"""Marks of some points over the frames of a shot, and each frame's local parabola, all frames at once."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from casebook.marks.marks import Origin
from casebook.stroke.arm import clock_of
from casebook.stroke.localfit import half_width

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from casebook.clip.shot import Shot
    from casebook.marks.marks import Marks
    from casebook.plane.plane import Plane

#: A fit needs more frames than it has free numbers.
LEAST_FRAMES = 4


@dataclass(frozen=True, slots=True)
class Unread:
    """Why the marks do not tell something, and what to do."""

    reason: str
    remedy: str


@dataclass(frozen=True, slots=True, eq=False)
class Points:
    """Some points on the frames where any of them is marked.

    Attributes
    ----------
    names : tuple of str, length P
    frames : (K,) int array
        Frame numbers of the clip.
    clock : (K,) float array [s]
        What runs evenly along a track: real time, or the file's own where the slow motion is not known.
    real : bool
        The clock is real time.
    step : float
        Usual time between two frames of the clip, by ``clock``. [s]
    level : (K, P, 2) float array [px]
        Forward (in head-on and rear views: to the swimmer's left) and up; NaN where unmarked or hidden, and where a
        picture half in air breaks so near that the mark may belong to either half.
    xy : (K, P, 2) float array [px]
        The same in the picture.
    sigma_px : (K, P) float array [px]
    by_hand : (K, P) bool array
        Placed by hand: its error is its own. The errors of other marks are alike along the track.
    hidden : (K, P) bool array
        Looked for and not to be seen.
    """

    names: tuple[str, ...]
    frames: NDArray[np.int64]
    clock: NDArray[np.float64]
    real: bool
    step: float
    level: NDArray[np.float64]
    xy: NDArray[np.float64]
    sigma_px: NDArray[np.float64]
    by_hand: NDArray[np.bool_]
    hidden: NDArray[np.bool_]

    def known(self, *names: str) -> NDArray[np.bool_]:
        """(K,) frames on which all of these points are marked."""
        return np.asarray(np.isfinite(self.level[:, [self.names.index(n) for n in names]]).all((-1, -2)))

    def marked(self, *names: str) -> bool:
        """Whether any frame carries all of these points."""
        return bool(self.known(*names).any())


def points_of(shot: Shot, marks: Marks, plane: Plane, names: Sequence[str]) -> Points:
    """Marks of these points inside a shot, in level pixels of the plane."""
    inside = marks.frames[(marks.frames >= shot.start) & (marks.frames < shot.stop)]
    own = marks.pick(names, inside)
    used = (np.isfinite(own.xy).all(-1) | own.hidden).any(-1)
    frames = own.frames[used]
    clock = clock_of(shot)
    real = bool(np.isfinite(shot.times[shot.start : shot.stop]).all())
    steps = np.diff(clock[shot.start : shot.stop])
    level = plane.level(own.xy[used])
    if plane.optics is not None:
        level[plane.optics.unclear(own.xy[used], own.sigma_px[used])] = np.nan
    return Points(
        tuple(names),
        frames,
        clock[frames],
        real,
        float(np.median(steps)) if len(steps) else 1.0,
        level,
        own.xy[used],
        own.sigma_px[used],
        own.origin[used] == int(Origin.hand),
        own.hidden[used],
    )


@dataclass(frozen=True, slots=True, eq=False)
class Smooth:
    """Points as their neighbours in time have them.

    Attributes
    ----------
    at : (K, P, 2) float array [px]
        Level places; the mark itself where it has too few neighbours; NaN where a frame is unmarked.
    speed : (K, P, 2) float array [px/s]
        NaN where a mark has too few neighbours.
    sigma : (K, P) float array [px]
        Standard deviation of each coordinate of ``at``.
    names : tuple of str, length P
    """

    at: NDArray[np.float64]
    speed: NDArray[np.float64]
    sigma: NDArray[np.float64]
    names: tuple[str, ...]

    def of(self, name: str) -> NDArray[np.float64]:
        """Places of one point. (K, 2) [px]"""
        return self.at[:, self.names.index(name)]

    def sigma_of(self, name: str) -> NDArray[np.float64]:
        """Standard deviation of one point's coordinates. (K,) [px]"""
        return self.sigma[:, self.names.index(name)]


def smooth(points: Points) -> Smooth:
    """A parabola in time around every mark, over ``localfit.half_width`` to each side; nearer marks count more.

    Marks by hand err independently, so that a fit knows more than any one of them. The errors of a track are alike over
    so short a stretch: there the fit's error is the mark's own.
    """
    known = np.asarray(np.isfinite(points.level).all(-1))
    sigma = np.where(known, points.sigma_px, np.nan)
    if not len(known):
        return Smooth(points.level.copy(), points.level.copy(), sigma, points.names)
    fit = _Sums(points.clock, half_width(points.step), known, points.level)
    told = known & (fit.count >= LEAST_FRAMES)
    value, speed, alone = fit.solved()
    at = np.where(told[..., None], value, points.level)
    sigma = sigma * np.where(told & points.by_hand, alone, 1.0)
    return Smooth(at, np.where(told[..., None], speed, np.nan), sigma, points.names)


class _Sums:
    """Weighted sums over the neighbours of every frame, each point with its own gaps, a neighbour at a time.

    ``count`` (K, P) says how many marks lie within reach of each frame.
    """

    def __init__(
        self, clock: NDArray[np.float64], reach: float, known: NDArray[np.bool_], level: NDArray[np.float64]
    ) -> None:
        first = np.searchsorted(clock, clock - reach, "right")
        last = np.searchsorted(clock, clock + reach, "left")
        marked, places = known.astype(float), np.where(known[..., None], level, 0.0)
        self.reach = reach
        self.count = np.zeros(known.shape)
        self.of_time = np.zeros((5, *known.shape))
        self.squared = np.zeros((5, *known.shape))
        self.of_place = np.zeros((3, *level.shape))
        for step in range(int((last - first).max())):
            near = np.minimum(first + step, len(clock) - 1)
            u = (clock[near] - clock) / reach
            kernel = np.where(first + step < last, 1 - u * u, 0.0)
            mark, place = marked[near], places[near]
            self.count += mark * (kernel > 0)[:, None]
            weight = kernel
            for power in range(5):
                self.of_time[power] += weight[:, None] * mark
                self.squared[power] += (kernel * weight)[:, None] * mark
                if power < 3:
                    self.of_place[power] += weight[:, None, None] * place
                weight = weight * u

    def solved(self) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
        """Value and speed (K, P, 2) at each frame, and the value's error as a share of one mark's (K, P)."""
        s0, s1, s2, s3, s4 = self.of_time
        # Cofactors of the normal equations' matrix of three by three.
        value = np.stack([s2 * s4 - s3 * s3, s2 * s3 - s1 * s4, s1 * s3 - s2 * s2])
        speed = np.stack([value[1], s0 * s4 - s2 * s2, s1 * s2 - s0 * s3])
        with np.errstate(invalid="ignore", divide="ignore"):
            whole = s0 * value[0] + s1 * value[1] + s2 * value[2]
            a, b, c = value / whole
            squares = (a * a, 2 * a * b, b * b + 2 * a * c, 2 * b * c, c * c)
            alone = np.sqrt(sum(q * w for q, w in zip(squares, self.squared, strict=True)))
            at = (value[..., None] * self.of_place).sum(0) / whole[..., None]
            moves = (speed[..., None] * self.of_place).sum(0) / whole[..., None] / self.reach
        return at, moves, np.asarray(alone)
