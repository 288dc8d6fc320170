"""Two clips of one swim on one clock, by events that both show: a hand entering, seen above and under water."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from casebook.errors import CasebookError
from casebook.stroke.moment import Moment, NoMoment
from casebook.stroke.strokes import LONGEST_STROKE_S, RANK

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from casebook.stroke.strokes import Stroke

#: Chance alone makes shared events disagree so much less often than this. common practice, no source
CHANCE = 0.01

#: Moments of one event in two clips are one and the same if no further apart than this. [s] own judgement, no source
_NEAR_S = 0.25


@dataclass(frozen=True, slots=True)
class Offset:
    """What to add to the second clip's times to have the first clip's.

    ``sigma_s`` is its standard deviation, ``n`` the number of events shared, ``spread_s`` how far they are apart after
    the shift (NaN for one). ``agree`` is False where they differ by more than their own errors explain: then one pair
    is not the same event, or a clip dropped frames.
    """

    seconds: float
    sigma_s: float
    n: int
    spread_s: float
    agree: bool

    def text(self) -> str:
        """In a sentence."""
        many = "one shared event" if self.n == 1 else f"{self.n} shared events"
        doubt = "" if self.agree else " The events disagree: one pair is not the same event, or a clip lost frames."
        return f"{self.seconds:+.3f} s, give or take {2 * self.sigma_s:.3f} s, from {many}.{doubt}"


def offset(pairs: Sequence[tuple[Moment, Moment]]) -> Offset:
    """Offset of two clips from pairs of moments (first clip, second clip) that are the same event.

    Each pair weighs by its error. Where they disagree, their spread counts in place of their errors.

    Raises
    ------
    CasebookError
        No pair, a pair of two different events, or a time that is not known.
    """
    if not pairs:
        raise CasebookError("The clips share no event.", "Set one that both show, such as a hand entering the water.")
    for a, b in pairs:
        if (a.event, a.side) != (b.event, b.side):
            raise CasebookError(f"{a.event} {a.side} and {b.event} {b.side} are two events.", "Pair the same event.")
    apart = np.array([a.time_s - b.time_s for a, b in pairs])
    variance = np.array([a.sigma_s**2 + b.sigma_s**2 for a, b in pairs])
    if not np.isfinite(apart).all():
        raise CasebookError("A shared event has no time.", "Say how much each clip was slowed down.")
    weight = 1 / variance
    mean = float(weight @ apart / weight.sum())
    chi2, dof = float(weight @ (apart - mean) ** 2), len(pairs) - 1
    agree = dof == 0 or _chance(chi2, dof) >= CHANCE
    sigma = float(np.sqrt(1 / weight.sum()) * (1.0 if agree else np.sqrt(chi2 / dof)))
    spread = float(apart.std(ddof=1)) if dof else float("nan")
    return Offset(mean, sigma, len(pairs), spread, agree)


def pair_by_time(
    first: Sequence[Moment], second: Sequence[Moment], about_s: float, within_s: float = 0.3
) -> list[tuple[Moment, Moment]]:
    """Moments of the same event and side whose times agree, once the second clip is shifted by about so much.

    Strokes are alike, so the clips alone cannot tell by how many cycles they are apart: ``about_s`` comes from the
    coach (one event that he knows to be the same). Each moment is used once, nearest first. [s]
    """
    gaps = [
        (abs(a.time_s - b.time_s - about_s), i, j)
        for i, a in enumerate(first)
        for j, b in enumerate(second)
        if (a.event, a.side) == (b.event, b.side)
    ]
    used: tuple[set[int], set[int]] = (set(), set())
    pairs = []
    for gap, i, j in sorted(gaps):
        if gap <= within_s and i not in used[0] and j not in used[1]:
            used[0].add(i)
            used[1].add(j)
            pairs.append((first[i], second[j]))
    return pairs


def in_time_of(strokes: Sequence[Stroke], by: Offset, clock: NDArray[np.float64] | None = None) -> tuple[Stroke, ...]:
    """Strokes of the second clip on the first clip's clock; the offset's error is shared by all of their moments.

    Parameters
    ----------
    strokes : sequence of Stroke
    by : Offset
    clock : (N,) float array, optional
        Real time of every frame of the first clip: moments then stand at its frames, and those that it does not hold
        are gone. [s]
    """

    def moved(m: Moment | NoMoment) -> Moment | NoMoment:
        if isinstance(m, NoMoment):
            return m
        later = m.later(by.seconds, by.sigma_s)
        if clock is None:
            return later
        if not clock[0] <= later.time_s <= clock[-1]:
            return NoMoment(m.event, m.side, "It lies outside the first clip.", "Take a longer stretch of it.")
        frame = float(np.interp(later.time_s, clock, np.arange(len(clock))))
        return replace(later, frame=frame, frames=(round(frame),))

    return tuple(replace(s, moments=tuple(map(moved, s.moments)), next_entry=moved(s.next_entry)) for s in strokes)


def joined(under: Sequence[Stroke], above: Sequence[Stroke]) -> tuple[Stroke, ...]:
    """Strokes of one arm seen in two clips on one clock: what one does not show is taken from the other.

    Strokes go together by the nearest moment that both hold, or where their moments follow one another as those of one
    stroke do. What only one clip shows is left as that clip has it; all are numbered anew by time.
    """
    out, left = [], list(above)
    lasting = [s.duration_s for s in (*under, *above) if np.isfinite(s.duration_s)]
    usual = float(np.median(lasting)) if lasting else LONGEST_STROKE_S
    for s in under:
        other = min(left, key=lambda o: _apart(s, o), default=None)
        if other is None or _apart(s, other) > _NEAR_S:
            other = next((o for o in left if _follow(s, o, usual)), None)
        if other is None:
            out.append(s)
            continue
        left.remove(other)
        moments = tuple(a or b for a, b in zip(s.moments, other.moments, strict=True))
        kind = s.stroke_class if s.stroke_class != "none" else other.stroke_class
        out.append(replace(s, stroke_class=kind, moments=moments, next_entry=s.next_entry or other.next_entry))
    every = sorted((s for s in (*out, *left) if s.found), key=lambda s: min(m.time_s for m in s.found))
    ends = zip(every, [*every[1:], None], strict=True) if every else ()
    return tuple(replace(_ended(s, after), number=i) for i, (s, after) in enumerate(ends, 1))


def _ended(stroke: Stroke, after: Stroke | None) -> Stroke:
    """A stroke without an end has that of the next one's entry, where that follows at once."""
    entry = after.moment("entry") if after is not None else None
    if stroke.next_entry or not isinstance(entry, Moment):
        return stroke
    first = min(m.time_s for m in stroke.found)
    return replace(stroke, next_entry=entry) if entry.time_s - first <= LONGEST_STROKE_S else stroke


def _follow(a: Stroke, b: Stroke, usual_s: float) -> bool:
    """The moments of two strokes, none of them the same event, come in the order of one stroke and within its time."""
    if not a.found or not b.found or {m.event for m in a.found} & {m.event for m in b.found}:
        return False
    both = sorted((*a.found, *b.found), key=lambda m: m.time_s)
    ranks = [RANK[m.event] for m in both]
    return ranks == sorted(ranks) and both[-1].time_s - both[0].time_s < usual_s


def _apart(a: Stroke, b: Stroke) -> float:
    gaps = [abs(a.time_s(m.event) - m.time_s) for m in b.found if np.isfinite(a.time_s(m.event))]
    return min(gaps, default=float("inf"))


def _chance(chi2: float, dof: int) -> float:
    from scipy.special import chdtrc

    return float(chdtrc(dof, chi2))
