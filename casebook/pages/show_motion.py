"""Blocks of the stroke in time, from the desk: phases of both arms, a measure over the cycle, the hand's way, dials."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from casebook.checkpoints.answers import near_side
from casebook.checkpoints.finding import Finding
from casebook.checkpoints.kick_meetings import meetings
from casebook.checkpoints.result import CycleCurve
from casebook.errors import CasebookError
from casebook.pages.block import Block
from casebook.pages.show_stroke import hand_path, leg_timing, mean_cycle, phase_strip
from casebook.pages.stroke_records import cycle_groups, hand_paths, phase_rows
from casebook.plane.geometry import joint_angle_deg
from casebook.stroke.arm import clock_of
from casebook.stroke.coordination import CAUTION
from casebook.stroke.cycle_edges import cycle_edges
from casebook.stroke.kick import kicks_of, leg_of, leg_points
from casebook.stroke.moment import Moment
from casebook.stroke.points import Unread, points_of, smooth
from casebook.stroke.strokes import Stroke, strokes_of
from casebook.words import QUANTITIES, SIDES

if TYPE_CHECKING:
    from casebook.case.desk import Desk
    from casebook.checkpoints.result import CheckpointResult

#: Curves over the cycle: title, unit as told, factor.
CYCLES: dict[str, tuple[str, str, float]] = {
    "knee_angle_deg": ("Bend of the knee", "°", 1.0),
    "ankle_height_m": ("The foot against the hip", "cm", 100.0),
    "shoulder_deg": ("Roll of the shoulders, left side up", "°", 1.0),
    "hip_deg": ("Roll of the hips, left side up", "°", 1.0),
    "twist_deg": ("Shoulders turned against the hips", "°", 1.0),
}
#: Joints whose bend can be drawn over the stroke: what it is called, and the three points, the joint in the middle.
JOINTS: dict[str, tuple[str, tuple[str, str, str]]] = {
    "wrist": ("Bend of the wrist", ("elbow", "wrist", "fingertip")),
    "elbow": ("Bend of the elbow", ("shoulder", "elbow", "wrist")),
    "shoulder": ("The upper arm against the trunk", ("hip", "shoulder", "elbow")),
    "hip": ("Bend at the hip", ("shoulder", "hip", "knee")),
    "knee": ("Bend of the knee", ("hip", "knee", "ankle")),
    "ankle": ("Bend of the ankle", ("knee", "ankle", "toe")),
}


def phases(desk: Desk, result: CheckpointResult) -> Block:
    """What each arm does, stroke after stroke."""
    rows = [row for side in "lr" for row in phase_rows(_strokes(desk, side))]
    return phase_strip([row for row in rows if np.isfinite(row.moments_s).sum() > 1])


def cycle(desk: Desk, result: CheckpointResult, quantity: str) -> Block:
    """One of ``CYCLES`` over the stroke cycle: a thin line a stroke, the mean and its spread from four on."""
    title, unit, factor = CYCLES[quantity]
    return mean_cycle(cycle_groups(result.curves, quantity, factor=factor), title, unit)


def angle(desk: Desk, joint: str = "elbow", side: str = "") -> Block:
    """The bend of any joint of ``JOINTS`` from a hand's entry to its next, as the picture shows it; 180 is straight.

    A thin line a stroke, their mean and its spread from four on; classes of strokes apart. The near side unless given.
    """
    if joint not in JOINTS:
        raise CasebookError(f'"{joint}" is no joint that can be drawn.', f"Use one of: {', '.join(JOINTS)}.")
    title, names = JOINTS[joint]
    side = side or near_side(desk.shot) or "r"
    points = points_of(desk.shot, desk.marks, desk.plane, [f"{name}_{side}" for name in names])
    bend = joint_angle_deg(*np.moveaxis(smooth(points).at, 1, 0)) if len(points.frames) else np.empty(0)
    clock, curves = clock_of(desk.shot), []
    for stroke in _strokes(desk, side):
        ends = [m.frame for m in (stroke.moment("entry"), stroke.next_entry) if isinstance(m, Moment)]
        if len(ends) == 2:
            first, last = np.interp(ends, np.arange(len(clock)), clock)
            rows = np.arange(*np.searchsorted(points.clock, [first, last]))
            share = 100 * (points.clock[rows] - first) / (last - first)
            curves.append(
                CycleCurve(joint, side, stroke.number, stroke.stroke_class, points.frames[rows], share, bend[rows],
                           np.zeros(len(rows)), "deg")
            )  # fmt: skip
    return mean_cycle(cycle_groups(curves, joint), f"{title}, {SIDES[side]} side", "°")


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
    edges = cycle_edges(desk.shot, desk.marks, desk.plane, desk.told_events)
    if isinstance(kicks, Unread) or isinstance(edges, Unread):
        why = kicks if isinstance(kicks, Unread) else edges
        assert isinstance(why, Unread)
        return leg_timing([why])
    return leg_timing(meetings(kicks, edges, clock_of(desk.shot)))


def beside(desk: Desk, shot: str, same: tuple[float, float]) -> Block:
    """What a second clip of the same swim adds to this one, both on one clock; for the coach.

    Parameters
    ----------
    shot : str
        The other clip's shot; nothing is put together where it is empty.
    same : (frame, frame)
        A frame of this shot and one of the other that show the same moment, such as a hand going in.
    """
    title = "Two clips of one swim"
    if not shot:
        words = (
            "No second clip is named. Filmed over and under water at once? Name the other shot, and a picture of each "
            "that shows the same moment, such as a hand going in."
        )
        return Block("prose", words, {"title": title, "paragraphs": [words], "items": []})
    both = desk.case.together(desk.shot.id, shot, same)
    told = both.measure()
    alone = {(r.quantity, r.side) for r in desk.measure("timing").results if isinstance(r, Finding)}
    new = [r for r in told.results if isinstance(r, Finding) and (r.quantity, r.side) not in alone]
    items = [
        f"{QUANTITIES[r.quantity].name}{f' ({SIDES[r.side]})' if r.side else ''}: {r.value:.1f} {r.unit} "
        f"({r.these.low:.1f} to {r.these.high:.1f})"
        for r in new
    ]
    lines = both.text().splitlines()
    said = [*lines, "Measured now, and not with one clip alone:"] if items else lines
    items += [CAUTION] if any(CAUTION in r.notes for r in new) else []
    return Block("prose", "\n".join([*said, *items]), {"title": title, "paragraphs": said, "items": items})


def _strokes(desk: Desk, side: str) -> tuple[Stroke, ...]:
    return strokes_of(desk.shot, desk.marks, desk.plane, side, desk.told_events)
