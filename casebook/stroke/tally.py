"""The strokes of a shot counted one by one, so that an eye can follow the count on the picture."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from casebook.stroke.moment import Moment

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from casebook.stroke.strokes import Stroke


@dataclass(frozen=True, slots=True)
class Count:
    """A hand enters: its number among the entries of both hands so far, and where that shows."""

    number: int
    side: str
    frame: float
    time_s: float
    by_coach: bool


def tally(left: Sequence[Stroke], right: Sequence[Stroke]) -> tuple[Count, ...]:
    """Entries of both hands in time order, numbered from 1."""
    entries = sorted({m.frame: m for m in _entries((*left, *right))}.values(), key=lambda m: m.frame)
    return tuple(Count(n, m.side, m.frame, m.time_s, m.by_coach) for n, m in enumerate(entries, 1))


def _entries(strokes: Iterable[Stroke]) -> Iterable[Moment]:
    for stroke in strokes:
        for moment in (stroke.moment("entry"), stroke.next_entry):
            if isinstance(moment, Moment):
                yield moment
