"""What lies beside the picture on the coach's bench, and the wishes that go to it.

The frame marker itself knows points and lines. Here are the rulers laid on a frame, the moments of a stroke, the frames
proposed for marking, and what is done over a stretch of frames: follow, draft, accept, swap, take off.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import traitlets

from casebook.errors import CasebookError, MarksError
from casebook.marks.marks import Origin
from casebook.widgets.moment_sheet import MOMENT_WORDS, MomentSheet
from casebook.widgets.stretch import around, between_own, unseen_run
from casebook.widgets.worker import Stopped, Worker
from casebook.words import STROKE_CLASSES

if TYPE_CHECKING:
    from casebook.clip.clip import Clip
    from casebook.marks.marks import Marks
    from casebook.marks.progress import Tell
    from casebook.marks.store import MarkStore
    from casebook.widgets.moment_sheet import Found
    from casebook.widgets.proposals import Proposal
    from casebook.widgets.ruler_board import RulerBoard

#: Points and frames -> a job that finds marks. Called where the store may be read; the job runs beside.
Prepare = Callable[[Sequence[str], range], Callable[["Tell"], "Finds"]]
#: What was found in the marks as they stand: moments, and frames proposed for marking. Called and run likewise.
Look = Callable[[], Callable[[], tuple[Sequence["Found"], Sequence["Proposal"]]]]
FOLLOW, DRAFT = "follow", "draft"
_ORIGIN = {FOLLOW: Origin.tracked, DRAFT: Origin.drafted}
_DOING = {FOLLOW: "following", DRAFT: "drafting"}
IDLE = {"kind": "", "n": 0, "of": 0, "says": ""}


@dataclass(frozen=True, slots=True, eq=False)
class Finds:
    """Marks that a job found, and what the coach should know of them, in a few words without a full stop."""

    marks: Marks
    note: str


@dataclass(slots=True)
class Bench:
    """What a frame marker is given beside points and lines; each may be missing.

    ``work`` holds what can be done over a stretch in the background, by ``follow`` and ``draft``; ``look`` finds
    moments and proposes frames to mark. ``side`` is the arm whose moments are set to begin with.
    """

    rulers: RulerBoard | None = None
    moments: MomentSheet | None = None
    work: Mapping[str, Prepare] = field(default_factory=dict)
    look: Look | None = None
    side: str = "r"
    worker: Worker = field(default_factory=Worker)
    looker: Worker = field(default_factory=Worker)


class BenchWishes(traitlets.HasTraits):
    """The part of a frame marker that answers wishes about its bench."""

    rulers: Any = traitlets.List().tag(sync=True)
    ruler_points = traitlets.Dict().tag(sync=True)
    moments: Any = traitlets.List().tag(sync=True)
    moment_names = traitlets.Dict().tag(sync=True)
    stroke_classes = traitlets.Dict().tag(sync=True)
    proposals: Any = traitlets.List().tag(sync=True)
    abilities = traitlets.List(traitlets.Unicode()).tag(sync=True)
    side = traitlets.Unicode("r").tag(sync=True)
    work = traitlets.Dict(dict(IDLE)).tag(sync=True)

    _bench: Bench
    _clip: Clip
    _store: MarkStore
    _age: int
    start: int
    stop: int
    frame: int
    trouble: str
    points: list[str]
    _send_state: Callable[..., None]
    _looked = -1

    def _lay_bench(self, bench: Bench) -> dict[str, Any]:
        """Take a bench; returns its traits as they begin."""
        self._bench = bench
        sheet = bench.moments
        return {
            "rulers": bench.rulers.told() if bench.rulers else [],
            "ruler_points": bench.rulers.names if bench.rulers else {},
            "moments": sheet.told(self.start, self.stop) if sheet else [],
            "moment_names": dict(MOMENT_WORDS) if sheet else {},
            "stroke_classes": dict(STROKE_CLASSES) if sheet else {},
            "abilities": list(bench.work),
            "side": bench.side,
        }

    def _bench_wish(self, kind: str, wish: Mapping[str, Any]) -> None:
        """Do what was asked for; a kind that is not known here is passed over."""
        acts: dict[str, Callable[[str, Mapping[str, Any]], None]] = {
            **dict.fromkeys(("ruler", "ruler_alone", "lay", "widen"), self._change_rulers),
            **dict.fromkeys(("moment", "erase_moment", "undo_moment", "redo_moment"), self._change_moments),
            **dict.fromkeys(("accept", "swap_over", "take_off"), self._change_stretch),
            **dict.fromkeys((FOLLOW, DRAFT), self._begin_work),
        }
        if kind == "look":
            self._look()
        elif kind == "halt":
            self._bench.worker.stop()
        elif kind in acts:
            acts[kind](kind, wish)

    # -- rulers

    def _change_rulers(self, kind: str, wish: Mapping[str, Any]) -> None:
        board = self._bench.rulers
        if board is None:
            return
        key = str(wish.get("key", ""))
        if kind == "ruler":
            board.turn(key, bool(wish["on"]))
        elif kind == "ruler_alone":
            board.alone(key)
        elif kind == "lay":
            board.lay(key, int(wish["slot"]), str(wish["point"]))
        else:
            board.widen(str(wish["text"]))
        self.rulers = board.told()
        self._answered(wish)

    # -- moments and proposals

    def _change_moments(self, kind: str, wish: Mapping[str, Any]) -> None:
        sheet, frame = self._bench.moments, int(wish["frame"])
        if sheet is None:
            return
        changed = None
        if kind == "moment":
            sheet.put(self._inside(frame), str(wish["event"]), str(wish["side"]), str(wish.get("value", "")))
        elif kind == "erase_moment":
            if sheet.erase(frame, str(wish["event"]), str(wish["side"])) is None:
                name = MOMENT_WORDS.get(str(wish["event"]), "moment")
                raise MarksError(
                    f'No "{name}" of this arm was set near frame {frame}.', "One that was found cannot go."
                )
        else:
            changed = sheet.undo() if kind == "undo_moment" else sheet.redo()
        if changed is not None:
            self.frame = frame = min(self.stop - 1, max(self.start, round(changed.frame)))
        self._tell_moments()
        self._answered({**wish, "frame": frame}, chosen=changed.event if changed else None)

    def _look(self) -> None:
        """Find moments and proposals in the marks as they stand, once for each change of them."""
        bench = self._bench
        if bench.look is None or bench.looker.busy or self._looked == self._age:
            return
        self._looked = self._age
        job = bench.look()
        bench.looker.start(lambda _: job(), lambda *_: None, self._seen, self._look_failed)

    def _look_failed(self, error: Exception) -> None:
        """Marking goes on, whatever the search for moments meets."""
        self.work = {**self.work, "says": f"Moments and proposals could not be looked for: {error}"}

    def _seen(self, found: tuple[Sequence[Found], Sequence[Proposal]]) -> None:
        moments, proposals = found
        if self._bench.moments is not None:
            self._bench.moments.found = moments
        self._tell_moments()
        inside = [p for p in proposals if self.start <= p.frame < self.stop]
        self.proposals = [[p.frame, p.title, p.why, p.done] for p in inside]
        self._look()

    def _tell_moments(self) -> None:
        if self._bench.moments is not None:
            self.moments = self._bench.moments.told(self.start, self.stop)

    # -- a stretch of frames

    def _change_stretch(self, kind: str, wish: Mapping[str, Any]) -> None:
        points, frame = self._points_of(wish), self._inside(int(wish["frame"]))
        if kind == "accept" and not wish.get("over"):
            count, where = self._store.confirm(points, frame), f"on frame {frame}"
        else:
            first, last = self._span(wish) or self._run_around(points, frame)
            where = f"on frames {first} to {last}"
            frames = range(first, last + 1)
            if kind == "accept":
                count = self._store.confirm(points, frames)
            elif kind == "swap_over":
                count = self._store.swap_sides(frames, list(self.points))
            else:
                count = self._store.drop(points, frames)
        verb = {"accept": "accepted", "swap_over": "swapped", "take_off": "discarded"}[kind]
        things = "frame" if kind == "swap_over" else "mark"
        self.work = {**IDLE, "says": f"{count} {things}{'' if count == 1 else 's'} {verb} {where}."}
        self._answered(wish)

    def _run_around(self, points: Sequence[str], frame: int) -> tuple[int, int]:
        run = unseen_run(self._store.marks, points, frame)
        if run is None:
            raise MarksError(
                f"Nothing is drafted or tracked on frame {frame}.",
                "Go to where it is, or say where a stretch begins and ends.",
            )
        return max(run[0], self.start), min(run[1], self.stop - 1)

    def _begin_work(self, kind: str, wish: Mapping[str, Any]) -> None:
        bench, frame, points = self._bench, self._inside(int(wish["frame"])), self._points_of(wish)
        if kind not in bench.work:
            return
        if bench.worker.busy:
            raise MarksError("Something is being done already.", "Wait for it, or stop it.")
        first, last = self._span(wish) or self._stretch_for(kind, points, frame)
        job = bench.work[kind](points, range(first, last + 1))
        begun = {"kind": kind, "n": 0, "of": 1, "says": f"{_DOING[kind]} on frames {first} to {last}"}
        self.work = begun
        self._answered(wish)
        bench.worker.start(
            job,
            lambda n, of: self.set_trait("work", {**begun, "n": n, "of": of}),
            lambda found: self._work_done(kind, found, range(first, last + 1)),
            self._work_failed,
        )

    def _stretch_for(self, kind: str, points: Sequence[str], frame: int) -> tuple[int, int]:
        marks = self._store.marks
        own = between_own(marks, points, frame)
        if own is not None:
            return own
        if kind == FOLLOW:
            raise MarksError(
                f"Around frame {frame} there are no two marks of your own to follow between.",
                "Mark the point on an earlier and on a later frame.",
            )
        return around(self._clip.times, frame, self.start, self.stop)

    def _work_done(self, kind: str, found: Finds, frames: range) -> None:
        try:
            count = self._store.renew(found.marks, frames, [_ORIGIN[kind]])
        except CasebookError as error:
            self._work_failed(error)
            return
        places = f"{count} place{'' if count == 1 else 's'}"
        self.work = {**IDLE, "says": f"{places} {'followed' if kind == FOLLOW else 'drafted'}; {found.note}."}

    def _work_failed(self, error: Exception) -> None:
        said = "stopped; nothing was changed." if isinstance(error, Stopped) else ""
        self.work = {**IDLE, "says": said}
        if not said:
            self.trouble = str(error) if isinstance(error, CasebookError) else f"{type(error).__name__}: {error}"

    # -- common

    def _points_of(self, wish: Mapping[str, Any]) -> list[str]:
        points = [str(p) for p in wish.get("points", [])]
        if not points or not set(points) <= set(self.points):
            raise MarksError("No point marked here was named.")
        return points

    def _span(self, wish: Mapping[str, Any]) -> tuple[int, int] | None:
        span = wish.get("span")
        if not span:
            return None
        first, last = sorted(self._inside(int(n)) for n in span)
        return first, last

    def _inside(self, frame: int) -> int:
        if not self.start <= frame < self.stop:
            raise MarksError(f"Frame {frame} is not among the frames marked here.")
        return frame

    def _answered(self, wish: Mapping[str, Any], chosen: str | None = None) -> None:
        self.trouble = ""
        self._age += 1
        self._send_state(int(wish["frame"]), wish, chosen=chosen)
