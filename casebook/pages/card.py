"""The card: what a swimmer gets first, one picture and a few words. All of it follows from the plan."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from casebook.checkpoints.advice import load_advice
from casebook.pages import show_plan
from casebook.pages.card_picture import good_stills
from casebook.pages.markup import clean
from casebook.pages.telling import called, title_of, value_words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from casebook.case.case import Case
    from casebook.case.overview import Overview
    from casebook.checkpoints.finding import Finding
    from casebook.checkpoints.seen import SeenFault

ALL_WELL = "Nothing that this film shows for certain asks for a change. Enjoy it, and swim on."
BY_EYE = "Seen by your coach's eye."
AGAIN = "Film again in about six weeks, the same way, to see that it lasts."
PRIVATE = "These pictures stay with you, your family and your coach."
#: How the first page begins the sentence that the card's title stands for.
THE_ONE = "The one thing to change. "
#: Checkpoints whose caution for always is about a body that can be hurt; the others' is about how it is filmed or read.
BODY_AT_STAKE = ("extension", "catch", "pull", "recovery", "breathing", "roll", "kick")


@dataclass(frozen=True, slots=True)
class Card:
    """The words of a card.

    ``title`` is the one sentence; ``why`` is what it buys; ``seen`` is the number behind it with its give or take, or
    that it was seen by eye; ``drill``, ``dose`` and ``cue`` are empty where nothing is to be changed, and ``check``
    then says when to look again; ``goods`` are true good things; ``care`` are the cautions that go with the change.
    """

    name: str
    title: str
    why: str
    goods: tuple[str, ...]
    drill: str = ""
    dose: str = ""
    cue: str = ""
    check: str = ""
    seen: str = ""
    care: tuple[str, ...] = ()
    invented: bool = False

    @property
    def who(self) -> str:
        """The name, and that it is an invented one where it is."""
        return f"{self.name}, an invented swimmer" if self.invented else self.name

    @property
    def words(self) -> str:
        """The card as plain lines, for a message."""
        lines = [f"{self.name}: {self.title}.", self.why, *([self.seen] if self.seen else [])]
        lines += [f"Drill: {self.drill}", f"Dose: {self.dose}"] if self.drill else []
        lines += [f"Cue: {self.cue}"] if self.cue else []
        lines += [f"You see that it works: {self.check}"] if self.check else []
        lines += [f"Good: {' '.join(self.goods)}"] if self.goods else []
        return "\n".join([*lines, *self.care])


def card_of(case: Case, found: Overview) -> Card:
    """The card of a case whose plan is made."""
    one = found.plan.first
    name, goods = clean(called(case.alias)), tuple(g.words for g in found.goods)
    first = show_plan.first(case, found).data
    title, pain = str(first["title"]), str(first["lead"][0]) if case.pain_now else ""
    if one is None:
        seen = next((_number(seen.finding) for seen in good_stills(found)), "")
        why, care = _joined([pain, ALL_WELL]), _private(case)
        return Card(name, title, why, goods, check=AGAIN, seen=seen, care=care, invented=case.invented)
    drill = show_plan.drill_for(one)
    said = {"seen": _number(one.findings[0]) if one.findings else BY_EYE}
    if drill is not None:
        said |= {"drill": _joined([f"{_upper(drill.name)}: {drill.how}", drill.safety]), "cue": drill.cue}
        said |= {"dose": f"{show_plan.dose_for(drill.dose, case)}.", "check": drill.check}
    why = _joined([pain, str(first["lead"][-1]).removeprefix(THE_ONE)])
    return Card(name, title, why, goods, care=_care(case, one), invented=case.invented, **said)


def _number(finding: Finding) -> str:
    """A finding's number as the page tells it: what, how much, give or take."""
    value, give = value_words(finding)
    return f"{title_of(finding.quantity)}: {value}, {give}."


def _care(case: Case, one: SeenFault) -> tuple[str, ...]:
    """What to take care of while this is changed."""
    own = load_advice(one.fault.checkpoint).cautions_when() if one.fault.checkpoint in BODY_AT_STAKE else ()
    return (*own, *_private(case))


def _private(case: Case) -> tuple[str, ...]:
    return (PRIVATE,) if case.minor else ()


def _joined(parts: Sequence[str]) -> str:
    return " ".join(p for p in parts if p)


def _upper(words: str) -> str:
    return words[:1].upper() + words[1:]
