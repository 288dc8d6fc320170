"""What a tool lets the computer do over a stretch of a desk's shot: follow points, draft them with the pose model."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from casebook.clip.clip import Clip
from casebook.marks.draft import make_draft
from casebook.marks.model import find_model
from casebook.marks.track import track
from casebook.widgets.bench import Finds

if TYPE_CHECKING:
    from casebook.case.desk import Desk
    from casebook.marks.progress import Tell
    from casebook.widgets.bench import Prepare


def following(desk: Desk) -> Prepare:
    """Follow points through the pictures between the coach's own marks of a stretch."""

    def prepare(points: Sequence[str], frames: range) -> Callable[[Tell], Finds]:
        marks = desk.marks.pick(points, np.arange(frames.start, frames.stop))

        def job(tell: Tell) -> Finds:
            # A reader of its own: the tool's goes on showing pictures meanwhile.
            with Clip(desk.shot.clip.path) as clip:
                found = track(replace(desk.shot, clip=clip), marks, points, tell=tell)
            return Finds(found, "where a point was lost there is no mark")

        return job

    return prepare


def drafting(desk: Desk) -> Prepare:
    """Draft points with the pose model; a missing model is said before the work begins."""

    def prepare(points: Sequence[str], frames: range) -> Callable[[Tell], Finds]:
        model, marks, water = find_model(), desk.marks, desk.lines

        def job(tell: Tell) -> Finds:
            wanted = np.arange(frames.start, frames.stop)
            with Clip(desk.shot.clip.path) as clip:
                made = make_draft(
                    replace(desk.shot, clip=clip), wanted, model=model, tell=tell, water=water, hand=marks
                )
            own = made.marks.pick([p for p in points if p in made.marks.points])
            seen = f"a swimmer on {made.report.found} of {made.report.frames} frames"
            return Finds(own, f"{seen}; look before you accept")

        return job

    return prepare
