"""Where on the page a frame can be seen: the loops and pictures of its sections, known before they are laid out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import PurePosixPath
from typing import Any

from casebook.pages import plain

#: A value is read between frames; the picture beside it may be the one before or after. [frames]
_BESIDE = 1
#: A stretch as short as this is shown at its middle, a longer one from its beginning. [frames]
_SHORT = 6


@dataclass(frozen=True, slots=True)
class Spot:
    """A picture, or a loop's frames ``first`` to ``stop`` (not included), as it stands in a section."""

    id: str
    section: str
    shot: str
    side: str
    stroke: int
    first: int
    stop: int
    is_loop: bool = False

    def holds(self, frame: int) -> bool:
        """True if this frame is among its frames."""
        return self.first <= frame < self.stop


@dataclass(frozen=True, slots=True)
class Reading:
    """What one stroke's value was read from: frames ``first`` to ``last`` of a shot."""

    shot: str
    side: str
    stroke: int
    first: int
    last: int


@dataclass(frozen=True, slots=True)
class Where:
    """All spots of a page."""

    spots: tuple[Spot, ...] = ()

    def has_loop(self, loop_id: str) -> bool:
        """True if the page holds this loop."""
        return any(s.is_loop and s.id == loop_id for s in self.spots)

    def behind(self, section: str, reading: Reading) -> tuple[Spot, int] | None:
        """Where a section shows what was read, and the picture of that spot to open at; None if it does not.

        A loop comes before a picture, as it can be stepped.
        """
        own = [s for s in self.spots if s.section == section and s.shot == reading.shot]
        pictures = [s for s in own if not s.is_loop and _is_of(s, reading)]
        middle = (reading.first + reading.last) / 2
        nearest = min(pictures, key=lambda s: abs(s.first - middle), default=None)
        short = reading.last - reading.first <= _SHORT
        frame = nearest.first if nearest else round(middle) if short else reading.first
        loop = next((s for s in own if s.is_loop and s.holds(frame)), None)
        if loop is not None:
            return loop, frame - loop.first
        return (nearest, 0) if nearest else None


def where_of(sections: Iterable[tuple[str, Iterable[Mapping[str, Any]]]]) -> Where:
    """The spots of a page's sections, each given by its id and its blocks."""
    return Where(tuple(spot for section, blocks in sections for block in blocks for spot in _spots(section, block)))


def picture_id(section: str, picture: Mapping[str, Any]) -> str:
    """The id of a picture in its section."""
    return f"{section}-{plain.identifier(PurePosixPath(plain.words(picture, 'file')).stem)}" if section else ""


def readings(measure: Mapping[str, Any]) -> list[Reading]:
    """What the values of a measure were read from, stroke after stroke; empty where the notebook does not say."""
    out = []
    for row in plain.rows(measure, "read"):
        stroke, first, last = (plain.number(row.get(key)) for key in ("stroke", "first", "last"))
        if stroke is not None and first is not None and last is not None:
            side = plain.words(measure, "side")
            out.append(Reading(plain.words(row, "shot"), side, int(stroke), int(first), int(last)))
    return out


def _is_of(spot: Spot, reading: Reading) -> bool:
    of_stroke = spot.stroke == reading.stroke and ("" in (spot.side, reading.side) or spot.side == reading.side)
    return of_stroke and reading.first - _BESIDE <= spot.first <= reading.last + _BESIDE


def _spots(section: str, block: Mapping[str, Any]) -> list[Spot]:
    kind = block.get("kind")
    if kind == "loop":
        return _loop(section, block)
    found = {
        "whole": [plain.row(block, "picture")],
        "stills": plain.rows(block, "pictures"),
        "pair": [plain.row(block, "you")],
    }
    return _pictures(section, found.get(str(kind), []))


def _loop(section: str, block: Mapping[str, Any]) -> list[Spot]:
    times = block.get("times")
    first, stroke = plain.number(block.get("first")), plain.number(block.get("stroke"))
    start, length = int(first or 0), len(times) if isinstance(times, list) else 0
    # A loop that does not say which frames it shows can be linked to by name alone.
    shot = plain.words(block, "shot") if first is not None else ""
    spot = Spot(
        plain.identifier(plain.words(block, "name", "loop")), section, shot, plain.words(block, "side"),
        int(stroke or 0), start, start + length, True,
    )  # fmt: skip
    return [spot, *_pictures(section, plain.rows(block, "others"))]


def _pictures(section: str, pictures: Iterable[Mapping[str, Any]]) -> list[Spot]:
    out = []
    for picture in pictures:
        frame, stroke = plain.number(picture.get("frame")), plain.number(picture.get("stroke"))
        shot = plain.words(picture, "shot")
        if frame is not None and shot:
            side = plain.words(picture, "side")
            out.append(
                Spot(picture_id(section, picture), section, shot, side, int(stroke or 0), int(frame), int(frame) + 1)
            )
    return out
