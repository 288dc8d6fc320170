"""Blocks of the stroke in time, from the desk: phases of both arms, a measure over the cycle, the hand's way, dials."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from casebook.checkpoints.answers import near_side
from casebook.checkpoints.kick_meetings import meetings
from casebook.pages.block import Block
from casebook.pages.show_stroke import hand_path, leg_timing, mean_cycle, phase_strip
from casebook.pages.stroke_records import cycle_groups, hand_paths, phase_rows
from casebook.stroke.arm import clock_of
from casebook.stroke.cycle_edges import cycle_edges
from casebook.stroke.kick import kicks_of, leg_of, leg_points
from casebook.stroke.points import Unread, points_of
from casebook.stroke.strokes import Stroke, strokes_of

if TYPE_CHECKING:
    from casebook.case.desk import Desk
    from casebook.checkpoints.result import CheckpointResult

#: Curves over the cycle: title, unit as told, factor.
CYCLES: dict[str, tuple[str, str, float]] = {
    "knee_angle_deg": ("Bend of the knee", "°", 1.0),
    "ankle_height_m": ("The foot against the hip", "cm", 100.0),
}


def phases(desk: Desk, result: CheckpointResult) -> Block:
    """What each arm does, stroke after stroke."""
    rows = [row for side in "lr" for row in phase_rows(_strokes(desk, side))]
    return phase_strip([row for row in rows if np.isfinite(row.moments_s).sum() > 1])


def cycle(desk: Desk, result: CheckpointResult, quantity: str) -> Block:
    """One of ``CYCLES`` over the stroke cycle: a thin line a stroke, the mean and its spread from four on."""
    title, unit, factor = CYCLES[quantity]
    return mean_cycle(cycle_groups(result.curves, quantity, factor=factor), title, unit)


def way(desk: Desk, result: CheckpointResult, frame: str = "body") -> Block:
    """The way of the near hand, against the body for the swimmer (``body``) or through still water (``water``)."""
    side = near_side(desk.shot) or "r"
    paths = hand_paths(desk.shot, desk.marks, desk.plane, _strokes(desk, side), frame)
    return hand_path(paths, frame, "m" if desk.plane.has_scale else "px")


def dials(desk: Desk, result: CheckpointResult) -> Block:
    """Which foot kicks down as which hand goes in and starts back."""
    side = near_side(desk.shot) or "r"
    points = points_of(desk.shot, desk.marks, desk.plane, leg_points(side))
    kicks = kicks_of(leg_of(points, side))
    edges = cycle_edges(desk.shot, desk.marks, desk.plane, desk.events)
    if isinstance(kicks, Unread) or isinstance(edges, Unread):
        why = kicks if isinstance(kicks, Unread) else edges
        assert isinstance(why, Unread)
        return leg_timing([why])
    return leg_timing(meetings(kicks, edges, clock_of(desk.shot)))


def _strokes(desk: Desk, side: str) -> tuple[Stroke, ...]:
    return strokes_of(desk.shot, desk.marks, desk.plane, side, desk.events)
