"""The grid of swimmer by checkpoint as the coach sees it by eye: ``grid.csv``, saved whole at every key.

Columns: ``number``, ``checkpoint``, ``answer`` (fine, look again, fault), ``fault`` (a key of the knowledge, may be
empty), ``by`` (initials). A cell that was not seen has no row. Two programs may write in turn: each change is made to
the file as it then stands.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from filelock import FileLock, Timeout

from casebook.checkpoints.advice import load_advice
from casebook.errors import SquadError
from casebook.squad.asking import ANSWERS, FAULT
from casebook.squad.rows import Row, read_rows, whole, write_rows
from casebook.words import CHECKPOINTS

COLUMNS = ("number", "checkpoint", "answer", "fault", "by")
REMARKS = ("What the coach saw by eye. Made by the grid; a cell that was not seen has no row.",)
#: How long a change waits for another program to finish its own. [s]
LOCK_TIMEOUT_S = 10.0
Place = tuple[int, str]


@dataclass(frozen=True, slots=True)
class Cell:
    """What was seen: ``fine``, ``look again`` or ``fault``, and of a fault which one, by its key, or empty."""

    answer: str
    fault: str = ""
    by: str = ""


@dataclass(frozen=True, slots=True)
class Step:
    """One change of one cell, for undoing it; None: not seen."""

    place: Place
    before: Cell | None
    after: Cell | None


def read_grid(path: Path) -> dict[Place, Cell]:
    """The cells by number and checkpoint, none if there is no file; raises SquadError naming the line."""
    if not path.is_file():
        return {}
    cells: dict[Place, Cell] = {}
    for row in read_rows(path, COLUMNS, needed=COLUMNS[:3]):
        place, cell = _cell(path, row)
        if place in cells:
            raise SquadError(
                f"{path.name}, line {row.line}: number {place[0]}, {place[1]} stands there twice.", "Delete one line."
            )
        cells[place] = cell
    return cells


@dataclass(slots=True)
class Grid:
    """The grid of a squad, with undo. Every change is on disk before the call returns."""

    path: Path
    by: str = ""
    _done: list[Step] = field(default_factory=list)
    _undone: list[Step] = field(default_factory=list)

    @property
    def cells(self) -> Mapping[Place, Cell]:
        """What the file holds now."""
        return read_grid(self.path)

    def put(self, number: int, checkpoint: str, answer: str, fault: str = "") -> None:
        """Say what was seen; an empty answer clears the cell.

        Raises
        ------
        SquadError
            Unknown checkpoint, answer or fault, or the file could not be written. The file is then as it was.
        """
        after = Cell(answer, fault, self.by) if answer else None
        if after is not None:
            _check(checkpoint, after, f"number {number}, {checkpoint}")
        with self._held() as cells:
            place = (number, checkpoint)
            before = cells.get(place)
            if (before and (before.answer, before.fault)) == (after and (after.answer, after.fault)):
                return
            self._write(cells, place, after)
            self._done.append(Step(place, before, after))
            self._undone.clear()

    def undo(self) -> Place | None:
        """Take back the last change made here; returns its cell, None if there is none."""
        return self._step(self._done, self._undone, back=True)

    def redo(self) -> Place | None:
        """Make the change again that was taken back last; returns its cell, None if there is none."""
        return self._step(self._undone, self._done, back=False)

    def _step(self, take: list[Step], give: list[Step], *, back: bool) -> Place | None:
        if not take:
            return None
        step = take[-1]
        now, then = (step.after, step.before) if back else (step.before, step.after)
        with self._held() as cells:
            if cells.get(step.place) != now:
                take.pop()
                raise SquadError(
                    f"Number {step.place[0]}, {step.place[1]} was changed elsewhere meanwhile.", "It was left as it is."
                )
            self._write(cells, step.place, then)
        give.append(take.pop())
        return step.place

    def _write(self, cells: dict[Place, Cell], place: Place, cell: Cell | None) -> None:
        cells.pop(place, None)
        if cell is not None:
            cells[place] = cell
        order = list(CHECKPOINTS)
        rows = sorted(cells.items(), key=lambda item: (item[0][0], order.index(item[0][1])))
        write_rows(self.path, COLUMNS, [(*at, c.answer, c.fault, c.by) for at, c in rows], REMARKS)

    @contextmanager
    def _held(self) -> Iterator[dict[Place, Cell]]:
        """The cells as they stand on disk, while nobody else writes."""
        lock = FileLock(self.path.with_suffix(".lock"))
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            lock.acquire(timeout=LOCK_TIMEOUT_S)
        except Timeout:
            raise SquadError(
                f'Another program has been writing "{self.path.name}" for {LOCK_TIMEOUT_S:g} s.',
                "Close it and try again.",
            ) from None
        except OSError as error:
            raise SquadError(f'"{self.path.name}" cannot be written here ({error}).', "Check the folder.") from None
        try:
            yield read_grid(self.path)
        except OSError as error:
            raise SquadError(
                f'The change to "{self.path.name}" could not be saved ({error.strerror or error}).', "Make it again."
            ) from error
        finally:
            lock.release()


def _cell(path: Path, row: Row) -> tuple[Place, Cell]:
    checkpoint, cell = row["checkpoint"], Cell(row["answer"], row["fault"], row["by"])
    _check(checkpoint, cell, f"{path.name}, line {row.line}")
    return (whole(path, row, "number"), checkpoint), cell


def _check(checkpoint: str, cell: Cell, where: str) -> None:
    if checkpoint not in CHECKPOINTS:
        raise SquadError(f'{where}: "{checkpoint[:40]}" is not a checkpoint.', f"Use one of: {', '.join(CHECKPOINTS)}.")
    if cell.answer not in ANSWERS.values():
        raise SquadError(f'{where}: "{cell.answer[:40]}" is no answer.', f"Use one of: {', '.join(ANSWERS.values())}.")
    faults = [f.key for f in load_advice(checkpoint).faults]
    if cell.fault and (cell.answer != FAULT or cell.fault not in faults):
        raise SquadError(
            f'{where}: "{cell.fault[:40]}" does not go with "{cell.answer}" here.', f"Faults are: {', '.join(faults)}."
        )
