"""Marks on disk: ``<shot>.csv``, one row per frame and point.

Columns: ``frame`` (from 0, the key), ``time_s`` (the file's own seconds, for the reader's eye; six decimals; checked
against the clip, may be empty), ``point``, ``x_px``, ``y_px``, ``sigma_px``, ``origin``, ``by`` (initials). A hidden
point has empty ``x_px`` and ``y_px``; an unmarked point has no row. Coordinates read back as the same floats.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from casebook.errors import MarksError
from casebook.marks.cells import Table
from casebook.marks.marks import Marks, Origin
from casebook.marks.points import POINTS
from casebook.marks.table import check_initials, read_chunks, write_table

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

COLUMNS = ("frame", "time_s", "point", "x_px", "y_px", "sigma_px", "origin", "by")
#: A time further than this from its frame's own means that frames and times come from different clips. [s]
TIME_TOLERANCE_S = 0.0005

POINT_CODES = {name: i for i, name in enumerate(POINTS)}
ORIGIN_CODES = {o.name: int(o) for o in Origin if o is not Origin.unmarked}
ORIGIN_NAMES = {code: name for name, code in ORIGIN_CODES.items()}


def read_marks(path: Path | str, times: ArrayLike) -> Marks:
    """Marks of one shot.

    Parameters
    ----------
    path : Path or str
    times : (N,) float array
        The clip's time of every frame, in file seconds from its first frame. [s]

    Returns
    -------
    Marks
        The points and frames that have a row; points in the order of ``points.POINTS``, frames increasing.

    Raises
    ------
    MarksError
        Names file, line, column and what to do. The file is never changed by reading it.
    """
    return read_signed(path, times)[0]


def read_signed(path: Path | str, times: ArrayLike) -> tuple[Marks, NDArray[np.object_]]:
    """Marks with the initials of who set each: ``(marks, by)``, ``by`` of shape (F, P), empty where unmarked."""
    times = np.asarray(times, float)
    parts = [_chunk(table, times) for table in read_chunks(path, COLUMNS)]
    frame, point, line, x, y, sigma, origin = (np.concatenate([p[i] for p in parts]) for i in range(7))
    by = np.concatenate([p[7] for p in parts])
    _refuse_twice(Path(path), frame, point, line)
    frames, row = np.unique(frame, return_inverse=True)
    held, column = np.unique(point, return_inverse=True)
    marks = Marks.empty([POINTS[i] for i in held], frames)
    signed = np.full(marks.origin.shape, "", object)
    marks.xy[row, column, 0], marks.xy[row, column, 1] = x, y
    marks.sigma_px[row, column], marks.origin[row, column] = sigma, origin
    marks.hidden[row, column] = np.isnan(x)
    signed[row, column] = by
    return marks, signed


def write_marks(path: Path | str, marks: Marks, times: ArrayLike, by: str | NDArray[np.object_] = "") -> None:
    """Replace the file at ``path`` in one step by these marks.

    Parameters
    ----------
    path : Path or str
    marks : Marks
        Unmarked points get no row; hidden ones get one with empty coordinates.
    times : (N,) float array
        The clip's time of every frame. [s]
    by : str or (F, P) array of str
        Initials of who marked.

    Raises
    ------
    MarksError
        A frame outside the clip, a point not in ``points.POINTS``, a half or infinite coordinate, a mark without
        origin or error. Nothing is written then.
    """
    times = np.asarray(times, float)
    check_writable(marks, len(times))
    signed = np.broadcast_to(np.asarray(by, object), marks.origin.shape)
    order = np.argsort([POINT_CODES[p] for p in marks.points], kind="stable").astype(int)
    held = (np.isfinite(marks.xy[..., 0]) | marks.hidden)[:, order]
    row, column = np.nonzero(held)
    parts = ((row[i : i + 10_000], order[column[i : i + 10_000]]) for i in range(0, len(row), 10_000))
    write_table(path, COLUMNS, (line for r, c in parts for line in _lines(marks, times, signed, r, c)))


def check_frames(frames: NDArray[np.int64], n_frames: int) -> None:
    """Raise MarksError if a frame number lies outside the clip."""
    outside = frames[(frames < 0) | (frames >= n_frames)]
    if len(outside):
        raise MarksError(
            f"Frame {int(outside[0])} is not in the clip, which has frames 0 to {n_frames - 1}.",
            "Check that the marks belong to this clip.",
            frame=int(outside[0]),
        )


def _lines(
    marks: Marks,
    times: NDArray[np.float64],
    signed: NDArray[np.object_],
    row: NDArray[np.int64],
    column: NDArray[np.int64],
) -> Iterator[tuple[object, ...]]:
    """Rows of the file for these cells."""
    return zip(
        marks.frames[row].tolist(),
        [f"{t:.6f}" for t in times[marks.frames[row]].tolist()],
        [marks.points[i] for i in column.tolist()],
        _cells(marks.xy[row, column, 0]),
        _cells(marks.xy[row, column, 1]),
        _cells(marks.sigma_px[row, column]),
        [ORIGIN_NAMES[i] for i in marks.origin[row, column].tolist()],
        [check_initials(s) for s in signed[row, column].tolist()],
        strict=True,
    )


def _cells(values: NDArray[np.float64]) -> list[float | str]:
    return [v if v == v else "" for v in values.tolist()]


def _chunk(table: Table, times: NDArray[np.float64]) -> tuple[NDArray, ...]:
    """Columns of one part of the file, each checked row by row."""
    frame = table.whole("frame")
    for i in np.flatnonzero((frame < 0) | (frame >= len(times)))[:1]:
        table.fail(
            i,
            "frame",
            f"the clip has frames 0 to {len(times) - 1} and no frame {frame[i]}.",
            "Check that this marks file belongs to this clip. The file is as it was.",
        )
    _check_times(table, frame, times)
    point = table.coded("point", POINT_CODES)
    x, y = table.floats("x_px", blank=True), table.floats("y_px", blank=True)
    for i in np.flatnonzero(np.isnan(x) != np.isnan(y))[:1]:
        table.fail(
            i,
            "x_px" if np.isnan(x[i]) else "y_px",
            "one coordinate of two is missing.",
            "Fill it in, or empty both to say that the point is hidden. The file is as it was.",
        )
    sigma = table.floats("sigma_px", blank=True)
    for i in np.flatnonzero((np.isnan(sigma) & ~np.isnan(x)) | (sigma < 0))[:1]:
        table.fail(i, "sigma_px", "a mark needs its error in pixels, zero or more.", "For a mark by hand 2 is usual.")
    origin = table.coded("origin", ORIGIN_CODES)
    by = np.array(table.columns["by"], object)
    for initials in set(table.columns["by"]):
        with table.cell(table.columns["by"].index(initials), "by"):
            check_initials(initials)
    return frame, point, np.array(table.lines, np.int64), x, y, sigma, origin, by


def _check_times(table: Table, frame: NDArray[np.int64], times: NDArray[np.float64]) -> None:
    told = table.floats("time_s", blank=True)
    for i in np.flatnonzero(np.abs(told - times[frame]) > TIME_TOLERANCE_S)[:1]:
        table.fail(
            i,
            "time_s",
            f"{told[i]:g} s is not the time of frame {frame[i]}, which this clip shows at {times[frame[i]]:.6f} s.",
            "Either the marks belong to another clip, or times were rounded or edited: if the frame numbers are right, "
            "empty the column time_s. The file is as it was.",
        )


def _refuse_twice(path: Path, frame: NDArray[np.int64], point: NDArray[np.int64], line: NDArray[np.int64]) -> None:
    key = frame * len(POINTS) + point
    order = np.argsort(key, kind="stable")
    twice = np.flatnonzero(np.diff(key[order]) == 0)
    if len(twice):
        first, second = order[twice[0]], order[twice[0] + 1]
        raise MarksError(
            f"{path.name}, line {line[second]}, column point: {POINTS[point[second]]} on frame {frame[second]} "
            f"stands in line {line[first]} already.",
            "Delete one of the two lines. The file is as it was.",
            path=path,
            line=int(line[second]),
            column="point",
        )


def check_writable(marks: Marks, n_frames: int) -> None:
    """Refuse marks that a file could not hold: unknown points, frames outside the clip, half or infinite places."""
    check_frames(marks.frames, n_frames)
    check_points(marks.points)
    x, y = marks.xy[..., 0], marks.xy[..., 1]
    seen = np.isfinite(x)
    if np.isinf(marks.xy).any() or (np.isnan(x) != np.isnan(y)).any():
        raise MarksError("A mark has half a place or an infinite one.", "Give both coordinates in pixels.")
    if (seen & marks.hidden).any():
        raise MarksError("A mark is both placed and hidden.", "Take away its coordinates or the word hidden.")
    if ((seen | marks.hidden) & ~np.isin(marks.origin, list(ORIGIN_CODES.values()))).any():
        raise MarksError("A mark does not say where it came from.", "Set its origin: hand, confirmed, ...")
    if (seen & ~(np.isfinite(marks.sigma_px) & (marks.sigma_px >= 0))).any() or np.isinf(marks.sigma_px).any():
        raise MarksError("A mark has no error in pixels.", "Give sigma_px, zero or more.")


def check_points(points: Sequence[str]) -> None:
    """Raise MarksError if a name is not one of the points or stands twice."""
    for name in points:
        if name not in POINT_CODES:
            raise MarksError(f'There is no point "{name}".', f"Known are: {', '.join(POINTS)}.", point=name)
    if len(set(points)) != len(points):
        raise MarksError("A point stands twice among these marks.", "Keep one column per point.")
