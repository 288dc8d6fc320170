"""The small tables beside a clip: one CSV reader and writer for marks, lines and events.

A file opens with ``# schema = 1``, then the column names, then one row per thing. What spreadsheets do to such a file
is read where it is unambiguous: a byte order mark, Windows line ends, quotes, semicolons or tabs with a decimal comma,
padding with empty columns, columns or rows in another order. Everything else is refused with the line, the column and
what to do, and a refused file stays as it is. A file without the first line is schema 0: it is read, and the first
write keeps a copy of it beside the new one.
"""

from __future__ import annotations

import csv
import io
import shutil
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from casebook.errors import MarksError
from casebook.files import write_atomic
from casebook.marks.cells import UNTOUCHED, Table

SCHEMA = 1
#: A cell that opens with one of these, or its wide form, is a formula to a spreadsheet.
FORMULA = frozenset("=+-@\t\r\uff1d\uff0b\uff0d\uff20")


def read_table(path: Path | str, columns: Sequence[str]) -> Table:
    """All rows of a file with exactly these columns, in any order; raises MarksError naming line and column."""
    parts = list(read_chunks(path, columns, size=2**62))
    return parts[0]


def read_chunks(path: Path | str, columns: Sequence[str], size: int = 50_000) -> Iterator[Table]:
    """The same, ``size`` rows at a time, so that a long file never stands in memory as text. At least one table."""
    path = Path(path)
    with _as_marks_errors(path), path.open(encoding="utf-8-sig", newline="") as stream:
        first = stream.readline()
        if not first.strip():
            raise _trouble(path, 1, "the file is empty.", "If a copy of it is at hand, put it back; else delete it.")
        schema = _schema(path, first)
        header = stream.readline() if schema else first
        skipped = 1 + bool(schema)
        names, delimiter = _header(path, header, skipped, columns)
        reader = csv.reader(stream, delimiter=delimiter, strict=True)
        yield from _tables(path, reader, skipped, names, columns, size, delimiter)


def write_table(path: Path | str, columns: Sequence[str], rows: Iterable[Sequence[object]]) -> None:
    """Replace a file in one step. A file of an older schema is first copied to ``<name>.schema0``.

    Floats are written in the shortest form that reads back as the same float.
    """
    path = Path(path)
    keep_older(path)
    out = io.StringIO(newline="")
    out.write(f"# schema = {SCHEMA}\n")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows(rows)
    write_atomic(path, out.getvalue())


def keep_older(path: Path) -> None:
    """Copy a file of an older schema beside itself, once; refuse to replace one of a newer schema."""
    if not path.is_file():
        return
    with _as_marks_errors(path), path.open(encoding="utf-8-sig", newline="") as stream:
        first = stream.readline()
    if first.strip() and _schema(path, first) == 0:
        copy = path.with_name(f"{path.name}.schema0")
        if not copy.exists():
            shutil.copy2(path, copy)


def check_initials(by: str) -> str:
    """Initials that fit one cell of one line and are no formula to a spreadsheet; raises MarksError otherwise."""
    if len(by) > 40 or not by.isprintable():
        raise MarksError(f"Initials {by!r} do not fit a table.", "Use up to 40 printable characters.")
    if by[:1] in FORMULA:
        raise MarksError(f"Initials {by!r} are a formula to a spreadsheet.", "Begin them with a letter or a digit.")
    return by


def check_name(what: str, name: str) -> str:
    """A name of a person's own choice that fits one cell and is no formula to a spreadsheet; MarksError otherwise."""
    if not 0 < len(name) <= 80 or not name.isprintable() or name[0] in FORMULA:
        raise MarksError(
            f"{what} has no name that fits a table: {name[:80]!r}.",
            "Name it in up to 80 characters, the first a letter or a digit.",
        )
    return name


def _tables(
    path: Path,
    reader: Iterator[list[str]],
    skipped: int,
    names: list[str],
    columns: Sequence[str],
    size: int,
    delimiter: str,
) -> Iterator[Table]:
    order = [names.index(c) for c in columns]
    lines: list[int] = []
    rows: list[list[str]] = []

    def table() -> Table:
        cells = list(zip(*rows, strict=True)) if rows else [()] * len(names)
        return Table(path, lines, {c: cells[i] for c, i in zip(columns, order, strict=True)}, delimiter != ",")

    for row in reader:
        line = skipped + reader.line_num  # type: ignore[attr-defined]
        if len(row) != len(names):
            if not any(cell.strip() for cell in row):
                continue
            row = _padded(path, line, row, names)
        elif not row[0] and not any(row):
            continue
        lines.append(line)
        rows.append(row)
        if len(rows) == size:
            yield table()
            lines, rows = [], []
    yield table()


def _padded(path: Path, line: int, row: list[str], names: list[str]) -> list[str]:
    """A row of the right width, where only empty cells were added; else the file is torn or in disorder."""
    if len(row) > len(names) and not any(cell.strip() for cell in row[len(names) :]):
        return row[: len(names)]
    column = names[min(len(row), len(names)) - 1]
    if len(row) < len(names) and not path.read_bytes().endswith((b"\n", b"\r")) and line == _last_line(path):
        what, remedy = "the file breaks off here.", "Complete that line or delete it, save and open the file again."
    else:
        what, remedy = f"the row has {len(row)} columns and the head {len(names)}.", UNTOUCHED
    raise _trouble(path, line, what, remedy, column)


def _last_line(path: Path) -> int:
    with path.open(encoding="utf-8-sig") as stream:
        return sum(1 for _ in stream)


def _schema(path: Path, first: str) -> int:
    """Schema number from the first line; 0 if that line is the head of the table already."""
    text = first.strip().strip(",;\t").strip().strip('"').strip()
    if not text.startswith("#"):
        return 0
    key, _, value = text[1:].partition("=")
    value = value.strip()
    if key.strip() != "schema" or not (value.isascii() and value.isdigit()):
        raise _trouble(path, 1, f'"{text}" does not say which schema the file has.', f'Write "# schema = {SCHEMA}".')
    if int(value) > SCHEMA:
        raise _trouble(
            path,
            1,
            f"the file was written by a newer casebook (schema {int(value)}, this one knows {SCHEMA}).",
            "Update casebook, then open it again. The file is as it was.",
        )
    return int(value)


def _header(path: Path, header: str, line: int, columns: Sequence[str]) -> tuple[list[str], str]:
    """Column names and the delimiter that yields them."""
    delimiter = max(",;\t", key=header.count)
    names = [n.strip() for n in next(csv.reader([header], delimiter=delimiter), [])]
    while names and not names[-1]:
        names.pop()
    missing = [c for c in columns if c not in names]
    extra = [n for n in names if n not in columns]
    if missing or extra or len(names) != len(columns):
        facts = [f"missing: {', '.join(missing)}"] * bool(missing) + [f"not known: {', '.join(extra)}"] * bool(extra)
        what = f"the head of the table does not fit ({'; '.join(facts) or 'a column stands twice'})."
        raise _trouble(path, line, what, f"It should read: {','.join(columns)}. The file is as it was.")
    return names, delimiter


def _trouble(path: Path, line: int, what: str, remedy: str, column: str = "") -> MarksError:
    place = f"{path.name}, line {line}" + (f", column {column}" if column else "")
    return MarksError(f"{place}: {what}", remedy, path=path, line=line, column=column)


@contextmanager
def _as_marks_errors(path: Path) -> Iterator[None]:
    """What the file system, the decoder or the CSV reader complain about, as a sentence for the coach."""
    try:
        yield
    except UnicodeDecodeError:
        line = _first_bad_line(path)
        raise _trouble(path, line, "the text is not UTF-8.", "Save the file again as CSV in UTF-8.") from None
    except csv.Error as error:
        line = _first_odd_quotes(path)
        raise _trouble(path, line, f"quotes do not match ({error}).", UNTOUCHED) from None
    except FileNotFoundError:
        raise MarksError(f'There is no file "{path.name}".', "Check its name and folder.", path=path) from None
    except OSError as error:
        raise MarksError(
            f'"{path.name}" cannot be read ({error.strerror or error}).', "Close other programs that use it.", path=path
        ) from None


def _first_bad_line(path: Path) -> int:
    for number, raw in enumerate(path.read_bytes().split(b"\n"), 1):
        try:
            raw.decode("utf-8")
        except UnicodeDecodeError:
            return number
    return 1


def _first_odd_quotes(path: Path) -> int:
    for number, raw in enumerate(path.read_bytes().split(b"\n"), 1):
        if raw.count(b'"') % 2:
            return number
    return 1
