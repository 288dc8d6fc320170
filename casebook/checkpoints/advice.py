"""What a coach may say about a checkpoint, as data: faults with their causes, drills, what to leave alone, cautions."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path
from typing import Any

from casebook.errors import CaseError
from casebook.words import CHECKPOINTS

#: What a fault costs or guards, in the order in which a coach takes them. coach's practice, no source
CONCERNS: dict[str, str] = {
    "safety": "safety and pain",
    "breath_balance": "breath and balance",
    "line": "a straight line: head, entry, alignment",
    "front_timing": "timing of the front hand",
    "catch": "the catch",
    "pull": "the pull",
    "finish": "finish and recovery",
    "fine": "rate, speed and kick",
}


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing there can be to work on, and how it shows in a result.

    Attributes
    ----------
    key : str
        Unique over all checkpoints.
    checkpoint : str
    seen : str
        What is seen, in a few words.
    title, change, why : str
        For the page: a heading, the one change, and why in speed or comfort.
    concern : str
        Key of ``CONCERNS``.
    cue : str
        ``line`` or ``feel``: never two of a kind at a time.
    quantity, when : str
        A finding of this quantity beyond its band shows it: ``low`` under the lower edge, ``high`` over the upper.
        Empty: seen by eye only.
    outcomes : tuple of str
        If given, the finding's outcome must be one of them.
    also : tuple of (str, str)
        Further quantities that show it, each with its ``low`` or ``high``.
    by_eye : tuple of str
        Words of ``Question`` answers that show it.
    upstream : tuple of str
        Keys of faults that are its usual causes.
    behind : tuple of str
        Usual causes that are no fault of this casebook, in words.
    said : dict
        Level of ``words.LEVELS`` -> title, change or why in the words for that level, where they differ.
    """

    key: str
    checkpoint: str
    seen: str
    title: str
    change: str
    why: str
    concern: str
    cue: str
    quantity: str = ""
    when: str = ""
    outcomes: tuple[str, ...] = ()
    also: tuple[tuple[str, str], ...] = ()
    by_eye: tuple[str, ...] = ()
    upstream: tuple[str, ...] = ()
    behind: tuple[str, ...] = ()
    said: Mapping[str, Mapping[str, str]] = field(default_factory=dict)

    def told(self, level: str) -> Fault:
        """The same fault in the words for a level."""
        words = self.said.get(level, {})
        return replace(
            self,
            title=words.get("title", self.title),
            change=words.get("change", self.change),
            why=words.get("why", self.why),
        )

    @property
    def signs(self) -> tuple[tuple[str, str], ...]:
        """Every quantity that shows it, with ``low`` or ``high``."""
        return (*(((self.quantity, self.when),) if self.quantity else ()), *self.also)


@dataclass(frozen=True, slots=True)
class Good:
    """A quantity inside its band, told as something to keep."""

    quantity: str
    words: str


@dataclass(frozen=True, slots=True)
class Question:
    """What is seen by eye and has no number: a question with the words that answer it."""

    key: str
    question: str
    answers: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Drill:
    """One drill: which faults it is for, how it goes, usual mistakes, its dose, a cue of a few words, a self-check."""

    key: str
    name: str
    faults: tuple[str, ...]
    how: str
    dose: str
    cue: str
    check: str
    mistakes: str = ""
    safety: str = ""


@dataclass(frozen=True, slots=True)
class Harmless:
    """A variation to leave alone, why, and when it becomes a fault; of some levels only, if it names them.

    ``by_eye``: answers to questions that say that it was seen.
    """

    seen: str
    why: str
    fault_when: str
    levels: tuple[str, ...] = ()
    by_eye: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Caution:
    """When it applies: ``always``, ``change``, ``pain``, ``stiff``, ``minor``, a level, a piece of kit; what to say."""

    when: str
    words: str


@dataclass(frozen=True, slots=True)
class Advice:
    """Everything there is to say about a checkpoint, with one source for all of it.

    ``question`` is what the coach looks for, ``why`` maps propulsion, drag, timing and shoulder to a sentence each.
    """

    checkpoint: str
    source: str
    question: str
    why: Mapping[str, str]
    faults: tuple[Fault, ...]
    goods: tuple[Good, ...]
    questions: tuple[Question, ...]
    drills: tuple[Drill, ...]
    harmless: tuple[Harmless, ...]
    cautions: tuple[Caution, ...]

    def drills_for(self, fault: str) -> tuple[Drill, ...]:
        """Drills for a fault, by its key."""
        return tuple(d for d in self.drills if fault in d.faults)

    def cautions_when(self, *occasions: str) -> tuple[str, ...]:
        """The words of the cautions that always apply and of those for these occasions."""
        return tuple(c.words for c in self.cautions if c.when in ("always", *occasions))

    def harmless_for(self, level: str) -> tuple[Harmless, ...]:
        """What a swimmer of a level may do and be left alone."""
        return tuple(h for h in self.harmless if not h.levels or level in h.levels)

    def fault(self, key: str) -> Fault:
        """A fault by its key; KeyError if there is none."""
        return next(f for f in self.faults if f.key == key)


@cache
def load_advice(checkpoint: str) -> Advice:
    """The advice kept for a checkpoint of ``words.CHECKPOINTS``.

    Raises
    ------
    CaseError
        No advice is kept under that name.
    """
    path = Path(__file__).with_name("knowledge") / f"{checkpoint}.toml"
    if checkpoint not in CHECKPOINTS or not path.is_file():
        raise CaseError(
            f'There is no advice for a checkpoint "{checkpoint}".', f"Use one of: {', '.join(CHECKPOINTS)}."
        )
    data = tomllib.loads(path.read_text("utf-8"))
    return Advice(
        checkpoint,
        data["source"],
        data["question"],
        data["why"],
        tuple(_made(Fault, {"checkpoint": checkpoint, **row}) for row in data.get("faults", ())),
        tuple(_made(Good, row) for row in data.get("goods", ())),
        tuple(_made(Question, row) for row in data.get("by_eye", ())),
        tuple(_made(Drill, {**row, "faults": row["for"]}, "for") for row in data.get("drills", ())),
        tuple(_made(Harmless, row) for row in data.get("harmless", ())),
        tuple(_made(Caution, row) for row in data.get("cautions", ())),
    )


def all_faults() -> dict[str, Fault]:
    """Every fault of every checkpoint by its key, in teaching order."""
    return {f.key: f for name in CHECKPOINTS for f in load_advice(name).faults}


def _made(kind: Any, row: Mapping[str, Any], *without: str) -> Any:
    return kind(**{k: _fixed(v) for k, v in row.items() if k not in without})


def _fixed(value: Any) -> Any:
    return tuple(_fixed(v) for v in value) if isinstance(value, list) else value
