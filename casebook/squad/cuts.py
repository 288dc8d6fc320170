"""Where a long recording is cut: ``cuts.csv``, one row a stretch, by time, written by the slates or by the coach.

Columns: ``from`` and ``to`` (``mm:ss.s`` of the recording), ``number``, ``say``. A row with a word in ``say`` waits:
it is not cut until the coach has looked, typed what is missing and emptied that cell. Times are told to the
millisecond, so that they name one frame.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from casebook.errors import SquadError
from casebook.squad.rows import Row, read_rows, remarks_of, whole, write_rows

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from casebook.clip.clip import Clip

COLUMNS = ("from", "to", "number", "say")
REMARKS = (
    "Where the recording is cut. from and to: mm:ss.s; number: the swimmer's.",
    "A row with a word in the column say waits: look, type what is missing, empty that cell, and cut again.",
)
#: A frame belongs to a stretch from its time on; times written to the millisecond may be half of one off. [s]
_HALF_A_STEP_S = 0.0006
_TIME = re.compile(r"(?:(?:(\d{1,2}):)?(\d{1,3}):)?(\d{1,5}(?:[.,]\d{1,6})?)")


@dataclass(frozen=True, slots=True)
class Cut:
    """Frames ``start`` to ``stop`` (exclusive) of the recording; ``number`` None: not known. ``say``: why it waits."""

    start: int
    stop: int
    number: int | None
    say: str = ""


def read_cuts(path: Path, clip: Clip) -> tuple[Cut, ...]:
    """The cuts of a recording in the file's order, none if there is no file.

    Raises
    ------
    SquadError
        Naming the line: no time, a stretch that is empty, outside the recording or overlaps another; or the file was
        made for another recording.
    """
    if not path.is_file():
        return ()
    _same_recording(path, clip)
    rows = read_rows(path, COLUMNS, needed=COLUMNS[:3])
    cuts = tuple(_cut(path, row, clip.times) for row in rows)
    order = sorted(range(len(cuts)), key=lambda i: cuts[i].start)
    for before, after in pairwise(order):
        if cuts[after].start < cuts[before].stop:
            raise SquadError(
                f"{path.name}: lines {rows[before].line} and {rows[after].line} overlap.",
                "A picture belongs to one swimmer: mend from or to.",
            )
    return cuts


def write_cuts(path: Path, cuts: Iterable[Cut], clip: Clip) -> None:
    """Replace the file in one step, in the order of the recording."""
    ends = np.append(clip.times, _end(clip.times))
    rows = [
        (told(ends[c.start]), told(ends[c.stop]), "" if c.number is None else c.number, c.say)
        for c in sorted(cuts, key=lambda c: c.start)
    ]
    write_rows(path, COLUMNS, rows, [*REMARKS, made_for(clip)])


def name_cut(path: Path, clip: Clip, at: str, number: int) -> None:
    """Say whose the stretch is that holds a time, such as ``28:05``; it then waits no longer.

    Raises
    ------
    SquadError
        No stretch holds that time.
    """
    cuts, time_s = read_cuts(path, clip), seconds(at)
    frame = -1 if time_s is None else frame_at(clip.times, time_s)
    if not any(c.start <= frame < c.stop for c in cuts):
        raise SquadError(f'No stretch in {path.name} holds the time "{at}".', "Look up its from and to there.")
    write_cuts(path, [Cut(c.start, c.stop, number) if c.start <= frame < c.stop else c for c in cuts], clip)


def seconds(word: str) -> float | None:
    """A time of day in a recording, such as ``2:05.5`` or ``1:02:05.5`` or ``125.5`` [s]; None if it is none.

    >>> seconds("2:05.5"), seconds("1:00:00"), seconds("soon")
    (125.5, 3600.0, None)
    """
    found = _TIME.fullmatch(word.strip())
    if not found:
        return None
    hours, minutes, rest = found.groups()
    return int(hours or 0) * 3600 + int(minutes or 0) * 60 + float(rest.replace(",", "."))


def told(time_s: float) -> str:
    """A time as ``mm:ss.sss``.

    >>> told(125.5)
    '02:05.500'
    """
    whole_ms = round(time_s * 1000)
    return f"{whole_ms // 60_000:02d}:{whole_ms % 60_000 // 1000:02d}.{whole_ms % 1000:03d}"


def frame_at(times: NDArray[np.float64], time_s: float) -> int:
    """The first frame that is shown at this time or later: (N,) rising times [s]; N if there is none."""
    return int(np.searchsorted(times, time_s - _HALF_A_STEP_S))


def _cut(path: Path, row: Row, times: NDArray[np.float64]) -> Cut:
    start_s, stop_s = (seconds(row[name]) for name in ("from", "to"))
    for name, value in (("from", start_s), ("to", stop_s)):
        if value is None:
            raise SquadError(
                f'{path.name}, line {row.line}: {name}: "{row[name][:40]}" is no time.', "Write it as mm:ss.s."
            )
    start, stop = frame_at(times, start_s or 0.0), frame_at(times, stop_s or 0.0)
    if start >= stop:
        raise SquadError(
            f"{path.name}, line {row.line}: no picture of the recording lies between {row['from']} and {row['to']}.",
            f"The recording runs to {told(float(times[-1]))}.",
        )
    number = whole(path, row, "number") if row["number"] else None
    return Cut(start, stop, number, row["say"])


def _same_recording(path: Path, clip: Clip) -> None:
    made = [r for r in remarks_of(path) if r.startswith("Made for")]
    if made and made[0] != made_for(clip):
        raise SquadError(
            f'"{path.name}" was made for another recording than "{clip.name}".',
            "Move it away to begin anew, or name the other recording.",
        )


def made_for(clip: Clip) -> str:
    """What tells one recording from another without reading all of it."""
    return f"Made for a recording of {clip.n_frames} pictures that ends at {told(float(clip.times[-1]))}"


def _end(times: NDArray[np.float64]) -> float:
    """When the last picture ends, by the one before. [s]"""
    return float(times[-1] + (times[-1] - times[-2] if len(times) > 1 else 0.04))
