"""The marked points of a shot as tracks for other programs: as a table, and as C3D.

Axes are those of the pool: X along the swim direction, Y to the swimmer's left, Z up from still water; what a view does
not show is 0. The unit is the metre where a length is known in the picture, else the pixel.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from casebook.errors import CasebookError, MarksError
from casebook.marks.c3d import TrackEvent, Tracks
from casebook.marks.marks import Origin
from casebook.marks.one_rate import at_one_rate
from casebook.pages.tables import csv_text

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from casebook.case.desk import Desk
    from casebook.marks.marks import Marks
    from casebook.pages.tables import Cell
    from casebook.plane.plane import Plane

COLUMNS = (
    "frame", "time_s", "point", "x_px", "y_px", "sigma_px", "origin", "x_swim", "y_left", "z_up", "unit",
)  # fmt: skip
#: Which axes of the pool a view shows as its first and second, and the sign of the second.
_SIDE, _HEAD, _TOP = (0, 2), (1, 2), (0, 1)


def tracks_csv(desk: Desk) -> str:
    """One row for each frame and marked point: where it is in the picture [px], y down, and in the pool.

    ``time_s`` is real time from the clip's first frame, empty where the slow motion is not known.
    """
    return csv_text(COLUMNS, _rows(desk))


def tracks_of(desk: Desk) -> tuple[Tracks, str]:
    """The tracks at one rate with the events of the strokes, and a sentence if they had to be read between the frames.

    Raises
    ------
    MarksError
        Nothing is marked, only one frame is, or the slow motion is not known.
    """
    marks, shot = desk.marks, desk.shot
    held: NDArray[np.bool_] = np.asarray(np.isfinite(marks.xy).all(-1))
    points = tuple(marks.points[j] for j in np.flatnonzero(held.any(0)))
    seen, rows = marks.pick(points), np.flatnonzero(held.any(1))
    if not len(rows):
        raise MarksError("There is no track to write: no point is marked.", "Mark the clip first.")
    first, last = int(seen.frames[rows[0]]), int(seen.frames[rows[-1]])
    frames = np.arange(first, last + 1)
    xyz, sigma = np.full((len(frames), len(points), 3), np.nan), np.full((len(frames), len(points)), np.nan)
    xyz[seen.frames[rows] - first], sigma[seen.frames[rows] - first] = (
        _placed(desk, seen)[rows],
        _sigma(desk, seen)[rows],
    )
    times = shot.times[first : last + 1]
    even = at_one_rate(times, xyz, sigma)
    told = ""
    if even.moved:
        told = (
            "The pictures come at uneven times and C3D knows one rate: places were read between neighbouring pictures, "
            f"at {even.rate_hz:.2f} a second."
        )
    unit = "m" if desk.plane.has_scale else "px"
    events = _events(desk, float(times[0]), float(times[-1]))
    return Tracks(points, even.xyz, even.sigma, even.rate_hz, unit, _about(points), first, events), told


def _rows(desk: Desk) -> Iterator[list[Cell]]:
    marks, times = desk.marks, desk.shot.times
    places, unit = _placed(desk, marks), "m" if desk.plane.has_scale else "px"
    for i, frame in enumerate(marks.frames.tolist()):
        for j, point in enumerate(marks.points):
            if np.isfinite(marks.xy[i, j]).all():
                x, y = marks.xy[i, j].tolist()
                at = places[i, j].tolist()
                origin = Origin(int(marks.origin[i, j])).name
                yield [frame, float(times[frame]), point, x, y, float(marks.sigma_px[i, j]), origin, *at, unit]


def _placed(desk: Desk, marks: Marks) -> NDArray[np.float64]:
    """Where the marks are in the pool, (F, P, 3) in metres or pixels; fixed to the pool where the camera's path is."""
    plane, view = desk.plane, desk.shot.view
    flat = _level(plane, marks) * (plane.m_per_px if plane.has_scale else 1.0)
    out = np.zeros((*flat.shape[:-1], 3))
    axes = _TOP if view in ("top", "bottom") else _SIDE if view.startswith("side") else _HEAD
    # Up in a picture from above is to the left of who swims to the right; from below it is the other way round.
    sign = 1 if axes != _TOP else plane.sign * (1 if view == "top" else -1)
    out[..., axes[0]], out[..., axes[1]] = flat[..., 0], sign * flat[..., 1]
    out[~np.isfinite(flat).all(-1)] = np.nan
    return out + 0.0


def _level(plane: Plane, marks: Marks) -> NDArray[np.float64]:
    return plane.pool(marks.xy, marks.frames[:, None]) if plane.knows_pool else plane.level(marks.xy)


def _sigma(desk: Desk, marks: Marks) -> NDArray[np.float64]:
    return marks.sigma_px * (desk.plane.m_per_px if desk.plane.has_scale else 1.0)


def _about(points: tuple[str, ...]) -> tuple[str, ...]:
    sides = {"l": "left", "r": "right"}
    named = [(p[:-2], sides[p[-1]]) if p[-2:] in ("_l", "_r") else (p, "midline") for p in points]
    return tuple(f"{point}, {side}, as judged in the picture" for point, side in named)


def _events(desk: Desk, start_s: float, stop_s: float) -> tuple[TrackEvent, ...]:
    """What the strokes show between two times, found or set by the coach, from the first frame on."""
    from casebook.stroke.strokes import strokes_of

    found = []
    for side in "lr":
        try:
            strokes = strokes_of(desk.shot, desk.marks, desk.plane, side, desk.events)
        except CasebookError:
            continue  # an arm of which too little is marked has no strokes
        found += [TrackEvent(m.event, side, m.time_s - start_s) for s in strokes for m in s.found]
    inside = [e for e in found if 0 <= e.time_s <= stop_s - start_s]
    return tuple(sorted(inside, key=lambda e: (e.time_s, e.side, e.label)))
