"""One arm's marks over the frames of a shot, ready to be measured."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from casebook.marks.marks import Origin
from casebook.plane.propagate import track_covariance

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from casebook.clip.shot import Shot
    from casebook.marks.marks import Marks

#: Points of an arm in the order of every array here; the first four are needed for the catch.
ARM_POINTS = ("shoulder", "elbow", "wrist", "fingertip", "knuckle", "hip")
SHOULDER, ELBOW, WRIST, FINGERTIP, KNUCKLE, HIP = range(6)
NEEDED = 4


@dataclass(frozen=True, slots=True, eq=False)
class Arm:
    """Marks of one arm on the frames where any of its first four points is marked.

    Attributes
    ----------
    side : str
        ``l`` or ``r``.
    frames : (K,) int array
        Frame numbers of the clip.
    clock : (K,) float array [s]
        What runs evenly along a track: real time, or the file's own where the slow motion is not known.
    times : (K,) float array [s]
        Real time; NaN where not known.
    xy : (K, 6, 2) float array [px]
        Picture coordinates of ``ARM_POINTS``; NaN where unmarked or hidden.
    sigma_px : (K, 6) float array [px]
    by_hand : (K, 6) bool array
        Placed by hand: its error is its own. The errors of other marks are alike along the track.
    step : float
        Usual time between two frames of the clip, by ``clock``. [s]
    """

    side: str
    frames: NDArray[np.int64]
    clock: NDArray[np.float64]
    times: NDArray[np.float64]
    xy: NDArray[np.float64]
    sigma_px: NDArray[np.float64]
    by_hand: NDArray[np.bool_]
    step: float

    @property
    def complete(self) -> NDArray[np.bool_]:
        """(K,) frames on which shoulder, elbow, wrist and fingertip are all marked."""
        return np.asarray(np.isfinite(self.xy[:, :NEEDED]).all((-1, -2)))

    @property
    def real(self) -> bool:
        """Real time is known on every frame; if not, the clock runs slower than the pool's."""
        return bool(np.isfinite(self.times).all())

    def part(self, rows: NDArray[np.int64] | NDArray[np.bool_]) -> Arm:
        """The same arm on some of its rows."""
        return Arm(
            self.side, self.frames[rows], self.clock[rows], self.times[rows], self.xy[rows], self.sigma_px[rows],
            self.by_hand[rows], self.step,
        )  # fmt: skip


def arm_of(shot: Shot, marks: Marks, side: str) -> Arm:
    """The marks of one arm inside a shot."""
    inside = marks.frames[(marks.frames >= shot.start) & (marks.frames < shot.stop)]
    own = marks.pick([f"{name}_{side}" for name in ARM_POINTS], inside)
    used = np.isfinite(own.xy[:, :NEEDED]).all(-1).any(-1)
    frames = own.frames[used]
    real, clock = shot.times, clock_of(shot)
    steps = np.diff(clock[shot.start : shot.stop])
    return Arm(
        side,
        frames,
        clock[frames],
        real[frames],
        own.xy[used],
        own.sigma_px[used],
        own.origin[used] == int(Origin.hand),
        float(np.median(steps)) if len(steps) else 1.0,
    )


def clock_of(shot: Shot) -> NDArray[np.float64]:
    """What runs evenly along a track: real time of every frame of the clip, or the file's own where that is not known.

    (N,) [s]
    """
    real = shot.times
    return real if np.isfinite(real[shot.start : shot.stop]).all() else np.asarray(shot.clip.times, float)


def covariance(arm: Arm) -> NDArray[np.float64]:
    """Covariance of an arm's marks among frames, per point and alike for x and y.

    By ``plane.propagate.track_covariance``: hand marks err independently, others keep their error along the track.

    Returns
    -------
    (6, K, K) float array [px^2]
        Zero for points that are not marked.
    """
    return track_covariance(_sigma(arm), arm.by_hand, arm.clock)


def _sigma(arm: Arm) -> NDArray[np.float64]:
    """(K, 6) standard deviation of each mark, NaN where it is not marked. [px]"""
    return np.where(np.isfinite(arm.xy).all(-1), arm.sigma_px, np.nan)
