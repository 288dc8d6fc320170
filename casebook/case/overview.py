"""All checkpoints of a case at once: what was measured in which shot, what shows, and what to work on first."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from casebook.case.choice import fitting_shots, rank
from casebook.checkpoints.advice import load_advice
from casebook.checkpoints.answers import near_side
from casebook.checkpoints.finding import Finding
from casebook.checkpoints.measure import VIEWS_FOR
from casebook.checkpoints.priority import Plan, chain, plan
from casebook.checkpoints.seen import SeenFault, faults_in, goods_in
from casebook.words import CHECKPOINTS, SIDES

if TYPE_CHECKING:
    from collections.abc import Sequence

    from casebook.case.case import Case
    from casebook.case.desk import Desk
    from casebook.checkpoints.advice import Good
    from casebook.checkpoints.catch import CatchResult
    from casebook.checkpoints.result import CheckpointResult

#: A page tells so many good things.
GOOD_THINGS = 2


@dataclass(frozen=True, slots=True)
class Answer:
    """One checkpoint in one shot: its result, and the sides that may speak."""

    checkpoint: str
    desk: Desk
    result: CheckpointResult | CatchResult
    sides: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Overview:
    """Every answer of a case, the faults that show, the good things, and the plan."""

    answers: tuple[Answer, ...]
    seen: tuple[SeenFault, ...]
    goods: tuple[Good, ...]
    plan: Plan

    @property
    def is_empty(self) -> bool:
        """Nothing was measured and nothing seen by eye, so nothing can be said, good or bad."""
        return not self.seen and not any(isinstance(r, Finding) for a in self.answers for r in a.result.results)

    def answer_for(self, fault: SeenFault) -> Answer | None:
        """Where a fault was measured: the answer that holds its first finding.

        For what was seen by eye alone, the first answer of its checkpoint that found anything; None without one.
        """
        for answer in self.answers:
            if any(f in answer.result.results for f in fault.findings):
                return answer
        return next((a for a in self.answers if a.checkpoint == fault.fault.checkpoint and _found(a)), None)

    def text(self) -> str:
        """The plan as plain lines."""
        lines = []
        for place, one in (("First", self.plan.first), ("With it", self.plan.second)):
            if one is not None:
                lines.append(f"{place}: {one.fault.seen}{_on(one)} ({CHECKPOINTS[one.fault.checkpoint]})")
        lines += [f"Later: {s.fault.seen}{_on(s)} ({CHECKPOINTS[s.fault.checkpoint]})" for s in self.plan.later]
        lines += [f"Held back: {s.fault.seen}{_on(s)}" for s in self.plan.held_back]
        lines += [f"Good: {g.words}" for g in self.goods]
        return "\n".join([*(lines or ["Nothing shows for certain so far."]), *self.plan.reasons])

    def chain_of(self, fault: SeenFault) -> tuple[str, ...]:
        """What shows and is usually behind a fault, in words, the nearest cause first."""
        words = {s.fault.key: s.fault.seen for s in self.seen}
        return tuple(words[key] for key in chain(fault.fault.key, self.seen))


def overview(case: Case) -> Overview:
    """Measure every checkpoint in every shot that suits it, and say what comes first.

    Passes of one swim are put together stroke by stroke. Results of different views or swims are not averaged: a fault
    shows if one of them shows it, and the sides are put together.
    """
    answers = tuple(_answers(case))
    seen = _joined(
        [
            *(faults_in(a.checkpoint, a.result, sides=a.sides) for a in answers),
            *(faults_in(name, None, observed=case.observed) for name in CHECKPOINTS),
        ]
    )
    told = plan(
        seen,
        level=case.level,
        sessions_a_week=case.intake.sessions_a_week,
        pain_now=case.pain_now,
        decisions={d.checkpoint: d.decision for d in case.decisions},
        coach_first=case.coach_first,
        coach_why=case.coach_why,
    )
    return Overview(answers, seen, _goods(answers, seen), told)


def _found(answer: Answer) -> bool:
    return any(isinstance(r, Finding) for r in answer.result.results)


def _answers(case: Case) -> list[Answer]:
    """Each checkpoint in each shot that suits it, the one to look at first; passes of one swim are one answer."""
    out = []
    desks = {name: case.desk(name) for name in case.shots}
    for checkpoint in VIEWS_FOR:
        alone = {name: desks[name].measure(checkpoint, alone=True) for name in fitting_shots(case, checkpoint)}
        told: set[str] = set()
        for name in sorted(alone, key=lambda name: -rank(desks[name], alone[name])):
            if name not in told:
                desk, near = desks[name], near_side(desks[name].shot)
                others = [other.shot.id for other in desk.passes if other.shot.id in alone]
                told |= {name, *others}
                result = desk.with_passes(alone[name], [alone[other] for other in others])
                out.append(Answer(checkpoint, desk, result, (near,) if near else ("l", "r")))
    return out


def _joined(parts: Sequence[Sequence[SeenFault]]) -> tuple[SeenFault, ...]:
    """The same fault seen twice is one, with everything that shows it."""
    found: dict[str, SeenFault] = {}
    for one in (s for part in parts for s in part):
        old = found.get(one.fault.key)
        found[one.fault.key] = (
            one if old is None else SeenFault(one.fault, (*old.findings, *one.findings), (*old.observed, *one.observed))
        )
    order = [f.key for name in CHECKPOINTS for f in load_advice(name).faults]
    return tuple(sorted(found.values(), key=lambda s: order.index(s.fault.key)))


def _goods(answers: Sequence[Answer], seen: Sequence[SeenFault]) -> tuple[Good, ...]:
    """Up to two good things, none of a checkpoint that shows a fault as long as there are others."""
    faulty = {s.fault.checkpoint for s in seen}
    found: dict[str, tuple[bool, Good]] = {}
    for answer in answers:
        for good in goods_in(answer.checkpoint, answer.result, answer.sides):
            found.setdefault(good.quantity, (answer.checkpoint in faulty, good))
    return tuple(good for _, good in sorted(found.values(), key=lambda pair: pair[0])[:GOOD_THINGS])


def _on(one: SeenFault) -> str:
    sides = sorted(one.sides)
    if len(sides) == 2:
        return ", both sides"
    return f", {SIDES[sides[0]]} side" if sides else ""
