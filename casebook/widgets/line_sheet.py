"""The lines of one shot while a coach draws them: water, lane, plumb, and a known length, each by its two ends.

What is complete goes to the case at once; what is half drawn or cannot be kept waits here, and nothing of it is lost.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from math import hypot, isfinite
from typing import Any, Protocol

from casebook.checkpoints.drawing import Drawing, Label, Point
from casebook.errors import CasebookError, MarksError
from casebook.marks.lines import LineMark
from casebook.marks.marks import HAND_SIGMA_PX
from casebook.marks.scales import LengthMark
from casebook.widgets.scene import across

WATER, LANE, PLUMB, LENGTH = "water", "lane", "plumb", "length"
#: The entries in the order of drawing, as a coach says them.
LINE_WORDS: dict[str, str] = {WATER: "water line", LENGTH: "known length", LANE: "lane line", PLUMB: "plumb line"}
#: Those that run on across the whole picture.
_ENDLESS = (WATER, LANE)
#: Ends nearer than ten times the error of a hand's mark give neither a direction nor a length. [px]
#: common practice, no source
LEAST_APART_PX = 10 * HAND_SIGMA_PX
#: Give or take of a length whose coach states none, as a share of it: a tape held along a rope in the water.
#: common practice, no source
UNSTATED_SHARE = 0.02


class LineDesk(Protocol):
    """Where the lines of one shot are kept, on disk at once. Ends in [px], lengths in [m]."""

    @property
    def lines(self) -> Sequence[LineMark]: ...
    @property
    def lengths(self) -> Sequence[LengthMark]: ...
    def draw_line(self, frame: int, name: str, left: Point, right: Point) -> None: ...
    def erase_line(self, frame: int, name: str) -> None: ...
    def draw_length(
        self,
        frame: int,
        left: Point,
        right: Point,
        length_m: float,
        give_or_take_m: float,
        what: str,
        distance_ratio: float = 1.0,
        distance_sigma: float = 0.0,
    ) -> None: ...
    def erase_length(self, frame: int, what: str) -> None: ...


@dataclass(frozen=True, slots=True)
class Entry:
    """A line as it stands in the tool: up to two ends [px], and for a length the coach's words as typed."""

    ends: tuple[Point, ...] = ()
    metres: str = ""
    give_or_take: str = ""
    what: str = ""


Key = tuple[int, str]
Kept = LineMark | LengthMark
#: What can be undone: a line of a frame, as it waited and as it was kept before a change.
Step = tuple[Key, Entry | None, Kept | None]


@dataclass(slots=True)
class LineSheet:
    """Entries by frame and name over what a ``LineDesk`` keeps.

    Every change may raise a CasebookError: then the desk holds what it held, and the entry stays as drawn.
    """

    desk: LineDesk
    _waiting: dict[Key, Entry] = field(default_factory=dict)
    _past: list[Step] = field(default_factory=list)
    _future: list[Step] = field(default_factory=list)
    _seen: tuple[Sequence[LineMark], Sequence[LengthMark]] = field(init=False)

    def __post_init__(self) -> None:
        self._seen = self.desk.lines, self.desk.lengths

    @property
    def _all(self) -> tuple[Sequence[LineMark], Sequence[LengthMark]]:
        with suppress(CasebookError):  # a file damaged meanwhile is named when a line is drawn; marking goes on
            self._seen = self.desk.lines, self.desk.lengths
        return self._seen

    # -- changes

    def set_ends(self, frame: int, name: str, ends: Sequence[Point]) -> None:
        """Draw one or both ends; with both, and for a length its metres, the line is kept."""
        if name not in LINE_WORDS or len(ends) > 2 or not all(isfinite(v) for end in ends for v in end):
            raise MarksError(f'The line "{name}" on frame {frame} was drawn at no place in the picture.')
        self._change((frame, name), replace(self.entry(frame, name) or Entry(), ends=tuple(ends)))

    def set_words(self, frame: int, metres: str, give_or_take: str, what: str) -> None:
        """Say how long the known length of a frame is, how well that is known, and what it is."""
        entry = self.entry(frame, LENGTH) or Entry()
        self._change((frame, LENGTH), Entry(entry.ends, metres.strip(), give_or_take.strip(), what.strip()))

    def erase(self, frame: int, name: str) -> None:
        """Take a line off a frame, half drawn or kept."""
        key = (frame, name)
        if self.entry(*key) is not None:
            self._remember(key)
            self._put_back(key, None, None)

    def undo(self) -> Key | None:
        """Take back the last change of a line; returns its frame and name, None if there is none."""
        return self._step(self._past, self._future)

    def redo(self) -> Key | None:
        """Make again what was undone."""
        return self._step(self._future, self._past)

    # -- as it stands

    def entry(self, frame: int, name: str) -> Entry | None:
        """A line of this frame as drawn, kept or not; None if there is none."""
        waiting, kept = self._waiting.get((frame, name)), self._kept(frame, name)
        if waiting is not None or kept is None:
            return waiting
        ends = ((kept.x0_px, kept.y0_px), (kept.x1_px, kept.y1_px))
        if isinstance(kept, LineMark):
            return Entry(ends)
        return Entry(ends, f"{kept.length_m:.10g}", f"{2 * kept.sigma_m:.10g}", kept.what)

    def told(self, frame: int) -> dict[str, dict[str, Any]]:
        """The lines of one frame as the browser is told them."""
        found = {name: entry for name in LINE_WORDS if (entry := self.entry(frame, name)) is not None}
        return {
            name: {
                "ends": [list(end) for end in entry.ends],
                "kept": (frame, name) not in self._waiting,
                "metres": entry.metres,
                "give": entry.give_or_take,
                "what": entry.what,
            }
            for name, entry in found.items()
        }

    def frames(self) -> dict[str, list[int]]:
        """The frames on which each line is kept."""
        lines, lengths = self._all
        of = {name: {m.frame for m in lines if m.line == name} for name in LINE_WORDS}
        of[LENGTH] = {m.frame for m in lengths}
        return {name: sorted(frames) for name, frames in of.items()}

    def elsewhere(self, frame: int) -> list[LineMark]:
        """The kept lines that are fixed on this frame: all but those of a name that can be changed here."""
        here = {name for name in LINE_WORDS if name != LENGTH and self._kept(frame, name) is not None}
        return [m for m in self._all[0] if m.line not in here]

    def drawing(self, frame: int, size: tuple[int, int]) -> Drawing:
        """The lines of one frame for a picture that stands still."""
        drawn = []
        for name in (WATER, LANE, PLUMB):
            entry = self.entry(frame, name) or Entry()
            if len(entry.ends) == 2:
                drawn.append(across(*entry.ends, size) if name in _ENDLESS else (entry.ends[0], entry.ends[1]))
        reference, length = tuple(line for line in drawn if line), self.entry(frame, LENGTH) or Entry()
        if len(length.ends) < 2:
            return Drawing(reference=reference)
        (x0, y0), (x1, y1) = length.ends
        label = (Label(((x0 + x1) / 2, (y0 + y1) / 2), f"{length.metres} m"),) if length.metres else ()
        return Drawing(reference=reference, measure=((length.ends[0], length.ends[1]),), labels=label)

    # -- within

    def _kept(self, frame: int, name: str) -> Kept | None:
        lines, lengths = self._all
        if name == LENGTH:
            return next((m for m in lengths if m.frame == frame), None)
        return next((m for m in lines if m.line == name and m.frame == frame), None)

    def _change(self, key: Key, entry: Entry) -> None:
        self._remember(key)
        self._waiting[key] = entry
        if len(entry.ends) < 2:
            return
        _check_apart(key, entry.ends)
        if self._keep_length(key[0], entry) if key[1] == LENGTH else self._keep_line(*key, entry):
            del self._waiting[key]

    def _keep_line(self, frame: int, name: str, entry: Entry) -> bool:
        left, right = entry.ends[0], entry.ends[1]
        _written(lambda: self.desk.draw_line(frame, name, left, right))
        return True

    def _keep_length(self, frame: int, entry: Entry) -> bool:
        kept = self._kept(frame, LENGTH)
        if not entry.metres:
            if kept is not None:
                raise MarksError(
                    f"The known length on frame {frame} has no metres now, so it stays as it was kept.",
                    "Give its metres, or erase the line.",
                )
            return False
        metres = _number("length", entry.metres)
        if metres <= 0:
            raise MarksError(
                f"A known length of {entry.metres} m cannot be.", "Give its length in metres, such as 2.5."
            )
        give = _number("give or take", entry.give_or_take) if entry.give_or_take else UNSTATED_SHARE * metres
        if give < 0:
            raise MarksError(f"A give or take of {entry.give_or_take} m cannot be.", "Give it in metres, such as 0.02.")
        distance = (kept.distance_ratio, kept.distance_sigma) if isinstance(kept, LengthMark) else (1.0, 0.0)
        left, right = entry.ends[0], entry.ends[1]
        _written(lambda: self.desk.draw_length(frame, left, right, metres, give, entry.what, *distance))
        if isinstance(kept, LengthMark) and kept.what != entry.what:
            _written(lambda: self.desk.erase_length(frame, kept.what))
        return True

    def _remember(self, key: Key) -> None:
        self._past.append((key, self._waiting.get(key), self._kept(*key)))
        self._future.clear()

    def _step(self, source: list[Step], target: list[Step]) -> Key | None:
        if not source:
            return None
        key, waiting, kept = source[-1]
        now = (key, self._waiting.get(key), self._kept(*key))
        self._put_back(key, waiting, kept)
        source.pop()
        target.append(now)
        return key

    def _put_back(self, key: Key, waiting: Entry | None, kept: Kept | None) -> None:
        """Make one line of one frame as it once was, kept and waiting."""
        frame, there = key[0], self._kept(*key)
        if isinstance(kept, LineMark):
            _written(lambda: self.desk.draw_line(frame, kept.line, kept.ends[:2], kept.ends[2:]))
        elif isinstance(kept, LengthMark):
            numbers = (kept.length_m, 2 * kept.sigma_m, kept.what, kept.distance_ratio, kept.distance_sigma)
            _written(lambda: self.desk.draw_length(frame, kept.ends[:2], kept.ends[2:], *numbers))
        if isinstance(there, LengthMark) and not (isinstance(kept, LengthMark) and kept.what == there.what):
            _written(lambda: self.desk.erase_length(frame, there.what))
        elif isinstance(there, LineMark) and kept is None:
            _written(lambda: self.desk.erase_line(frame, there.line))
        if waiting is None:
            self._waiting.pop(key, None)
        else:
            self._waiting[key] = waiting


def _check_apart(key: Key, ends: tuple[Point, ...]) -> None:
    (x0, y0), (x1, y1) = ends
    if hypot(x1 - x0, y1 - y0) < LEAST_APART_PX:
        raise MarksError(
            f"The ends of the {LINE_WORDS[key[1]]} on frame {key[0]} are too close together; it is not kept like this.",
            "Drag them as far apart as can be.",
        )


def _number(what: str, text: str) -> float:
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        value = float("nan")
    if not isfinite(value):
        raise MarksError(f'The {what} "{text}" is not a number of metres.', "Write it like 2 or 0.02.")
    return value


def _written(write: Callable[[], None]) -> None:
    try:
        write()
    except CasebookError:
        raise
    except OSError as error:
        raise MarksError(
            f"The line could not be written to disk: {error.strerror or error}.", "Make room or unlock the folder."
        ) from error
