"""What is done to many marks at once: points over a stretch of frames, as rules that turn cells into other cells.

A rule sees the cells as they stand and says what they become; the store makes that one change, so that a whole stretch
is one step to undo and is on disk entirely or not at all.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from typing import TYPE_CHECKING

import numpy as np

from casebook.marks.board import NO_MARK, Board, Cells
from casebook.marks.csvfile import check_frames, check_points
from casebook.marks.marks import Origin
from casebook.marks.points import POINTS, mirrored

if TYPE_CHECKING:
    from numpy.typing import NDArray

#: Origins of marks that nobody has looked at.
AUTOMATIC = (Origin.drafted, Origin.tracked)


def cells_over(board: Board, points: Sequence[str], frames: int | Iterable[int]) -> Cells:
    """The cells of these points on these frames as they stand; MarksError for a point or frame that is not there."""
    check_points(list(points))
    wanted = np.unique(np.array([frames] if isinstance(frames, (int, np.integer)) else list(frames), np.int64))
    check_frames(wanted, len(board.cells))
    columns = np.array([POINTS.index(p) for p in points], np.int64)
    return board.at(np.repeat(wanted, len(columns)), np.tile(columns, len(wanted)))


def confirmed(mark: NDArray[np.void], by: int) -> NDArray[np.void]:
    """Drafted and tracked marks (n,) made the coach's own; place and error stay, ``by`` is his number on the board."""
    out = mark.copy()
    seen = np.isin(out["origin"], AUTOMATIC)
    out["origin"][seen], out["by"][seen] = Origin.confirmed, by
    return out


def dropped(mark: NDArray[np.void], origins: Collection[Origin]) -> NDArray[np.void]:
    """The marks (n,) without those of these origins."""
    out = mark.copy()
    out[np.isin(out["origin"], list(origins))] = NO_MARK
    return out


def swapped(board: Board, cells: Cells) -> NDArray[np.void]:
    """The marks (n,) with left and right exchanged; each keeps its error, origin and initials, hidden ones too."""
    other = np.array([POINTS.index(mirrored(POINTS[i])) for i in range(len(POINTS))], np.int64)
    return board.at(cells.frame, other[cells.point]).mark


def pairs_of(points: Sequence[str]) -> tuple[str, ...]:
    """Those of the points whose other side is among them too."""
    return tuple(p for p in points if mirrored(p) != p and mirrored(p) in points)


def joined(a: Cells, b: Cells) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]:
    """Frames and points (n,) of every cell of either, each once, and where the cells of ``b`` stand among them."""
    keys = np.concatenate([c.frame * len(POINTS) + c.point for c in (a, b)])
    every, place = np.unique(keys, return_inverse=True)
    frame, point = np.divmod(every, len(POINTS))
    return frame, point, place[len(a) :]
