"""Two clips of one swim on one clock: what the camera over the water shows and what the one under water shows.

A camera under water does not see a hand go in or come out for certain, one over the water sees no catch. Put together
by an event that both show, each gives what the other lacks.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from casebook.checkpoints.timing import measure_timing
from casebook.errors import CaseError
from casebook.stroke.moment import Moment
from casebook.stroke.strokes import EVENTS, Stroke, strokes_of
from casebook.stroke.sync import Offset, in_time_of, joined, offset, pair_by_time
from casebook.words import SIDES

if TYPE_CHECKING:
    from casebook.case.desk import Desk
    from casebook.checkpoints.result import CheckpointResult

#: What a moment is called in the list of what was gained.
_WORDS = {
    "entry": "hand in",
    "end_of_extension": "reach ends",
    "past_body": "starts back past the body",
    "catch": "catch",
    "shoulder": "under the shoulder",
    "exit": "hand out",
}


@dataclass(frozen=True, slots=True)
class Together:
    """Two shots of one swim.

    Attributes
    ----------
    first, second : Desk
        Times and frames are those of the first.
    offset : Offset
        What to add to the second clip's times.
    strokes : mapping of side to tuple of Stroke
        Of each arm, with the moments of both clips.
    alone : mapping of side to tuple of Stroke
        As the first clip has them by itself.
    """

    first: Desk
    second: Desk
    offset: Offset
    strokes: Mapping[str, tuple[Stroke, ...]]
    alone: Mapping[str, tuple[Stroke, ...]]

    def gained(self) -> dict[tuple[str, str], int]:
        """How many moments of each side and event the second clip adds."""
        more = {
            (side, event): _count(self.strokes[side], event) - _count(self.alone[side], event)
            for side in "lr"
            for event in EVENTS
        }
        return {key: n for key, n in more.items() if n > 0}

    def measure(self) -> CheckpointResult:
        """Timing and connection from the moments of both clips, in the first one's pictures."""
        desk = self.first
        return measure_timing(
            desk.shot, desk.marks, desk.plane, bands=desk.bands, events=desk.told_events,
            arm_length=desk.case.arm_length, strokes=self.strokes,
        )  # fmt: skip

    def text(self) -> str:
        """How the clips lie in time, how well that is known, and what the second one adds."""
        lines = [f"{self.second.shot.id} on the clock of {self.first.shot.id}: {self.offset.text()}"]
        told = [f"{SIDES[side]} arm, {_WORDS[event]}: {n}" for (side, event), n in self.gained().items()]
        lines.append(f"Moments that it adds: {'; '.join(told)}." if told else "It adds no moment that was not known.")
        return "\n".join(lines)


def together(first: Desk, second: Desk, same: tuple[float, float]) -> Together:
    """Put two clips of one swim on one clock.

    Parameters
    ----------
    first, second : Desk
        Of one swim.
    same : (frame, frame)
        A frame of each clip that shows the same moment, as near as an eye can tell: a hand going in, a foot that
        splashes. Strokes are alike, so that only the coach can say by how many cycles the clips are apart; the moments
        that both show then say it exactly.

    Raises
    ------
    CaseError
        The shots are not of one swim, or share no moment around that.
    """
    swims = [d.shot.swim.id if d.shot.swim else "" for d in (first, second)]
    if swims[0] != swims[1]:
        raise CaseError(
            f'"{first.shot.id}" and "{second.shot.id}" are two swims: "{swims[0]}" and "{swims[1]}".',
            "Only clips of one and the same swim go together; give both shots the same swim in case.toml.",
        )
    apart = [_time(d, frame) for d, frame in zip((first, second), same, strict=True)]
    alone, other = ({s: strokes_of(d.shot, d.marks, d.plane, s, d.told_events) for s in "lr"} for d in (first, second))
    mine, its = ([m for s in "lr" for one in own[s] for m in one.found] for own in (alone, other))
    pairs = pair_by_time(mine, its, apart[0] - apart[1])
    if not pairs:
        raise CaseError(
            f'"{first.shot.id}" and "{second.shot.id}" show no moment of a stroke that agrees with these frames.',
            "Mark a hand's entry in both, or set the entry as an event in both; then say the two frames again.",
        )
    by = offset(pairs)
    moved = {s: in_time_of(other[s], by, first.shot.times) for s in "lr"}
    return Together(first, second, by, {s: joined(alone[s], moved[s]) for s in "lr"}, alone)


def _time(desk: Desk, frame: float) -> float:
    """Real time of a frame of a shot. [s]"""
    shot = desk.shot
    if not shot.start <= frame < shot.stop:
        raise CaseError(
            f'Frame {frame:g} is not in "{shot.id}", which has {shot.start} to {shot.stop - 1}.',
            "Give a frame of each clip that shows the same moment.",
        )
    time = float(np.interp(frame, np.arange(len(shot.times)), shot.times))
    if not np.isfinite(time):
        raise CaseError(f'How much "{shot.id}" was slowed down is not known.', "State the slow motion of that clip.")
    return time


def _count(strokes: tuple[Stroke, ...], event: str) -> int:
    return sum(isinstance(s.moment(event), Moment) for s in strokes)
