"""One frame of the mark store as the browser is told it: plain dicts, made in one place."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from hashlib import sha256
from math import isfinite
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from casebook.checkpoints.drawing import Drawing, Point
from casebook.errors import MarksError
from casebook.marks.marks import Origin
from casebook.marks.points import POINTS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from casebook.clip.clip import Clip
    from casebook.marks.marks import Marks
    from casebook.marks.store import Mark

#: Places of a trail on each side of a frame, and how many marked frames of each side are looked through for them.
TRAIL, TRAIL_REACH = 5, 30
_made: Counter[str] = Counter()


def browser_module(parts: Path) -> str:
    """The browser's side in one ES module, from the parts in a folder in alphabetical order."""
    return "\n".join(path.read_text(encoding="utf-8") for path in sorted(parts.glob("*.js")))


def gaps(times: NDArray[np.float64], real_times: NDArray[np.float64]) -> NDArray[np.float64]:
    """From each frame to the next in pool time [s], shape (N - 1,); file time where the pool's is not known (NaN)."""
    pool = np.diff(real_times)
    return np.where(np.isfinite(pool), pool, np.diff(times))


def packed(numbers: NDArray[np.float64]) -> bytes:
    """Numbers as the bytes of little-endian 64-bit floats, which travel as they are."""
    return np.asarray(numbers, "<f8").tobytes()


def places(held: Mapping[str, Mark]) -> dict[str, Point | None]:
    """Where each point is [px], None if it cannot be seen; points not marked are absent."""
    return {p: None if mark.hidden else (mark.x_px, mark.y_px) for p, mark in held.items()}


def position(wish: Mapping[str, Any]) -> Point:
    """Where the browser wishes a mark to be [px]; MarksError if that is no place."""
    # JSON turns 600.0 into 600.
    x, y = float(wish["x"]), float(wish["y"])
    if not (isfinite(x) and isfinite(y)):
        raise MarksError(f"A mark was set at no place in the picture ({x}, {y}).")
    return x, y


def first_change(points: Sequence[str], before: Mapping[str, object], after: Mapping[str, object]) -> str | None:
    """The first of these points that was set, moved, hidden or erased between two ``places``."""
    absent = ()
    return next((p for p in points if before.get(p, absent) != after.get(p, absent)), None)


def counts(marks: Marks, start: int, stop: int) -> dict[int, int]:
    """How many points are marked, by frame."""
    found = np.isfinite(marks.xy).all(-1).sum(-1)
    return {int(f): int(n) for f, n in zip(marks.frames, found, strict=True) if n and start <= f < stop}


def told(
    points: Sequence[str],
    held: Mapping[str, Mark],
    marks: Mapping[str, Point],
    extras: Drawing,
    live: str,
    age: int,
    lines: Mapping[str, Any],
    trail: Mapping[str, Any],
) -> dict[str, Any]:
    """What the browser needs of one frame.

    ``marks`` are the places to draw, which run ahead of ``held`` while a point is dragged. ``age`` counts the store's
    changes up to this moment; -1 says that value and measure were left out. ``lines`` are those that can be changed,
    ``trail`` is what ``trails`` found.
    """
    return {
        "marks": {name: list(xy) for name, xy in marks.items()},
        "origins": {p: (held[p].origin if p in held else Origin.hand).name for p in marks},
        "hidden": [p for p in points if p in held and held[p].hidden and p not in marks],
        "extras": {
            "reference": [[list(p) for p in line] for line in extras.reference],
            "measure": [[list(p) for p in line] for line in extras.measure],
            "labels": [[*label.at, label.text] for label in extras.labels],
        },
        "live": live,
        "age": age,
        "lines": dict(lines),
        "trail": dict(trail),
    }


def trails(
    points: Sequence[str], frame: int, marked: Sequence[int], at: Callable[[int], Mapping[str, Point]]
) -> dict[str, list[list[float]]]:
    """Where each point lies on the marked frames just before and after this one: [frame, x, y], x and y in [px].

    Parameters
    ----------
    marked : sequence of int
        Frames with marks, rising.
    at : callable
        ``at(frame)``: the places of the points marked there.

    Returns
    -------
    dict
        Up to ``TRAIL`` places on each side; looked for on ``TRAIL_REACH`` marked frames of each side.
    """
    found: dict[str, list[list[float]]] = {p: [] for p in points}
    here, after = bisect_left(marked, frame), bisect_right(marked, frame)
    for side in (marked[max(0, here - TRAIL_REACH) : here][::-1], marked[after : after + TRAIL_REACH]):
        left = dict.fromkeys(points, TRAIL)
        for there in side:
            for point, xy in at(there).items():
                if left.get(point):
                    left[point] -= 1
                    found[point].append([there, *xy])
            if not any(left.values()):
                break
    return {p: places for p, places in found.items() if places}


def own_id(*what: object) -> str:
    """An id that is the same each time a notebook runs, so that its saved output is; numbered within one kernel."""
    digest = sha256(repr(what).encode()).hexdigest()[:24]
    _made[digest] += 1
    return f"{digest}-{_made[digest]}"


def check_asked(clip: Clip, points: Sequence[str], start: int, stop: int) -> None:
    """Raise MarksError unless these points and frames can be marked."""
    unknown = [p for p in points if p not in POINTS]
    if unknown or not points:
        raise MarksError(
            f"No such point to mark: {', '.join(unknown)}." if unknown else "No point was named to mark.",
            f"Points are: {', '.join(POINTS)}.",
        )
    if len(set(points)) != len(points):
        raise MarksError("A point was named twice.", "Name each point once.")
    if not 0 <= start < stop <= clip.n_frames:
        raise MarksError(
            f"{clip.name} has frames 0 to {clip.n_frames}, but frames {start} to {stop} were asked for.",
            "Set start and stop inside the clip.",
        )
