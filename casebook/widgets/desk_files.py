"""The lines, lengths and events of a desk while a tool changes them: read anew only when their files have changed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from casebook.checkpoints.drawing import Point
from casebook.marks.events import EventMark, write_events
from casebook.marks.lines import LineMark, write_lines
from casebook.marks.scales import LengthMark, write_scales
from casebook.plane.make import plane_of

if TYPE_CHECKING:
    from casebook.case.desk import Desk
    from casebook.plane.plane import Plane


class DeskLines:
    """The lines, lengths and plane of a desk; a ``LineDesk``."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._read: dict[str, tuple[object, Any]] = {}
        beside = desk.store.path
        self._files = beside.with_suffix(".lines.csv"), beside.with_suffix(".scales.toml")
        self._camera_files = beside.with_suffix(".fixed.csv"), beside.with_suffix(".edges.csv")

    @property
    def lines(self) -> Sequence[LineMark]:
        """All lines on disk, of every frame and kind."""
        return _once(self._read, "lines", self._files[:1], lambda: tuple(self._desk.lines))

    @property
    def lengths(self) -> Sequence[LengthMark]:
        """All known lengths on disk."""
        return _once(self._read, "lengths", self._files[1:], lambda: tuple(self._desk.lengths))

    @property
    def plane(self) -> Plane:
        """The plane that the lines and lengths on disk give."""
        return _once(self._read, "plane", (*self._files, *self._camera_files), lambda: self._desk.plane)

    def draw_line(self, frame: int, name: str, left: Point, right: Point) -> None:
        """Keep a line of a frame; CasebookError if no plane of this shot can be read from it."""
        mark = LineMark(frame, name, *left, *right, by=self._desk.case.coach)
        plane_of(self._desk.shot, [mark])
        write_lines(self._files[0], [*self._but(frame, name), mark])
        self._read.clear()

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
    ) -> None:
        self._desk.draw_length(frame, left, right, length_m, give_or_take_m, what, distance_ratio, distance_sigma)
        self._read.clear()

    def erase_line(self, frame: int, name: str) -> None:
        """Take a line off a frame."""
        write_lines(self._files[0], self._but(frame, name))
        self._read.clear()

    def erase_length(self, frame: int, what: str) -> None:
        """Take the length of these words off a frame."""
        write_scales(self._files[1], [m for m in self._desk.lengths if (m.frame, m.what) != (frame, what)])
        self._read.clear()

    def _but(self, frame: int, name: str) -> list[LineMark]:
        return [m for m in self._desk.lines if (m.frame, m.line) != (frame, name)]


class DeskMoments:
    """The events of a desk; a ``MomentDesk``."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._read: dict[str, tuple[object, Any]] = {}
        self._file = desk.store.path.with_suffix(".events.csv")

    @property
    def events(self) -> Sequence[EventMark]:
        """All events on disk, in the file's order."""
        return _once(self._read, "events", (self._file,), lambda: tuple(self._desk.events))

    def keep_events(self, events: Sequence[EventMark]) -> None:
        """Replace the events on disk, in time order."""
        write_events(self._file, sorted(events, key=lambda e: (e.frame, e.event, e.side)))
        self._read.clear()


def _once(held: dict[str, tuple[object, Any]], name: str, files: Sequence[Path], read: Callable[[], Any]) -> Any:
    stamp = [_stamp(path) for path in files]
    if name not in held or held[name][0] != stamp:
        held[name] = (stamp, read())
    return held[name][1]


def _stamp(path: Path) -> tuple[int, int] | None:
    try:
        about = path.stat()
    except OSError:
        return None
    return about.st_mtime_ns, about.st_size
