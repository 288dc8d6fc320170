"""The demo cases as data: what was filmed of each invented swimmer, what was marked, and what was asked and seen."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

from casebook.case.create import ClipAnswers

_ARM = ("shoulder", "elbow", "wrist", "fingertip", "knuckle")
_NEAR = ("hip", "knee", "ankle", "heel", "toe", "ear", "goggle")
_MIDDLE = ("crown", "mouth", "neck")
#: Of the arm away from the camera: enough for when it enters.
_FAR = ("wrist", "fingertip")


@dataclass(frozen=True, slots=True)
class DemoShot:
    """One clip of a demo case: how it was filmed, and what the invented coach marked on it."""

    clip: str
    seen: ClipAnswers
    points: tuple[str, ...]
    water_frames: tuple[int, ...] = ()
    rope_frames: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Counted:
    """What the invented coach counted in one length of the 25 m pool: strokes of both arms, seconds, and of a part of a
    length where the watch was started and how far it ran. [s], [m]"""

    effort: str
    seconds: float
    strokes: int
    from_wall: float | None = None
    distance: float = 25.0


@dataclass(frozen=True, slots=True)
class DemoCase:
    """What a demo case holds beside the swimmer: shots, and rows and tables of case.toml.

    ``counted`` is what he wrote down at the pool side, in the order swum. ``order`` names the checkpoints that the
    invented coach writes about; all of them if empty. ``look_in`` names the
    shot in which he looks at a checkpoint, where the usual one does not show what he means.
    """

    shots: tuple[DemoShot, ...]
    order: tuple[str, ...] = ()
    look_in: dict[str, str] = field(default_factory=dict)
    aims: str = ""
    intake: dict[str, Any] = field(default_factory=dict)
    counted: tuple[Counted, ...] = ()
    decisions: tuple[dict[str, str], ...] = ()
    observed: tuple[dict[str, str], ...] = ()


def side_points(near: str) -> tuple[str, ...]:
    """What a side view shows of a swimmer whose side ``near`` (``l`` or ``r``) is toward the camera."""
    far = "l" if near == "r" else "r"
    return (*(f"{p}_{near}" for p in (*_ARM, *_NEAR)), *(f"{p}_{far}" for p in _FAR), *_MIDDLE)


#: Of both sides, seen head-on.
FRONT_POINTS = (*(f"{p}_{s}" for s in "lr" for p in (*_ARM, "hip", "ankle", "ear", "goggle")), "neck")
#: Of both sides, seen from behind: the feet are in front, the hands behind the body.
REAR_POINTS = tuple(f"{p}_{s}" for s in "lr" for p in ("shoulder", "hip", "ankle"))

_SIDE = ClipAnswers(view="side_under", direction="right", camera="following", date="2026-05-02")
_FRONT = replace(_SIDE, view="front_under", direction="toward", distance_m=3.1)
_REAR = replace(_SIDE, view="rear_under", direction="away", distance_m=3.6)

ROWAN = DemoCase(
    (
        DemoShot("rowan_side", _SIDE, side_points("r"), (30, 210, 390), (90, 330)),
        DemoShot("rowan_front", _FRONT, FRONT_POINTS),
        DemoShot("rowan_split", replace(_SIDE, view="side_split"), side_points("r"), (10, 45, 80)),
        DemoShot(
            "rowan_pass",
            replace(_SIDE, camera="still", distance_m=4.2),
            (*(f"{p}_r" for p in (*_ARM, "hip")), *(f"{p}_l" for p in _FAR)),
            (20, 90, 160),
            (60, 120),
        ),
    ),
    counted=(
        Counted("easy", 20.6, 18),
        Counted("easy", 20.9, 19),
        Counted("steady", 17.9, 20),
        Counted("steady", 18.1, 21),
        Counted("steady", 7.6, 11, 10.0, 10.0),
        Counted("race pace", 16.4, 22),
        Counted("race pace", 16.5, 23),
    ),
    decisions=(
        {
            "checkpoint": "catch",
            "decision": "work on now",
            "why": "The shape of the arm is there, its timing not yet.",
        },
    ),
)
HERON = DemoCase(
    (
        DemoShot("heron_side", replace(_SIDE, direction="left"), side_points("l"), (20, 120, 220), (60, 180)),
        DemoShot("heron_front", _FRONT, FRONT_POINTS),
    ),
    order=("body_line", "entry", "catch", "kick", "rate"),
    aims="to come out of the water with the group, with legs left for the bicycle",
    intake={"sessions_a_week": 3, "times": "400 m in 7:10", "years": 2, "breathing_side": "right", "pool": "25 m"},
)
ALDER = DemoCase(
    (
        DemoShot("alder_side", _SIDE, side_points("r"), (10, 60, 110), (30, 90)),
        DemoShot("alder_rear", _REAR, REAR_POINTS),
    ),
    order=("body_line", "catch", "kick"),
    look_in={"kick": "alder_rear_under"},
    aims="by the end of summer, and to enjoy it",
    observed=(
        {"checkpoint": "body_line", "question": "eyes", "word": "ahead"},
        {"checkpoint": "breathing", "question": "out", "word": "steady"},
    ),
    intake={"sessions_a_week": 1, "times": "25 m in 33 s", "years": 1, "breathing_side": "right", "pool": "25 m"},
)
WREN = DemoCase(
    (
        DemoShot("wren_side", _SIDE, side_points("r"), (20, 120, 220), (60, 180)),
        DemoShot("wren_front", _FRONT, FRONT_POINTS),
    ),
    order=("body_line", "entry", "extension", "catch", "kick", "rate"),
    look_in={"rate": "wren_front_under"},
    aims="a best time in autumn",
    intake={"sessions_a_week": 6, "times": "50 m in 28.9", "years": 9, "breathing_side": "left", "pool": "25 m"},
)
CASES: dict[str, DemoCase] = {"rowan": ROWAN, "heron": HERON, "alder": ALDER, "wren": WREN}
