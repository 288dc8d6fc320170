"""Lengths as the coach counted them: ``observations.csv`` of a case, and tables of splits made elsewhere.

One row for each length: swim, length_no, distance, unit, seconds, strokes, from_wall, note. ``from_wall`` may be left
out and stays empty for a whole length; for a part of one it says where the watch was started. A cell that a spreadsheet
would take for a formula is written with an apostrophe before it and read back without.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from casebook.errors import CasebookError
from casebook.marks.table import FORMULA, read_table, write_table
from casebook.stroke.lengths import UNITS, Length

if TYPE_CHECKING:
    from casebook.marks.cells import Table

FILE = "observations.csv"
PART = "from_wall"
COLUMNS = ("swim", "length_no", "distance", "unit", "seconds", "strokes", PART, "note")
#: No length takes longer, and none has more strokes. [s] common practice, no source
LONGEST_S, MOST_STROKES = 3600.0, 2000


def read_lengths(path: Path | str) -> tuple[Length, ...]:
    """Lengths of a table in the file's order.

    Raises
    ------
    MarksError
        Naming file, line, column and what to do; the file stays as it is.
    """
    table = _read(Path(path))
    numbers = table.whole("length_no")
    distance = table.floats("distance")
    seconds, strokes = table.floats("seconds", blank=True), table.floats("strokes", blank=True)
    part = table.floats(PART, blank=True) if PART in table.columns else np.full(len(table), np.nan)
    table.coded("unit", {unit: i for i, unit in enumerate(UNITS)})
    _sensible(table, numbers, distance, seconds, strokes)
    _sensible_parts(table, part)
    text = {name: [_unquoted(cell) for cell in table.columns[name]] for name in ("swim", "note")}
    units = [cell.strip() for cell in table.columns["unit"]]
    return tuple(
        Length(
            text["swim"][i],
            int(numbers[i]),
            float(distance[i]),
            units[i],
            None if np.isnan(seconds[i]) else float(seconds[i]),
            None if np.isnan(strokes[i]) else int(strokes[i]),
            text["note"][i],
            None if np.isnan(part[i]) else float(part[i]),
        )
        for i in range(len(table))
    )


def write_lengths(path: Path | str, lengths: Iterable[Length]) -> None:
    """Replace the table in one step."""
    write_table(
        path,
        COLUMNS,
        [
            (
                _quoted(one.swim), one.number, one.distance, one.unit, "" if one.seconds is None else one.seconds,
                "" if one.strokes is None else one.strokes, "" if one.from_wall is None else one.from_wall,
                _quoted(one.note),
            )
            for one in lengths
        ],
    )  # fmt: skip


def counted(folder: Path | str, swim: str) -> tuple[Length, ...]:
    """Lengths of one swim of a case, none where no table has been made."""
    return of_swim(every(folder), swim)


def of_swim(lengths: Sequence[Length], swim: str) -> tuple[Length, ...]:
    """Lengths of one swim, by their number."""
    return tuple(sorted((one for one in lengths if one.swim == swim), key=lambda one: one.number))


def import_lengths(folder: Path | str, table: Path | str) -> tuple[Length, ...]:
    """Take the lengths of a table made elsewhere into the case; a length that stands there already is replaced.

    Returns
    -------
    tuple of Length
        All of the case's lengths as they are now kept in ``observations.csv``.
    """
    target = Path(folder) / FILE
    kept = {(one.swim, one.number): one for one in every(folder)}
    kept |= {(one.swim, one.number): one for one in read_lengths(table)}
    lengths = tuple(kept[key] for key in sorted(kept))
    write_lengths(target, lengths)
    return lengths


def keep_length(folder: Path | str, length: Length) -> tuple[Length, ...]:
    """Write one length down; one of the same swim and number is replaced. Returns all of the case's lengths."""
    target = Path(folder) / FILE
    kept = [one for one in every(folder) if (one.swim, one.number) != (length.swim, length.number)]
    lengths = (*kept, length)
    write_lengths(target, lengths)
    return read_lengths(target)


def every(folder: Path | str) -> tuple[Length, ...]:
    """All lengths of a case in the file's order, none where no table has been made."""
    path = Path(folder) / FILE
    return read_lengths(path) if path.is_file() else ()


def _read(path: Path) -> Table:
    """The table, with or without the column that only parts of a length need."""
    whole = tuple(name for name in COLUMNS if name != PART)
    with suppress(OSError, UnicodeDecodeError), path.open(encoding="utf-8-sig") as stream:
        head = [stream.readline(), stream.readline()]
        if PART not in head[head[0].startswith(("#", '"#'))]:
            return read_table(path, whole)
    return read_table(path, COLUMNS)


def _sensible_parts(table: Table, part: np.ndarray) -> None:
    for i in np.flatnonzero(part < 0):
        table.fail(int(i), PART, f"{part[i]:g} lies behind the wall.", "Count from the wall pushed off from.")


def _sensible(
    table: Table, numbers: np.ndarray, distance: np.ndarray, seconds: np.ndarray, strokes: np.ndarray
) -> None:
    """Refuse what cannot be a length, naming its cell."""
    seen: dict[tuple[str, int], int] = {}
    for i in range(len(table)):
        if numbers[i] < 1:
            table.fail(i, "length_no", "lengths of a swim are counted from 1.")
        if distance[i] <= 0:
            table.fail(i, "distance", f"{distance[i]:g} is no distance.")
        if not np.isnan(seconds[i]) and not 0 < seconds[i] <= LONGEST_S:
            table.fail(i, "seconds", f"{seconds[i]:g} s is no time for a length.", "Give seconds, such as 17.4.")
        count = strokes[i]
        if not np.isnan(count) and not (0 < count <= MOST_STROKES and count == int(count)):
            table.fail(i, "strokes", f"{count:g} is no count of strokes.", "Count each arm, in whole strokes.")
        if np.isnan(seconds[i]) and np.isnan(count):
            table.fail(i, "seconds", "neither seconds nor strokes are given.", "Give one of them, best both.")
        key = _unquoted(table.columns["swim"][i]), int(numbers[i])
        if key in seen:
            table.fail(i, "length_no", f"length {key[1]} of this swim stands in line {seen[key]} already.")
        seen[key] = table.lines[i]


def _quoted(text: str) -> str:
    if not text.isprintable():
        raise CasebookError(f"The text {text!r} does not fit one cell.", "Use printable characters in one line.")
    return f"'{text}" if text[:1] in FORMULA or text.startswith("'") else text


def _unquoted(cell: str) -> str:
    return cell[1:] if cell.startswith("'") else cell
