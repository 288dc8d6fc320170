"""The blind round of a repeat study: the frame marker over the drawn frames alone, shuffled, earlier marks unseen."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

import numpy as np

from casebook.case.repeat_study import repeat_file
from casebook.clip.clip import Clip
from casebook.marks.csvfile import write_marks
from casebook.marks.marks import Marks, Origin
from casebook.marks.repeat import RepeatPlan, Round, keep_round
from casebook.marks.store import MarkStore
from casebook.widgets.frame_marker import FrameMarker

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from casebook.case.desk import Desk

#: Time that each picture of the blind clip stands for. [s]
_EACH_S = Fraction(1, 2)


def repeat_desk(desk: Desk, plan: RepeatPlan, by: str = "", number: int = 0) -> tuple[Clip, MarkStore]:
    """Clip and store of one blind round, for a ``FrameMarker``.

    The clip holds the plan's frames in the round's own order, without loss, and lies in a folder of the case that is
    gone when the store is. The store starts from what this round holds already; every change is in the study's file
    when the call returns.

    Parameters
    ----------
    by : str
        Initials; the case's coach unless given.
    number : int
        Which round; unless given, the one begun and not finished, else the next.
    """
    by = by or desk.case.coach
    done = plan.round(by, number or plan.next_number(by))
    order = plan.order(by, done.number)
    place = TemporaryDirectory(prefix=".blind-", dir=desk.case.folder, ignore_cleanup_errors=True)
    folder = Path(place.name)
    clip = _blind_clip(folder / f"{plan.shot}_round_{done.number}.mkv", desk.shot.clip, plan.frames[order])
    path = folder / "round.csv"
    write_marks(path, _shown(plan, done, order), clip.times, by)
    store = MarkStore(path, clip.times, by=by)
    store.on_change = _Keeper(repeat_file(desk), plan, done, order, store, place)
    return clip, store


def repeat_marker(desk: Desk, plan: RepeatPlan, by: str = "", number: int = 0) -> FrameMarker | None:
    """The frame marker for one blind round; see ``repeat_desk``. None if the study has no frames yet."""
    if not len(plan.frames):
        return None
    clip, store = repeat_desk(desk, plan, by, number)
    return FrameMarker(clip, store, points=plan.points, spans=())


class _Keeper:
    """Writes the round to the study's file after each change; keeps the blind clip's folder while the store lives."""

    def __init__(
        self,
        path: Path,
        plan: RepeatPlan,
        done: Round,
        order: NDArray[np.int64],
        store: MarkStore,
        place: TemporaryDirectory[str],
    ) -> None:
        self._path, self._plan, self._done, self._order = path, plan, done, order
        self._marks: Callable[[], Marks] = lambda: store.marks
        self._place = place

    def __call__(self, frames: tuple[int, ...]) -> None:
        marks = self._marks().pick(self._plan.points)
        rows = self._order[marks.frames]
        xy, hidden = np.full_like(self._done.xy, np.nan), np.zeros_like(self._done.hidden)
        xy[rows], hidden[rows] = marks.xy, marks.hidden
        keep_round(self._path, replace(self._done, xy=xy, hidden=hidden))


def _shown(plan: RepeatPlan, done: Round, order: NDArray[np.int64]) -> Marks:
    """A round as marks on the blind clip's own frames."""
    marks = Marks.from_arrays(plan.points, np.arange(len(order)), done.xy[order])
    marks.hidden[:] = done.hidden[order]
    marks.origin[marks.hidden] = int(Origin.hand)
    return marks


def _blind_clip(path: Path, clip: Clip, frames: NDArray[np.int64]) -> Clip:
    """A clip of these frames in this order, each pixel as the frame marker would show it.

    They are read and coded in the order of time, each on its own, which is quick, and put in order as they are written.
    """
    import av

    in_time = np.argsort(frames)
    with av.open(str(path), "w") as box:
        stream: Any = box.add_stream("ffv1", rate=1 / _EACH_S)
        stream.width, stream.height = clip.size
        stream.pix_fmt, stream.codec_context.gop_size = "bgr0", 1
        coded = []
        for frame in frames[in_time].tolist():
            coded += stream.encode(av.VideoFrame.from_ndarray(np.ascontiguousarray(clip.frame(frame)), format="rgb24"))
        coded += stream.encode(None)
        for place, k in enumerate(np.argsort(in_time).tolist()):
            coded[k].pts = coded[k].dts = place
            box.mux(coded[k])
    return Clip(path)
