"""The moments that the stroke reading finds in a shot's marks, for those arms that a tool marks."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from casebook.stroke.strokes import strokes_of
from casebook.widgets.moment_sheet import Found

if TYPE_CHECKING:
    from casebook.clip.shot import Shot
    from casebook.marks.events import EventMark
    from casebook.marks.marks import Marks
    from casebook.plane.plane import Plane


def found_moments(
    shot: Shot, marks: Marks, plane: Plane, events: Sequence[EventMark], points: Sequence[str]
) -> list[Found]:
    """Moments of the arms whose wrist is among ``points``; those that the coach set are left out."""
    found = []
    for side in "lr":
        if f"wrist_{side}" not in points:
            continue
        for stroke in strokes_of(shot, marks, plane, side, events):
            found += [Found(m.event, side, m.frame) for m in stroke.found if not m.by_coach]
    return found
