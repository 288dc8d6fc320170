"""The moments of a stroke while a coach sets them: an event of one arm at the frame shown, kept at once.

Moments that the stroke reading finds stand beside the coach's own and give way to them.
"""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Protocol

from casebook.errors import CasebookError, MarksError
from casebook.marks.events import EventMark
from casebook.stroke.strokes import SAME_S
from casebook.words import SIDES, STROKE_CLASSES

if TYPE_CHECKING:
    from numpy.typing import NDArray

CLASS = "stroke_class"
#: The moments in their order within a stroke, as a coach says them.
MOMENT_WORDS: dict[str, str] = {
    "entry": "entry",
    "end_of_extension": "reach ends",
    "past_body": "past the body",
    "catch": "catch",
    "shoulder": "under shoulder",
    "exit": "exit",
    CLASS: "kind of stroke",
}


class MomentDesk(Protocol):
    """Where the events of one shot are kept, on disk at once."""

    @property
    def events(self) -> Sequence[EventMark]: ...
    def keep_events(self, events: Sequence[EventMark]) -> None: ...


@dataclass(frozen=True, slots=True)
class Found:
    """A moment that was found, not set: which, of which arm, at which frame (between two frames mostly)."""

    event: str
    side: str
    frame: float


@dataclass(frozen=True, slots=True)
class _Step:
    gone: tuple[EventMark, ...]
    come: tuple[EventMark, ...]


@dataclass(slots=True)
class MomentSheet:
    """Moments of one shot.

    Attributes
    ----------
    desk : MomentDesk
    times : (N,) float array
        Pool time of every frame of the clip, or the file's own. [s]
    by : str
        Initials of who sets moments.
    found : sequence of Found
        What was last found in the marks; the coach's own moments take its place.
    """

    desk: MomentDesk
    times: NDArray
    by: str = ""
    found: Sequence[Found] = ()
    _seen: Sequence[EventMark] = ()
    _past: list[_Step] = field(default_factory=list)
    _future: list[_Step] = field(default_factory=list)

    # -- changes

    def put(self, frame: float, event: str, side: str, value: str = "") -> None:
        """Set a moment of an arm at a frame; one of the same name and arm within ``SAME_S`` moves there."""
        if event not in MOMENT_WORDS or side not in SIDES:
            raise MarksError(f'There is no moment "{event}" of the arm "{side}".')
        if not 0 <= frame < len(self.times):
            raise MarksError(f"Frame {frame:g} is not in this clip.")
        mark = EventMark(event, side, float(frame), value if event == CLASS else "", by=self.by)
        self._change(tuple(self._same(mark)), (mark,))

    def erase(self, frame: float, event: str, side: str) -> float | None:
        """Take the coach's own moment off the stroke at hand; returns the frame where it stood, None if none does."""
        probe = EventMark(event, side, float(frame), "none" if event == CLASS else "")
        gone = tuple(self._same(probe))
        if gone:
            self._change(gone, ())
        return gone[0].frame if gone else None

    def undo(self) -> EventMark | None:
        """Take back the last change; returns the moment it was about."""
        return self._step(self._past, self._future, back=True)

    def redo(self) -> EventMark | None:
        """Make again what was undone."""
        return self._step(self._future, self._past, back=False)

    # -- as it stands

    def told(self, start: int, stop: int) -> list[list[Any]]:
        """All moments between two frames in time order: [frame, event, side, set by the coach, value in words]."""
        with suppress(CasebookError):  # a file damaged meanwhile is named when a moment is set; marking goes on
            self._seen = self.desk.events
        own = [e for e in self._seen if e.event in MOMENT_WORDS]
        every: list[list[Any]] = [
            [e.frame, e.event, e.side, True, STROKE_CLASSES.get(e.value, "")] for e in own if start <= e.frame < stop
        ]
        for f in self.found:
            same = any(
                e.event == f.event and e.side in ("", f.side) and self._apart(e.frame, f.frame) < SAME_S for e in own
            )
            if start <= f.frame < stop and f.event in MOMENT_WORDS and not same:
                every.append([round(f.frame, 2), f.event, f.side, False, ""])
        return sorted(every, key=lambda moment: moment[:2])

    # -- within

    def _apart(self, a: float, b: float) -> float:
        n = len(self.times) - 1
        first, other = (float(self.times[min(n, max(0, round(v)))]) for v in (a, b))
        return abs(first - other)

    def _same(self, mark: EventMark) -> list[EventMark]:
        near = [e for e in self.desk.events if (e.event, e.side) == (mark.event, mark.side)]
        return [e for e in near if self._apart(e.frame, mark.frame) < SAME_S]

    def _change(self, gone: tuple[EventMark, ...], come: tuple[EventMark, ...]) -> None:
        self._write(gone, come)
        self._past.append(_Step(gone, come))
        self._future.clear()

    def _step(self, source: list[_Step], target: list[_Step], *, back: bool) -> EventMark | None:
        if not source:
            return None
        step = source[-1]
        self._write(*((step.come, step.gone) if back else (step.gone, step.come)))
        target.append(source.pop())
        return ((step.gone or step.come) if back else (step.come or step.gone))[0]

    def _write(self, gone: tuple[EventMark, ...], come: tuple[EventMark, ...]) -> None:
        """What someone else set meanwhile stays."""
        kept = [e for e in self.desk.events if e not in gone and e not in come]
        try:
            self.desk.keep_events([*kept, *come])
        except OSError as error:
            raise MarksError(
                f"The moment could not be written to disk: {error.strerror or error}.",
                "Make room or unlock the folder.",
            ) from error
