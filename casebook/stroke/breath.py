"""Breaths: to which side, every how many strokes, how long the face is out, and when against the arm of that side."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from casebook.stroke.points import Unread
from casebook.stroke.swings import runs

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from casebook.stroke.head import FaceTurn

    Array = NDArray[np.float64]

#: The face counts as out while it is turned further than this from looking straight down. [deg] own judgement, no
#: source
OUT_DEG = 45.0
#: A turn has to last this long to be one; shorter is marking error. [s] own judgement, no source
LEAST_S = 0.10
#: A face that turns away from a side camera is soon hidden: this much of a turn, for this long, tells it. [deg], [s]
#: own judgement, no source
AWAY_DEG, AWAY_S = 30.0, 0.05
#: So long it may then be hidden. [s] own judgement, no source
AWAY_GAP_S = 0.8
#: For so long an arm may pass in front of the face without cutting a breath in two. [s] own judgement, no source
LONGEST_GAP_S = 0.30


@dataclass(frozen=True, slots=True, eq=False)
class Breaths:
    """Breaths in time order, all (n,).

    Attributes
    ----------
    side : str array
        ``l`` or ``r``.
    start_s, end_s : float arrays
        When the face comes out past ``OUT_DEG`` and goes back; NaN where the marks begin or end meanwhile, and for a
        breath to the far side of a side camera. [s]
    start_sigma_s, end_sigma_s : float arrays
        From the marks; never under half a frame. [s]
    shared_s : float array
        Standard deviation by which each breath's start is early and its end late alike, from how the turn is read. [s]
    most_deg : float array
        Furthest turn. [deg]
    row : int array
        Row of the furthest turn.
    rows : (n, 2) int array
        First and last row with the face out.
    """

    side: NDArray[np.str_]
    start_s: Array
    end_s: Array
    start_sigma_s: Array
    end_sigma_s: Array
    shared_s: Array
    most_deg: Array
    row: NDArray[np.int64]
    rows: NDArray[np.int64]

    def __len__(self) -> int:
        return len(self.side)

    @property
    def duration_s(self) -> Array:
        """How long the face was out. [s]"""
        return self.end_s - self.start_s


def breaths_of(face: FaceTurn) -> Breaths | Unread:
    """Every breath that the turn of the face shows."""
    clock, turn, step = face.points.clock, face.turn, face.points.step
    found: list[tuple[str, list[float], int, tuple[int, int]]] = []
    for way, to in ((1, "l"), (-1, "r")):
        away = to == face.away
        out, least, gap = (AWAY_DEG, AWAY_S, AWAY_GAP_S) if away else (OUT_DEG, LEAST_S, LONGEST_GAP_S)
        for rows in runs(clock, np.isfinite(turn), gap):
            for first, last in _joined(_stretches(way * turn[rows] > out), clock[rows], gap):
                if (last - first + 1) * step >= least:
                    found.append(_one(face, rows, first, last))
    found.sort(key=lambda one: one[2])
    if not found:
        return Unread(
            "The face is turned out in no marked frame.",
            "Mark ear, mouth, crown and neck through a breath, filmed head-on or from the side.",
        )
    side, numbers, row, ends = zip(*found, strict=True)
    start, end, start_sigma, end_sigma, shared, most = np.array(numbers).T
    return Breaths(np.array(side), start, end, start_sigma, end_sigma, shared, most, np.array(row), np.array(ends))


def _stretches(on: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """First and last of each stretch of true."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], on, [False]]).astype(np.int8)))
    return [(int(a), int(b) - 1) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def _joined(stretches: list[tuple[int, int]], clock: Array, gap: float) -> list[tuple[int, int]]:
    """Stretches with hardly a pause between them are one."""
    out: list[tuple[int, int]] = []
    for first, last in stretches:
        if out and clock[first] - clock[out[-1][1]] <= gap:
            out[-1] = (out[-1][0], last)
        else:
            out.append((first, last))
    return out


def _one(
    face: FaceTurn, rows: NDArray[np.int64], first: int, last: int
) -> tuple[str, list[float], int, tuple[int, int]]:
    own = rows[first : last + 1]
    most = int(own[np.argmax(np.abs(face.turn[own]))])
    side = "l" if face.turn[most] > 0 else "r"
    if side == face.away:
        return side, [np.nan] * 6, most, (int(own[0]), int(own[-1]))
    start, start_sigma, rate = _edge(face, rows, first, first - 1)
    end, end_sigma, rate_back = _edge(face, rows, last, last + 1)
    # A turn read too large comes too early and goes too late.
    shared = face.common / np.fmin(rate, rate_back)
    numbers = [start, end, start_sigma, end_sigma, float(shared), abs(float(face.turn[most]))]
    return side, numbers, most, (int(own[0]), int(own[-1]))


def _edge(face: FaceTurn, rows: NDArray[np.int64], inside: int, outside: int) -> tuple[float, float, float]:
    """When the turn passes ``OUT_DEG`` between two rows [s], its standard deviation [s] and how fast [deg/s].

    NaN at the end of a run.
    """
    if not 0 <= outside < len(rows):
        return float("nan"), float("nan"), float("nan")
    a, b = rows[inside], rows[outside]
    high, low = abs(face.turn[a]), abs(face.turn[b])
    clock = face.points.clock
    when = clock[a] + (clock[b] - clock[a]) * (high - OUT_DEG) / (high - low)
    rate = (high - low) / abs(clock[b] - clock[a])
    # Across a gap the instant lies anywhere in it.
    gap = abs(clock[b] - clock[a]) / np.sqrt(12)
    return float(when), float(max(face.sigma[a] / rate, face.points.step / 2, gap)), float(rate)


def strokes_between(breaths_s: ArrayLike, entries_s: Mapping[str, ArrayLike]) -> NDArray[np.int64]:
    """Arm strokes from each breath to the next: 2 is a breath on one side in every cycle, 3 on both sides in turn.

    Parameters
    ----------
    breaths_s : (n,) float array
        Middles of the breaths. [s]
    entries_s : mapping of side to (m,) float array
        Entries of the hands. With one hand alone its cycle stands for two strokes. [s]

    Returns
    -------
    (n - 1,) int array
        0 where no entry is known between two breaths.

    Examples
    --------
    >>> strokes_between([0.9, 2.2], {"l": [0.0, 1.3, 2.6], "r": [0.65, 1.95]}).tolist()
    [2]
    """
    middles = np.asarray(breaths_s, float)
    known = [np.sort(np.asarray(t, float)) for t in entries_s.values() if len(np.asarray(t)) > 1]
    if not known:
        return np.zeros(max(len(middles) - 1, 0), np.int64)
    if len(known) == 2:
        return np.asarray(sum(np.diff(np.searchsorted(t, middles)) for t in known), np.int64)
    (starts,) = known
    cycles = np.interp(middles, starts, np.arange(len(starts)), left=np.nan, right=np.nan)
    # Just outside the entries known, cycles go on as long as their neighbours.
    ends = ((middles < starts[0], starts[0], 0, starts[1] - starts[0]),
            (middles > starts[-1], starts[-1], len(starts) - 1, starts[-1] - starts[-2]))  # fmt: skip
    for outside, edge, number, length in ends:
        beyond = (middles - edge) / length
        cycles = np.where(outside & (np.abs(beyond) < 1), number + beyond, cycles)
    return np.nan_to_num(np.round(2 * np.diff(cycles))).astype(np.int64)


@dataclass(frozen=True, slots=True, eq=False)
class AgainstArm:
    """Each breath against the arm of its own side, all (n,); NaN where that arm's entries do not enclose it.

    ``start_pct`` is when the face comes out, in % of that arm's cycle from its entry; ``back_before_s`` how long before
    the hand's next entry the face is back in, negative if after [s]; both with a standard deviation.
    """

    start_pct: Array
    start_sigma: Array
    back_before_s: Array
    back_sigma: Array


def against_arm(breaths: Breaths, entries_s: Mapping[str, ArrayLike], sigma_s: float) -> AgainstArm:
    """When the face turns, against the arm on the side of the breath.

    Parameters
    ----------
    breaths : Breaths
    entries_s : mapping of side to (m,) float array
        Entries of the hands, increasing. [s]
    sigma_s : float
        Standard deviation of an entry. [s]
    """
    n = len(breaths)
    out = AgainstArm(*(np.full(n, np.nan) for _ in range(4)))
    for k in range(n):
        entries = np.asarray(entries_s.get(str(breaths.side[k]), ()), float)
        seen = [t for t in (breaths.start_s[k], breaths.end_s[k]) if np.isfinite(t)]
        if not seen:
            continue
        after = int(np.searchsorted(entries, np.mean(seen)))
        if after < len(entries):
            out.back_before_s[k] = entries[after] - breaths.end_s[k]
            out.back_sigma[k] = np.hypot(breaths.end_sigma_s[k], sigma_s)
        if 0 < after < len(entries):
            length = entries[after] - entries[after - 1]
            share = (breaths.start_s[k] - entries[after - 1]) / length
            out.start_pct[k] = 100 * share
            # An entry moves both the beginning and the length that the share is of.
            spread = np.hypot(breaths.start_sigma_s[k], sigma_s * np.hypot(1 - share, share))
            out.start_sigma[k] = 100 * spread / length
    return out
