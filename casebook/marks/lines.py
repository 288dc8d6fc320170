"""Lines drawn on frames: the water line, a line along the lane, a plumb line; on disk ``<shot>.lines.csv``."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import astuple, dataclass
from pathlib import Path

import numpy as np

from casebook.errors import MarksError
from casebook.marks.csvfile import ORIGIN_CODES
from casebook.marks.marks import HAND_SIGMA_PX, Origin
from casebook.marks.points import LINES
from casebook.marks.table import check_initials, read_table, write_table

COLUMNS = ("frame", "line", "x0_px", "y0_px", "x1_px", "y1_px", "sigma_px", "origin", "by")


@dataclass(frozen=True, slots=True)
class LineMark:
    """A straight line through two marked places of one frame.

    Attributes
    ----------
    frame : int
    line : str
        Key of ``points.LINES``.
    x0_px, y0_px, x1_px, y1_px : float
        Its two ends, x right, y down, pixel centres at integers. [px]
    sigma_px : float
        Standard deviation per coordinate of each end. [px]
    origin : Origin
    by : str
        Initials.
    """

    frame: int
    line: str
    x0_px: float
    y0_px: float
    x1_px: float
    y1_px: float
    sigma_px: float = HAND_SIGMA_PX
    origin: Origin = Origin.hand
    by: str = ""

    def __post_init__(self) -> None:
        if self.line not in LINES:
            raise MarksError(f'There is no line "{self.line}".', f"Known are: {', '.join(LINES)}.")
        check_ends(f"The {self.line} line on frame {self.frame}", self.ends, self.sigma_px)
        if self.frame < 0 or self.origin == Origin.unmarked:
            raise MarksError(
                f"The {self.line} line stands on frame {self.frame} with origin {self.origin.name}.",
                "Frames count from 0; the origin is hand, confirmed, tracked or drafted.",
            )
        check_initials(self.by)

    @property
    def ends(self) -> tuple[float, float, float, float]:
        """The two ends as (x0, y0, x1, y1). [px]"""
        return self.x0_px, self.y0_px, self.x1_px, self.y1_px


def read_lines(path: Path | str) -> list[LineMark]:
    """Lines of one shot in the file's order; raises MarksError naming line, column and what to do."""
    table = read_table(path, COLUMNS)
    frames, kinds = table.whole("frame"), [LINE_NAMES[i] for i in table.coded("line", LINE_CODES)]
    numbers = [table.floats(c) for c in COLUMNS[2:7]]
    origins, by = table.coded("origin", ORIGIN_CODES), table.columns["by"]
    lines = []
    for i, (x0, y0, x1, y1, sigma) in enumerate(np.stack(numbers, -1).tolist()):
        with table.cell(i, "frame" if frames[i] < 0 else "sigma_px" if sigma < 0 else "x1_px"):
            lines.append(LineMark(int(frames[i]), kinds[i], x0, y0, x1, y1, sigma, Origin(int(origins[i])), by[i]))
    return lines


def write_lines(path: Path | str, lines: Iterable[LineMark]) -> None:
    """Replace the file in one step."""
    write_table(path, COLUMNS, [(*row[:7], Origin(row[7]).name, row[8]) for row in map(astuple, lines)])


def check_ends(what: str, ends: tuple[float, float, float, float], sigma_px: float) -> None:
    """Raise MarksError unless two ends are finite, apart, and have an error of zero or more."""
    if not np.isfinite((*ends, sigma_px)).all() or sigma_px < 0:
        raise MarksError(f"{what} has an end or an error that is not a number of pixels.", "Mark it again.")
    if ends[:2] == ends[2:]:
        raise MarksError(f"{what} starts and ends in the same place.", "Draw it from end to end.")


LINE_NAMES = tuple(LINES)
LINE_CODES = {name: i for i, name in enumerate(LINE_NAMES)}
