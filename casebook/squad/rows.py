"""The squad's small tables on disk: CSV that a coach edits in any spreadsheet, with remarks on lines that begin with #.

Read: a byte order mark, semicolons or tabs, quotes, columns in another order, empty lines. Written: UTF-8, in one step,
with an apostrophe before any cell that a spreadsheet would take for a formula, which is taken off when it is read.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from casebook.errors import SquadError
from casebook.files import write_atomic
from casebook.marks.table import FORMULA

_LONGEST_CELL = 300


@dataclass(frozen=True, slots=True)
class Row:
    """One line of a table: its number in the file, and its cells by column, without the blanks around them."""

    line: int
    cells: Mapping[str, str]

    def __getitem__(self, column: str) -> str:
        return self.cells[column]


def read_rows(path: Path, columns: Sequence[str], needed: Sequence[str] = ()) -> tuple[Row, ...]:
    """The rows of a table.

    Parameters
    ----------
    path : Path
    columns : sequence of str
        Columns that the table may have; one that it lacks is read as empty.
    needed : sequence of str
        Columns that it must have.

    Raises
    ------
    SquadError
        Naming the file and the line, and what to do. The file stays as it is.
    """
    lines = [(n, line) for n, line in enumerate(_text(path).splitlines(), 1) if not _is_remark(line)]
    if not lines:
        raise SquadError(f'"{path.name}" has no line with the names of its columns.', _begin(columns), path=path)
    head_line, head = lines[0]
    delimiter = max(",;\t", key=head.count)
    names = [name.strip().lower() for name in _split(path, head_line, head, delimiter)]
    while names and not names[-1]:
        names.pop()
    unknown = [n for n in names if n not in columns]
    missing = [n for n in needed if n not in names]
    if unknown or missing or len(set(names)) < len(names):
        facts = [f'unknown: "{n}"' for n in unknown] + [f'missing: "{n}"' for n in missing] or ["a column stands twice"]
        raise _wrong(path, head_line, f"the columns do not fit ({'; '.join(facts)}).", _begin(columns))
    out = []
    for number, line in lines[1:]:
        cells = [cell.strip() for cell in _split(path, number, line, delimiter)]
        if any(cells[len(names) :]) or any(len(c) > _LONGEST_CELL for c in cells):
            raise _wrong(path, number, f"the row has more than its {len(names)} cells, or a very long one.", "Mend it.")
        cells = [*cells, *[""] * (len(names) - len(cells))]
        held = {name: _unquoted(cell) for name, cell in zip(names, cells, strict=False)}
        out.append(Row(number, {column: held.get(column, "") for column in columns}))
    return tuple(out)


def write_rows(
    path: Path, columns: Sequence[str], rows: Iterable[Sequence[object]], remarks: Sequence[str] = ()
) -> None:
    """Replace a table in one step; ``remarks`` are written above it, each on a line of its own."""
    out = io.StringIO(newline="")
    out.writelines(f"# {remark}\n" for remark in remarks)
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows([_quoted(str(cell)) for cell in row] for row in rows)
    write_atomic(path, out.getvalue())


def remarks_of(path: Path) -> tuple[str, ...]:
    """The remarks above a table that is there, so that they can be kept."""
    if not path.is_file():
        return ()
    out = []
    for line in _text(path).splitlines():
        if line.strip() and not _is_remark(line):
            break
        if line.strip():
            out.append(line.strip().strip('"').rstrip(",;\t").lstrip("#").strip())
    return tuple(out)


def answer(path: Path, row: Row, column: str) -> bool | None:
    """A cell that says yes or no; None if it is empty."""
    word = row[column].casefold()
    if not word:
        return None
    if word in ("yes", "y", "true", "1"):
        return True
    if word in ("no", "n", "false", "0"):
        return False
    raise _wrong(path, row.line, f'{column}: "{row[column]}" is neither yes nor no.', "Write yes or no.")


def whole(path: Path, row: Row, column: str) -> int:
    """A cell that holds a whole number."""
    cell = row[column]
    if not (cell.isascii() and cell.isdigit() and len(cell) < 7):
        raise _wrong(path, row.line, f'{column}: "{cell}" is not a whole number.', "Write a number, such as 7.")
    return int(cell)


def _wrong(path: Path, line: int, what: str, remedy: str) -> SquadError:
    return SquadError(f"{path.name}, line {line}: {what}", remedy, path=path, line=line)


def _text(path: Path) -> str:
    try:
        return path.read_text("utf-8-sig")
    except FileNotFoundError:
        raise SquadError(
            f'There is no file "{path.name}" here.', "Lay out a squad folder: casebook squad new"
        ) from None
    except UnicodeDecodeError:
        raise SquadError(
            f'"{path.name}" is not UTF-8 text.', "Save it again as CSV in UTF-8. The file is as it was.", path=path
        ) from None
    except OSError as error:
        raise SquadError(
            f'"{path.name}" cannot be read ({error.strerror or error}).', "Close other programs that use it.", path=path
        ) from None


def _split(path: Path, number: int, line: str, delimiter: str) -> list[str]:
    try:
        return next(csv.reader([line], delimiter=delimiter, strict=True), [])
    except csv.Error:
        raise _wrong(path, number, "its quotes do not match.", "Mend that line. The file is as it was.") from None


def _is_remark(line: str) -> bool:
    return not line.strip(" ,;\t\r\n") or line.lstrip(' "').startswith("#")


def _begin(columns: Sequence[str]) -> str:
    return f"The first line should read: {','.join(columns)}"


def _quoted(cell: str) -> str:
    flat = " ".join(cell.split())
    return f"'{flat}" if flat.startswith((*FORMULA, "'", "#")) else flat


def _unquoted(cell: str) -> str:
    return cell[1:] if cell.startswith("'") else cell
