"""How the two arms fit together: the index of coordination with its sign, both sides apart, and their difference.

The index is the time between the end of one arm's propulsion (exit) and the beginning of the other's, as a share of the
cycle: negative where nothing pushes in between (catch-up), zero where one follows the other (opposition), positive
where both push at once (superposition). It is no score of quality: in one study the faster group was the more
catch-up of the two [2]_.

References
----------
.. [1] Seifert L, Boulesteix L, Chollet D (2004). Int J Sports Med 25:217-223: the three kinds and their signs.
.. [2] Schnitzler C, Seifert L, Alberty M, Chollet D (2010). Int J Sports Med 31:875-881.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from casebook.stroke.phases import check_start

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from casebook.stroke.strokes import Stroke

    Array: TypeAlias = NDArray[np.float64]

#: An index that lies no further from 0 than this, for all that its interval says, is opposition. [% of cycle] own
#: judgement, no source
OPPOSITION_PCT = 5.0
CAUTION = (
    "The index says how the arms share the cycle, not how well a swimmer swims: fast and slow swimmers are found on "
    "both sides of zero, and it moves with stroke rate and speed. Compare one swimmer at one pace only."
)


@dataclass(frozen=True, slots=True)
class HandOver:
    """One hand-over from the arm whose push ends to the arm that begins.

    ``index_pct`` is (end - beginning) / cycle; ``sigma_pct`` its own standard deviation and ``shared_pct`` the one that
    all hand-overs of the shot share. ``to_side`` is the arm that begins, ``number`` and ``stroke_class`` are those of
    its stroke, ``end_s`` and ``start_s`` the instants [s].
    """

    to_side: str
    number: int
    stroke_class: str
    index_pct: float
    sigma_pct: float
    shared_pct: float
    end_s: float
    start_s: float
    frames: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Coordination:
    """Index of coordination of a shot.

    ``to_left`` and ``to_right`` are the hand-overs to each arm, ``start`` the event at which propulsion begins,
    ``cycle_s`` the mean cycle (entry to next entry, both arms) with its standard deviation.
    """

    start: str
    cycle_s: float
    cycle_sigma_s: float
    to_left: tuple[HandOver, ...]
    to_right: tuple[HandOver, ...]

    def one_sided(self, side: str) -> float:
        """Mean index of the hand-overs to one arm, NaN without any. [% of cycle]"""
        own = self.to_left if side == "l" else self.to_right
        return float(np.mean([h.index_pct for h in own])) if own else float("nan")

    @property
    def cycles(self) -> tuple[tuple[HandOver, HandOver], ...]:
        """Each hand-over to the right arm with the next one to the left, where it follows within the cycle."""
        out = []
        for right in self.to_right:
            after = [h for h in self.to_left if 0 < h.start_s - right.start_s < self.cycle_s]
            if after:
                out.append((right, after[0]))
        return tuple(out)

    @property
    def index_pct(self) -> float:
        """The index: the mean of both one-sided ones, NaN unless both are known. [% of cycle]"""
        return (self.one_sided("l") + self.one_sided("r")) / 2

    @property
    def sigma_pct(self) -> float:
        """Standard deviation of ``index_pct`` from the instants' errors. [% of cycle]"""
        sides = [own for own in (self.to_left, self.to_right) if own]
        if len(sides) < 2:
            return float("nan")
        own = sum(sum(h.sigma_pct**2 for h in side) / len(side) ** 2 for side in sides) / 4
        shared = [np.mean([h.shared_pct for h in side]) for side in sides]
        # Both arms are filmed and marked alike: what one shares the other may share too.
        return float(np.hypot(np.sqrt(own), np.mean(shared)))


def coordination(left: Sequence[Stroke], right: Sequence[Stroke], start: str = "past_body") -> Coordination:
    """Hand-overs between the strokes of both arms, as shares of their mean cycle.

    Parameters
    ----------
    left, right : sequence of Stroke
        By time; cut-off ones serve where the events needed are there.
    start : str
        Event at which the hand turns backward: ``past_body``, or ``catch`` (against the water).

    Notes
    -----
    Each beginning goes with the nearest exit of the other arm, no further off than half a cycle. For equal cycles the
    index equals the mean propulsive share of both arms minus 50 %, whatever the arms' phase.
    """
    check_start(start)
    cycles = np.array([(s.duration_s, _duration_sigma(s)) for s in (*left, *right)]).reshape(-1, 2)
    cycles = cycles[np.isfinite(cycles).all(1)]
    if not len(cycles):
        return Coordination(start, float("nan"), float("nan"), (), ())
    cycle, unsure = float(cycles[:, 0].mean()), float(np.sqrt((cycles[:, 1] ** 2).sum()) / len(cycles))
    return Coordination(
        start,
        cycle,
        unsure,
        _hand_overs(right, left, start, cycle, unsure),
        _hand_overs(left, right, start, cycle, unsure),
    )


def _duration_sigma(stroke: Stroke) -> float:
    return float(np.hypot(stroke.own_s("entry"), stroke.own_s("next_entry")))


def _hand_overs(
    ending: Sequence[Stroke], beginning: Sequence[Stroke], start: str, cycle: float, unsure: float
) -> tuple[HandOver, ...]:
    """Each beginning with the exit of the other arm nearest to it, if it is nearer than half a cycle."""
    exits = [s for s in ending if np.isfinite(s.time_s("exit"))]
    times = np.array([s.time_s("exit") for s in exits])
    out = []
    for b in beginning:
        t = b.time_s(start)
        if not exits or not np.isfinite(t):
            continue
        after = int(np.searchsorted(times, t))
        e = min(exits[max(after - 1, 0) : after + 1], key=lambda s: abs(s.time_s("exit") - t))
        lag = e.time_s("exit") - t
        if abs(lag) < cycle / 2:
            own = np.sqrt(e.own_s("exit") ** 2 + b.own_s(start) ** 2 + (lag * unsure / cycle) ** 2)
            shared = np.hypot(e.shared_s("exit"), b.shared_s(start))
            frames = tuple(sorted({f for m in (e.moment("exit"), b.moment(start)) for f in getattr(m, "frames", ())}))
            ends = e.time_s("exit"), t
            per = 100 / cycle
            out.append(HandOver(b.side, b.number, b.stroke_class, per * lag, per * own, per * shared, *ends, frames))
    return tuple(out)


def kind(low_pct: float, high_pct: float) -> str:
    """Name of the coordination for an interval of the index by its sign; opposition only where that is near 0.

    >>> kind(-9.0, -2.0), kind(-3.0, 1.0), kind(0.5, 4.0), kind(-16.0, 12.0)
    ('catch-up', 'opposition', 'superposition', 'cannot be told')
    """
    if high_pct < 0:
        return "catch-up"
    if low_pct > 0:
        return "superposition"
    return "opposition" if max(-low_pct, high_pct) <= OPPOSITION_PCT else "cannot be told"


def variability_pct(values: Sequence[float] | Array) -> float:
    """Standard deviation as a share of the mean, over strokes; NaN under two. [%]"""
    v = np.asarray(values, float)
    v = v[np.isfinite(v)]
    return float(100 * v.std(ddof=1) / v.mean()) if len(v) > 1 else float("nan")


def difference(left: Sequence[float], right: Sequence[float]) -> tuple[float, float, float]:
    """Left minus right: the difference of the means and its 95 % interval by Welch's t over the strokes.

    Returns
    -------
    difference, low, high : float
        In the values' unit; the interval is NaN with fewer than two strokes on a side.

    References
    ----------
    .. [1] Welch BL (1947). Biometrika 34:28-35, from memory; checked against scipy.stats.
    """
    from scipy.special import stdtrit

    a, b = (np.asarray(v, float)[np.isfinite(np.asarray(v, float))] for v in (left, right))
    if not len(a) or not len(b):
        return (float("nan"),) * 3
    gap = float(a.mean() - b.mean())
    if min(len(a), len(b)) < 2:
        return gap, float("nan"), float("nan")
    va, vb = a.var(ddof=1) / len(a), b.var(ddof=1) / len(b)
    if va + vb == 0:
        return gap, gap, gap
    dof = (va + vb) ** 2 / (va**2 / (len(a) - 1) + vb**2 / (len(b) - 1))
    half = float(stdtrit(dof, 0.975) * np.sqrt(va + vb))
    return gap, gap - half, gap + half
