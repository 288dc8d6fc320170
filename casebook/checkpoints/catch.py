"""The catch, measured from the side: hand ahead of the shoulder, elbow height, elbow angles, upper-arm turn.

Hand ahead is read when the forearm first points straight down, elbow height and angle when it is 45 degrees below the
horizontal. All values are as seen from the side; beside the elbow's
angles stands what they are in space.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from casebook.checkpoints.answers import near_side
from casebook.checkpoints.bands import Bands
from casebook.checkpoints.catch_curves import Curve, curves_of
from casebook.checkpoints.catch_findings import CHECKPOINT, ORDER, findings_of
from casebook.checkpoints.catch_space import ArmInSpace, limbs_of, sight_of
from casebook.checkpoints.catch_stills import stills_of
from casebook.checkpoints.catch_strokes import ArmLength, MeasuredStroke, arm_in_picture, measured_strokes
from casebook.checkpoints.catch_words import FAR_ARM, PANNING, WHAT_TO_MARK, table
from casebook.checkpoints.drawing import Still
from casebook.checkpoints.finding import Finding, NotMeasured
from casebook.plane.measured import Measured
from casebook.plane.unsquare import with_doubt
from casebook.stroke.arm import arm_of
from casebook.stroke.setup import set_ups
from casebook.words import SIDES, STROKE_CLASSES, VIEWS

if TYPE_CHECKING:
    from casebook.clip.shot import Shot
    from casebook.marks.events import EventMark
    from casebook.marks.marks import Marks
    from casebook.plane.plane import Plane

_SIDE_VIEWS = ("side_under", "side_split")


@dataclass(frozen=True, slots=True)
class CatchResult:
    """Everything measured about the catch in one shot.

    ``results`` holds near arm before far arm and the strokes without breath before other classes. ``arm_length`` is
    that of the near arm in metres, or None without a scale.
    """

    shot_id: str
    results: tuple[Finding | NotMeasured, ...]
    strokes: tuple[MeasuredStroke, ...]
    stills: tuple[Still, ...]
    curves: tuple[Curve, ...]
    arm_length: Measured | None

    @property
    def checkpoint(self) -> str:
        """Key of ``words.CHECKPOINTS``."""
        return CHECKPOINT

    def get(self, quantity: str, side: str, stroke_class: str = "none") -> Finding | NotMeasured:
        """One quantity of one side and stroke class; NotMeasured, saying so, if there is nothing of the kind."""
        own = [r for r in self.results if r.quantity == quantity and r.side in (side, "")]
        found = [r for r in own if isinstance(r, Finding)]
        for f in found:
            if f.stroke_class == stroke_class:
                return f
        gaps = [r for r in own if isinstance(r, NotMeasured)]
        return gaps[0] if gaps else NotMeasured(CHECKPOINT, quantity, side, *self._none_of(side, stroke_class, found))

    def _none_of(self, side: str, stroke_class: str, found: Sequence[Finding]) -> tuple[str, str]:
        arm = f"{SIDES.get(side, side)} arm"
        if found:
            others = ", ".join(dict.fromkeys(STROKE_CLASSES[f.stroke_class] for f in found))
            reason = f"Every marked stroke of the {arm} in {self.shot_id} is of another kind ({others})."
            return reason, f"Mark a stroke {STROKE_CLASSES[stroke_class]}, if the swimmer takes one."
        return f"No stroke of the {arm} is marked in {self.shot_id}.", WHAT_TO_MARK

    def text(self) -> str:
        """A plain table of the results."""
        return table(self.shot_id, self.results)


def measure_catch(
    shot: Shot,
    marks: Marks,
    plane: Plane,
    *,
    bands: Bands,
    arm_length: Measured | None = None,
    events: Sequence[EventMark] = (),
    camera_distance: Measured | None = None,
) -> CatchResult:
    """Measure the catch of every marked stroke of a shot.

    Parameters
    ----------
    shot : Shot
        A view from the side, under water or at the water line; other views give NotMeasured.
    marks : Marks
        Whole tracks or a few key stills per stroke (full reach, forearm halfway, forearm straight down), with the four
        points of the arm on each.
    plane : Plane
        Without a scale, angles and percentages are measured and metres are not. Where it knows of no lens and window,
        the camera counts as held square by eye, its picture's rim as perhaps bent.
    bands : Bands
    arm_length : Measured, optional
        Upper arm + forearm + wrist to middle fingertip, stated. [m] Otherwise the median over full-reach frames.
    events : sequence of EventMark
        ``stroke_class`` marks, and events set by the coach.
    camera_distance : Measured, optional
        From the lens to the swimmer's plane [m]; makes the angles in space surer.
    """
    near = near_side(shot)
    if shot.view not in _SIDE_VIEWS:
        return CatchResult(shot.id, _wrong_view(shot, near), (), (), (), None)
    plane = with_doubt(plane, shot.clip.size)
    results: list[Finding | NotMeasured] = []
    strokes: list[MeasuredStroke] = []
    lengths: dict[str, ArmLength | None] = {}
    sight, limbs = sight_of(shot, plane, camera_distance), None
    for side in (near, "lr".replace(near, "")):
        arm = arm_of(shot, marks, side)
        if side != near and not arm.complete.any():
            continue
        found = set_ups(shot, arm, plane, events)
        lengths[side] = length = arm_in_picture(found, plane, arm_length)
        own = measured_strokes(shot, found, plane, length, events)
        notes = [FAR_ARM] * (side != near) + [PANNING] * (shot.camera == "panning")
        limbs = limbs_of(found, plane, arm_length, limbs)
        arm_in_space = ArmInSpace(limbs, sight, side == near) if limbs else None
        results += findings_of(arm, own, plane, length, bands, notes, arm_in_space)
        strokes += own
    known = lengths[near]
    return CatchResult(
        shot.id,
        tuple(results),
        tuple(strokes),
        stills_of(strokes, plane, lengths),
        curves_of(strokes, lengths),
        known.in_metres(plane) if known else None,
    )


def _wrong_view(shot: Shot, near: str) -> tuple[NotMeasured, ...]:
    reason = f"The catch is read from the side under water; this is filmed {VIEWS[shot.view]}."
    remedy = "Film from the side with the camera under water or at the water line, square to the lane."
    return tuple(NotMeasured(CHECKPOINT, q, near, reason, remedy) for q in ORDER)
