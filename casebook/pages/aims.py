"""Which picture shows a fault, and how it is laid beside the figure to aim for. Common practice, no source."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from statistics import median
from typing import TYPE_CHECKING

import numpy as np

from casebook.checkpoints.drawing import Drawing, Point

if TYPE_CHECKING:
    from casebook.checkpoints.drawing import Still
    from casebook.checkpoints.seen import SeenFault
    from casebook.pages.telling import Result

#: Points along which a still is drawn, and along which the figure is made as large. {s}: the side of the still.
ARM = ("shoulder_{s}", "elbow_{s}", "wrist_{s}", "fingertip_{s}")
BODY = ("ear_{s}", "shoulder_{s}", "hip_{s}", "heel_{s}")
LEG = ("hip_{s}", "knee_{s}", "ankle_{s}", "toe_{s}")
SHANK = ("knee_{s}", "ankle_{s}")
HEAD = ("neck", "crown")
SHOULDERS = ("shoulder_l", "shoulder_r")
HIPS = ("hip_l", "hip_r")
#: What to look at on the figure.
LOOK_AT = {
    ARM: "where its arm and hand are",
    BODY: "how its head and its legs lie",
    LEG: "how its leg bends",
    SHANK: "where its toes point",
    HEAD: "how low its head stays",
    SHOULDERS: "where its hand is beside the dashed middle of the body",
    HIPS: "how close its feet stay",
}


@dataclass(frozen=True, slots=True)
class Likeness:
    """A still that shows a fault, and the moment of the figure that goes with it.

    ``chain`` names the points of the still's first line; two of them across the body are laid middle on middle, any
    other chain first point on first point.
    """

    still: str
    moment: str
    chain: tuple[str, ...]

    def names(self, side: str) -> tuple[str, ...]:
        """The points for one side."""
        return tuple(name.format(s=side or "r") for name in self.chain)

    @property
    def is_across(self) -> bool:
        """The chain goes across the body, from left to right."""
        return self.chain in (SHOULDERS, HIPS)

    def mine(self, still: Still) -> tuple[Point, ...]:
        """The chain as the still has it; empty where points of it are not marked."""
        lines = still.drawing.reference if self.chain is HIPS else still.drawing.body
        return lines[0] if lines and len(lines[0]) == len(self.chain) else ()


def _of(like: Likeness, *faults: str) -> dict[str, Likeness]:
    return dict.fromkeys(faults, like)


LIKENESS: dict[str, Likeness] = {
    **_of(Likeness("line", "long", BODY), "head_up", "legs_sink", "body_steep"),
    **_of(Likeness("line_breath", "breath", BODY), "legs_sink_on_breath"),
    **_of(Likeness("narrowest", "in_front", SHOULDERS), "crosses_at_entry", "enters_wide"),
    **_of(Likeness("entry", "entry", ARM), "slaps", "thumb_first"),
    **_of(Likeness("reach", "reach", ARM), "fingers_up", "reach_high", "reach_deep"),
    **_of(Likeness("halfway", "halfway", ARM), "straight_arm", "dropped_elbow"),
    **_of(Likeness("straight_down", "straight_down", ARM), "late_catch"),
    **_of(Likeness("narrowest", "mid_pull", SHOULDERS), "pulls_across"),
    **_of(Likeness("deepest", "hand_deepest", ARM), "pulls_deep"),
    **_of(Likeness("exit", "exit", ARM), "slips_out_early", "long_finish"),
    **_of(Likeness("turned", "breath", HEAD), "breath_lift"),
    **_of(Likeness("widest", "feet_widest", HIPS), "scissor"),
    **_of(Likeness("knee", "knee_bent", LEG), "knee_kick"),
    **_of(Likeness("lowest", "foot_lowest", LEG), "thigh_drops"),
    **_of(Likeness("toes", "foot_down", SHANK), "hooked_feet"),
    **_of(Likeness("other_enters", "other_enters", ARM), "dead_spot", "front_hand_gone"),
}


def still_of_fault(result: Result, fault: SeenFault) -> Still | None:
    """The still that shows a fault: of the stroke nearest the middle of those that were measured.

    None if the fault has no such picture, or its line is not marked in any.
    """
    like = LIKENESS.get(fault.fault.key)
    if like is None:
        return None
    own = [s for s in result.stills if s.key == like.still and like.mine(s)]
    for finding in (f for f in fault.findings if f in result.results):
        middle = median(s.value for s in finding.strokes)
        far = {s.stroke: abs(s.value - middle) for s in finding.strokes if not s.shot}
        there = [s for s in own if s.side in ("", finding.side) and s.stroke in far]
        if there:
            return min(there, key=lambda s: (far[s.stroke], s.stroke))
    return own[0] if own else None


def aim_lines(like: Likeness, joints: Mapping[str, Sequence[float]], side: str) -> Drawing:
    """The lines on the figure: those that stand on the swimmer's still. Points in the figure's pixels."""
    chain = tuple(_xy(joints[name]) for name in like.names(side))
    if like.chain is ARM:
        return aim_drawing(chain, like.moment)
    if like.chain is HIPS:
        feet = (_xy(joints["ankle_l"]), _xy(joints["ankle_r"]))
        return Drawing((), (chain,), (feet,))
    if like.chain is SHOULDERS:
        arm = tuple(_xy(joints[f"{name}_{side}"]) for name in ("elbow", "wrist", "fingertip"))
        middle = (chain[0][0] + chain[1][0]) / 2
        foot = (middle, arm[-1][1])
        return Drawing((chain, arm), (((middle, (chain[0][1] + chain[1][1]) / 2), foot),), ((foot, arm[-1]),))
    if like.chain is SHANK:
        foot_line = (_xy(joints[f"heel_{side}"]), _xy(joints[f"toe_{side}"]))
        return Drawing((chain, foot_line))
    return Drawing((chain,))


def aim_drawing(arm: Sequence[Point], moment: str) -> Drawing:
    """The lines of an arm at a moment of the catch, or, at any other, with the level of its shoulder."""
    shoulder, elbow, _, tip = (np.asarray(p, float) for p in arm)
    if moment == "straight_down":
        below = (float(shoulder[0]), float(tip[1]))
        return Drawing((tuple(arm),), ((arm[0], below),), ((below, arm[-1]),))
    if moment == "halfway":
        along = (tip - shoulder) / np.linalg.norm(tip - shoulder)
        foot = shoulder + along * float((elbow - shoulder) @ along)
        return Drawing((tuple(arm),), ((arm[0], arm[-1]),), ((arm[1], (float(foot[0]), float(foot[1]))),))
    return Drawing((tuple(arm),), ((arm[0], (float(tip[0]), float(shoulder[1]))),))


def _xy(point: Sequence[float]) -> Point:
    return float(point[0]), float(point[1])
