"""Where the stroke cycles of a shot begin and end, from whatever event of either arm is known best."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from casebook.clip.shot import near_side
from casebook.marks.events import EventMark
from casebook.marks.marks import Origin
from casebook.stroke import roll
from casebook.stroke.arm import clock_of
from casebook.stroke.breath import breaths_of
from casebook.stroke.head import FACE, FaceTurn, face_turn
from casebook.stroke.moment import Moment
from casebook.stroke.points import Unread, points_of
from casebook.stroke.strokes import Stroke, strokes_of
from casebook.words import SIDES

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from casebook.clip.shot import Shot
    from casebook.marks.marks import Marks
    from casebook.plane.plane import Plane

#: A cycle is one whose length is within this share of the usual one; a longer one hides an event that was not seen.
#: own judgement, no source
USUAL = 0.35
#: What a cycle may be counted by, the definition's own first: right entry to next right entry.
_COUNTED_BY = tuple((event, side) for event in ("entry", "exit", "shoulder") for side in "rl")
REMEDY = "Mark the fingertip through two entries of one hand, or set the entries as events."


@dataclass(frozen=True, slots=True, eq=False)
class CycleEdges:
    """Stroke cycles one after the other.

    Attributes
    ----------
    starts : (C + 1,) float array
        Beginnings, and the end of the last, by ``arm.clock_of``. [s]
    classes : tuple of str, length C
        Class of each cycle: that of a mark inside it.
    whole : (C,) bool array
        Usual in length; a longer one hides an event that was not seen.
    event, side : str
        What they are counted by.
    strokes : mapping of side to tuple of Stroke
        Of both arms, as far as they are marked.
    """

    starts: NDArray[np.float64]
    classes: tuple[str, ...]
    whole: NDArray[np.bool_]
    event: str
    side: str
    strokes: Mapping[str, tuple[Stroke, ...]]

    def __len__(self) -> int:
        return len(self.classes)

    @property
    def told(self) -> str:
        """What the cycles are counted by, in words."""
        if self.event == "roll":
            return "most rolled to one side to most rolled to it again"
        ends = {"entry": "entry", "exit": "exit", "shoulder": "under the shoulder"}[self.event]
        return f"{SIDES[self.side]} hand, {ends} to {ends}"

    def of(self, instants: ArrayLike) -> NDArray[np.int64]:
        """Number of the whole cycle that each instant lies in, -1 outside. [s]"""
        at = np.asarray(instants, float)
        k = np.searchsorted(self.starts, at, "right") - 1
        inside = (k >= 0) & (k < len(self)) & np.isfinite(at)
        return np.where(inside & self.whole[np.clip(k, 0, len(self) - 1)], k, -1)


def cycle_edges(shot: Shot, marks: Marks, plane: Plane, events: Sequence[EventMark] = ()) -> CycleEdges | Unread:
    """Stroke cycles by the entries of the right hand, or by what is seen more often."""
    events = with_breaths(shot, marks, plane, events)
    strokes = {side: strokes_of(shot, marks, plane, side, events) for side in "rl"}
    clock = clock_of(shot)
    known = {(event, side): moments_of(strokes[side], event, clock)[0] for event, side in _COUNTED_BY}
    event, side = max(_COUNTED_BY, key=lambda key: len(known[key]))
    starts = known[event, side]
    if len(starts) < 2 and shot.view in roll.VIEWS:
        rolled = roll.roll_of(shot, points_of(shot, marks, plane, (*roll.POINTS, roll.NECK)))
        if isinstance(rolled, roll.Roll):
            # Head-on the water line of the hands is not that of the hips; the roll keeps the same time.
            named = [e.frame for e in events if e.event == "stroke_class" and e.value != "none"]
            breaths = np.interp(named, np.arange(len(clock)), clock) if named else ()
            starts, event, side = roll.cycles_of(rolled, breaths), "roll", "l"
    if len(starts) < 2:
        return Unread("No whole stroke cycle is known in this shot.", REMEDY)
    length = np.diff(starts)
    whole = np.abs(length / np.median(length) - 1) <= USUAL
    return CycleEdges(starts, _classes(events, starts, clock), whole, event, side, strokes)


def edges_from(
    starts: ArrayLike, strokes: Mapping[str, tuple[Stroke, ...]] | None = None, event: str = "entry", side: str = "r"
) -> CycleEdges:
    """Cycles whose beginnings are known from elsewhere."""
    at = np.asarray(starts, float)
    length = np.diff(at)
    whole = np.abs(length / np.median(length) - 1) <= USUAL if len(length) else np.zeros(0, bool)
    return CycleEdges(at, ("none",) * len(length), whole, event, side, strokes or {})


def moments_of(
    strokes: Sequence[Stroke], event: str, clock: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """When an event happened in each stroke that shows it, and the standard deviation, by the clock given. [s]"""
    found = [m for m in (s.moment(event) for s in strokes) if isinstance(m, Moment)]
    if event == "entry" and strokes and isinstance(last := strokes[-1].next_entry, Moment):
        found.append(last)
    frames = np.array([m.frame for m in found], float)
    when = np.interp(frames, np.arange(len(clock)), clock) if len(found) else np.empty(0)
    steps = np.gradient(clock) if len(clock) > 1 else np.ones(len(clock))
    half = steps[np.clip(np.round(frames).astype(int), 0, len(clock) - 1)] / 2 if len(found) else np.empty(0)
    sigma = np.array([m.sigma_s for m in found], float)
    return when, np.where(np.isfinite(sigma), sigma, half)


def _classes(events: Sequence[EventMark], starts: NDArray[np.float64], clock: NDArray[np.float64]) -> tuple[str, ...]:
    """Class of each cycle: that of the mark of highest origin inside it, of several the last."""
    ranked = sorted(events, key=lambda e: int(e.origin))
    named = [(e.value, e.frame) for e in ranked if e.event == "stroke_class" and e.value != "none"]
    classes = ["none"] * (len(starts) - 1)
    for name, frame in named:
        k = int(np.searchsorted(starts, np.interp(frame, np.arange(len(clock)), clock), "right")) - 1
        if 0 <= k < len(classes):
            classes[k] = name
    return tuple(classes)


def with_breaths(shot: Shot, marks: Marks, plane: Plane, events: Sequence[EventMark]) -> Sequence[EventMark]:
    """The events, and the breaths that the face shows where the coach named no stroke himself.

    A breath belongs to the stroke of the arm in front, on the other side.
    """
    if any(e.event == "stroke_class" for e in events):
        return events
    points = points_of(shot, marks, plane, FACE)
    face = face_turn(shot, points, near_side(shot))
    found = breaths_of(face) if isinstance(face, FaceTurn) else face
    if isinstance(found, Unread):
        return events
    return [
        *events,
        *(
            EventMark("stroke_class", "lr".replace(s, ""), float(points.frames[row]), f"breath_{s}", Origin.drafted)
            for s, row in zip(map(str, found.side), found.row, strict=True)
        ),
    ]
