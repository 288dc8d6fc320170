"""Covers of a shot on disk: ``<shot>.covers.csv``, one row per corner."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import numpy as np

from casebook.clip.cover import KINDS, Corners, Cover, Key, box_corners
from casebook.errors import ClipError, MarksError
from casebook.marks.table import read_table, write_table

COLUMNS = ("cover", "kind", "start", "stop", "frame", "corner", "x_px", "y_px")
_KIND_NAMES = tuple(KINDS)
_KIND_CODES = {name: i for i, name in enumerate(_KIND_NAMES)}


def read_covers(path: Path | str) -> list[Cover]:
    """Covers in the file's order, none if there is no file.

    Raises
    ------
    MarksError
        Naming line, column and what to do. A torn file of covers is never taken for one without any.
    """
    path = Path(path)
    if not path.is_file():
        return []
    table = read_table(path, COLUMNS)
    kinds = [_KIND_NAMES[i] for i in table.coded("kind", _KIND_CODES)]
    start, stop, frame, corner = (table.whole(c).tolist() for c in ("start", "stop", "frame", "corner"))
    places = np.stack([table.floats("x_px"), table.floats("y_px")], -1).tolist()
    found: dict[str, tuple[tuple[str, int, int], int, dict[int, dict[int, tuple[float, float]]]]] = {}
    for i, cell in enumerate(table.columns["cover"]):
        said = kinds[i], start[i], stop[i]
        first, _, keys = found.setdefault(cell.strip(), (said, i, {}))
        if first != said:
            table.fail(i, "cover", f'the cover "{cell.strip()}" has another kind, start or stop further up.')
        outline = keys.setdefault(frame[i], {})
        if corner[i] in outline:
            table.fail(i, "corner", f"corner {corner[i]} of frame {frame[i]} stands in this file already.")
        outline[corner[i]] = (places[i][0], places[i][1])
    covers = []
    for name, ((kind, first_frame, after_last), row, keys) in found.items():
        try:
            made = tuple(Key(f, _in_order(keys[f])) for f in sorted(keys))
            covers.append(Cover(name, kind, first_frame, after_last, made))
        except (ClipError, KeyError) as error:
            table.fail(row, "cover", error.problem if isinstance(error, ClipError) else "a corner is missing.")
    return covers


def write_covers(path: Path | str, covers: Iterable[Cover]) -> None:
    """Replace the file in one step; raises MarksError, and writes nothing, if two covers share a name."""
    covers = list(covers)
    names = [cover.name for cover in covers]
    if len(set(names)) < len(names):
        twice = next(name for name in names if names.count(name) > 1)
        raise MarksError(f'Two covers are called "{twice}".', "Give each its own name.")
    rows = [
        (cover.name, cover.kind, cover.start, cover.stop, key.frame, n, round(x, 2), round(y, 2))
        for cover in covers
        for key in cover.keys
        for n, (x, y) in enumerate(key.corners)
    ]
    write_table(path, COLUMNS, rows)


def with_box(
    covers: Iterable[Cover],
    kind: str,
    frame: int,
    box: tuple[float, float, float, float],
    start: int,
    stop: int,
    name: str = "",
) -> list[Cover]:
    """Covers with a box (left, top, right, bottom) [px] added on a frame.

    A box for a cover of that name becomes one of its key frames; else a new cover of the frames ``start`` to ``stop``
    (exclusive) is begun, named after its kind unless a name is given.
    """
    covers = list(covers)
    key = Key(frame, box_corners(box))
    old = next((c for c in covers if name and c.name == name), None)
    if old is None:
        taken = {c.name for c in covers}
        name = name or next(n for i in range(1, 10_000) if (n := f"{kind} {i}") not in taken)
        return [*covers, Cover(name, kind, start, stop, (key,))]
    if old.kind != kind:
        raise MarksError(f'The cover "{name}" is of the kind {old.kind}.', "Give the new one another name.")
    keys = tuple(sorted([*(k for k in old.keys if k.frame != frame), key], key=lambda k: k.frame))
    return [Cover(c.name, c.kind, min(c.start, start), max(c.stop, stop), keys) if c is old else c for c in covers]


def _in_order(outline: dict[int, tuple[float, float]]) -> Corners:
    return tuple(outline[n] for n in range(len(outline)))
