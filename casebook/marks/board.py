"""The marks of a shot in memory: one cell per frame and point, changed in place, read out as ``Marks``."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from casebook.marks.marks import Marks
from casebook.marks.points import POINTS

if TYPE_CHECKING:
    from numpy.typing import NDArray

#: One mark. ``origin`` 0 is no mark; ``by`` is a number in the board's list of initials.
CELL = np.dtype([("x_px", "f8"), ("y_px", "f8"), ("sigma_px", "f8"), ("origin", "i1"), ("hidden", "?"), ("by", "i4")])
NO_MARK = np.array((np.nan, np.nan, np.nan, 0, False, 0), CELL)


@dataclass(frozen=True, slots=True, eq=False)
class Cells:
    """Some cells by frame and point: ``frame`` and ``point`` (n,) int arrays, ``mark`` (n,) array of ``CELL``."""

    frame: NDArray[np.int64]
    point: NDArray[np.int64]
    mark: NDArray[np.void]

    def __len__(self) -> int:
        return len(self.frame)

    def where(self, keep: NDArray[np.bool_] | slice) -> Cells:
        """The cells for which ``keep`` (n,) is true, or a slice of them."""
        return Cells(self.frame[keep], self.point[keep], self.mark[keep])


class Board:
    """All cells of a shot of ``n_frames`` frames and the 27 points; 30 bytes each, so every change costs the same."""

    def __init__(self, n_frames: int) -> None:
        self.cells = np.full((n_frames, len(POINTS)), NO_MARK, CELL)
        self.initials = [""]
        self._codes = {"": 0}
        self._read: tuple[Marks, NDArray[np.object_]] | None = None

    def code(self, by: str) -> int:
        """Number of these initials on this board."""
        if by not in self._codes:
            self._codes[by] = len(self.initials)
            self.initials.append(by)
        return self._codes[by]

    def at(self, frame: NDArray[np.int64], point: NDArray[np.int64]) -> Cells:
        """The cells as they stand now (a copy)."""
        return Cells(frame, point, self.cells[frame, point])

    def set(self, cells: Cells) -> None:
        """Replace these cells."""
        self.cells[cells.frame, cells.point] = cells.mark
        self._read = None

    def replace(self, cells: NDArray[np.void]) -> None:
        """Replace all cells, (n_frames, 27); initials stay known."""
        self.cells[:] = cells
        self._read = None

    def cells_of(self, marks: Marks, by: str | NDArray[np.object_]) -> Cells:
        """What ``marks`` holds, placed or hidden, as cells of this board."""
        row, column = np.nonzero(np.isfinite(marks.xy[..., 0]) | marks.hidden)
        mark = np.full(len(row), NO_MARK, CELL)
        mark["x_px"], mark["y_px"] = marks.xy[row, column, 0], marks.xy[row, column, 1]
        mark["sigma_px"], mark["origin"] = marks.sigma_px[row, column], marks.origin[row, column]
        mark["hidden"] = marks.hidden[row, column]
        if isinstance(by, str):
            mark["by"] = self.code(by)
        else:
            mark["by"] = [self.code(name) for name in by[row, column].tolist()]
        points = np.array([POINTS.index(p) for p in marks.points], np.int64)
        return Cells(marks.frames[row], points[column], mark)

    def marks(self) -> tuple[Marks, NDArray[np.object_]]:
        """Points and frames that hold a mark, as ``Marks`` and the (F, P) initials. Arrays are copies, read-only."""
        if self._read is None:
            self._read = self._read_out()
        return self._read

    def _read_out(self) -> tuple[Marks, NDArray[np.object_]]:
        held = self.cells["origin"] > 0
        frames, columns = np.flatnonzero(held.any(1)), np.flatnonzero(held.any(0))
        part = self.cells[np.ix_(frames, columns)]
        xy = np.stack([part["x_px"], part["y_px"]], -1)
        arrays = (xy, part["sigma_px"].copy(), part["origin"].copy(), part["hidden"].copy())
        signed = np.array(self.initials, object)[part["by"]]
        for array in (frames, signed, *arrays):
            array.flags.writeable = False
        return Marks(tuple(POINTS[i] for i in columns), frames, *arrays), signed


def same_marks(a: NDArray[np.void], b: NDArray[np.void]) -> NDArray[np.bool_]:
    """Where two (n,) arrays of ``CELL`` say the same; empty places are equal."""
    equal = np.ones(len(a), bool)
    for name in CELL.names or ():
        equal &= (a[name] == b[name]) | ((a[name] != a[name]) & (b[name] != b[name]))
    return equal
