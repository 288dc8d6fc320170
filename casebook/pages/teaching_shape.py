"""A case as it is taught: pictures, what they show, the one change and what lies behind it, and nothing of its coach.

No name, date, place, path or free text of a coach or swimmer stands in it: every sentence comes from the casebook's own
glossary and knowledge, every number from a result. On disk it is ``case.json`` beside its pictures and loops.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from casebook.errors import PageError
from casebook.files import write_atomic
from casebook.pages.teaching_read import read_as

SCHEMA = 1
FILE = "case.json"

Place = tuple[float, float]
Trace = tuple[Place, ...]


@dataclass(frozen=True, slots=True)
class TeachingLines:
    """What is drawn on one picture, in its own pixels counted from its left upper edge. [px]"""

    body: tuple[Trace, ...] = ()
    reference: tuple[Trace, ...] = ()
    measure: tuple[Trace, ...] = ()

    @classmethod
    def of(cls, drawing: Mapping[str, Any]) -> TeachingLines:
        """From a drawing as blocks hold it."""

        def paths(kind: str) -> tuple[Trace, ...]:
            return tuple(tuple((float(x), float(y)) for x, y in line) for line in drawing.get(kind, ()))

        return cls(paths("body"), paths("reference"), paths("measure"))

    @property
    def drawing(self) -> dict[str, Any]:
        """The same as blocks hold it."""
        return {
            kind: [[list(p) for p in line] for line in getattr(self, kind)] for kind in ("reference", "body", "measure")
        }


@dataclass(frozen=True, slots=True)
class TeachingNumber:
    """A number to be written on a picture, apart from the picture, and where. [px]"""

    at: Place
    text: str


@dataclass(frozen=True, slots=True)
class TeachingLoop:
    """The swimmer at full speed in one view.

    Attributes
    ----------
    file, poster : str
        Bare names of an MP4 without sound, and of the picture that stands for it.
    caption, view : str
        In words; ``view`` is a key of ``words.VIEWS``.
    size : (width, height) [px]
    times : tuple of float
        When each picture begins, from the first. [s]
    at_full_speed : bool
        False where slow motion could not be undone, since it is not known.
    part : (int, int)
        First picture, and the one after the last, of the stroke looked at slowly.
    moments : tuple of (picture, title)
    lines : tuple of TeachingLines
        One a picture; empty where nothing is marked.
    """

    file: str
    poster: str
    caption: str
    view: str
    size: tuple[int, int]
    times: tuple[float, ...]
    at_full_speed: bool
    part: tuple[int, int]
    moments: tuple[tuple[int, str], ...] = ()
    lines: tuple[TeachingLines, ...] = ()


@dataclass(frozen=True, slots=True)
class TeachingStill:
    """One picture: ``plain`` as it is, ``lined`` with the lines. No number stands in either, nor in ``caption``."""

    plain: str
    lined: str
    checkpoint: str
    title: str
    caption: str
    size: tuple[int, int]
    lines: TeachingLines
    numbers: tuple[TeachingNumber, ...] = ()
    is_whole: bool = False


@dataclass(frozen=True, slots=True)
class TeachingFinding:
    """What was measured or seen by eye: ``words`` without a number, ``number`` with its give or take (empty by eye).

    ``value``, ``low`` and ``high`` are the same in ``unit``, with the interval of these strokes; None by eye.
    """

    checkpoint: str
    words: str
    number: str
    verdict: str
    value: float | None = None
    low: float | None = None
    high: float | None = None
    unit: str = ""


@dataclass(frozen=True, slots=True)
class TeachingLink:
    """One fault of the cause chain, in the order from cause to effect.

    ``role`` is ``cause`` (usually behind the first thing), ``first``, or ``follows``. ``is_clear`` is false where it
    only just shows.
    """

    fault: str
    checkpoint: str
    title: str
    seen: str
    role: str
    is_clear: bool


@dataclass(frozen=True, slots=True)
class TeachingFirst:
    """The one thing to change: its fault, what to do about it and why; ``reason`` why before all else."""

    fault: str
    checkpoint: str
    title: str
    change: str
    why: str
    reason: str


@dataclass(frozen=True, slots=True)
class TeachingDrill:
    """A drill with its dose, its cue and how the swimmer sees that it works."""

    name: str
    how: str
    dose: str
    cue: str
    check: str
    safety: str = ""


@dataclass(frozen=True, slots=True)
class TeachingHarmless:
    """A variation to leave alone, why, and when it becomes a fault."""

    seen: str
    why: str
    fault_when: str


@dataclass(frozen=True, slots=True)
class TeachingCase:
    """One case of a workshop.

    Attributes
    ----------
    alias, level, event : str
        ``level`` is a key of ``words.LEVELS``; ``event`` a distance, or empty.
    invented : bool
        Nobody swam this.
    audience : str
        Whom the consent names; empty for an invented swimmer.
    loops, stills, findings : tuple
        At full speed; for the slow look; measured or seen.
    fine : tuple of str
        What is good as it is.
    chain : tuple of TeachingLink
        Empty where nothing shows.
    first : TeachingFirst or None
        None: nothing to change.
    drill : TeachingDrill or None
    harmless : tuple of TeachingHarmless
    cautions : tuple of str
    apart : tuple of str
        What shows too and has nothing to do with the first thing: for later.
    """

    alias: str
    level: str
    event: str
    invented: bool
    audience: str
    loops: tuple[TeachingLoop, ...]
    stills: tuple[TeachingStill, ...]
    findings: tuple[TeachingFinding, ...]
    fine: tuple[str, ...]
    chain: tuple[TeachingLink, ...]
    first: TeachingFirst | None
    drill: TeachingDrill | None
    harmless: tuple[TeachingHarmless, ...]
    cautions: tuple[str, ...]
    apart: tuple[str, ...] = ()

    @property
    def files(self) -> tuple[str, ...]:
        """Every file that the case names."""
        moving = [name for loop in self.loops for name in (loop.file, loop.poster)]
        return (*moving, *(name for still in self.stills for name in (still.plain, still.lined)))

    def to_json(self) -> str:
        """The case as JSON, the same text for the same case."""
        return json.dumps({"schema": SCHEMA, **asdict(self)}, ensure_ascii=False, indent=1) + "\n"

    @classmethod
    def from_json(cls, words: str, name: str = FILE) -> TeachingCase:
        """Read it back; raises PageError naming ``name`` and the field that is not what it should be."""
        try:
            data = json.loads(words)
        except (ValueError, RecursionError):
            data = None
        if not isinstance(data, dict):
            raise PageError(f'"{name}" is no teaching case.', "Make the workshop pack again.")
        schema = data.pop("schema", None)
        if schema != SCHEMA:
            raise PageError(
                f'"{name}" has schema {str(schema)[:20]}; this casebook reads schema {SCHEMA}.',
                "Install a newer casebook, or make the workshop pack again.",
            )
        found: TeachingCase = read_as(cls, data, name)
        return found


def save_teaching_case(case: TeachingCase, folder: Path) -> Path:
    """Write ``case.json`` beside the case's pictures; returns its path."""
    write_atomic(folder / FILE, case.to_json())
    return folder / FILE


def load_teaching_case(folder: Path) -> TeachingCase:
    """Read the case of a folder; raises PageError if there is none or it cannot be read."""
    path = folder / FILE
    if path.is_symlink():
        raise PageError(f'"{folder.name}/{FILE}" is a link, and links are not followed.', "Ask for the pack anew.")
    try:
        words = path.read_text("utf-8")
    except (OSError, UnicodeDecodeError):
        raise PageError(
            f'"{folder.name}" holds no teaching case.',
            "Name a folder made for teaching: it holds case.json.",
            path=path,
        ) from None
    return TeachingCase.from_json(words, f"{folder.name}/{FILE}")
