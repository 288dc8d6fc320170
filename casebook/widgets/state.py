"""One frame of the mark store as the browser is told it: plain dicts, made in one place."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from hashlib import sha256
from typing import TYPE_CHECKING, Any

import numpy as np

from casebook.checkpoints.drawing import Drawing, Point
from casebook.errors import MarksError
from casebook.marks.marks import Origin
from casebook.marks.points import POINTS

if TYPE_CHECKING:
    from casebook.clip.clip import Clip
    from casebook.marks.marks import Marks
    from casebook.marks.store import Mark

_made: Counter[str] = Counter()


def places(held: Mapping[str, Mark]) -> dict[str, Point | None]:
    """Where each point is [px], None if it cannot be seen; points not marked are absent."""
    return {p: None if mark.hidden else (mark.x_px, mark.y_px) for p, mark in held.items()}


def first_change(points: Sequence[str], before: Mapping[str, object], after: Mapping[str, object]) -> str | None:
    """The first of these points that was set, moved, hidden or erased between two ``places``."""
    absent = ()
    return next((p for p in points if before.get(p, absent) != after.get(p, absent)), None)


def counts(marks: Marks, start: int, stop: int) -> dict[int, int]:
    """How many points are marked, by frame."""
    found = np.isfinite(marks.xy).all(-1).sum(-1)
    return {int(f): int(n) for f, n in zip(marks.frames, found, strict=True) if n and start <= f < stop}


def ticks(by_frame: Mapping[int, int]) -> list[list[int]]:
    """Marked frames in order, each with its number of marks."""
    return [[f, by_frame[f]] for f in sorted(by_frame) if by_frame[f]]


def told(
    points: Sequence[str],
    held: Mapping[str, Mark],
    marks: Mapping[str, Point],
    extras: Drawing,
    live: str,
    age: int,
    lines: Mapping[str, Any],
) -> dict[str, Any]:
    """What the browser needs of one frame.

    ``marks`` are the places to draw, which run ahead of ``held`` while a point is dragged. ``age`` counts the store's
    changes up to this moment; -1 says that value and measure were left out. ``lines`` are those that can be changed.
    """
    return {
        "marks": {name: list(xy) for name, xy in marks.items()},
        "origins": {p: (held[p].origin if p in held else Origin.hand).name for p in marks},
        "hidden": [p for p in points if p in held and held[p].hidden and p not in marks],
        "extras": {
            "reference": [[list(p) for p in line] for line in extras.reference],
            "measure": [[list(p) for p in line] for line in extras.measure],
            "labels": [[*label.at, label.text] for label in extras.labels],
        },
        "live": live,
        "age": age,
        "lines": dict(lines),
    }


def own_id(*what: object) -> str:
    """An id that is the same each time a notebook runs, so that its saved output is; numbered within one kernel."""
    digest = sha256(repr(what).encode()).hexdigest()[:24]
    _made[digest] += 1
    return f"{digest}-{_made[digest]}"


def check_asked(clip: Clip, points: Sequence[str], start: int, stop: int) -> None:
    """Raise MarksError unless these points and frames can be marked."""
    unknown = [p for p in points if p not in POINTS]
    if unknown or not points:
        raise MarksError(
            f"No such point to mark: {', '.join(unknown)}." if unknown else "No point was named to mark.",
            f"Points are: {', '.join(POINTS)}.",
        )
    if len(set(points)) != len(points):
        raise MarksError("A point was named twice.", "Name each point once.")
    if not 0 <= start < stop <= clip.n_frames:
        raise MarksError(
            f"{clip.name} has frames 0 to {clip.n_frames}, but frames {start} to {stop} were asked for.",
            "Set start and stop inside the clip.",
        )
