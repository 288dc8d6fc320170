"""The gaps between the coach's own marks, and the path that his marks alone foretell through them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from casebook.marks.marks import Marks, Origin

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

#: Where a run of marks begins or ends, the path's slope has a mark on one side only: it may be wrong by this share of
#: the speed between the marks and of one pixel a picture. None at all lost a tenth more at 5 frames between marks; two
#: to three times as much missed further at 20 (``rowan_side``, ``wren_side``).
SHARE_AT_END = 0.2


@dataclass(frozen=True, slots=True, eq=False)
class Gaps:
    """What lies between hand or confirmed marks of each point.

    Attributes
    ----------
    points : tuple of str, length P
    first : int
        Frame number of row 0; the rows are all N frames from the first mark to the last.
    held : (N, P) bool array
        A hand or confirmed mark stands here.
    open : (N, P) bool array
        Between two neighbouring marks of the point. Where the coach said on either side that the point is hidden,
        nothing is open: nobody knows when it went.
    path : (N, P, 2) float array
        Cubic Hermite curve through the marks, its slopes from the marks on both sides; NaN elsewhere. [px]
    bend : (N, P) float array
        The pace at which the path may be wrong: how far it leaves the straight line between the two marks, as the
        speed of a half wave of that height over the gap; at the ends of a run of marks not less than
        ``SHARE_AT_END`` says. Constant in a gap, 0 elsewhere. [px per frame]
    to_before, to_after : (N, P) int array
        Frames to the mark before and after; 0 where nothing is open.
    seconds : (N, P) float array
        Real time from mark to mark; 0 where nothing is open. [s]
    sigma_before, sigma_after : (N, P) float array
        Error of these two marks; NaN where nothing is open. [px]
    """

    points: tuple[str, ...]
    first: int
    held: NDArray[np.bool_]
    open: NDArray[np.bool_]
    path: NDArray[np.float64]
    bend: NDArray[np.float64]
    to_before: NDArray[np.int64]
    to_after: NDArray[np.int64]
    seconds: NDArray[np.float64]
    sigma_before: NDArray[np.float64]
    sigma_after: NDArray[np.float64]

    def stretches(self) -> list[slice]:
        """Rows of each unbroken stretch of frames with something open, with one frame more at both ends."""
        busy = self.open.any(1).astype(np.int8)
        edges = np.flatnonzero(np.diff(busy, prepend=0, append=0))
        starts, stops = edges[::2] - 1, edges[1::2] + 1
        return [slice(a, b) for a, b in zip(starts.tolist(), stops.tolist(), strict=True)]


def gaps_between(
    marks: Marks, points: Sequence[str], start: int, stop: int, times: NDArray[np.float64], unit: float = 1.0
) -> Gaps:
    """The gaps of these points inside the frames ``start`` to ``stop`` (exclusive).

    ``times`` are the real times of all frames of the clip [s]; a pixel counts ``unit`` pixels.
    """
    inside = (marks.frames >= start) & (marks.frames < stop)
    own = marks.pick(points, marks.frames[inside])
    decided = own.origin >= Origin.confirmed
    rows = own.frames[decided.any(1)]
    first = int(rows[0]) if len(rows) else start
    shape = (int(rows[-1]) - first + 1 if len(rows) else 0, len(points))
    gaps = Gaps(
        tuple(points), first, np.zeros(shape, bool), np.zeros(shape, bool), np.full((*shape, 2), np.nan),
        np.zeros(shape), np.zeros(shape, np.int64), np.zeros(shape, np.int64), np.zeros(shape),
        np.full(shape, np.nan), np.full(shape, np.nan),
    )  # fmt: skip
    for column in range(len(points)):
        at = np.flatnonzero(decided[:, column])
        seen = ~own.hidden[at, column] & np.isfinite(own.xy[at, column]).all(-1)
        # Runs of marks that no hidden one interrupts.
        for run in np.split(at, np.flatnonzero(np.diff(seen.astype(np.int8))) + 1):
            if len(run) and not own.hidden[run[0], column] and np.isfinite(own.xy[run[0], column]).all():
                _lay(gaps, column, own.frames[run] - first, own.xy[run, column], own.sigma_px[run, column], times, unit)
    return gaps


def _lay(
    gaps: Gaps,
    column: int,
    rows: NDArray[np.int64],
    xy: NDArray[np.float64],
    sigma: NDArray[np.float64],
    times: NDArray[np.float64],
    unit: float,
) -> None:
    """Enter one run of marks of one point."""
    gaps.held[rows, column] = True
    gaps.path[rows, column] = xy
    between = np.setdiff1d(np.arange(rows[0], rows[-1] + 1), rows)
    if not len(between):
        return
    i = np.searchsorted(rows, between) - 1
    before, after = between - rows[i], rows[i + 1] - between
    long = (rows[i + 1] - rows[i])[:, None].astype(float)
    u = before[:, None] / long
    slope = np.gradient(xy, rows.astype(float), axis=0)
    straight = xy[i] + u * (xy[i + 1] - xy[i])
    chord = xy[i + 1] - xy[i]
    curve = straight + u * (1 - u) * ((1 - u) * (slope[i] * long - chord) - u * (slope[i + 1] * long - chord))
    height = np.zeros(len(rows))
    np.maximum.at(height, i, np.linalg.norm(curve - straight, axis=-1))
    at_end = (i == 0) | (i == len(rows) - 2)
    least = SHARE_AT_END * at_end * (np.linalg.norm(chord, axis=-1) / long[:, 0] + unit)
    gaps.open[between, column] = True
    gaps.path[between, column] = curve
    gaps.bend[between, column] = np.maximum(height[i] * np.pi / long[:, 0], least)
    gaps.to_before[between, column], gaps.to_after[between, column] = before, after
    at = times[rows + gaps.first]
    gaps.seconds[between, column] = at[i + 1] - at[i]
    gaps.sigma_before[between, column], gaps.sigma_after[between, column] = sigma[i], sigma[i + 1]
