"""The frame marker for one shot on the coach's desk, with the points and live values that a checkpoint needs."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

import numpy as np

from casebook.checkpoints.answers import near_side
from casebook.checkpoints.drawing import Point
from casebook.errors import CasebookError
from casebook.plane.geometry import height_over_line, inclination_deg
from casebook.widgets.frame_marker import FrameMarker
from casebook.widgets.scene import elbow_off_line

if TYPE_CHECKING:
    from casebook.case.desk import Desk
    from casebook.plane.plane import Plane

#: Points of one side, in the order of marking. The hip gives the trunk, the knuckle stands in for a bent wrist.
POINTS_FOR: dict[str, tuple[str, ...]] = {
    "catch": ("shoulder", "elbow", "wrist", "fingertip", "hip", "knuckle"),
}


def marker(desk: Desk, checkpoint: str = "catch", side: str = "") -> FrameMarker:
    """The frame marker for a checkpoint's points of one arm: the one nearer the camera unless ``side`` says l or r."""
    if checkpoint not in POINTS_FOR:
        raise CasebookError(
            f'There is no checkpoint "{checkpoint}" to mark for.', f"Use one of: {', '.join(POINTS_FOR)}."
        )
    side = side or near_side(desk.shot) or "r"
    points = [f"{name}_{side}" for name in POINTS_FOR[checkpoint]]
    shot = desk.shot
    return FrameMarker(
        shot.clip,
        desk.store,
        points=points,
        start=shot.start,
        stop=shot.stop,
        lines=desk.lines,
        live=arm_words(desk.plane, side),
        draw=elbow_off_line(side),
    )


def arm_words(plane: Plane, side: str) -> Callable[[int, Mapping[str, Point]], str]:
    """The value line: how far the forearm is down, and how far the elbow stands off the shoulder-fingertip line."""

    def words(_: int, marks: Mapping[str, Point]) -> str:
        names = [f"{n}_{side}" for n in ("shoulder", "elbow", "wrist", "fingertip")]
        if any(n not in marks for n in names[1:3]):
            return ""
        level = {n: plane.level(np.asarray(marks[n], float)) for n in names if n in marks}
        elbow, wrist = level[names[1]], level[names[2]]
        said = [f"forearm {float(inclination_deg(elbow, wrist)):.0f}° below the horizontal"]
        if len(level) == len(names):
            shoulder, fingertip = level[names[0]], level[names[3]]
            arm = sum(float(np.hypot(*(b - a))) for a, b in ((shoulder, elbow), (elbow, wrist), (wrist, fingertip)))
            height = float(height_over_line(elbow, shoulder, fingertip)) / arm * 100
            said.append(f"elbow {abs(height):.0f} % of the arm {'above' if height >= 0 else 'below'} the straight line")
        return ", ".join(said)

    return words
