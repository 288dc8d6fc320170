"""Marks of a shot on disk and in memory, kept in step: a CSV, a journal of what changed since, and a board."""

from __future__ import annotations

import glob
import shutil
import warnings
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from casebook.marks.board import NO_MARK, Board, Cells, same_marks
from casebook.marks.csvfile import read_signed, write_marks
from casebook.marks.journal import Journal, cells_from
from casebook.marks.lock import CannotWrite, WriteLock, signature_of

if TYPE_CHECKING:
    from contextlib import AbstractContextManager

    from numpy.typing import NDArray


class Ledger:
    """The board of a shot with its two files.

    ``catch_up`` and ``commit`` are called with the lock ``held``, one after the other, so that a change is always made
    to what is truly there. Opening and closing fold the journal into the CSV.
    """

    def __init__(self, path_csv: Path, times: NDArray[np.float64]) -> None:
        self.path = path_csv
        self.board = Board(len(times))
        self._times = times
        self._lock = WriteLock(path_csv)
        self._journal = Journal(path_csv.with_suffix(".journal"))
        self._signature: tuple[int, ...] | None = None
        self._token, self._end = "", 0
        self._damaged = self._older = False
        self._open()

    def held(self) -> AbstractContextManager[None]:
        """The lock that lets one program at a time write."""
        return self._lock.held()

    def catch_up(self) -> NDArray[np.int64]:
        """Bring the board to what is on disk; returns the frames that changed."""
        touched = [np.zeros(0, np.int64)]
        signature = signature_of(self.path)
        if signature != self._signature:
            touched.append(self._reload())
            self._signature, self._token, self._end = signature, "", 0
        tail = self._journal.read(self._token, self._end)
        if tail is None:
            self._token, self._end, self._older = "", 0, False
            return touched[-1]
        for change in tail.changes:
            cells = cells_from(change, self.board, self._journal.path)
            self.board.set(cells)
            touched.append(cells.frame)
        self._token, self._end, self._older = tail.token, tail.end, tail.older
        self._damaged |= tail.damaged > 0 or (bool(tail.changes) and not tail.token)
        return np.unique(np.concatenate(touched))

    def commit(self, cells: Cells) -> None:
        """Make one change: on disk first, then on the board."""
        if self._damaged or self._older:
            self._fold()
        self._token, self._end = self._journal.append(self._token, self._end, cells, self.board)
        self.board.set(cells)

    def close(self) -> None:
        """Fold the journal into the CSV; in a read-only folder it stays."""
        if self._journal.path.exists():
            with suppress(CannotWrite), self.held():
                self.catch_up()
                self._fold()

    def _open(self) -> None:
        if not self._journal.path.exists():
            self.catch_up()
            # Unchanged and still no journal: no other program was folding one in meanwhile, so no lock was needed.
            if not self._journal.path.exists() and signature_of(self.path) == self._signature:
                return
        try:
            with self.held():
                self.catch_up()
                for part in self.path.parent.glob(f".{glob.escape(self.path.name)}.*.part"):
                    part.unlink(missing_ok=True)
                self._fold()
        except CannotWrite:
            self.catch_up()

    def _reload(self) -> NDArray[np.int64]:
        """Read the CSV afresh; initials keep their numbers, which changes that can be undone rely on."""
        old, fresh = self.board.cells, np.full_like(self.board.cells, NO_MARK)
        if self.path.exists():
            cells = self.board.cells_of(*read_signed(self.path, self._times))
            fresh[cells.frame, cells.point] = cells.mark
        changed = ~same_marks(old.ravel(), fresh.ravel()).reshape(old.shape)
        self.board.replace(fresh)
        return np.flatnonzero(changed.any(1))

    def _fold(self) -> None:
        """CSV first, then the journal goes; a journal read once more over its own CSV changes nothing."""
        if not self._journal.path.exists():
            return
        if self._damaged:
            kept = self._journal.path.with_suffix(".journal.damaged")
            shutil.copy2(self._journal.path, kept)
            warnings.warn(
                f'Some lines of "{self._journal.path.name}" were damaged and left out; all others were read. '
                f'A copy is kept as "{kept.name}".',
                stacklevel=2,
            )
            self._damaged = False
        marks, signed = self.board.marks()
        write_marks(self.path, marks, self._times, signed)
        self._signature = signature_of(self.path)
        self._journal.remove()
        self._token, self._end, self._older = "", 0, False
