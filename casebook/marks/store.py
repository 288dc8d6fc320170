"""The mark store: every change is on disk when the call returns, and nothing automatic overwrites a coach's mark.

Beside ``<shot>.csv`` lie ``<shot>.journal`` (changes since the CSV was written, gone after closing) and ``<shot>.lock``
(held for the moment of a write, so that two programs take turns). Each write first reads what others wrote since, so
two open stores of one shot see and keep each other's marks. Opening and closing fold the journal into the CSV in one
step; killed at any moment between, the next opening does it again with the same result.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from casebook.errors import MarksError
from casebook.marks.board import CELL, NO_MARK, Cells, same_marks
from casebook.marks.csvfile import ORIGIN_CODES, ORIGIN_NAMES, check_frames, check_points, check_writable
from casebook.marks.ledger import Ledger
from casebook.marks.marks import HAND_SIGMA_PX, Marks, Origin
from casebook.marks.points import POINTS
from casebook.marks.stretches import AUTOMATIC, cells_over, confirmed, dropped, joined, pairs_of, swapped
from casebook.marks.table import check_initials

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray


@dataclass(frozen=True, slots=True)
class Mark:
    """One point on one frame: place [px] (NaN if hidden), error [px], where it came from and who set it."""

    x_px: float
    y_px: float
    sigma_px: float
    origin: Origin
    hidden: bool
    by: str


@dataclass(frozen=True, slots=True, eq=False)
class _Step:
    """What one change found and what it left."""

    before: Cells
    after: Cells


class MarkStore:
    """Marks of one shot, saved at once.

    Parameters
    ----------
    path_csv : Path or str
        ``<shot>.csv``; need not exist yet.
    clip_times : (N,) float array
        The clip's time of every frame, in file seconds from its first frame. [s]
    by : str
        Initials that new marks carry.
    on_change : callable, optional
        Called with the changed frame numbers after each change, those of other programs included once they are seen.

    Raises
    ------
    MarksError
        The files cannot be read (nothing is changed then), or a change asks for a frame or point that is not there.
    """

    def __init__(
        self,
        path_csv: Path | str,
        clip_times: ArrayLike,
        by: str = "",
        on_change: Callable[[tuple[int, ...]], None] | None = None,
    ) -> None:
        self.path = Path(path_csv)
        self.by = check_initials(by)
        self.on_change = on_change
        self._ledger = Ledger(self.path, np.asarray(clip_times, float))
        self._board = self._ledger.board
        self._undo: list[_Step] = []
        self._redo: list[_Step] = []
        self._closed = False

    def __repr__(self) -> str:
        count = self.marks.n_marked
        return f"MarkStore({self.path.stem}: {count} mark{'' if count == 1 else 's'})"

    def __enter__(self) -> MarkStore:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    # ---- reading ----------------------------------------------------------------------------------------------------

    @property
    def marks(self) -> Marks:
        """The marks as they stand: points and frames that hold one. Arrays are read-only."""
        return self._board.marks()[0]

    @property
    def signed(self) -> NDArray[np.object_]:
        """Initials of who set each mark, shape (F, P) as in ``marks``."""
        return self._board.marks()[1]

    def at(self, frame: int) -> dict[str, Mark]:
        """Marks of one frame by point name, hidden ones included; quick whatever the length of the clip."""
        self._check_frame(frame)
        row = self._board.cells[frame]
        return {POINTS[i]: self._mark(row[i]) for i in np.flatnonzero(row["origin"] > 0)}

    @property
    def can_undo(self) -> bool:
        """Whether there is a change since opening to take back."""
        return bool(self._undo)

    @property
    def can_redo(self) -> bool:
        """Whether there is a change taken back that can be made again."""
        return bool(self._redo)

    # ---- changing ---------------------------------------------------------------------------------------------------

    def put(
        self,
        frame: int,
        point: str,
        x_px: float,
        y_px: float,
        sigma_px: float = HAND_SIGMA_PX,
        origin: Origin = Origin.hand,
    ) -> bool:
        """Place a point; on disk when this returns. False if a mark of higher rank stands there and was kept."""
        numbers = np.array([x_px, y_px, sigma_px], float)
        if not np.isfinite(numbers).all() or sigma_px < 0:
            raise MarksError(
                f"{point} on frame {frame} was given the place ({x_px}, {y_px}) and the error {sigma_px}.",
                "All three are numbers of pixels, the error zero or more.",
            )
        return self._change(self._new(frame, point, numbers.tolist(), origin, hidden=False), ranked=True) > 0

    def hide(self, frame: int, point: str, origin: Origin = Origin.hand) -> bool:
        """Say that a point was looked for and cannot be seen. False if a mark of higher rank stands there."""
        return self._change(self._new(frame, point, [np.nan] * 3, origin, hidden=True), ranked=True) > 0

    def put_marks(self, marks: Marks, by: str | None = None) -> int:
        """Place many at once, as one change to undo; marks of higher rank stay. Returns how many were taken.

        Unmarked points of ``marks`` change nothing.
        """
        check_writable(marks, len(self._board.cells))
        signed = check_initials(self.by if by is None else by)
        return self._change(self._board.cells_of(marks, signed), ranked=True)

    def erase(self, frame: int, point: str) -> bool:
        """Take a mark away, whatever its rank: erasing is the coach's own act. False if there was none."""
        return self._change(self._cell(frame, point, NO_MARK), ranked=False) > 0

    # ---- changing a stretch, each as one change to undo -------------------------------------------------------------

    def confirm(self, points: Sequence[str], frames: int | Iterable[int]) -> int:
        """Make drafted and tracked marks of these points on these frames the coach's own, where they stand.

        They keep place and error, become ``confirmed`` and carry the initials of who looked at them; a point drafted as
        hidden is confirmed hidden. Returns how many marks that is.
        """
        signed = self._board.code(check_initials(self.by))
        return len(self._over(points, frames, lambda cells: confirmed(cells.mark, signed)))

    def swap_sides(self, frames: int | Iterable[int], points: Sequence[str]) -> int:
        """Exchange left and right of these points on a frame or on many; returns on how many frames something changed.

        Points whose other side is not among ``points`` stay. Each mark keeps its error, origin and initials, and goes
        over whatever its rank: the coach says that a whole body was taken the wrong way round.
        """
        check_points(list(points))
        changed = self._over(pairs_of(points), frames, lambda cells: swapped(self._board, cells))
        return len(np.unique(changed.frame))

    def drop(self, points: Sequence[str], frames: int | Iterable[int], origins: Collection[Origin] = AUTOMATIC) -> int:
        """Take away the marks of these points on these frames that came from ``origins``; returns how many.

        Unless asked for by origin, what the coach has set or confirmed stays.
        """
        return len(self._over(points, frames, lambda cells: dropped(cells.mark, origins)))

    def renew(
        self, marks: Marks, frames: int | Iterable[int], origins: Collection[Origin], by: str | None = None
    ) -> int:
        """Put ``marks`` in the place of all marks of the same points on ``frames`` that came from ``origins``.

        Marks of ``origins`` that are not among the new ones go; marks of higher rank stay, as in ``put_marks``. Returns
        how many of the new ones were taken.
        """
        check_writable(marks, len(self._board.cells))
        new = self._board.cells_of(marks, check_initials(self.by if by is None else by))
        old = cells_over(self._board, marks.points, frames)
        frame, point, place = joined(old, new)
        within = np.isin(frame, old.frame)
        taken = np.zeros(len(new), bool)

        def rule(cells: Cells) -> NDArray[np.void]:
            out = np.where(within, dropped(cells.mark, origins), cells.mark)
            np.greater_equal(new.mark["origin"], out["origin"][place], out=taken)
            out[place[taken]] = new.mark[taken]
            return out

        self._by_rule(frame, point, rule)
        return int(taken.sum())

    def undo(self) -> bool:
        """Take back the last change since opening. Marks that someone else set over it stay as they are."""
        return self._step(self._undo, self._redo, back=True)

    def redo(self) -> bool:
        """Make the last change taken back again."""
        return self._step(self._redo, self._undo, back=False)

    def refresh(self) -> tuple[int, ...]:
        """Take in what other programs wrote since; returns the frames that changed."""
        with self._locked():
            frames = self._ledger.catch_up()
        return self._tell(frames)

    def close(self) -> None:
        """Fold the journal into the CSV. Every change is safe without this; only the journal stays behind."""
        if not self._closed:
            self._ledger.close()
        self._closed = True

    # ---- inside -----------------------------------------------------------------------------------------------------

    def _new(self, frame: int, point: str, numbers: list[float], origin: Origin, *, hidden: bool) -> Cells:
        if origin not in ORIGIN_NAMES:
            raise MarksError(
                f"{point} on frame {frame} does not say where it came from.",
                f"Its origin is one of: {', '.join(ORIGIN_CODES)}.",
            )
        return self._cell(frame, point, (*numbers, int(origin), hidden, self._board.code(check_initials(self.by))))

    def _cell(self, frame: int, point: str, mark: tuple | NDArray[np.void]) -> Cells:
        self._check_frame(frame)
        check_points([point])
        return Cells(np.array([frame]), np.array([POINTS.index(point)]), np.array([mark], CELL).reshape(1))

    def _change(self, cells: Cells, *, ranked: bool) -> int:
        """Make one change; returns the number of marks it set, equal ones included, those outranked not."""
        taken = np.zeros(len(cells), bool)

        def rule(before: Cells) -> NDArray[np.void]:
            if ranked:
                np.greater_equal(cells.mark["origin"], before.mark["origin"], out=taken)
            else:
                np.greater(before.mark["origin"], Origin.unmarked, out=taken)
            return np.where(taken, cells.mark, before.mark)

        self._by_rule(cells.frame, cells.point, rule)
        return int(taken.sum())

    def _over(
        self, points: Sequence[str], frames: int | Iterable[int], rule: Callable[[Cells], NDArray[np.void]]
    ) -> Cells:
        cells = cells_over(self._board, points, frames)
        return self._by_rule(cells.frame, cells.point, rule)

    def _by_rule(
        self, frame: NDArray[np.int64], point: NDArray[np.int64], rule: Callable[[Cells], NDArray[np.void]]
    ) -> Cells:
        """Let ``rule`` say what these cells become, given what is truly there; returns those that changed."""
        with self._locked():
            frames = self._ledger.catch_up()
            before = self._board.at(frame, point)
            changed = self._commit(before, Cells(frame, point, rule(before)))
        self._tell(np.concatenate([frames, changed.frame]))
        return changed

    def _commit(self, before: Cells, after: Cells) -> Cells:
        """Write the cells that differ, as one step to undo; returns them."""
        keep = ~same_marks(before.mark, after.mark)
        step = _Step(before.where(keep), after.where(keep))
        if keep.any():
            self._ledger.commit(step.after)
            self._undo.append(step)
            self._redo.clear()
        return step.after

    def _step(self, source: list[_Step], target: list[_Step], *, back: bool) -> bool:
        with self._locked():
            frames = self._ledger.catch_up()
            changed = False
            while source and not changed:
                step = source[-1]
                was = step.after if back else step.before
                mine = same_marks(self._board.at(was.frame, was.point).mark, was.mark)
                if changed := bool(mine.any()):
                    # What someone else set since is no longer part of this step, forward or back.
                    step = _Step(step.before.where(mine), step.after.where(mine))
                    self._ledger.commit(step.before if back else step.after)
                    target.append(step)
                    frames = np.concatenate([frames, step.after.frame])
                source.pop()
        self._tell(frames)
        return changed

    def _mark(self, cell: np.void) -> Mark:
        x, y, sigma, origin, hidden, by = cell.item()
        return Mark(x, y, sigma, Origin(origin), bool(hidden), self._board.initials[by])

    def _check_frame(self, frame: int) -> None:
        check_frames(np.array([frame], np.int64), len(self._board.cells))

    def _tell(self, frames: NDArray[np.int64]) -> tuple[int, ...]:
        changed = tuple(np.unique(frames).tolist())
        if changed and self.on_change is not None:
            self.on_change(changed)
        return changed

    @contextmanager
    def _locked(self) -> Iterator[None]:
        if self._closed:
            raise MarksError(f"The marks of {self.path.stem} were closed.", "Open the shot again to change them.")
        with self._ledger.held():
            yield
