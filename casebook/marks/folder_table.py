"""Small tables that other people hand in: read forgivingly, never trusted, and what is wrong told in a sentence."""

from __future__ import annotations

import csv
import io
import os
from collections.abc import Sequence
from pathlib import Path

from casebook.errors import MarksError
from casebook.marks.table import FORMULA

#: No table that a room hands in is larger, nor is one of its cells. [bytes], [characters]
LARGEST, LONGEST_CELL = 1_000_000, 200


def read_rows(path: Path, columns: Sequence[str]) -> list[dict[str, str]]:
    """Rows of a table by column name, cells trimmed, empty rows left out.

    Commas, semicolons and tabs part the cells, as spreadsheets of different countries write them; names of columns may
    be in capitals and in any order, and columns beside ``columns`` are left alone.

    Raises
    ------
    MarksError
        The file cannot be read, is no text, is too large, or lacks a column. It names the file.
    """
    lines = _lines(path)
    head = _head(lines)
    lacking = [c for c in columns if c not in head]
    if lacking:
        raise MarksError(
            f'"{path.name}" has no column "{lacking[0]}".', f"Its first line should be: {','.join(columns)}", path=path
        )
    place = {c: head.index(c) for c in columns}
    return [{c: _read(row[i]) if i < len(row) else "" for c, i in place.items()} for row in lines[1:]]


def column_names(path: Path) -> list[str]:
    """The names in a table's first line, in small letters; raises MarksError as ``read_rows`` does."""
    return _head(_lines(path))


def _lines(path: Path) -> list[list[str]]:
    words = _words(path)
    first = words.lstrip("\n").partition("\n")[0]
    mark = max(",;\t", key=first.count)
    try:
        lines = [row for row in csv.reader(io.StringIO(words), delimiter=mark) if any(cell.strip() for cell in row)]
    except csv.Error as error:
        raise MarksError(f'"{path.name}" does not read as a table: {error}.', "Save it as CSV again.") from None
    if not lines:
        raise MarksError(f'"{path.name}" is empty.', "Ask for it again.", path=path)
    return lines


def _head(lines: list[list[str]]) -> list[str]:
    return [cell.strip().lower() for cell in lines[0]]


def _read(cell: str) -> str:
    """A cell without blanks around it and without the apostrophe that keeps a formula from being one."""
    words = cell.strip()[:LONGEST_CELL]
    return words[1:] if words[:1] == "'" and words[1:2] in FORMULA else words


def _words(path: Path) -> str:
    """The text of an ordinary file; links are not followed."""
    if path.is_symlink() or not path.is_file():
        raise MarksError(f'"{path.name}" is no ordinary file.', "Put the file itself into the folder.", path=path)
    if path.stat().st_size > LARGEST:
        raise MarksError(f'"{path.name}" is too large for a table of votes.', "Ask for it again.", path=path)
    raw = path.read_bytes()
    if b"\0" in raw and not raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise MarksError(f'"{path.name}" is no table.', "Save it as CSV.", path=path)
    for encoding in ("utf-16",) if raw.startswith((b"\xff\xfe", b"\xfe\xff")) else ("utf-8-sig", "cp1252"):
        try:
            return raw.decode(encoding).replace("\r\n", "\n").replace("\r", "\n")
        except UnicodeDecodeError:
            continue
    raise MarksError(f'"{path.name}" is no text.', "Save it as CSV in UTF-8.", path=path)


def harmless_cell(value: object) -> str:
    """A cell that no spreadsheet takes for a formula.

    >>> harmless_cell("=1+1"), harmless_cell("heron"), harmless_cell(-3)
    ("'=1+1", 'heron', "'-3")
    """
    words = " ".join(str(value).split())
    return f"'{words}" if words[:1] in FORMULA else words


def table_text(columns: Sequence[str], rows: Sequence[Sequence[object]]) -> str:
    """A table as CSV text, every cell harmless to a spreadsheet."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows([[harmless_cell(cell) for cell in row] for row in rows])
    return out.getvalue()


def files_in(folder: Path) -> list[Path]:
    """The files of a folder that its owner put there, in order; hidden ones and what lies in folders are left out."""
    with os.scandir(folder) as found:
        return sorted(Path(e.path) for e in found if not e.name.startswith((".", "~")) and not e.is_dir())
