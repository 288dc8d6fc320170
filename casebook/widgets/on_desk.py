"""The frame marker for one shot on the coach's desk, with the points and live values that a checkpoint needs."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from casebook.checkpoints.answers import near_side
from casebook.checkpoints.catch_reading import STEEPEST_DEG
from casebook.checkpoints.drawing import Point
from casebook.errors import CasebookError
from casebook.marks.lines import LineMark, write_lines
from casebook.marks.scales import LengthMark, write_scales
from casebook.plane.geometry import height_over_line, inclination_deg, line_steepness_deg
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
    """The frame marker for a checkpoint's points of one arm: the one nearer the camera unless ``side`` says l or r.

    Below the points stand the lines of the shot: what is drawn there is on the desk at once, and ``desk.plane`` and the
    value line follow.
    """
    if checkpoint not in POINTS_FOR:
        raise CasebookError(
            f'There is no checkpoint "{checkpoint}" to mark for.', f"Use one of: {', '.join(POINTS_FOR)}."
        )
    side = side or near_side(desk.shot) or "r"
    points = [f"{name}_{side}" for name in POINTS_FOR[checkpoint]]
    shot, on_desk = desk.shot, DeskLines(desk)
    return FrameMarker(
        shot.clip,
        desk.store,
        points=points,
        start=shot.start,
        stop=shot.stop,
        draw_lines=on_desk,
        live=arm_words(lambda: on_desk.plane, side),
        draw=elbow_off_line(side),
        real_times=shot.times,
    )


class DeskLines:
    """The lines, lengths and plane of a desk, read anew only when their files have changed; a ``LineDesk``."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._read: dict[str, tuple[object, Any]] = {}
        beside = desk.store.path
        self._files = beside.with_suffix(".lines.csv"), beside.with_suffix(".scales.toml")

    @property
    def lines(self) -> Sequence[LineMark]:
        """All lines on disk, of every frame and kind."""
        return self._once("lines", self._files[:1], lambda: tuple(self._desk.lines))

    @property
    def lengths(self) -> Sequence[LengthMark]:
        """All known lengths on disk."""
        return self._once("lengths", self._files[1:], lambda: tuple(self._desk.lengths))

    @property
    def plane(self) -> Plane:
        """The plane that the lines and lengths on disk give."""
        return self._once("plane", self._files, lambda: self._desk.plane)

    def draw_water(self, frame: int, left: Point, right: Point) -> None:
        self._desk.draw_water(frame, left, right)
        self._read.clear()

    def draw_length(
        self,
        frame: int,
        left: Point,
        right: Point,
        length_m: float,
        give_or_take_m: float,
        what: str,
        distance_ratio: float = 1.0,
        distance_sigma: float = 0.0,
    ) -> None:
        self._desk.draw_length(frame, left, right, length_m, give_or_take_m, what, distance_ratio, distance_sigma)
        self._read.clear()

    def erase_water(self, frame: int) -> None:
        """Take the water line off a frame."""
        write_lines(self._files[0], [m for m in self._desk.lines if (m.frame, m.line) != (frame, "water")])
        self._read.clear()

    def erase_length(self, frame: int, what: str) -> None:
        """Take the length of these words off a frame."""
        write_scales(self._files[1], [m for m in self._desk.lengths if (m.frame, m.what) != (frame, what)])
        self._read.clear()

    def _once(self, name: str, files: Sequence[Path], read: Callable[[], Any]) -> Any:
        stamp = [_stamp(path) for path in files]
        if name not in self._read or self._read[name][0] != stamp:
            self._read[name] = (stamp, read())
        return self._read[name][1]


def _stamp(path: Path) -> tuple[int, int] | None:
    try:
        about = path.stat()
    except OSError:
        return None
    return about.st_mtime_ns, about.st_size


def arm_words(plane: Plane | Callable[[], Plane], side: str) -> Callable[[int, Mapping[str, Point]], str]:
    """The value line: how far the forearm is down, and how far the elbow stands off the shoulder-fingertip line.

    ``plane`` may be a function that gives the plane as it stands now.
    """

    def words(_: int, marks: Mapping[str, Point]) -> str:
        names = [f"{n}_{side}" for n in ("shoulder", "elbow", "wrist", "fingertip")]
        if any(n not in marks for n in names[1:3]):
            return ""
        now = plane() if callable(plane) else plane
        level = {n: now.level(np.asarray(marks[n], float)) for n in names if n in marks}
        elbow, wrist = level[names[1]], level[names[2]]
        said = [f"forearm {round(float(inclination_deg(elbow, wrist)))}° below the horizontal"]
        if len(level) == len(names):
            shoulder, fingertip = level[names[0]], level[names[3]]
            if line_steepness_deg(shoulder, fingertip) > STEEPEST_DEG:
                return f"{said[0]}, the arm too steep to say whether the elbow is above"
            arm = sum(float(np.hypot(*(b - a))) for a, b in ((shoulder, elbow), (elbow, wrist), (wrist, fingertip)))
            height = float(height_over_line(elbow, shoulder, fingertip)) / arm * 100
            said.append(f"elbow {abs(height):.0f} % of the arm {'above' if height >= 0 else 'below'} the straight line")
        return ", ".join(said)

    return words
