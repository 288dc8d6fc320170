"""Words that would lead from a workshop pack back to the swimmer, the coach or the computer."""

from __future__ import annotations

import getpass
import json
import re
import socket
import unicodedata
from collections.abc import Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass, fields
from datetime import date
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from casebook.case.case import Case

#: Of a longer text, each part of so many words counts for itself. own judgement
A_SENTENCE = 4
_MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
    "December",
)  # fmt: skip
#: Any day written so is refused, whosever it is.
_WORD = re.compile(r"[^\W_]+")
ANY_DATE = re.compile(r"\b(19|20)\d\d-(0[1-9]|1[0-2])-(0[1-9]|[12]\d|3[01])\b")


@dataclass(frozen=True, slots=True)
class Secret:
    """What must not stand in a pack: ``kind`` as the end of a sentence, the words, whether only in this very case."""

    kind: str
    words: str
    exact: bool = False


def secrets_of(case: Case, aliases: Iterable[str], also_initials: Iterable[str] = ()) -> tuple[Secret, ...]:
    """All that is known of a case and must not stand in a pack in which the swimmers go by these aliases."""
    known = {plain(alias) for alias in aliases}
    found = dict.fromkeys(_all_of(case, also_initials))
    return tuple(s for s in found if plain(s.words) and plain(s.words) not in known)


def plain(words: str) -> str:
    """Words for comparing: one kind of letter and case, single spaces, no signs between them."""
    return " ".join(_WORD.findall(unicodedata.normalize("NFKC", words).casefold()))


@cache
def ordinary_text() -> str:
    """casebook's own glossary and knowledge: its words and sentences lead nowhere, whoever is called so."""
    package = files("casebook")
    texts = [package.joinpath("quantities.toml"), *package.joinpath("checkpoints", "knowledge").iterdir()]
    texts += [package.joinpath("words.py")]
    return " ".join(plain(t.read_text("utf-8")) for t in texts if t.name.endswith((".toml", ".py")))


@cache
def _ordinary_words() -> frozenset[str]:
    return frozenset(ordinary_text().split())


def _all_of(case: Case, also_initials: Iterable[str]) -> Iterator[Secret]:
    yield from _telling("the swimmer's alias in your casebook", case.alias)
    yield from _telling("the name of the case folder", case.folder.resolve().name)
    for initials in (case.coach, *also_initials):
        if len(initials) > 1:
            yield Secret("the initials of the coach", initials, exact=len(initials) < 4)
    yield from _of_computer(case.folder)
    for row in case._shots:
        for name in _names(row):
            yield from _telling("the name of a shot or film", name)
        digest = str(row.get("sha256", ""))
        yield from (Secret("the digest of an original film", part) for part in (digest, digest[:16]) if part)
    yield from _dates(case)
    for consent in case.consents:
        yield from _telling("who gave consent", consent.given_by)
    for text in _told(case):
        yield from _telling("what the swimmer told", text)
    for text in _written(case):
        yield from _telling("the coach's own words", text)


def _names(row: dict[str, object]) -> list[str]:
    clip = str(row.get("clip", ""))
    return [word for word in (str(row.get("id", "")), Path(clip).stem) if word]


def _of_computer(folder: Path) -> Iterator[Secret]:
    yield Secret("a path on your computer", str(folder.resolve()))
    yield Secret("a path on your computer", str(Path.home()))
    with suppress(OSError, KeyError):
        yield from _telling("the name of the computer's user", getpass.getuser())
    yield from _telling("the name of the computer's user", Path.home().name)
    yield from _telling("the name of the computer", socket.gethostname())
    yield from _telling("the name of the computer", socket.gethostname().split(".")[0])


def _dates(case: Case) -> Iterator[Secret]:
    days = [s.date for s in case.swims] + [case.intake.date]
    days += [day for c in case.consents for day in (c.date, c.until, c.withdrawn)]
    for day in filter(None, days):
        try:
            on = date.fromisoformat(day)
        except ValueError:
            yield Secret("a date", day)
            continue
        month = _MONTHS[on.month - 1]
        for written in (
            day, f"{on.day}.{on.month}.{on.year}", f"{on.day:02}.{on.month:02}.{on.year}", f"{on:%Y%m%d}",
            f"{on.day}/{on.month}/{on.year}", f"{on.month}/{on.day}/{on.year}", f"{on:%d/%m/%Y}", f"{on:%m/%d/%Y}",
            f"{on.day} {month} {on.year}", f"{month} {on.day}, {on.year}", f"{on.day} {month[:3]} {on.year}",
        ):  # fmt: skip
            yield Secret("a date", written)


def _told(case: Case) -> list[str]:
    said = [getattr(case.intake, f.name) for f in fields(case.intake)]
    return [case.aims, case.about, case.pain_now, case.stiff, *(s for s in said if isinstance(s, str))]


def _written(case: Case) -> Iterator[str]:
    yield from (decision.why for decision in case.decisions)
    yield case.coach_why
    yield from (swim.note for swim in case.swims)
    for notebook in case.notebooks:
        with suppress(OSError, ValueError):
            for cell in json.loads(notebook.read_text("utf-8")).get("cells", ()):
                if "coach" in cell.get("metadata", {}).get("tags", ()):
                    yield "".join(cell.get("source", ""))


def _telling(kind: str, text: str) -> Iterator[Secret]:
    """A name or short phrase unless every word of it is ordinary; of a longer text each sentence that is not ours."""
    for part in re.split(r"[.!?;:\n]+", text):
        words = plain(part).split()
        strange = [w for w in words if w not in _ordinary_words() and not w.isdigit() and len(w) > 1]
        if (strange or len(words) >= A_SENTENCE) and plain(part) not in ordinary_text():
            yield Secret(kind, part.strip())
