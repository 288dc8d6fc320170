"""One way to measure any checkpoint, and which views can answer it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from importlib import import_module
from typing import TYPE_CHECKING

from casebook.errors import CasebookError
from casebook.plane.unsquare import with_doubt
from casebook.words import CHECKPOINTS

if TYPE_CHECKING:
    from casebook.checkpoints.bands import Bands
    from casebook.checkpoints.catch import CatchResult
    from casebook.checkpoints.result import CheckpointResult
    from casebook.clip.shot import Shot
    from casebook.marks.events import EventMark
    from casebook.marks.marks import Marks
    from casebook.plane.measured import Measured
    from casebook.plane.plane import Plane
    from casebook.stroke.lengths import Length

_FRONT = ("front_under", "front_above", "rear_under", "rear_above")
#: Views that can answer a checkpoint, the best first. common practice, no source
VIEWS_FOR: dict[str, tuple[str, ...]] = {
    "body_line": ("side_under", "side_split"),
    "entry": ("side_split", "front_under", "front_above", "side_above", "side_under"),
    "extension": ("side_under", "side_split"),
    "catch": ("side_under", "side_split"),
    "pull": ("side_under", "side_split", "front_under"),
    "recovery": ("side_split", "side_under", "side_above"),
    "breathing": ("side_split", "front_under", "side_above", "front_above", "side_under"),
    "roll": ("front_under", "rear_under"),
    "alignment": ("front_under", "rear_under", "front_above", "rear_above"),
    "kick": ("side_under", "side_split", "front_under", "rear_under"),
    "timing": ("side_under", "side_split"),
    "rate": ("side_under", "side_split", "side_above", *_FRONT),
}


@dataclass(frozen=True, slots=True)
class BodyFacts:
    """What is known of swimmer and camera beyond the picture: arm and body length, camera to swimmer, [m] and the
    lengths of the swim as the coach counted them."""

    arm_length: Measured | None = None
    body_length: Measured | None = None
    distance: Measured | None = None
    lengths: tuple[Length, ...] = ()


#: Which of these facts a checkpoint asks for.
_ASKS: dict[str, tuple[str, ...]] = {
    "entry": ("arm_length", "distance"),
    "extension": ("arm_length",),
    "catch": ("arm_length",),
    "pull": ("arm_length", "distance"),
    "recovery": ("arm_length",),
    "alignment": ("distance",),
    "kick": ("body_length", "distance"),
    "timing": ("arm_length",),
    "rate": ("lengths",),
}


def measure(
    checkpoint: str,
    shot: Shot,
    marks: Marks,
    plane: Plane,
    *,
    bands: Bands,
    events: Sequence[EventMark] = (),
    facts: BodyFacts | None = None,
) -> CheckpointResult | CatchResult:
    """Measure one checkpoint in one shot.

    Parameters
    ----------
    checkpoint : str
        Key of ``words.CHECKPOINTS``.
    shot, marks, plane, bands, events
        As every checkpoint takes them.
    facts : BodyFacts, optional

    Raises
    ------
    CasebookError
        There is no such checkpoint.
    """
    if checkpoint not in CHECKPOINTS:
        raise CasebookError(f'"{checkpoint}" is not a checkpoint.', f"Use one of: {', '.join(CHECKPOINTS)}.")
    facts = facts or BodyFacts()
    module = import_module(f"casebook.checkpoints.{checkpoint}")
    asked = {name: getattr(facts, name) for name in _ASKS.get(checkpoint, ())}
    # From the side, what nobody straightened is doubted; in line with the swimmer each checkpoint has its own doubt.
    if shot.view.startswith("side"):
        plane = with_doubt(plane, shot.clip.size)
    if checkpoint == "catch":
        asked["camera_distance"] = facts.distance
    result: CheckpointResult | CatchResult = getattr(module, f"measure_{checkpoint}")(
        shot, marks, plane, bands=bands, events=events, **asked
    )
    return result
