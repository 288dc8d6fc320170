"""The cells of a small table as numbers and words, each checked and, if wrong, named by line and column."""

from __future__ import annotations

import difflib
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

import numpy as np

from casebook.errors import MarksError

if TYPE_CHECKING:
    from numpy.typing import NDArray

UNTOUCHED = "The file is as it was: correct that place, save it and open it again."


@dataclass(frozen=True, slots=True)
class Table:
    """Rows of one file as columns of text, each row with the line it came from."""

    path: Path
    lines: list[int]
    columns: Mapping[str, Sequence[str]]
    decimal_comma: bool = False

    def __len__(self) -> int:
        return len(self.lines)

    def fail(self, row: int, column: str, what: str, remedy: str = UNTOUCHED) -> NoReturn:
        """Raise MarksError for one cell."""
        line = self.lines[row]
        raise MarksError(
            f"{self.path.name}, line {line}, column {column}: {what}",
            remedy,
            path=self.path,
            line=line,
            column=column,
        )

    @contextmanager
    def cell(self, row: int, column: str) -> Iterator[None]:
        """What a row's maker finds wrong, told with the line it stands in."""
        try:
            yield
        except MarksError as error:
            self.fail(row, column, error.problem, f"{error.remedy} {UNTOUCHED}")

    def floats(self, column: str, *, blank: bool = False) -> NDArray[np.float64]:
        """A column of numbers, shape (rows,); NaN for empty cells where ``blank`` allows them."""
        cells = self.columns[column]
        if self.decimal_comma:
            cells = [c.replace(",", ".") for c in cells]
        if _plain_numbers(cells):
            try:
                values = np.fromiter((float(c or "nan") for c in cells), float, len(cells))
            except ValueError:
                values = np.full(len(cells), np.nan)
            finite = np.isfinite(values)
            if finite.all() or (blank and all(not cells[i] for i in np.flatnonzero(~finite).tolist())):
                return values
        return np.array([self._number(i, column, blank) for i in range(len(cells))], float)

    def whole(self, column: str) -> NDArray[np.int64]:
        """A column of whole numbers, shape (rows,)."""
        cells = self.columns[column]
        if _plain_numbers(cells):
            try:
                return np.fromiter(map(int, cells), np.int64, len(cells))
            except (ValueError, OverflowError):
                pass
        return np.array([self._whole(i, column) for i in range(len(cells))], np.int64)

    def coded(self, column: str, codes: Mapping[str, int]) -> NDArray[np.int64]:
        """A column of known words as their codes, shape (rows,); an unknown word is an error with the nearest one."""
        cells = self.columns[column]
        try:
            return np.fromiter((codes[c] for c in cells), np.int64, len(cells))
        except KeyError:
            return np.array([self._code(i, column, codes) for i in range(len(cells))], np.int64)

    def _number(self, row: int, column: str, blank: bool) -> float:
        cell = self.columns[column][row].strip()
        if not cell:
            if blank:
                return np.nan
            self.fail(row, column, "a number is missing.")
        text = cell.replace(",", ".") if self.decimal_comma else cell
        try:
            value = float(text) if _plain_numbers([text]) else None
        except ValueError:
            value = None
        if value is None:
            self.fail(row, column, f'"{cell[:40]}" is not a number.')
        if not np.isfinite(value):
            self.fail(row, column, f'"{cell[:40]}" is not a place or size; a point that is not marked has no row.')
        return value

    def _whole(self, row: int, column: str) -> int:
        cell = self.columns[column][row].strip()
        if not (cell.isascii() and cell.lstrip("+-").isdigit() and len(cell) < 16):
            self.fail(row, column, f'"{cell[:40]}" is not a whole number.' if cell else "a whole number is missing.")
        return int(cell)

    def _code(self, row: int, column: str, codes: Mapping[str, int]) -> int:
        cell = self.columns[column][row].strip()
        if cell not in codes:
            near = difflib.get_close_matches(cell, codes, 1)
            hint = (
                f'Perhaps "{near[0]}" was meant.' if near else f"Known are: {', '.join(c or 'nothing' for c in codes)}."
            )
            self.fail(row, column, f'"{cell[:40]}" is not known here.', f"{hint} {UNTOUCHED}")
        return codes[cell]


def _plain_numbers(cells: Sequence[str]) -> bool:
    """No cell uses what Python reads as a number and a spreadsheet does not (1_000, other scripts' digits)."""
    joined = "".join(cells)
    return joined.isascii() and "_" not in joined
