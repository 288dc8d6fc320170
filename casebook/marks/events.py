"""Events of a stroke as the coach set them, and the class of a stroke; on disk ``<shot>.events.csv``."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import astuple, dataclass
from pathlib import Path

from casebook.errors import MarksError
from casebook.marks.csvfile import ORIGIN_CODES
from casebook.marks.marks import Origin
from casebook.marks.table import check_initials, check_name, read_table, write_table
from casebook.words import SIDES, STROKE_CLASSES

COLUMNS = ("event", "side", "frame", "value", "origin", "by")

EVENTS: dict[str, str] = {
    "entry": "the fingertip passes down through the water line",
    "end_of_extension": "the fingertip's first lasting downward motion after full reach",
    "past_body": "the wrist turns backward against the shoulder and stays so",
    "catch": "the wrist turns backward against the water and stays so",
    "shoulder": "the wrist passes the vertical plane of the shoulder",
    "exit": "the wrist passes up through the water line",
    "stroke_class": "what kind of stroke it is; the value is one of words.STROKE_CLASSES",
}


@dataclass(frozen=True, slots=True)
class EventMark:
    """One event of one arm.

    Attributes
    ----------
    event : str
        Key of ``EVENTS``. ``stroke_class`` stands at a frame inside that stroke's set-up.
    side : str
        "l" or "r"; empty where an event belongs to no side.
    frame : float
        In the clip's own frame numbers; may lie between two frames.
    value : str
        Empty, or what the event says: for ``stroke_class`` a key of ``words.STROKE_CLASSES``.
    origin : Origin
    by : str
        Initials.
    """

    event: str
    side: str
    frame: float
    value: str = ""
    origin: Origin = Origin.hand
    by: str = ""

    def __post_init__(self) -> None:
        if self.event not in EVENTS:
            raise MarksError(f'There is no event "{self.event}".', f"Known are: {', '.join(EVENTS)}.")
        if self.side and self.side not in SIDES:
            raise MarksError(f'"{self.side}" is not a side.', 'Use "l", "r", or nothing.')
        if not math.isfinite(self.frame) or self.frame < 0 or self.origin == Origin.unmarked:
            raise MarksError(
                f"The event {self.event} stands at frame {self.frame} with origin {self.origin.name}.",
                "Frames count from 0; the origin is hand, confirmed, tracked or drafted.",
            )
        if self.event == "stroke_class" and self.value not in STROKE_CLASSES:
            raise MarksError(f'"{self.value}" is not a class of stroke.', f"Known are: {', '.join(STROKE_CLASSES)}.")
        if self.value:
            check_name(f"The event {self.event}", self.value)
        check_initials(self.by)


def read_events(path: Path | str) -> list[EventMark]:
    """Events of one shot in the file's order; raises MarksError naming line, column and what to do."""
    table = read_table(path, COLUMNS)
    kinds = [EVENT_NAMES[i] for i in table.coded("event", EVENT_CODES)]
    sides = [SIDE_NAMES[i] for i in table.coded("side", SIDE_CODES)]
    frames, origins = table.floats("frame"), table.coded("origin", ORIGIN_CODES)
    events = []
    for i, (value, by) in enumerate(zip(table.columns["value"], table.columns["by"], strict=True)):
        with table.cell(i, "value" if frames[i] >= 0 else "frame"):
            events.append(EventMark(kinds[i], sides[i], float(frames[i]), value, Origin(int(origins[i])), by))
    return events


def write_events(path: Path | str, events: Iterable[EventMark]) -> None:
    """Replace the file in one step."""
    write_table(path, COLUMNS, [(*row[:4], Origin(row[4]).name, row[5]) for row in map(astuple, events)])


EVENT_NAMES = tuple(EVENTS)
EVENT_CODES = {name: i for i, name in enumerate(EVENT_NAMES)}
SIDE_NAMES = ("", *SIDES)
SIDE_CODES = {name: i for i, name in enumerate(SIDE_NAMES)}
