"""What a shot can answer and what it cannot, in plain words, before anything is marked.

Everything here is common practice, no source, except the frame arithmetic.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from casebook.clip.shot import near_side as near_side
from casebook.words import CAMERAS, DIRECTIONS, SIDES, VIEWS

if TYPE_CHECKING:
    from casebook.clip.shot import Shot

_BY_VIEW: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "side_under": (
        ("body line and head", "reach", "catch", "pull path from the side", "kick from the side"),
        ("body roll in degrees", "hands crossing the middle", "swimming straight"),
    ),
    "side_split": (
        ("body line and head", "entry and recovery", "reach", "catch", "pull path from the side"),
        ("body roll in degrees", "hands crossing the middle", "swimming straight"),
    ),
    "side_above": (
        ("entry", "recovery", "breathing", "stroke rate"),
        ("catch and pull (bent by the surface)", "body roll in degrees", "kick"),
    ),
    "front_under": (
        ("hands crossing the middle", "body roll", "elbows wide or narrow", "feet spread"),
        ("catch angles (they point at the camera)", "body line", "distance per stroke"),
    ),
    "front_above": (
        ("entry in line with the shoulder", "recovery", "swimming straight"),
        ("catch", "body line", "kick"),
    ),
    "rear_under": (("feet spread", "swimming straight"), ("catch", "entry", "body line")),
    "rear_above": (("exit", "recovery swing", "body roll"), ("catch", "entry", "body line")),
    "bottom": (("hands crossing the middle", "swimming straight"), ("catch", "depth of hands and feet")),
    "top": (("swimming straight", "hands crossing the middle"), ("catch", "depth of hands and feet")),
}
_SPOILT_BY_KIT: dict[str, str] = {
    "snorkel": "breathing, head position and stroke rate (snorkel)",
    "pull buoy": "hip depth, kick, hip roll and leg timing (pull buoy)",
    "paddles": "entry, timing in front and stroke rate (paddles)",
    "fins": "kick, stroke rate and distance per stroke (fins)",
    "band": "kick and balance (band)",
    "wetsuit": "leg balance without the suit; compare with other wetsuit swims only",
}
#: Below this the moments of a stroke fall between pictures by more than a few degrees. [1/s] common practice, no source
SLOW_FPS = 50.0
#: A picture smaller than this is probably a messenger's copy. [px] common practice, no source
SMALL_HEIGHT_PX = 480


@dataclass(frozen=True, slots=True)
class Answers:
    """Two lists of short phrases and a list of sentences to heed."""

    can: tuple[str, ...]
    cannot: tuple[str, ...]
    heed: tuple[str, ...]

    def text(self) -> str:
        """The same as plain lines."""
        lines = ["This clip can answer: " + ", ".join(self.can) + "."]
        if self.cannot:
            lines.append("It cannot answer: " + ", ".join(self.cannot) + ".")
        return "\n".join([*lines, *self.heed])


def side_seen(direction: str) -> str:
    """The swimmer's side that a side camera sees: it stands on his right if he goes to the right of the picture."""
    return "left" if direction == "left" else "right"


def answers(shot: Shot) -> Answers:
    """What this shot can answer, from its view, direction, pictures a second, slow motion, camera and kit."""
    can, cannot = (list(part) for part in _BY_VIEW[shot.view])
    heed = [f"Seen {VIEWS[shot.view]}, swimming {DIRECTIONS[shot.direction]}; the camera {CAMERAS[shot.camera]}."]
    side = near_side(shot)
    if side:
        heed.append(
            f"The {SIDES[side]} arm is nearer the camera and the one to trust; the other is partly hidden. "
            "To compare left with right, film both sides."
        )
    if shot.mirrored:
        heed.append("The file is mirrored: what looks like the left arm is the right. Names here follow the swimmer.")
    _time(shot, cannot, heed)
    if shot.camera == "following":
        cannot.append("when the hand starts to move back against the water (the camera moves along)")
    if shot.camera == "panning":
        heed.append(
            "A turning camera is square to the swimmer only once: measure where the swimmer is straight in front."
        )
    if shot.swim and shot.swim.kit in _SPOILT_BY_KIT:
        cannot.append(_SPOILT_BY_KIT[shot.swim.kit])
    if min(shot.clip.size) < SMALL_HEIGHT_PX:
        heed.append(
            f"The picture is small ({shot.clip.size[0]} x {shot.clip.size[1]}). If it came through a messenger, ask "
            'for the original: "Could you send me the file itself, as a document or by a link? The message shrinks it."'
        )
    heed += shot.clip.facts.losses
    return Answers(tuple(can), tuple(cannot), tuple(heed))


def _time(shot: Shot, cannot: list[str], heed: list[str]) -> None:
    times = shot.times[shot.start : shot.stop]
    if not np.isfinite(times).all():
        cannot.append("anything in seconds (how much the file was slowed down is not known); angles still serve")
        return
    if len(times) > 1:
        fps = 1 / float(np.median(np.diff(times)))
        heed.append(f"{len(times)} pictures in {times[-1] - times[0]:.1f} s, {fps:.0f} a second.")
        if fps < SLOW_FPS:
            heed.append(
                "Fewer than 50 pictures a second: the exact moment of the catch falls between them; film at 60 or more."
            )
