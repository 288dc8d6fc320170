"""The journal beside a marks file: every change on disk as soon as it is made, in a line of its own.

``<shot>.journal`` holds lines ``<checksum> <json>``. The first names the schema and a token that no other journal has;
each further line is one change, as the cells it set: ``[frame, point, x_px, y_px, sigma_px, origin, by]`` for a placed
point, ``[frame, point, null, null, sigma_px or null, origin, by]`` for a hidden one, ``[frame, point]`` for an erased
one. A large change goes on over several lines, all but the last with a ``+`` before the JSON; without its last line it
was never made. Lines set cells to what they became, so reading them a second time changes nothing. A line that a crash
cut short fails its checksum and is left out; everything before it stands. Schema 1 knew no ``+``: its lines are whole
changes each.
"""

from __future__ import annotations

import io
import json
import os
import secrets
import zlib
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from casebook.errors import MarksError
from casebook.files import sync_folder
from casebook.marks.board import CELL, NO_MARK, Board, Cells
from casebook.marks.csvfile import ORIGIN_CODES, ORIGIN_NAMES, POINT_CODES
from casebook.marks.marks import Origin
from casebook.marks.points import POINTS

SCHEMA = 2
#: Cells in one line at most, so that no line needs much memory.
LINE_CELLS = 10_000


@dataclass(frozen=True, slots=True)
class Tail:
    """What stands in a journal past a place: its token, the changes, where good lines end, and bad lines between.

    ``changes`` are still JSON: a long journal is unpacked one line at a time. ``older`` journals are read to their end
    and then folded in, not written on.
    """

    token: str
    changes: list[bytes]
    end: int
    damaged: int = 0
    older: bool = False


class Journal:
    """One journal file. Every method is called with the store's lock held."""

    def __init__(self, path: Path) -> None:
        self.path = path

    def read(self, token: str = "", start: int = 0) -> Tail | None:
        """Changes past ``start``; all of them if the journal is not the one with ``token``; None if there is none."""
        try:
            with self.path.open("rb") as stream:
                head = stream.readline()
                found, schema = self._head(head)
                if not found:
                    return _scan("", head + stream.read(), 0)
                known = found == token and start >= len(head)
                start = start if known else len(head)
                stream.seek(start)
                return replace(_scan(found, stream.read(), start), older=schema < SCHEMA)
        except FileNotFoundError:
            return None

    def append(self, token: str, end: int, cells: Cells, board: Board) -> tuple[str, int]:
        """Write one change after ``end`` and see it on disk; returns the journal's token and new end.

        What a crash left behind ``end`` is cut off first. Without a token a new journal begins.
        """
        lines = b"" if token else _line({"schema": SCHEMA, "token": (token := secrets.token_hex(8))})
        fresh = bool(lines)
        for part in range(0, len(cells), LINE_CELLS):
            goes_on = part + LINE_CELLS < len(cells)
            lines += _line(_rows(cells.where(slice(part, part + LINE_CELLS)), board), goes_on=goes_on)
        self.path.parent.mkdir(parents=True, exist_ok=True)
        with self.path.open("wb" if fresh else "r+b") as stream:
            stream.truncate(end)
            stream.seek(end)
            stream.write(lines)
            stream.flush()
            os.fsync(stream.fileno())
        if fresh:
            sync_folder(self.path.parent)
        return token, end + len(lines)

    def remove(self) -> None:
        """Take the journal away, once everything in it stands elsewhere."""
        self.path.unlink(missing_ok=True)
        sync_folder(self.path.parent)

    def _head(self, head: bytes) -> tuple[str, int]:
        """Token and schema of a first line; no token if it is damaged."""
        body = _payload(head)
        if not body.startswith(b"{"):
            return "", SCHEMA
        record = json.loads(body)
        if record.get("schema") not in range(1, SCHEMA + 1):
            raise MarksError(
                f'"{self.path.name}" was written by a newer casebook (schema {record.get("schema")}).',
                "Update casebook, then open the shot again. The file is as it was.",
                path=self.path,
            )
        return str(record["token"]), int(record["schema"])


def cells_from(change: bytes, board: Board, path: Path) -> Cells:
    """One change as cells; raises MarksError if it speaks of a frame or point that this shot does not have."""
    rows = json.loads(change)
    frame = np.array([row[0] for row in rows], np.int64)
    outside = frame[(frame < 0) | (frame >= len(board.cells))]
    unknown = [row[1] for row in rows if row[1] not in POINT_CODES]
    if len(outside) or unknown:
        what = f"frame {outside[0]}" if len(outside) else f'point "{unknown[0]}"'
        raise MarksError(
            f'"{path.name}" speaks of {what}, which this clip does not have.',
            "Check that the marks folder belongs to this clip. The file is as it was.",
            path=path,
        )
    mark = np.full(len(rows), NO_MARK, CELL)
    for i, row in enumerate(rows):
        if len(row) > 2:
            x, y, sigma = (np.nan if v is None else v for v in row[2:5])
            mark[i] = (x, y, sigma, ORIGIN_CODES[row[5]], row[2] is None, board.code(row[6]))
    return Cells(frame, np.array([POINT_CODES[row[1]] for row in rows], np.int64), mark)


def _rows(cells: Cells, board: Board) -> list[list]:
    rows: list[list] = []
    for frame, point, mark in zip(cells.frame.tolist(), cells.point.tolist(), cells.mark.tolist(), strict=True):
        x, y, sigma, origin, _, by = mark
        row: list = [frame, POINTS[point]]
        if origin != Origin.unmarked:
            row += [_or_null(x), _or_null(y), _or_null(sigma), ORIGIN_NAMES[origin], board.initials[by]]
        rows.append(row)
    return rows


def _or_null(value: float) -> float | None:
    return value if value == value else None


def _line(record: object, *, goes_on: bool = False) -> bytes:
    body = b"+" * goes_on + json.dumps(record, separators=(",", ":"), allow_nan=False).encode("ascii")
    return b"%08x %s\n" % (zlib.crc32(body), body)


def _payload(line: bytes) -> bytes:
    """The JSON of a line, empty if the line is torn or damaged."""
    body = line[9:-1]
    return body if line.endswith(b"\n") and line[:9] == b"%08x " % zlib.crc32(body) else b""


def _scan(token: str, data: bytes, start: int) -> Tail:
    """Whole changes of ``data``. Bad lines and unfinished changes at the end are a torn tail.

    Bad lines before good ones count as damage; what can be read of a change that was torn there is kept.
    """
    changes: list[bytes] = []
    begun: list[bytes] = []
    end, bad, damaged = start, 0, 0
    place = start
    for line in io.BytesIO(data):
        place += len(line)
        body = _payload(line)
        if body.startswith(b"+["):
            begun.append(body[1:])
        elif body.startswith(b"["):
            changes += [*begun, body]
            begun.clear()
            damaged, bad, end = damaged + bad, 0, place
        else:
            bad += 1
    return Tail(token, changes, end, damaged)
