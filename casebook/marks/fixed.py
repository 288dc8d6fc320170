"""Places of the pool marked on frames: those that stay where they are, and those that lie along a straight edge.

``<shot>.fixed.csv`` holds places fixed to the pool (tile corners, rope marks), each by its own name, from frame to
frame: they tell how a camera moves. ``<shot>.edges.csv`` holds three or more places along each straight edge (a lane
line, a row of tile joints): they tell how a lens bends. Both are tables as the other files beside a clip.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import astuple, dataclass
from pathlib import Path

import numpy as np

from casebook.errors import MarksError
from casebook.marks.cells import Table
from casebook.marks.csvfile import ORIGIN_CODES
from casebook.marks.marks import HAND_SIGMA_PX, Origin
from casebook.marks.table import check_initials, check_name, read_table, write_table

COLUMNS = ("frame", "name", "x_px", "y_px", "sigma_px", "origin", "by", "distance_ratio", "distance_sigma")
EDGE_COLUMNS = ("frame", "edge", "x_px", "y_px", "sigma_px", "by")
#: Places that an edge needs before it can be seen to bow.
LEAST_PLACES = 3


@dataclass(frozen=True, slots=True)
class FixedMark:
    """A place fixed to the pool, as one frame shows it.

    Attributes
    ----------
    frame : int
    name : str
        The coach's own words ("tile left of the ladder"); the same on every frame.
    x_px, y_px, sigma_px : float
        [px]
    origin : Origin
    by : str
        Initials.
    distance_ratio, distance_sigma : float
        Camera to swimmer over camera to this place, and its standard deviation, as for a known length: 0.8 where the
        swimmer is nearer by a fifth.
    """

    frame: int
    name: str
    x_px: float
    y_px: float
    sigma_px: float = HAND_SIGMA_PX
    origin: Origin = Origin.hand
    by: str = ""
    distance_ratio: float = 1.0
    distance_sigma: float = 0.0

    def __post_init__(self) -> None:
        _check_place("place", self.frame, self.name, (self.x_px, self.y_px), self.sigma_px, self.by)
        if self.origin == Origin.unmarked:
            raise MarksError(f'The place "{self.name}" does not say where it came from.', "Set its origin: hand, ...")
        ratio, sigma = self.distance_ratio, self.distance_sigma
        if not (math.isfinite(ratio) and ratio > 0 and math.isfinite(sigma) and sigma >= 0):
            raise MarksError(
                f'The place "{self.name}" has a distance ratio of {ratio}, give or take {sigma}.',
                "The ratio is more than zero, its error zero or more.",
            )


@dataclass(frozen=True, slots=True)
class EdgeMark:
    """One place along a straight edge; ``edge`` names it, each frame has its own edges. [px]"""

    frame: int
    edge: str
    x_px: float
    y_px: float
    sigma_px: float = HAND_SIGMA_PX
    by: str = ""

    def __post_init__(self) -> None:
        _check_place("edge", self.frame, self.edge, (self.x_px, self.y_px), self.sigma_px, self.by)


def read_fixed(path: Path | str) -> list[FixedMark]:
    """Places in the file's order; raises MarksError naming line, column and what to do."""
    table = read_table(path, COLUMNS)
    frames, numbers = table.whole("frame"), _numbers(table, "x_px", "y_px", "sigma_px")
    ratios = _numbers(table, "distance_ratio", "distance_sigma")
    origins, seen = table.coded("origin", ORIGIN_CODES), set()
    marks = []
    for i, (name, by) in enumerate(zip(table.columns["name"], table.columns["by"], strict=True)):
        x, y, sigma = numbers[i]
        with table.cell(i, "name"):
            mark = FixedMark(int(frames[i]), name.strip(), x, y, sigma, Origin(int(origins[i])), by, *ratios[i])
        if (mark.frame, mark.name) in seen:
            table.fail(i, "name", f'"{mark.name}" on frame {mark.frame} stands in this file already.')
        seen.add((mark.frame, mark.name))
        marks.append(mark)
    return marks


def write_fixed(path: Path | str, marks: Iterable[FixedMark]) -> None:
    """Replace the file in one step; raises MarksError, and writes nothing, for a place twice on one frame."""
    rows, seen = [astuple(m) for m in marks], set()
    for frame, name in (row[:2] for row in rows):
        if (frame, name) in seen:
            raise MarksError(f'The place "{name}" stands twice on frame {frame}.', "Keep one of the two.")
        seen.add((frame, name))
    write_table(path, COLUMNS, [(*row[:5], Origin(row[5]).name, *row[6:]) for row in rows])


def read_edges(path: Path | str) -> list[EdgeMark]:
    """Places along edges in the file's order; raises MarksError naming line, column and what to do."""
    table = read_table(path, EDGE_COLUMNS)
    frames, numbers = table.whole("frame"), _numbers(table, "x_px", "y_px", "sigma_px")
    marks = []
    for i, (edge, by) in enumerate(zip(table.columns["edge"], table.columns["by"], strict=True)):
        x, y, sigma = numbers[i]
        with table.cell(i, "edge"):
            marks.append(EdgeMark(int(frames[i]), edge.strip(), x, y, sigma, by))
    return marks


def write_edges(path: Path | str, marks: Iterable[EdgeMark]) -> None:
    """Replace the file in one step."""
    write_table(path, EDGE_COLUMNS, [astuple(m) for m in marks])


def edges_of(marks: Sequence[EdgeMark]) -> tuple[list[np.ndarray], list[float]]:
    """Places of each edge, (N, 2) arrays [px], and the error of each edge's places [px].

    Raises
    ------
    MarksError
        An edge with fewer than three places.
    """
    groups: dict[tuple[int, str], list[EdgeMark]] = {}
    for mark in marks:
        groups.setdefault((mark.frame, mark.edge), []).append(mark)
    for (frame, edge), members in groups.items():
        if len(members) < LEAST_PLACES:
            raise MarksError(
                f'The edge "{edge}" on frame {frame} has {len(members)} of {LEAST_PLACES} places.',
                "Mark both ends and one or more places between, or take the edge out.",
                frame=frame,
            )
    places = [np.array([(m.x_px, m.y_px) for m in members]) for members in groups.values()]
    return places, [float(np.sqrt(np.mean([m.sigma_px**2 for m in members]))) for members in groups.values()]


def _numbers(table: Table, *columns: str) -> list[list[float]]:
    values: list[list[float]] = np.stack([table.floats(c) for c in columns], -1).tolist()
    return values


def _check_place(what: str, frame: int, name: str, at: tuple[float, float], sigma: float, by: str) -> None:
    if frame < 0:
        raise MarksError(f'The {what} "{name}" stands on frame {frame}.', "Frames count from 0.")
    check_name(f"A {what} on frame {frame}", name)
    if not np.isfinite((*at, sigma)).all() or sigma < 0:
        raise MarksError(f'The {what} "{name}" on frame {frame} has no place or error in pixels.', "Mark it again.")
    check_initials(by)
