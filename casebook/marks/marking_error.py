"""How good a coach's marking is, from rounds of a repeat study, and how his marks come to carry it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from casebook.errors import MarksError
from casebook.marks.intraclass import Intraclass, intraclass
from casebook.marks.marks import Marks, Origin
from casebook.marks.reliability import Estimate, Limits, Spread, limits_of_agreement, mean_estimate, t95, within_sd

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from casebook.marks.repeat import RepeatPlan
    from casebook.marks.store import MarkStore

#: A point's own error is used from this many degrees of freedom on: below, the interval reaches more than 1.4 times
#: as far, and that of all points together is the safer figure. own judgement
LEAST_DOF = 20
ALL = ""


@dataclass(frozen=True, slots=True)
class OwnError:
    """How far a coach's marks of a point lie from his own, one coordinate.

    ``spread`` is the within-frame standard deviation over his rounds, both coordinates taken together [px]; ``shift``
    how far his last round lies from his first, right and down [px]. ``point`` is empty for all points together.
    """

    by: str
    point: str
    spread: Spread
    shift: tuple[Estimate, Estimate]

    @property
    def sigma_px(self) -> float:
        return self.spread.sd.value


@dataclass(frozen=True, slots=True)
class BetweenCoaches:
    """How far one coach's marks of a point lie from another's, the mean of each one's rounds taken.

    ``bias`` is first minus second, right and down; ``limits`` hold 95 % of the differences of single marks. [px]
    """

    first: str
    second: str
    point: str
    bias: tuple[Estimate, Estimate]
    limits: tuple[Limits, Limits]


@dataclass(frozen=True, slots=True)
class MarkingError:
    """The result of a repeat study.

    Attributes
    ----------
    shot : str
    own : tuple of OwnError
        For each coach with two rounds or more: all points together, then each point.
    between : tuple of BetweenCoaches
        For each pair of coaches and point.
    between_px : float
        Standard deviation, per coordinate, of where coaches believe the same point to be, over all points and pairs;
        0 with one coach. Two coaches say little about all coaches: it is a first figure.
    places : Intraclass or None
        Of all places of all rounds (both coordinates), each coordinate of a point about its own mean over the frames;
        None unless two rounds share three places.
    """

    shot: str
    own: tuple[OwnError, ...]
    between: tuple[BetweenCoaches, ...]
    between_px: float
    places: Intraclass | None

    def of(self, by: str, point: str = ALL) -> OwnError | None:
        """The error of one coach at a point, or at all together; None if he has no second round."""
        return next((e for e in self.own if (e.by, e.point) == (by, point)), None)

    def sigma_for(self, point: str, by: str) -> float:
        """What ``sigma_px`` of a coach's marks of a point should say: his own error and that between coaches. [px]

        A point marked too rarely for a figure of its own, or not at all, gets that of all points together. So a second
        coach's marks lie within the intervals that follow.
        """
        every = self.of(by)
        if every is None or not math.isfinite(every.sigma_px):
            raise MarksError(
                f"{by or 'This coach'} has not marked any frame of {self.shot} a second time.",
                "Do a second round, a day later at least, without looking at the first.",
            )
        one = self.of(by, point)
        chosen = one if one is not None and one.spread.dof >= LEAST_DOF else every
        # A hand that never errs is not known from rounds: whole pixels may have been typed.
        return math.hypot(max(chosen.sigma_px, 0.1), self.between_px)

    def carried(self, by: str, points: Sequence[str]) -> str:
        """What the marks of a coach would carry, in words."""
        if self.of(by) is None:
            return f"Not known yet: {by or 'this coach'} has no second round in {self.shot}."
        return ", ".join(f"{point} {self.sigma_for(point, by):.1f} px" for point in points)

    def text(self) -> str:
        """All figures as plain lines."""
        lines = [f"Marking in {self.shot}" + ("" if self.own else ": nobody has marked a second round yet")]
        for e in self.own:
            if e.point == ALL:
                n = e.spread.n // 2
                lines.append(
                    f"{e.by or 'coach'}, all points: error {e.spread.sd.text(2, 'px')} per coordinate, from {n} places "
                    f"marked again; smallest change worth believing {e.spread.smallest_change.text(1, 'px')}"
                )
            else:
                lines.append(f"  {e.point}: {e.spread.sd.text(2, 'px')}; second round {_moved(e.shift)}")
        for pair in self.between:
            lines.append(
                f"{pair.first} against {pair.second}, {pair.point}: {_moved(pair.bias)}; {_within(pair.limits)}"
            )
        if self.between:
            lines.append(f"Between coaches: {self.between_px:.2f} px per coordinate, over all points")
        if self.places is not None:
            lines.append(f"ICC(2,1) of single places: {self.places.two.text(4)}, {self.places.n} places in all rounds")
        return "\n".join(lines)


def marking_error(plan: RepeatPlan) -> MarkingError:
    """Errors of each coach and between coaches, from the rounds of a study; places missing in a round stay missing.

    Both coordinates are taken to err alike and apart, and frames to err independently, as everywhere in casebook. The
    interval of an error is that of the chi-square distribution.
    """
    own = [e for by in plan.coaches for e in _own(plan, by)]
    pairs = [_pair(plan, a, b, j) for a, b in combinations(plan.coaches, 2) for j in range(len(plan.points))]
    between = tuple(p for p in pairs if p is not None)
    return MarkingError(plan.shot, tuple(own), between, _between_px(between), _places(plan))


def with_sigma(marks: Marks, signed: NDArray[np.object_], by: str, error: MarkingError) -> Marks:
    """The marks that a coach placed by hand, each with the error of his study; all others unmarked.

    Parameters
    ----------
    marks : Marks
    signed : (F, P) array of str
        Who set each mark, as ``MarkStore.signed``.
    """
    mine = (marks.origin == Origin.hand) & np.isfinite(marks.xy[..., 0]) & (signed == by)
    sigma = np.array([error.sigma_for(point, by) for point in marks.points])
    return Marks.from_arrays(marks.points, marks.frames, np.where(mine[..., None], marks.xy, np.nan), sigma)


def take_over(store: MarkStore, error: MarkingError, by: str = "") -> int:
    """Let the marks that a coach placed by hand carry the error of his study; returns how many that is.

    One change to undo; no place moves. Marks set later carry the usual error until this is done again, and what was
    tracked keeps the error of its day: track anew.
    """
    by = by or store.by
    return store.put_marks(with_sigma(store.marks, store.signed, by, error), by=by)


def _own(plan: RepeatPlan, by: str) -> list[OwnError]:
    rounds = sorted(plan.of(by), key=lambda r: r.number)
    if len(rounds) < 2:
        return []
    xy = np.stack([r.xy for r in rounds], -1)
    moved = rounds[-1].xy - rounds[0].xy
    found = [OwnError(by, ALL, _spread(xy), _mean_move(moved))]
    return found + [OwnError(by, p, _spread(xy[:, j]), _mean_move(moved[:, j])) for j, p in enumerate(plan.points)]


def _spread(xy: NDArray[np.float64]) -> Spread:
    return within_sd(xy.reshape(-1, xy.shape[-1]))


def _mean_move(moved: NDArray[np.float64]) -> tuple[Estimate, Estimate]:
    return mean_estimate(moved[..., 0]), mean_estimate(moved[..., 1])


def _pair(plan: RepeatPlan, a: str, b: str, j: int) -> BetweenCoaches | None:
    first, second = (np.stack([r.xy[:, j] for r in plan.of(by)], -1) for by in (a, b))
    limits = [limits_of_agreement(first[:, i], second[:, i]) for i in (0, 1)]
    if min(each.n for each in limits) < 2:
        return None
    return BetweenCoaches(a, b, plan.points[j], (limits[0].bias, limits[1].bias), (limits[0], limits[1]))


def _between_px(pairs: Sequence[BetweenCoaches]) -> float:
    """From the biases: each is the difference of two coaches and carries the noise of its mean, which is taken off."""
    excess = []
    for pair in pairs:
        for bias, limits in zip(pair.bias, pair.limits, strict=True):
            from_noise = ((bias.high - bias.low) / 2 / t95(limits.n - 1)) ** 2
            excess.append((bias.value**2 - from_noise) / 2)
    return math.sqrt(max(float(np.mean(excess)), 0.0)) if excess else 0.0


def _places(plan: RepeatPlan) -> Intraclass | None:
    if len(plan.rounds) < 2:
        return None
    xy = np.stack([r.xy for r in plan.rounds], -1)
    complete: NDArray[np.bool_] = np.asarray(np.isfinite(xy).all(-1))
    counted = np.maximum(complete.sum(0), 1)
    middle = np.where(complete[..., None], xy, 0.0).sum((0, -1)) / counted / xy.shape[-1]
    about = np.where(complete[..., None], xy - middle[None, ..., None], np.nan).reshape(-1, xy.shape[-1])
    return intraclass(about) if int(complete.sum()) >= 3 else None


def _moved(by: tuple[Estimate, Estimate]) -> str:
    return f"{by[0].text(1)} px right, {by[1].text(1)} px down"


def _within(limits: tuple[Limits, Limits]) -> str:
    low = ", ".join(f"{each.low.value:.1f} to {each.high.value:.1f} px" for each in limits)
    return f"95 % of single marks apart by {low}"
