"""What pictures of the stroke are drawn from: small records of plain arrays, and how to get them from a shot."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from casebook.stroke.arm import clock_of
from casebook.stroke.moment import Moment
from casebook.stroke.points import Points, Unread, points_of, smooth
from casebook.words import SIDES, STROKE_CLASSES

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from casebook.checkpoints.result import CycleCurve
    from casebook.clip.shot import Shot
    from casebook.marks.marks import Marks
    from casebook.plane.plane import Plane
    from casebook.stroke.strokes import Stroke

#: A way is drawn where at least this share of its frames is marked.
_LEAST_SHARE = 0.8


@dataclass(frozen=True, slots=True)
class PhaseRow:
    """One stroke: when the hand goes in, starts back, is under the shoulder, comes out, goes in again. [s] or NaN."""

    side: str
    moments_s: tuple[float, float, float, float, float]


def phase_rows(strokes: Sequence[Stroke], start: str = "past_body") -> tuple[PhaseRow, ...]:
    """The moments of strokes; ``start`` says what the hand starts back against: ``past_body`` or ``catch``."""
    names = ("entry", start, "shoulder", "exit", "next_entry")
    return tuple(PhaseRow(s.side, tuple(s.time_s(n) for n in names)) for s in strokes)  # type: ignore[arg-type]


@dataclass(frozen=True, slots=True)
class CycleGroup:
    """Strokes that belong together: a name, a look (``cycle_chart.LOOKS``), and (percent, value) arrays of each."""

    name: str
    look: str
    lines: tuple[tuple[ArrayLike, ArrayLike], ...]


def cycle_groups(curves: Sequence[CycleCurve], quantity: str, *, factor: float = 1.0) -> tuple[CycleGroup, ...]:
    """Curves of one quantity, grouped by side and class of stroke, ``factor`` times their unit."""
    own = [c for c in curves if c.quantity == quantity]
    keys = list(dict.fromkeys((c.side, c.stroke_class) for c in own))
    sides, classes = {s for s, _ in keys}, {k for _, k in keys}
    groups = []
    for side, name in keys:
        lines = tuple(
            (c.cycle_pct, np.asarray(c.value) * factor) for c in own if (c.side, c.stroke_class) == (side, name)
        )
        by_side = len(sides) > 1
        look = ("right" if side == "r" else "left") if by_side else ("plain" if name in ("none", "") else "other")
        said = [f"{SIDES[side]} side"] if by_side and side in SIDES else []
        said += [_short_class(name)] if len(classes) > 1 or not said else []
        groups.append(CycleGroup(", ".join(w for w in said if w) or "strokes", look, lines))
    return tuple(groups)


def _short_class(name: str) -> str:
    short = {"none": "no breath", "": "", "breath_l": "breath left", "breath_r": "breath right"}
    return short.get(name, STROKE_CLASSES.get(name, name))


@dataclass(frozen=True, slots=True)
class HandPath:
    """The way of one hand in one stroke: ``xz`` (n, 2) forward and up, evenly in time; ``moments`` name -> place."""

    side: str
    xz: ArrayLike
    moments: Mapping[str, ArrayLike] = field(default_factory=dict)


def hand_paths(
    shot: Shot, marks: Marks, plane: Plane, strokes: Sequence[Stroke], frame: str = "body"
) -> tuple[HandPath, ...] | Unread:
    """The way of the fingertip in each stroke that is marked throughout, in metres, or in pixels without a scale.

    Against the shoulder of its side from entry to next entry, or to the exit where the way over the water is not seen;
    or through still water from entry to exit, forward from the entry, which takes a camera that stands still or whose
    way is known.
    """
    if frame == "water" and not plane.knows_pool:
        return Unread(
            "The camera moves, so the hand cannot be seen against the water.",
            "Film with a camera that stands still, or mark a place fixed to the pool.",
        )
    metre = plane.m_per_px if plane.has_scale else 1.0
    ends_at = ("exit",) if frame == "water" else ("next_entry", "exit")
    out = []
    for side in "lr":
        points = points_of(shot, marks, plane, (f"fingertip_{side}", f"shoulder_{side}"))
        if not points.marked(*points.names):
            continue
        if frame == "water":
            points = replace(points, level=plane.pool(points.xy, points.frames[:, None]))
        level = smooth(points).at
        tip = level[:, 0] if frame == "water" else level[:, 0] - level[:, 1]
        clock = clock_of(shot)
        for stroke in (s for s in strokes if s.side == side):
            rows = next((r for r in (_marked(stroke, end, points, tip, clock) for end in ends_at) if len(r)), None)
            if rows is not None:
                own = tip - ([tip[rows[0], 0], 0.0] if frame == "water" else [0.0, 0.0])
                out.append(HandPath(side, own[rows] * metre, _moments(stroke, points, own * metre)))
    return tuple(out)


def _marked(
    stroke: Stroke, end: str, points: Points, tip: NDArray[np.float64], clock: NDArray[np.float64]
) -> NDArray[np.int64]:
    """Rows from a stroke's entry to another of its moments, none where it lacks one or too few frames are marked."""
    found = [stroke.moment(n) for n in ("entry", end)]
    ends = [float(np.interp(m.frame, np.arange(len(clock)), clock)) for m in found if isinstance(m, Moment)]
    if len(ends) < 2:
        return np.empty(0, np.int64)
    first, last = np.searchsorted(points.clock, ends)
    rows = np.arange(first, min(last + 1, len(points.clock)))
    rows = rows[np.isfinite(tip[rows]).all(-1)]
    return rows if len(rows) > _LEAST_SHARE * (ends[1] - ends[0]) / points.step else rows[:0]


def _moments(stroke: Stroke, points: Points, tip: NDArray[np.float64]) -> dict[str, NDArray[np.float64]]:
    """Where the hand was at each moment of a stroke; the start is against the water where that is known."""
    events = {"entry": "entry", "shoulder": "shoulder", "exit": "exit"}
    events["start"] = "catch" if isinstance(stroke.moment("catch"), Moment) else "past_body"
    out = {}
    for name, event in events.items():
        moment = stroke.moment(event)
        if isinstance(moment, Moment) and len(points.frames):
            near = int(np.argmin(np.abs(points.frames - moment.frame)))
            if abs(points.frames[near] - moment.frame) <= 1:
                out[name] = tip[near]
    return out
