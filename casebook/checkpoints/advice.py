"""What a coach may say about a checkpoint, as data: causes, drills, what to leave alone, cautions."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from casebook.errors import CaseError


@dataclass(frozen=True, slots=True)
class Cause:
    """What is seen, in words, and what is probably behind it."""

    seen: str
    words: str
    upstream: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Drill:
    """One drill: which faults it is for, how it goes, its dose, a cue of a few words, a self-check."""

    key: str
    name: str
    faults: tuple[str, ...]
    how: str
    dose: str
    cue: str
    check: str


@dataclass(frozen=True, slots=True)
class Harmless:
    """A variation to leave alone, why, and when it becomes a fault."""

    seen: str
    why: str
    fault_when: str


@dataclass(frozen=True, slots=True)
class Caution:
    """When it applies (``always``, ``change``, ``pain``, ``minor`` or a piece of kit) and what to say."""

    when: str
    words: str


@dataclass(frozen=True, slots=True)
class Advice:
    """Everything there is to say about a checkpoint, with one source for all of it."""

    checkpoint: str
    source: str
    causes: tuple[Cause, ...]
    drills: tuple[Drill, ...]
    harmless: tuple[Harmless, ...]
    cautions: tuple[Caution, ...]

    def drills_for(self, fault: str) -> tuple[Drill, ...]:
        """Drills for what was seen: ``late`` or an outcome such as ``dropped below``."""
        return tuple(d for d in self.drills if fault in d.faults)

    def cautions_when(self, *occasions: str) -> tuple[str, ...]:
        """The words of the cautions that always apply and of those for these occasions."""
        return tuple(c.words for c in self.cautions if c.when in ("always", *occasions))


def load_advice(checkpoint: str) -> Advice:
    """The advice kept for a checkpoint, e.g. ``catch``.

    Raises
    ------
    CaseError
        No advice is kept under that name.
    """
    path = Path(__file__).with_name(f"{checkpoint}.toml")
    if not path.is_file():
        raise CaseError(f'There is no advice for a checkpoint "{checkpoint}".', "Use catch.")
    data = tomllib.loads(path.read_text("utf-8"))
    return Advice(
        data["checkpoint"],
        data["source"],
        tuple(Cause(c["seen"], c["words"], tuple(c["upstream"])) for c in data["causes"]),
        tuple(_drill(d) for d in data["drills"]),
        tuple(Harmless(h["seen"], h["why"], h["fault_when"]) for h in data["harmless"]),
        tuple(Caution(c["when"], c["words"]) for c in data["cautions"]),
    )


def _drill(d: dict[str, Any]) -> Drill:
    return Drill(d["key"], d["name"], tuple(d["for"]), d["how"], d["dose"], d["cue"], d["check"])
