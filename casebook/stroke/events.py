"""Events of one stroke: rules that give a state, and the one search that finds where it changes.

``past_body`` and ``catch`` are two events: the wrist turns backward against the shoulder, and against the water. They
are never pooled; the first came about 0.2 s earlier in a study with known truth.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from casebook.stroke.arm import FINGERTIP, NEEDED, SHOULDER, WRIST, covariance
from casebook.stroke.localfit import fit_at, half_width, weights_at
from casebook.stroke.reading import forearm, read, shoulder_to_wrist
from casebook.stroke.search import Event, half_frame, last_crossing

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from casebook.clip.shot import Shot
    from casebook.marks.events import EventMark
    from casebook.stroke.arm import Arm
    from casebook.stroke.setup import SetUp

    Array: TypeAlias = NDArray[np.float64]

#: The hand counts as moving down from this speed on, in arm lengths a second. own judgement, no source
DOWNWARD_ARMS_PER_S = 0.15
#: Velocities are looked at over the usual stretch or one so many times as long, until an event is this sure.
#: own judgement, no source; [s]
WIDER, STEADY_S = (1.0, 1.5, 2.0), 0.015
#: A parabola's velocity runs ahead where a motion starts: events came 10 to 14 ms early, with a cubic under 2 ms.
CUBIC = 3
#: Events read from the arm's shape, and the state and value that define them. [deg]
SHAPES: dict[str, tuple[Callable[[Array], Array], float]] = {
    "forearm_45": (forearm, 45.0),
    "forearm_60": (forearm, 60.0),
    "forearm_90": (forearm, 90.0),
    "shoulder": (shoulder_to_wrist, 90.0),
}
MOTIONS = ("end_of_extension", "past_body", "catch")


@dataclass(frozen=True, slots=True)
class NoEvent:
    """An event that could not be found, why, and what to do. Falsy."""

    name: str
    side: str
    stroke: int
    reason: str
    remedy: str

    def __bool__(self) -> bool:
        return False


def stroke_events(
    shot: Shot, stroke: SetUp, arm_px: float, marks: Sequence[EventMark] = ()
) -> tuple[Event | NoEvent, ...]:
    """The events of one stroke in the order end of extension, past body, catch, forearm 45, 60, 90, shoulder.

    Parameters
    ----------
    shot : Shot
    stroke : SetUp
    arm_px : float
        Length of the arm in the picture, NaN if not known. [px]
    marks : sequence of EventMark
        An event set by the coach inside this stroke takes the place of the one that would be found.
    """
    seen = _Motion(stroke)
    return tuple(
        _by_coach(shot, stroke, name, marks)
        or (_motion(shot, seen, name, arm_px) if name in MOTIONS else _shape(stroke, name))
        for name in (*MOTIONS, *SHAPES)
    )


def _by_coach(shot: Shot, stroke: SetUp, name: str, marks: Sequence[EventMark]) -> Event | None:
    first, last = stroke.frames[0], stroke.frames[-1]
    for mark in marks:
        if mark.event == name and mark.side in ("", stroke.side) and first <= mark.frame <= last:
            time = float(np.interp(mark.frame, np.arange(len(shot.times)), shot.times))
            return Event(name, stroke.side, stroke.number, mark.frame, time, half_frame(shot.times, mark.frame), True)
    return None


class _Motion:
    """The track of one set-up, fitted over shorter or longer stretches, each worked out once."""

    def __init__(self, stroke: SetUp) -> None:
        self.stroke = stroke
        rows = np.flatnonzero(np.isfinite(stroke.moving[:, 0]).all((-1, -2)))
        self.known = stroke.dense and len(rows) >= 5
        self.arm, self.level = stroke.arm.part(rows), stroke.level[rows, :NEEDED]

    @cached_property
    def spread(self) -> Array:
        """Covariance of the marks (6, K, K). [px^2]"""
        return covariance(self.arm)

    @cached_property
    def fits(self) -> tuple[tuple[float, Array], ...]:
        """Reach [s] and parabolas (K, 3, 4, 2) of each of the stretches ``WIDER``."""
        clock, reaches = self.arm.clock, [wider * half_width(self.arm.step) for wider in WIDER]
        return tuple((reach, fit_at(clock, clock, self.level, reach, CUBIC)) for reach in reaches)

    def until(self, name: str) -> int:
        """Row of the last frame to search: where a shape event comes, or the end."""
        event = _shape(self.stroke, name)
        last = len(self.arm.frames) - 1
        return min(last, int(np.searchsorted(self.arm.frames, event.frame))) if isinstance(event, Event) else last

    def noise(self, at: float, reach: float, name: str) -> float:
        """Standard deviation of a motion's signal from the marks. [px/s]"""
        weights = weights_at(at, self.arm.clock, self.arm.complete, reach, CUBIC)[1]
        hand = WRIST if name in ("catch", "past_body") else FINGERTIP
        both = self.spread[hand] + (0 if name == "catch" else self.spread[SHOULDER])
        return float(np.sqrt(weights @ both @ weights))


def _motion(shot: Shot, seen: _Motion, name: str, arm_px: float) -> Event | NoEvent:
    stroke = seen.stroke
    if name == "catch" and (why := _no_water(shot)):
        return NoEvent(name, stroke.side, stroke.number, *why)
    if not seen.known:
        reason = "Only key stills are marked, and a motion starts between them."
        remedy = f"Mark every frame from {stroke.frames[0]} to {stroke.frames[-1]}."
        return NoEvent(name, stroke.side, stroke.number, reason, remedy)
    slow = 0.0 if name != "end_of_extension" or not np.isfinite(arm_px) else DOWNWARD_ARMS_PER_S * arm_px
    end = seen.until("forearm_45" if name == "end_of_extension" else "shoulder")
    # Marks too rough for a sharp look are looked at over a longer stretch.
    for reach, fit in seen.fits:
        place, unsure = _start(seen, name, slow, end, reach, fit)
        if unsure <= STEADY_S:
            break
    if not np.isfinite(place):
        return NoEvent(name, stroke.side, stroke.number, "The motion does not start in the marked frames.", "")
    return _event(stroke, seen.arm, name, place, unsure)


def _start(seen: _Motion, name: str, slow: float, end: int, reach: float, fit: Array) -> tuple[float, float]:
    """Row where a motion starts that then goes on to row ``end``, and its standard deviation. [s]"""
    clock = seen.arm.clock
    signal = _backward_or_down(fit[:, 1], name) - slow
    begin = int(np.argmax(fit[: end + 1, 0, FINGERTIP, 0] - fit[: end + 1, 0, SHOULDER, 0]))
    if not (signal[begin : end + 1] < 0).any():
        # The motion goes on at full reach already and starts there, where the fingertip turns backward.
        name, signal, begin = "full_reach", _backward_or_down(fit[:, 1], "full_reach"), 0
    noise = seen.noise(float(clock[begin]), reach, name)
    # Looked for in the signal and in the signal moved by its noise either way: where it creeps, the instant is unsure.
    places = [begin + last_crossing(signal[begin : end + 1] + shift) for shift in (0.0, noise, -noise)]
    place, early, late = (places[0], *np.where(np.isfinite(places[1:]), places[1:], [begin, end]))
    return place, float(np.ptp(np.interp([early, late], np.arange(len(clock)), clock))) / 2


def _backward_or_down(velocity: Array, name: str) -> Array:
    """State of each motion: positive once it goes on. Velocities (K, 4, 2) -> (K,) [px/s]"""
    if name == "catch":
        return -velocity[:, WRIST, 0]
    if name == "past_body":
        return velocity[:, SHOULDER, 0] - velocity[:, WRIST, 0]
    if name == "full_reach":
        return velocity[:, SHOULDER, 0] - velocity[:, FINGERTIP, 0]
    return velocity[:, SHOULDER, 1] - velocity[:, FINGERTIP, 1]


def _no_water(shot: Shot) -> tuple[str, str] | None:
    """Why the hand cannot be seen against the water, or None where it can."""
    if shot.camera != "still":
        return (
            "The camera moves, so the hand cannot be seen against the water.",
            "Film with a camera that stands still; the hand passing the body is measured instead.",
        )
    if shot.swim is not None and shot.swim.place == "flume":
        return (
            "In a flume the water moves past the picture.",
            "The hand passing the body is measured instead.",
        )
    return None


def _shape(stroke: SetUp, name: str) -> Event | NoEvent:
    state, value = SHAPES[name]
    how = stroke.plan(state, value)
    if how is None:
        return NoEvent(
            name,
            stroke.side,
            stroke.number,
            "The marked frames do not enclose it.",
            "Mark shoulder, elbow, wrist and fingertip just before and just after.",
        )
    clock = float(read(how, stroke.level[how.rows])[1])
    arm = stroke.arm.part(stroke.arm.complete)
    return _event(stroke, arm, name, float(np.interp(clock, arm.clock, np.arange(len(arm.clock)))), 0.0)


def _event(stroke: SetUp, arm: Arm, name: str, place: float, sigma_s: float) -> Event:
    along = np.arange(len(arm.frames))
    frame = float(np.interp(place, along, arm.frames))
    time = float(np.interp(place, along, arm.times))
    unsure = half_frame(arm.times, place)
    return Event(name, stroke.side, stroke.number, frame, time, max(unsure, sigma_s))
