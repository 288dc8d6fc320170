"""The card that a swimmer gets that evening, in words: what was seen, one thing, one drill, a cue, what to heed."""

from __future__ import annotations

from dataclasses import dataclass, replace

from casebook.checkpoints.advice import Drill, Fault, load_advice
from casebook.pages.card import BY_EYE
from casebook.pages.card import Card as Drawn
from casebook.squad.first import Looked
from casebook.words import CHECKPOINTS

#: Which cautions of a checkpoint belong on a swimmer's card: those that guard him, none that only guide the coach.
_CAUTIONS: dict[str, tuple[str, ...]] = {
    "body_line": ("change",), "entry": ("pain",), "extension": ("pain",), "catch": ("always", "pain"),
    "pull": ("pain",), "recovery": ("pain",), "breathing": ("always", "minor"), "roll": ("pain",),
    "alignment": (), "kick": ("always",), "timing": (), "rate": ("pain",),
}  # fmt: skip
ONE_THING, FINE_AS_IT_IS = "One thing: ", "Fine as it is: "
STOP = "If anything hurts, stop and tell your coach."


@dataclass(frozen=True, slots=True)
class Card:
    """One card. ``waits`` says what the coach must do before it can be made; empty when it is ready."""

    number: int
    alias: str
    title: str = ""
    sentence: str = ""
    why: str = ""
    good: str = ""
    drill: Drill | None = None
    care: tuple[str, ...] = ()
    waits: str = ""

    def to_draw(self, invented: bool) -> Drawn:
        """The same as the card of a case, which is drawn as picture and PDF."""
        title = f"{self.title}; {self.sentence.removeprefix(ONE_THING).rstrip('.')}" if self.drill else self.title
        said = {"seen": BY_EYE}
        if self.drill is not None:
            how = " ".join(p for p in (f"{self.drill.name}: {self.drill.how}", self.drill.safety) if p)
            said |= {"drill": how[:1].upper() + how[1:], "dose": f"{self.drill.dose}."}
            said |= {"cue": self.drill.cue, "check": self.drill.check}
        why = self.why if self.drill else self.sentence
        good = self.good.removeprefix(FINE_AS_IT_IS)
        goods = (good[:1].upper() + good[1:],) if good else ()
        return Drawn(f"{self.number} {self.alias}", title, why, goods, care=self.care, invented=invented, **said)

    def text(self) -> str:
        """The card as plain lines."""
        if self.waits:
            return f"{self.number} {self.alias}: {self.waits}."
        lines = [f"{self.number} {self.alias}: {self.title}", self.sentence, self.why, self.good]
        if self.drill is not None:
            lines += [f"Drill: {self.drill.name}. {self.drill.how}", self.drill.dose, f"Cue: {self.drill.cue}"]
        return "\n".join([*(line for line in lines if line), *self.care])


def card_of(looked: Looked) -> Card:
    """The card of one swimmer, from his row of the grid."""
    member = looked.member
    blank = Card(member.number, member.alias)
    if not looked.seen:
        return replace(blank, waits="nothing was seen of this swimmer")
    good = f"{FINE_AS_IT_IS}{_listed(looked.fine)}." if looked.fine else ""
    if looked.first is not None:
        return _fault_card(looked, looked.first, good)
    if looked.unnamed:
        return replace(blank, waits=f"say which fault it is ({_listed(looked.unnamed)}), with its letter in the grid")
    if looked.again:
        sentence = f"I should like to look once more at: {_listed(looked.again)}. Until then swim as you do."
        return replace(blank, title="Nothing to change for now", sentence=sentence, good=good, care=(STOP,))
    return replace(
        blank,
        title="Nothing to change now",
        sentence=f"What I looked at is fine as it is: {_listed(looked.fine)}. Keep it, and enjoy it.",
        care=(STOP,),
    )


def lowered(sentence: str) -> str:
    """A sentence as it goes on after a colon.

    >>> lowered("The hand is long.")
    'the hand is long.'
    """
    return sentence[:1].lower() + sentence[1:]


def _fault_card(looked: Looked, fault: Fault, good: str) -> Card:
    advice = load_advice(fault.checkpoint)
    drill = next(iter(advice.drills_for(fault.key)), None)
    occasions = _CAUTIONS[fault.checkpoint]
    words = [c.words for c in advice.cautions if c.when in occasions and (c.when != "minor" or looked.member.is_minor)]
    safety = [drill.safety] if drill is not None and drill.safety else []
    return Card(
        looked.member.number,
        looked.member.alias,
        title=fault.title,
        sentence=f"{ONE_THING}{fault.change}.",
        why=fault.why,
        good=good,
        drill=drill,
        care=(*dict.fromkeys([*safety, *words]), STOP),
    )


def _listed(checkpoints: tuple[str, ...]) -> str:
    titles = [CHECKPOINTS[c] for c in checkpoints]
    return titles[0] if len(titles) == 1 else ", ".join(titles[:-1]) + " and " + titles[-1]
