"""The strokes of one arm through a whole shot, each with its moments: found in the marks, or set by the coach."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from casebook.stroke.arm import arm_of
from casebook.stroke.arm_moments import PASSING, ArmMoments
from casebook.stroke.classes import class_of_each
from casebook.stroke.moment import COACH, Moment, NoMoment, moment_at

if TYPE_CHECKING:
    from collections.abc import Sequence

    from casebook.clip.shot import Shot
    from casebook.marks.events import EventMark
    from casebook.marks.marks import Marks
    from casebook.plane.plane import Plane

    Group: TypeAlias = dict[str, Moment]

#: Events of a stroke in their order.
EVENTS = ("entry", "end_of_extension", "past_body", "catch", "shoulder", "exit")
#: A stroke takes no longer than this: 30 strokes a minute, each arm. [s] common practice, no source
LONGEST_STROKE_S = 4.0
#: An event the coach set takes the place of a found one of the same name this near. [s] own judgement, no source
SAME_S = 0.4
#: Moments of a stroke come in this order; which of the motions is first differs.
RANK = {"entry": 0, "end_of_extension": 1, "past_body": 1, "catch": 1, "shoulder": 2, "exit": 3}


@dataclass(frozen=True, slots=True)
class Stroke:
    """One stroke of one arm.

    Attributes
    ----------
    side : str
    number : int
        Counts the strokes of this arm in the shot from 1 by time; one that is cut off counts too.
    stroke_class : str
        Key of ``words.STROKE_CLASSES``.
    moments : tuple of Moment or NoMoment
        One for each of ``EVENTS``, in that order.
    next_entry : Moment or NoMoment
        The end of the stroke.
    """

    side: str
    number: int
    stroke_class: str
    moments: tuple[Moment | NoMoment, ...]
    next_entry: Moment | NoMoment

    def moment(self, event: str) -> Moment | NoMoment:
        """One event by its name, ``next_entry`` too."""
        return self.next_entry if event == "next_entry" else self.moments[EVENTS.index(event)]

    def time_s(self, event: str) -> float:
        """Time of an event, NaN where there is none. [s]"""
        moment = self.moment(event)
        return moment.time_s if isinstance(moment, Moment) else float("nan")

    def own_s(self, event: str) -> float:
        """The part of that time's standard deviation that is this moment's own, NaN where there is none. [s]"""
        moment = self.moment(event)
        return moment.own_s if isinstance(moment, Moment) else float("nan")

    def shared_s(self, event: str) -> float:
        """The part that all strokes of the shot share, NaN where there is none. [s]"""
        moment = self.moment(event)
        return moment.shared_s if isinstance(moment, Moment) else float("nan")

    @property
    def duration_s(self) -> float:
        """Entry to next entry, NaN where either is missing. [s]"""
        return self.time_s("next_entry") - self.time_s("entry")

    @property
    def found(self) -> tuple[Moment, ...]:
        """The moments there are, without the end."""
        return tuple(m for m in self.moments if isinstance(m, Moment))


def strokes_of(
    shot: Shot, marks: Marks, plane: Plane, side: str, events: Sequence[EventMark] = (), *, arm_px: float = np.nan
) -> tuple[Stroke, ...]:
    """Every stroke of one arm of which the marks or the coach show an entry, an exit or the hand under the shoulder.

    Parameters
    ----------
    shot : Shot
    marks : Marks
        Tracks of shoulder, elbow, wrist and fingertip; entry needs the fingertip alone and exit the wrist.
    plane : Plane
        Entry and exit need its water line. Motion against the water needs a camera that stands still, or the path of
        one that moves.
    side : str
        ``l`` or ``r``.
    events : sequence of EventMark
        What the coach set takes the place of what would be found; ``stroke_class`` says what kind a stroke is.
    arm_px : float
        Length of the arm in the picture; by the marks unless given. [px]
    """
    search = ArmMoments(shot, arm_of(shot, marks, side), plane, arm_px)
    groups = _grouped(_placed(shot, search, [e for e in events if e.side in ("", side)]), search)
    whole = _in_full(search, groups)
    ends = [_next_entry(a, b, search) for a, b in pairwise([*whole, ()])]
    spans = [_span(a, b) for a, b in pairwise([*groups, {}])]
    entered = ["entry" in group for group in groups]
    classes = class_of_each(spans, search.arm.step, side, events, entered)
    return tuple(
        Stroke(side, i, kind, moments, end)
        for i, (kind, moments, end) in enumerate(zip(classes, whole, ends, strict=True), 1)
    )


def _placed(shot: Shot, search: ArmMoments, events: Sequence[EventMark]) -> list[Moment]:
    """What the coach set, and found passages that are not near one of the same name that he set. In time order."""
    own = [moment_at(shot.times, e.event, search.arm.side, e.frame, COACH) for e in events if e.event in EVENTS]
    out = list(own)
    for name in PASSING:
        when = [search.when(m.frame) for m in own if m.event == name]
        out += [m for m in search.passages(name) if all(abs(search.when(m.frame) - t) >= SAME_S for t in when)]
    return sorted(out, key=lambda m: m.frame)


def _grouped(moments: Sequence[Moment], search: ArmMoments) -> list[Group]:
    """Moments put together stroke by stroke."""
    longest = _longest(moments, search)
    groups: list[Group] = []
    for m in moments:
        last = groups[-1] if groups else {}
        back = any(RANK[m.event] < RANK[name] for name in last)
        first = min((search.when(o.frame) for o in last.values()), default=-np.inf)
        if back or m.event in last or search.when(m.frame) - first > longest:
            groups.append({})
        groups[-1][m.event] = m
    return groups


def _longest(moments: Sequence[Moment], search: ArmMoments) -> float:
    """How far apart two moments of one stroke can be: as the usual time from one entry, say, to the next. [s]"""
    steps: list[float] = []
    for name in PASSING:
        steps += np.diff([search.when(m.frame) for m in moments if m.event == name]).tolist()
    return min(LONGEST_STROKE_S, float(np.median(steps))) if steps else LONGEST_STROKE_S


def _in_full(search: ArmMoments, groups: Sequence[Group]) -> list[tuple[Moment | NoMoment, ...]]:
    """Each stroke's moments in the order of ``EVENTS``: those it has, and the motions between its passages."""
    begins = []
    for before, group in zip([{}, *groups], groups, strict=False):
        entry = group.get("entry")
        begins.append(entry.frame if entry else max((m.frame for m in before.values()), default=np.nan))
    inner = search.motions(begins, [group.get("shoulder") for group in groups])
    missing = {name: search.missing(name) for name in PASSING}
    every = [{**missing, **motion, **group} for group, motion in zip(groups, inner, strict=True)]
    return [tuple(one[name] for name in EVENTS) for one in every]


def _next_entry(
    moments: tuple[Moment | NoMoment, ...], following: tuple[Moment | NoMoment, ...], search: ArmMoments
) -> Moment | NoMoment:
    """The entry that ends a stroke: that of the following one, if it follows at once."""
    side = search.arm.side
    if not following:
        return NoMoment("entry", side, "The shot ends before the next entry.", "Take a longer stretch of the clip.")
    entry, end = moments[0], following[0]
    if not isinstance(end, Moment):
        return end
    if isinstance(entry, Moment) and search.when(end.frame) - search.when(entry.frame) > LONGEST_STROKE_S:
        return NoMoment("entry", side, "Too long passes until the next entry that is marked.", "Mark those between.")
    return end


def _span(group: Group, following: Group) -> tuple[float, float]:
    """First and last frame of a stroke: up to the next one's entry where both entries are known."""
    frames = [m.frame for m in group.values()]
    end = following["entry"].frame if "entry" in group and "entry" in following else max(frames)
    return min(frames), end
