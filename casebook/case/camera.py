"""What a case knows of a shot's camera: its lens and window, its path, and what it fakes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from casebook.checkpoints.answers import near_side
from casebook.errors import CasebookError
from casebook.marks.fixed import EdgeMark, FixedMark, read_edges, read_fixed
from casebook.plane.half_window import half_window
from casebook.plane.lies import CameraLie
from casebook.plane.lies_of import lies_of
from casebook.plane.optics_make import optics_of
from casebook.plane.path_of import path_of
from casebook.plane.plumb import lens_of
from casebook.plane.port import FlatPort
from casebook.plane.square import SquareWindow, square_window

if TYPE_CHECKING:
    from casebook.case.desk import Desk
    from casebook.clip.shot import Shot
    from casebook.marks.lines import LineMark
    from casebook.plane.camera_path import CameraPath
    from casebook.plane.optics import Optics

#: Places fixed to the pool that are needed on a frame before a path is looked for.
LEAST_PLACES = 2


@dataclass(frozen=True, slots=True)
class CameraFacts:
    """What the coach stated of the camera of one shot; None or empty where he did not.

    Lengths in metres: ``distance_m`` to the swimmer, ``height_m`` of the lens over the water. ``field_deg`` is the
    horizontal field of view in air, as the maker states it, and ``window`` is ``flat`` where the camera looks through a
    flat window, ``dome`` where through a dome; ``off_line_deg`` is how far a head-on camera looks off the line of
    swimming. ``from_wall_m`` is where the hip is in the first picture it is marked on, counted from the wall pushed off
    from; ``dive`` that the length began with a start from the block.
    """

    distance_m: float | None = None
    height_m: float | None = None
    field_deg: float | None = None
    window: str = ""
    off_line_deg: float | None = None
    from_wall_m: float | None = None
    dive: bool = False

    @classmethod
    def of_row(cls, row: Mapping[str, Any]) -> CameraFacts:
        """From a [[shot]] of case.toml."""
        return cls(
            row.get("distance_m"),
            row.get("camera_height_m"),
            row.get("field_deg"),
            str(row.get("window", "")),
            row.get("off_line_deg"),
            row.get("from_wall_m"),
            bool(row.get("dive", False)),
        )


@dataclass(frozen=True, slots=True)
class CameraCheck:
    """What a shot's camera fakes, where it is square to the swimmer, and what is undone in its pictures."""

    lies: tuple[CameraLie, ...]
    square: SquareWindow | None
    optics: Optics | None

    def text(self) -> str:
        """The same as plain lines."""
        lines = [lie.sentence for lie in self.lies]
        if self.square is not None:
            lines.append(self.square.sentence)
        if self.optics is not None:
            lines += self.optics.limits
        return "\n".join(lines or ["Nothing that this camera fakes is known."])


def fixed_marks(beside: Path) -> list[FixedMark]:
    """Places fixed to the pool, marked or followed; none without the file."""
    return read_fixed(beside) if beside.is_file() else []


def edge_marks(beside: Path) -> list[EdgeMark]:
    """Straight edges of the pool; none without the file."""
    return read_edges(beside) if beside.is_file() else []


def optics_for(shot: Shot, facts: CameraFacts, edges: list[EdgeMark], lines: Sequence[LineMark] = ()) -> Optics | None:
    """What lens and window do to this shot's pictures, from straight edges, water line and what the coach stated."""
    if shot.view == "side_split":
        return None if facts.window == "dome" else half_window(lines, shot.clip.size, facts.field_deg)
    lens = lens_of(shot, edges) if edges else None
    port = None
    if facts.window == "flat" and facts.field_deg and facts.distance_m and lens is None:
        port = FlatPort.of_field(facts.field_deg, shot.clip.size, facts.distance_m)
    return optics_of(shot, lens, port)


def path_for(shot: Shot, fixed: list[FixedMark], optics: Optics | None) -> CameraPath | None:
    """The path of a camera that moves, where places fixed to the pool are known."""
    if shot.camera == "still" or len({m.name for m in fixed}) < LEAST_PLACES:
        return None
    return path_of(shot, fixed, optics=optics)


def check_camera(desk: Desk) -> CameraCheck:
    """All that is known of what this shot's camera fakes."""
    shot, facts = desk.shot, desk.camera
    lies = lies_of(
        shot, height_m=facts.height_m, distance_m=facts.distance_m, off_line_deg=facts.off_line_deg
    )  # fmt: skip
    return CameraCheck(lies, _square(desk, facts), desk.optics)


def _square(desk: Desk, facts: CameraFacts) -> SquareWindow | None:
    """Where a camera that stands still is square to the swimmer, by his hip or shoulder."""
    shot = desk.shot
    if shot.camera != "still" or not shot.view.startswith("side"):
        return None
    side = near_side(shot)
    marks = desk.marks.pick([f"hip_{side}", f"shoulder_{side}"], shot.frames)
    known = np.asarray(np.isfinite(marks.xy).all(-1))
    body = np.where(known[:, :1], marks.xy[:, 0], marks.xy[:, 1])
    rows = known.any(1)
    try:
        return square_window(
            desk.plane, body[rows], marks.frames[rows], shot.clip.size, distance_m=facts.distance_m
        )  # fmt: skip
    except CasebookError:
        return None  # distance or scale is not known: the check says nothing of it
