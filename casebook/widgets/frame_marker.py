"""The coach's hands-on tool: exact frames in the notebook, points set, dragged and nudged, every change saved at once.

Python holds the marks and decides; the browser draws them and sends wishes. See ``parts/page.js`` for keys.
"""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import anywidget
import numpy as np
import traitlets

from casebook.checkpoints.drawing import Drawing, Point
from casebook.clip.reel import FRAMES
from casebook.errors import CasebookError, MarksError
from casebook.marks.marks import Origin
from casebook.marks.points import SKELETON
from casebook.widgets import state
from casebook.widgets.bench import Bench, BenchWishes
from casebook.widgets.line_sheet import LINE_WORDS, LineDesk, LineSheet
from casebook.widgets.pictures import Film
from casebook.widgets.scene import SPANS, Pairs, drawn_marks, reference_lines, spoken, still_picture, together
from casebook.widgets.ticks import Ticks

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from casebook.clip.clip import Clip
    from casebook.marks.lines import LineMark
    from casebook.marks.marks import Marks
    from casebook.marks.store import MarkStore

FrameMarks = Mapping[str, Point]
_HERE = Path(__file__).parent
#: Width of the static picture. [px]
_STILL_WIDTH = 960
#: Changes of more frames than this are counted afresh.
_MANY = 200


class FrameMarker(BenchWishes, anywidget.AnyWidget):
    """Mark points on the frames of a clip.

    Parameters
    ----------
    clip : Clip
    store : MarkStore
        Receives every change at once.
    points : sequence of str
        The points to mark, in the order of marking; names from ``points.POINTS``.
    start, stop : int
        First frame and the frame after the last; None: to the clip's end.
    lines : sequence of LineMark
        Reference lines to show: water, lane, plumb.
    draw_lines : LineDesk, optional
        Where the water line and the known length of each frame are kept, which can then be drawn here; its lines are
        shown as well.
    live : callable, optional
        ``live(frame, marks) -> str``: the value to read while marking; ``marks`` maps each marked point of the frame to
        its (x, y) [px]. An empty string says that there is none yet.
    draw : callable, optional
        ``draw(frame, marks) -> Drawing``: what else belongs on the frame, such as the distance under discussion.
    skeleton, spans : pairs of point names
        Body segments (solid) and straight reference lines between marks (dashed).
    bench : Bench, optional
        Rulers, moments of the stroke, proposals, and what can be done over a stretch of frames.
    real_times : (N,) float array, optional
        Pool time of every frame of the clip, for playing at the swim's own pace [s]; None: the clip's own times.

    Attributes
    ----------
    frame : int
        The frame shown; set it to move there.
    trouble : str
        Why the last change was not saved; empty if it was.
    """

    _esm = state.browser_module(_HERE / "parts")
    _css = _HERE / "frame_marker.css"

    frame = traitlets.Int(0).tag(sync=True)
    start = traitlets.Int(0).tag(sync=True)
    stop = traitlets.Int(1).tag(sync=True)
    size = traitlets.List(traitlets.Int()).tag(sync=True)
    times = traitlets.Bytes().tag(sync=True)
    gaps = traitlets.Bytes().tag(sync=True)
    points = traitlets.List(traitlets.Unicode()).tag(sync=True)
    names = traitlets.Dict().tag(sync=True)
    skeleton: Any = traitlets.List().tag(sync=True)
    spans: Any = traitlets.List().tag(sync=True)
    line_names = traitlets.Dict().tag(sync=True)
    drawn = traitlets.Dict().tag(sync=True)
    trouble = traitlets.Unicode("").tag(sync=True)
    valued = traitlets.Bool(False).tag(sync=True)
    shown_width = traitlets.Int(1).tag(sync=True)
    reel = traitlets.Int(FRAMES).tag(sync=True)

    def __init__(
        self,
        clip: Clip,
        store: MarkStore,
        *,
        points: Sequence[str],
        start: int = 0,
        stop: int | None = None,
        lines: Sequence[LineMark] = (),
        draw_lines: LineDesk | None = None,
        live: Callable[[int, FrameMarks], str] | None = None,
        draw: Callable[[int, FrameMarks], Drawing] | None = None,
        skeleton: Pairs = SKELETON,
        spans: Pairs = SPANS,
        bench: Bench | None = None,
        real_times: NDArray[np.float64] | None = None,
    ) -> None:
        stop = clip.n_frames if stop is None else stop
        state.check_asked(clip, points, start, stop)
        self._clip, self._store, self._lines = clip, store, tuple(lines)
        self._live, self._draw = live, draw
        self._sheet = None if draw_lines is None else LineSheet(draw_lines)
        self._age, self._touched, self._answering = 0, set[int](), False
        inside = [[list(pair) for pair in pairs if set(pair) <= set(points)] for pairs in (skeleton, spans)]
        self._ticks = Ticks(state.counts(store.marks.pick(tuple(points)), start, stop))
        self._film = Film(clip, lambda *message: self.send(*message))
        real_times = clip.times if real_times is None else real_times
        super().__init__(
            frame=min(self._ticks.frames, default=start),
            start=start,
            stop=stop,
            size=[int(v) for v in clip.size],
            times=state.packed(clip.times[start:stop]),
            gaps=state.packed(state.gaps(clip.times[start:stop], real_times[start:stop])),
            points=list(points),
            names={p: spoken(p) for p in points},
            skeleton=inside[0],
            spans=inside[1],
            line_names=dict(LINE_WORDS) if self._sheet else {},
            drawn=self._sheet.frames() if self._sheet else {},
            valued=live is not None,
            shown_width=clip.proxy.size[0],
            **self._lay_bench(bench or Bench()),
            model_id=state.own_id(clip.name, start, stop, *points),
        )
        self.on_msg(self._heard)
        self._also_told, store.on_change = store.on_change, self._stored

    def __repr__(self) -> str:
        count = self._ticks.total
        return f"FrameMarker({Path(self._clip.name).stem}: {count} mark{'' if count == 1 else 's'})"

    def _repr_mimebundle_(self, **kwargs: Any) -> Any:
        bundle = super()._repr_mimebundle_(**kwargs)
        if bundle is None:
            return None
        data, metadata = bundle
        return {**data, "image/jpeg": b64encode(self.still()).decode("ascii")}, metadata

    @property
    def marks(self) -> Marks:
        """The marks of this tool's points, as they stand in the store."""
        return self._store.marks.pick(tuple(self.points))

    @property
    def marked(self) -> list[list[int]]:
        """The frames with marks of this tool's points, each with how many."""
        return self._ticks.of(self._ticks.frames)

    def still(self, frame: int | None = None, width: int = _STILL_WIDTH) -> bytes:
        """A frame with the drawing on it, as JPEG; by default the frame shown."""
        frame = self.frame if frame is None else frame
        marks = self._at(frame)
        drawing = together(drawn_marks(marks, self.skeleton, self.spans), self._extras(frame, marks))
        if self._sheet is not None:
            drawing = together(drawing, self._sheet.drawing(frame, self._clip.size))
        return still_picture(self._clip.frame(frame), drawing, width)

    def refresh(self) -> None:
        """Take in what another program wrote to the store or the lines since, and show it."""
        self._store.refresh()
        if self._sheet is not None:
            self._lines_changed()
            self._send_state(self.frame, {})

    # -- from the store

    def _stored(self, frames: tuple[int, ...]) -> None:
        """The store changed on these frames, by this tool's doing or another's."""
        if self._also_told is not None:
            self._also_told(frames)
        mine = [f for f in frames if self.start <= f < self.stop]
        self._touched.update(mine)
        self._age += 1
        if len(mine) > _MANY:
            self._ticks = Ticks(state.counts(self.marks, self.start, self.stop))
        else:
            for frame in mine:
                self._ticks.put(frame, len(self._at(frame)))
        self._send_ticks(mine, whole=len(mine) > _MANY)
        if not self._answering:
            self._send_state(self.frame, {})

    # -- from the browser

    def _heard(self, _widget: object, wish: dict[str, Any], _buffers: object) -> None:
        kind = wish.get("do")
        self._answering = True
        try:
            if kind == "picture":
                self._send_picture(int(wish["frame"]), int(wish["width"]))
            elif kind == "film":
                self._film.want([int(n) for n in wish["want"]])
            elif kind == "states":
                self._send_states(int(wish["start"]), int(wish["stop"]))
            elif kind == "ticks":
                self._send_ticks((), whole=True)
            elif kind == "state":
                self._send_state(int(wish["frame"]), wish)
            elif kind == "preview":
                self._send_preview(wish)
            elif kind in ("line", "words", "erase_line", "undo_line", "redo_line"):
                self._change_line(str(kind), wish)
            elif kind in ("put", "hide", "erase", "swap", "undo", "redo"):
                self._change(str(kind), wish)
            else:
                self._bench_wish(str(kind), wish)
        except CasebookError as error:
            self.send({"kind": "refused", "wish": wish, "why": str(error)})
            if kind != "picture":
                self.trouble = str(error)
                asked = int(wish.get("frame", self.frame))
                self._send_state(asked if self.start <= asked < self.stop else self.frame, wish)
        finally:
            self._answering = False

    def _change(self, kind: str, wish: Mapping[str, Any]) -> None:
        if kind in ("undo", "redo"):
            self._step(kind, wish)
            return
        frame, point = self._place(wish)
        if kind == "swap":
            self._store.swap_sides(frame, self.points)
        elif kind == "put":
            self._store.put(frame, point, *state.position(wish), origin=Origin.hand)
        else:
            getattr(self._store, kind)(frame, point)
        self.trouble = ""
        self._send_state(frame, wish)

    def _step(self, way: str, wish: Mapping[str, Any]) -> None:
        """Undo or redo; what changed is shown and chosen, or the coach would not know what it was."""
        self._touched.clear()
        frame, before = self.frame, state.places(self._store.at(self.frame))
        getattr(self._store, way)()
        if self._touched and frame not in self._touched:
            self.frame = frame = min(self._touched)
            before = {}
        self.trouble = ""
        changed = state.first_change(self.points, before, state.places(self._store.at(frame)))
        self._send_state(frame, wish, chosen=changed)

    def _change_line(self, kind: str, wish: Mapping[str, Any]) -> None:
        sheet, frame, name = self._sheet, int(wish["frame"]), str(wish.get("line", ""))
        if sheet is None or not self.start <= frame < self.stop:
            raise MarksError(f"No line is drawn here on frame {frame}.")
        chosen = None
        try:
            if kind == "line":
                sheet.set_ends(frame, name, [(float(x), float(y)) for x, y in wish["ends"]])
            elif kind == "words":
                sheet.set_words(frame, str(wish["metres"]), str(wish["give"]), str(wish["what"]))
            elif kind == "erase_line":
                sheet.erase(frame, name)
            elif (changed := (sheet.undo if kind == "undo_line" else sheet.redo)()) is not None:
                frame, chosen = changed
                self.frame = frame
        finally:
            self._lines_changed()
        self.trouble = ""
        self._send_state(frame, wish, chosen=chosen)

    def _lines_changed(self) -> None:
        """A line gives every frame another value: what was told of them is old."""
        if self._sheet is not None:
            self._age += 1
            self.drawn = self._sheet.frames()

    def _place(self, wish: Mapping[str, Any]) -> tuple[int, str]:
        frame, point = int(wish["frame"]), str(wish["point"])
        if not self.start <= frame < self.stop or point not in self.points:
            raise MarksError(f'"{point}" on frame {frame} is not among the points and frames marked here.')
        return frame, point

    # -- to the browser

    def _send_picture(self, frame: int, width: int) -> None:
        if not self.start <= frame < self.stop:
            return
        # The value is left for the moment the frame is looked at: neighbours are fetched ahead of need.
        message = {"kind": "picture", "frame": frame, "width": width, "state": self._state(frame, valued=False)}
        self.send(message, [self._clip.jpeg(frame, width=width or None)])

    def _send_states(self, start: int, stop: int) -> None:
        """How a run of frames stands, before the coach comes to them; their values are left for that moment."""
        start, stop = max(start, self.start), min(stop, self.stop)
        states = [self._state(frame, valued=False) for frame in range(start, stop)]
        self.send({"kind": "states", "start": start, "states": states})

    def _send_ticks(self, frames: Sequence[int], whole: bool) -> None:
        """Which frames are marked: those that changed, or all of them beside those."""
        changed = self._ticks.of(frames)
        self.send({"kind": "ticks", "changed": changed}, [self._ticks.packed()] if whole else None)

    def _send_state(
        self, frame: int, wish: Mapping[str, Any], *, preview: dict[str, Any] | None = None, chosen: str | None = None
    ) -> None:
        """Say how a frame stands, in answer to a wish if any; ``preview`` is how it would stand after a drag."""
        answer = {"view": wish.get("view"), "seq": wish.get("seq", 0), "preview": preview is not None, "chosen": chosen}
        self.send({"kind": "state", "frame": frame, "state": preview or self._state(frame), **answer})

    def _send_preview(self, wish: Mapping[str, Any]) -> None:
        frame, point = self._place(wish)
        marks = {**self._at(frame), point: state.position(wish)}
        self._send_state(frame, wish, preview=self._state(frame, marks=marks))

    def _at(self, frame: int) -> dict[str, Point]:
        there = state.places(self._store.at(frame))
        return {p: xy for p in self.points if (xy := there.get(p)) is not None}

    def _state(self, frame: int, marks: FrameMarks | None = None, valued: bool = True) -> dict[str, Any]:
        marks = self._at(frame) if marks is None else marks
        return state.told(
            self.points,
            self._store.at(frame),
            marks,
            self._extras(frame, marks, valued),
            self._value(frame, marks) if valued else "",
            self._age if valued else -1,
            self._sheet.told(frame) if self._sheet else {},
            state.trails(self.points, frame, self._ticks.frames, self._at) if valued else {},
        )

    def _extras(self, frame: int, marks: FrameMarks, valued: bool = True) -> Drawing:
        width, height = self.size
        lines = [*self._lines, *(self._sheet.elsewhere(frame) if self._sheet else ())]
        fixed = Drawing(reference=reference_lines(lines, frame, (width, height)))
        if self._draw is None or not valued:
            return fixed
        try:
            return together(fixed, self._draw(frame, marks))
        except Exception:
            # Marking goes on, whatever a value's drawing does; the value line says what is wrong.
            return fixed

    def _value(self, frame: int, marks: FrameMarks) -> str:
        try:
            return str(self._live(frame, marks)) if self._live is not None else ""
        except CasebookError as error:
            return str(error)
        except Exception as error:
            return f"No value here: {type(error).__name__}, {error}"
