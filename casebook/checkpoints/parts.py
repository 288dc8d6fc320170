"""What the checkpoints of body, head and legs share: refusals, cycle values by class, common errors, drawn angles."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from casebook.checkpoints.build import finding_of
from casebook.checkpoints.finding import Finding, NotMeasured, StrokeValue
from casebook.checkpoints.result import CycleCurve
from casebook.stroke.points import Unread
from casebook.words import STROKE_CLASSES

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from casebook.checkpoints.bands import Bands
    from casebook.checkpoints.drawing import Point
    from casebook.clip.shot import Shot
    from casebook.plane.plane import Plane
    from casebook.stroke.cycle_edges import CycleEdges
    from casebook.stroke.points import Points

    Array: TypeAlias = NDArray[np.float64]
    Counted: TypeAlias = tuple[int, int] | Mapping[str, tuple[int, int]]

SIDE_VIEWS = ("side_under", "side_split")
LINE_VIEWS = ("front_under", "front_above", "rear_under", "rear_above")
_NO_SCALE = Unread(
    "The picture has no scale, so nothing is known in metres.", "Mark a known length in the swimmer's plane."
)
_NO_WATER = Unread("The still water line is not drawn.", "Draw the still water line on a frame.")


@dataclass(slots=True)
class Sheet:
    """Results of one checkpoint as they are put together."""

    checkpoint: str
    shot: Shot
    bands: Bands
    results: list[Finding | NotMeasured] = field(default_factory=list)

    def missing(self, quantities: Sequence[str], side: str, why: Unread) -> None:
        """These quantities were not measured."""
        self.results += [NotMeasured(self.checkpoint, q, side, why.reason, why.remedy) for q in quantities]

    def add(
        self,
        quantity: str,
        side: str,
        values: Sequence[Value],
        counted: Counted,
        *,
        none: Unread,
        notes: Sequence[str] = (),
        outcome: str = "",
    ) -> None:
        """One finding a class of strokes, those without breath first; NotMeasured where there is no value at all.

        ``counted`` is how many frames were seen of how many needed, of each class where there are several.
        """
        told = [v for v in values if np.isfinite(v.value)]
        if not told:
            self.missing([quantity], side, none)
            return
        for name in STROKE_CLASSES:
            own = [v for v in told if v.stroke_class == name]
            if own:
                strokes = [self._stroke(v) for v in own]
                seen, needed = counted if isinstance(counted, tuple) else counted.get(name, (0, 0))
                self.results.append(
                    finding_of(
                        self.checkpoint, quantity, side, name, strokes, self.bands, seen=seen, needed=needed,
                        outcome=outcome, notes=notes,
                    )
                )  # fmt: skip

    def _stroke(self, v: Value) -> StrokeValue:
        time = float(self.shot.times[v.frames[0]]) if v.frames else float("nan")
        return StrokeValue(v.number, float(v.value), float(v.sigma), float(v.common), tuple(v.frames), time)


@dataclass(frozen=True, slots=True)
class Value:
    """One stroke's value with its independent and its common standard deviation, its class and its frames."""

    number: int
    value: float
    sigma: float
    common: float
    frames: tuple[int, ...]
    stroke_class: str = "none"


def per_cycle(
    cycle: NDArray[np.int64],
    values: ArrayLike,
    sigma: ArrayLike,
    common: ArrayLike,
    frames: ArrayLike,
    classes: Sequence[str],
) -> list[Value]:
    """Several values of each cycle as their mean: errors of their own shrink, shared ones do not.

    Parameters
    ----------
    cycle : (n,) int array
        Cycle of each value; below 0 it is left out.
    values, sigma, common : (n,) or scalar
    frames : (n,) int array
    classes : sequence of str
        Of all cycles.
    """
    v = np.asarray(values, float)
    s, c, f = (np.broadcast_to(np.asarray(a), v.shape) for a in (sigma, common, frames))
    out = []
    for k in np.unique(cycle[cycle >= 0]):
        own = (cycle == k) & np.isfinite(v)
        n = int(own.sum())
        if n:
            spread = float(np.sqrt(np.sum(s[own] ** 2))) / n
            rows = tuple(sorted({int(x) for x in f[own]}))
            out.append(Value(int(k) + 1, float(v[own].mean()), spread, float(c[own].mean()), rows, classes[k]))
    return out


def cycle_curves(
    points: Points, edges: CycleEdges | Unread, side: str, series: Sequence[tuple[str, Array, Array, str]]
) -> tuple[CycleCurve, ...]:
    """Measures (quantity, values (K,), independent errors (K,), unit) over every whole cycle."""
    if isinstance(edges, Unread):
        return ()
    out = []
    for k in np.flatnonzero(edges.whole):
        start, stop = edges.starts[k], edges.starts[k + 1]
        rows = np.arange(*np.searchsorted(points.clock, [start, stop]))
        share = 100 * (points.clock[rows] - start) / (stop - start)
        for quantity, value, sigma, unit in series:
            if np.isfinite(value[rows]).any():
                out.append(
                    CycleCurve(quantity, side, int(k) + 1, edges.classes[k], points.frames[rows], share, value[rows],
                               sigma[rows], unit)
                )  # fmt: skip
    return tuple(out)


def plane_sigma(plane: Plane, measure: Callable[[Plane], ArrayLike]) -> Array:
    """Standard deviation that the plane's own error gives to each result of a measure, to first order."""
    steps = np.asarray(plane.steps, float)
    used = np.flatnonzero(np.diag(plane.covariance) > 0)
    slopes = []
    for i in used:
        step = np.eye(len(steps))[i] * steps[i]
        up, down = (np.asarray(measure(plane.shifted(s)), float) for s in (step, -step))
        slopes.append((up - down) / (2 * steps[i]))
    if not slopes:
        return np.zeros(np.shape(np.asarray(measure(plane), float)))
    j = np.stack(slopes, -1)
    return np.sqrt(np.einsum("...i,ij,...j->...", j, plane.covariance[np.ix_(used, used)], j))


def heights_m(plane: Plane) -> Unread | None:
    """Why no height over the water can be given in metres, or None where it can."""
    if not plane.has_water:
        return _NO_WATER
    return None if plane.has_scale else _NO_SCALE


def no_scale(plane: Plane) -> Unread | None:
    """Why nothing can be given in metres, or None where it can."""
    return None if plane.has_scale else _NO_SCALE


def spoilt(shot: Shot, kits: Mapping[str, str]) -> Unread | None:
    """Why a kit spoils what is to be measured, or None."""
    kit = shot.swim.kit if shot.swim is not None else "none"
    return Unread(kits[kit], "Film a length without it.") if kit in kits else None


def seen_of(points: Points, names: Sequence[str], first_s: float, last_s: float) -> tuple[int, int]:
    """How many frames from one instant to another carry these points, of how many: (seen, needed)."""
    inside = (points.clock >= first_s) & (points.clock < last_s)
    needed = max(round((last_s - first_s) / points.step), 1)
    return min(int((inside & points.known(*names)).sum()), needed), needed


def seen_by_class(points: Points, known: NDArray[np.bool_], edges: CycleEdges) -> dict[str, tuple[int, int]]:
    """The same for the whole cycles of each class: how many of their frames are known (K,), of how many."""
    out: dict[str, tuple[int, int]] = {}
    for c in np.flatnonzero(edges.whole):
        first, last = edges.starts[c : c + 2]
        inside = (points.clock >= first) & (points.clock < last)
        needed = max(round((last - first) / points.step), 1)
        had = out.get(edges.classes[c], (0, 0))
        out[edges.classes[c]] = (had[0] + min(int((inside & known).sum()), needed), had[1] + needed)
    return out


def arc(at: Array, a: Array, b: Array, radius: float) -> tuple[Point, ...]:
    """An arc around a place from the direction of ``a`` to that of ``b``, the shorter way; picture pixels."""
    start, end = (float(np.arctan2(p[1] - at[1], p[0] - at[0])) for p in (a, b))
    way = (end - start + np.pi) % (2 * np.pi) - np.pi
    turn = start + way * np.linspace(0, 1, 13)
    return path(at + radius * np.stack([np.cos(turn), np.sin(turn)], -1))


def path(xy: ArrayLike) -> tuple[Point, ...]:
    """Picture places (n, 2) as a line, unmarked ones left out."""
    return tuple((float(x), float(y)) for x, y in np.asarray(xy, float) if np.isfinite(x) and np.isfinite(y))


def crop_around(xy: ArrayLike, room: float) -> tuple[float, float, float, float]:
    """A close-up around places (n, 2), with ``room`` times their extent around them. [px]"""
    places = np.asarray(xy, float)
    places = places[np.isfinite(places).all(-1)]
    low, high = places.min(0), places.max(0)
    more = room * float(np.max(high - low))
    return (float(low[0] - more), float(low[1] - more), float(high[0] + more), float(high[1] + more))
