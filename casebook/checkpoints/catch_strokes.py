"""The catch of each stroke: its readings, its events, and the arm's length to hold them against."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from casebook.checkpoints.catch_reading import (
    WRIST_ANGLE,
    Reading,
    halfway_lengths,
    reach_lengths,
    read_down,
    read_halfway,
    read_turn,
    read_under,
)
from casebook.plane.measured import Measured
from casebook.stroke.events import stroke_events
from casebook.stroke.moment import Moment, NoMoment

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from casebook.clip.shot import Shot
    from casebook.marks.events import EventMark
    from casebook.plane.plane import Plane
    from casebook.stroke.setup import SetUp

    Array: TypeAlias = NDArray[np.float64]

#: A wrist bent by more than this gives way to the knuckle (definition). [deg]
BENT_WRIST_DEG = 20.0
#: The body rolls, so an arm at full reach lies nearer to the camera or farther from it than in the catch and looks
#: longer or shorter: evenly up to 10 cm at 3 m, 0.10 / 3 / sqrt(3). Relative, common to all strokes.
#: own estimate, no source
REACH_DEPTH = 0.02
#: A median of many normal values is this much less sure than their mean: sqrt(pi / 2).
MEDIAN_LOSS = float(np.sqrt(np.pi / 2))


@dataclass(frozen=True, slots=True)
class ArmLength:
    """Length of the arm in the picture. [px] ``stated``: from metres, so that it changes with the plane's scale."""

    px: float
    sigma_px: float
    stated: bool
    frames: int

    def in_metres(self, plane: Plane) -> Measured | None:
        """The same in metres, its error including that of the scale where it was measured in the picture."""
        if not plane.has_scale:
            return None
        by_scale = 0.0 if self.stated else float(np.sqrt(plane.covariance[0, 0])) * self.px
        return Measured(self.px * plane.m_per_px, float(np.hypot(self.sigma_px, by_scale)) * plane.m_per_px)


@dataclass(frozen=True, slots=True, eq=False)
class MeasuredStroke:
    """One stroke with its readings (None where the marks do not allow one) and events."""

    set_up: SetUp
    events: tuple[Moment | NoMoment, ...]
    halfway: Reading | None
    down: Reading | None
    under: Reading | None
    turn: Reading | None

    @property
    def number(self) -> int:
        """The stroke's number among those of its arm in the shot."""
        return self.set_up.number

    @property
    def side(self) -> str:
        """``l`` or ``r``."""
        return self.set_up.side

    @property
    def stroke_class(self) -> str:
        """Key of ``words.STROKE_CLASSES``."""
        return self.set_up.stroke_class

    @property
    def frames(self) -> tuple[int, ...]:
        """Marked frames from full reach on."""
        return self.set_up.frames

    def event(self, name: str) -> Moment | NoMoment:
        """An event by its name; NoMoment says why there is none."""
        return next(e for e in self.events if e.event == name)

    def time_s(self, reading: Reading) -> float:
        """Real time of a reading. [s]"""
        arm = self.set_up.arm
        return float(np.interp(reading.clock, arm.clock, arm.times))


def arm_in_picture(strokes: Sequence[SetUp], plane: Plane, stated: Measured | None) -> ArmLength | None:
    """The arm in the picture: as stated where the plane has a scale, else the median over full-reach frames.

    A hand that reaches across or toward the camera makes the arm look short at full reach; where the arm looks longer
    with the forearm halfway down, that median counts.
    """
    if stated is not None and plane.has_scale:
        return ArmLength(stated.value / plane.m_per_px, stated.sigma / plane.m_per_px, True, 0)
    if not strokes:
        return None
    reach, halfway = reach_lengths(strokes), halfway_lengths(strokes)
    if not len(reach[0]):
        return None
    longer = len(halfway[0]) > 0 and np.median(halfway[0]) > np.median(reach[0])
    lengths, sigmas, numbers = halfway if longer else reach
    # Marks of one stroke that were not placed by hand share much of their error: such a stroke counts as one.
    by_hand = all(s.arm.by_hand.any() for s in strokes)
    n = len(lengths) if by_hand else len(np.unique(numbers))
    noise = MEDIAN_LOSS * float(np.sqrt(np.mean(sigmas**2) / n))
    length = float(np.median(lengths))
    return ArmLength(length, float(np.hypot(noise, REACH_DEPTH * length)), False, len(lengths))


def wrist_is_bent(strokes: Sequence[MeasuredStroke]) -> bool:
    """Whether the wrist gives way to the knuckle: one answer, so one definition, for all strokes of a finding."""
    angles = [s.halfway.values[WRIST_ANGLE] for s in strokes if s.halfway is not None]
    return bool(angles) and 180 - float(np.median(angles)) > BENT_WRIST_DEG


def measured_strokes(
    shot: Shot, strokes: Sequence[SetUp], plane: Plane, length: ArmLength | None, events: Sequence[EventMark]
) -> list[MeasuredStroke]:
    """Every reading of every stroke of one arm."""
    out = []
    for stroke in strokes:
        pool_x = None if plane.path is None else plane.pool_x
        happened = stroke_events(shot, stroke, length.px if length else float("nan"), events, pool_x)
        start = next(e for e in happened if e.event == "end_of_extension")
        clock = unsure = float("nan")
        if isinstance(start, Moment):
            clock = float(np.interp(start.frame, stroke.arm.frames, stroke.arm.clock))
            unsure = start.sigma_s if stroke.arm.real else stroke.arm.step / 2
        out.append(
            MeasuredStroke(
                stroke,
                happened,
                read_halfway(stroke, plane),
                read_down(stroke, plane),
                read_under(stroke, plane),
                read_turn(stroke, plane, clock, unsure),
            )
        )
    return out
