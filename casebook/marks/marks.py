"""Marks: points on frames, each with its error and where it came from."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import IntEnum
from typing import TYPE_CHECKING

import numpy as np

from casebook.errors import MarksError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

#: Standard deviation per coordinate of a hand mark at full resolution, until the coach has measured his own. [px]
#: common practice, no source
HAND_SIGMA_PX = 2.0


class Origin(IntEnum):
    """Where a mark came from, in rank: nothing automatic overwrites ``confirmed`` or ``hand``."""

    unmarked = 0
    drafted = 1
    tracked = 2
    confirmed = 3
    hand = 4


@dataclass(frozen=True, slots=True, eq=False)
class Marks:
    """Marked points over frames.

    Attributes
    ----------
    points : tuple of str, length P
        Names from ``points.POINTS``.
    frames : (F,) int array, increasing
        Frame numbers in the clip's own counting.
    xy : (F, P, 2) float array [px]
        x right, y down, pixel centres at integers; NaN where unmarked or hidden.
    sigma_px : (F, P) float array [px]
        Standard deviation per coordinate, isotropic; NaN where unmarked.
    origin : (F, P) int array
        Values of ``Origin``.
    hidden : (F, P) bool array
        Looked for and not to be seen; not the same as unmarked.
    """

    points: tuple[str, ...]
    frames: NDArray[np.int64]
    xy: NDArray[np.float64]
    sigma_px: NDArray[np.float64]
    origin: NDArray[np.int8]
    hidden: NDArray[np.bool_]

    def __post_init__(self) -> None:
        f, p = len(self.frames), len(self.points)
        shapes = (self.xy.shape, self.sigma_px.shape, self.origin.shape, self.hidden.shape)
        if shapes != ((f, p, 2), (f, p), (f, p), (f, p)):
            raise MarksError(f"Marks of {f} frames and {p} points were handed arrays of shapes {shapes}.")
        if f > 1 and np.any(np.diff(self.frames) <= 0):
            raise MarksError("Frames of marks must increase.")

    @classmethod
    def empty(cls, points: Sequence[str], frames: Sequence[int] | NDArray[np.int64]) -> Marks:
        """No mark yet, for these points on these frames."""
        f, p = len(frames), len(points)
        return cls(
            tuple(points),
            np.asarray(frames, np.int64),
            np.full((f, p, 2), np.nan),
            np.full((f, p), np.nan),
            np.zeros((f, p), np.int8),
            np.zeros((f, p), bool),
        )

    @classmethod
    def from_arrays(
        cls,
        points: Sequence[str],
        frames: Sequence[int] | NDArray[np.int64],
        xy: NDArray[np.float64],
        sigma_px: float | NDArray[np.float64] = HAND_SIGMA_PX,
        origin: Origin = Origin.hand,
    ) -> Marks:
        """Marks of one origin from an (F, P, 2) array with NaN where unmarked."""
        xy = np.asarray(xy, float)
        seen: NDArray[np.bool_] = np.asarray(np.isfinite(xy).all(-1))
        sigma = np.where(seen, np.broadcast_to(sigma_px, seen.shape), np.nan)
        return cls(
            tuple(points),
            np.asarray(frames, np.int64),
            np.where(seen[..., None], xy, np.nan),
            sigma,
            np.where(seen, int(origin), 0).astype(np.int8),
            np.zeros(seen.shape, bool),
        )

    def index(self, point: str) -> int:
        """Column of a point; raises MarksError naming what there is."""
        try:
            return self.points.index(point)
        except ValueError:
            raise MarksError(
                f'No point "{point}" in these marks.', f"They hold: {', '.join(self.points) or 'nothing yet'}."
            ) from None

    def pick(self, points: Sequence[str], frames: NDArray[np.int64] | None = None) -> Marks:
        """The same marks for these points (NaN columns where a point is not held) and, if given, these frames."""
        out = Marks.empty(points, self.frames)
        for j, name in enumerate(points):
            if name in self.points:
                i = self.points.index(name)
                out.xy[:, j], out.sigma_px[:, j] = self.xy[:, i], self.sigma_px[:, i]
                out.origin[:, j], out.hidden[:, j] = self.origin[:, i], self.hidden[:, i]
        if frames is None:
            return out
        keep = np.isin(out.frames, frames)
        return replace(
            out,
            frames=out.frames[keep],
            xy=out.xy[keep],
            sigma_px=out.sigma_px[keep],
            origin=out.origin[keep],
            hidden=out.hidden[keep],
        )

    def at(self, frame: int) -> dict[str, tuple[float, float]]:
        """Marked points of one frame: name -> (x, y) [px]."""
        row = np.flatnonzero(self.frames == frame)
        if not len(row):
            return {}
        xy = self.xy[row[0]]
        return {n: (float(x), float(y)) for n, (x, y) in zip(self.points, xy, strict=True) if np.isfinite(x)}

    @property
    def n_marked(self) -> int:
        """Number of points marked, over all frames."""
        return int(np.isfinite(self.xy).all(-1).sum())
