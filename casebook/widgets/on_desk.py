"""The frame marker for one shot on the coach's desk, with the points, rulers and moments that a checkpoint needs."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import suppress
from typing import TYPE_CHECKING

import numpy as np

from casebook.checkpoints.answers import near_side
from casebook.errors import CasebookError
from casebook.marks.points import PAIRED, mirrored
from casebook.widgets.bench import DRAFT, FOLLOW, Bench, Look
from casebook.widgets.desk_files import DeskLines, DeskMoments
from casebook.widgets.desk_search import found_moments
from casebook.widgets.desk_work import drafting, following
from casebook.widgets.frame_marker import FrameMarker
from casebook.widgets.moment_sheet import Found, MomentSheet
from casebook.widgets.proposals import Proposal, catch_stills
from casebook.widgets.ruler_board import RulerBoard, rulers_for

if TYPE_CHECKING:
    from casebook.case.desk import Desk

#: The points that each checkpoint asks for, in the order of marking: of one side, then of both. The hip gives the
#: trunk, the knuckle stands in for a bent wrist.
POINTS_FOR: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "body_line": (("shoulder", "hip", "ear", "heel"), ("crown",)),
    "entry": ((), ("shoulder", "elbow", "wrist", "fingertip")),
    "extension": ((), ("shoulder", "elbow", "wrist", "fingertip", "hip")),
    "catch": (("shoulder", "elbow", "wrist", "fingertip", "hip", "knuckle"), ()),
    "pull": ((), ("shoulder", "elbow", "wrist", "fingertip", "hip")),
    "recovery": (("shoulder", "elbow", "wrist", "fingertip", "hip"), ()),
    "breathing": ((), ("crown", "mouth", "neck", "ear", "goggle", "shoulder", "hip", "fingertip")),
    "roll": ((), ("neck", "shoulder", "hip")),
    "alignment": ((), ("ear", "shoulder", "hip", "ankle")),
    "kick": (("hip", "knee", "ankle", "toe", "heel", "shoulder"), ()),
    "timing": ((), ("shoulder", "elbow", "wrist", "fingertip", "hip", "ankle")),
    "rate": ((), ("shoulder", "wrist", "fingertip")),
    "whole body": ((), ("crown", "shoulder", "elbow", "wrist", "fingertip", "hip", "knee", "ankle", "toe")),
}
#: What is read off the frame from the start.
READ_FOR = {
    "catch": "catch",
    "extension": "catch",
    "pull": "catch",
    "body_line": "body",
    "kick": "angle",
    "alignment": "lane",
}


def marker(desk: Desk, checkpoint: str = "catch", side: str = "", points: Sequence[str] = ()) -> FrameMarker:
    """The frame marker for the points of a checkpoint, or of the ``whole body``.

    Where one side will do it is the one nearer the camera, unless ``side`` says l or r; ``points`` names the points in
    place of a checkpoint's. Below the points stand the lines of the shot, what can be read off a frame and the moments
    of the stroke: what is drawn or set there is on the desk at once, and ``desk.plane``, ``desk.events`` and the value
    line follow.
    """
    side = side or near_side(desk.shot) or "r"
    points = list(points) or points_for(checkpoint, side)
    shot, lines, moments = desk.shot, DeskLines(desk), DeskMoments(desk)
    board = RulerBoard(
        rulers_for(points, shot.view, side),
        points,
        desk.store,
        shot.clip.size,
        lambda: lines.plane,
        lambda: lines.lines,
    )
    board.on = [r.key for r in board.rulers if r.key == READ_FOR.get(checkpoint)]
    times = shot.times if np.isfinite(shot.times).all() else shot.clip.times
    bench = Bench(
        rulers=board,
        moments=MomentSheet(moments, times, desk.store.by),
        work={FOLLOW: following(desk), DRAFT: drafting(desk)},
        look=looking(desk, lines, moments, points, side if checkpoint == "catch" else ""),
        side=side,
    )
    return FrameMarker(
        shot.clip,
        desk.store,
        points=points,
        start=shot.start,
        stop=shot.stop,
        draw_lines=lines,
        live=board.words,
        draw=board.drawing,
        spans=(),
        bench=bench,
        real_times=shot.times,
    )


def looking(desk: Desk, lines: DeskLines, moments: DeskMoments, points: Sequence[str], side: str) -> Look:
    """Finds moments in the marks as they stand, and frames to mark for the catch of one arm if ``side`` names it."""

    def prepare() -> Callable[[], tuple[Sequence[Found], Sequence[Proposal]]]:
        shot, marks, plane, events = desk.shot, desk.marks, lines.plane, moments.events

        def job() -> tuple[Sequence[Found], Sequence[Proposal]]:
            found: Sequence[Found] = ()
            with suppress(CasebookError):  # half a stroke may be no stroke to read; proposals do without
                found = found_moments(shot, marks, plane, events, points)
            return found, catch_stills(shot, marks, plane, events, side) if side else ()

        return job

    return prepare


def points_for(checkpoint: str, side: str) -> list[str]:
    """The points of a checkpoint in the order of marking, of the given side before the other."""
    if checkpoint not in POINTS_FOR:
        raise CasebookError(
            f'There is no checkpoint "{checkpoint}" to mark for.', f"Use one of: {', '.join(POINTS_FOR)}."
        )
    near, both = POINTS_FOR[checkpoint]
    sides = (side, mirrored(f"hip_{side}")[-1])
    return [
        *(n for n in both if n not in PAIRED),
        *(f"{n}_{side}" for n in near),
        *(f"{n}_{s}" for s in sides for n in both if n in PAIRED),
    ]
