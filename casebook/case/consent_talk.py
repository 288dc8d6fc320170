"""Consent in plain sentences, and asking for what a new record lacks."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING

from casebook.case.consent import (
    DEFERS,
    LONGEST_YEARS,
    PURPOSES,
    Consent,
    command_line,
    known_purpose,
    line_to_give,
    releases,
    standing,
    whom_to_ask,
)
from casebook.errors import ConsentError

if TYPE_CHECKING:
    from casebook.case.case import Case

#: Two words that begin with a capital letter, as names do.
_NAME = re.compile(r"[^\W\d_a-z]\w+[ .]+(?:\w+[ .]+)*[^\W\d_a-z]\w+")
NO_NAMES = "No full name belongs into a case, which goes by an alias: write a role, such as mother, or initials."
Ask = Callable[[str], str]


@dataclass(frozen=True, slots=True)
class Said:
    """What was said of a new consent beforehand; None where nothing was."""

    by: str | None = None
    guardian: bool = False
    date: str | None = None
    until: str | None = None
    audience: str | None = None


def consent_report(case: Case, on: date | None = None) -> list[str]:
    """Where a case stands with each purpose: plain sentences, one a line."""
    age = "under 18" if case.minor else "an adult (if not, write minor = true in case.toml)"
    lines = [f"{case.alias}: an invented swimmer." if case.invented else f"{case.alias} counts as {age}."]
    for purpose in PURPOSES:
        found = standing(case, purpose, on)
        lines.append(f"{'yes' if found.ok else 'NO '}  {purpose}: {found.sentence}")
        if found.warning:
            lines.append(f"     {found.warning}")
        if not found.ok:
            lines.append(f"     Ask {whom_to_ask(case.minor)}, then: {line_to_give(case.folder, purpose)}")
        if not found.ok and purpose == "analysis" and found.consent is not None:
            lines.append(f"     If it is not renewed, the case goes: {command_line('delete', case.folder)}")
    out = releases(case.folder)
    lines += [f"Went out on {row['date']}: {row['kind']} {row.get('where', '')}".rstrip() for row in out]
    return lines if case.invented else [*lines, DEFERS]


def withdrawal_report(case: Case, purpose: str, withdrawn: int) -> list[str]:
    """What a withdrawal means now, and what it cannot reach."""
    if not withdrawn:
        return [f"No standing consent for {purpose} was recorded; nothing had to be withdrawn."]
    lines = [f"From today {purpose} ({PURPOSES[purpose]}) is not agreed to."]
    gone = [row for row in releases(case.folder) if purpose in _PURPOSE_OF.get(row["kind"], tuple(PURPOSES))]
    lines += [f"Ask for it back: {row['kind']} {row.get('where', '')}, {row['date']}." for row in gone]
    if purpose == "analysis":
        lines.append(f"If all of it is to go: {command_line('delete', case.folder)}")
    return [*lines, DEFERS]


_PURPOSE_OF = {"parcel": ("sharing", "analysis"), "pack": ("teaching", "analysis")}


def new_consent(purpose: str, said: Said, minor: bool, ask: Ask | None, on: date | None = None) -> Consent:
    """A record of one consent. What was not said is asked; without anyone to ask, ConsentError names the option.

    The day is today if none is said.
    """
    known_purpose(purpose)
    today = on or date.today()
    by = said.by or _asked(ask, f"Who said yes? A role or initials, no full name [{_usual(minor)}]: ", "--by")
    row = Consent(purpose, by.strip() or _usual(minor), said.guardian, said.date or today.isoformat())
    if minor and not row.guardian and ask is not None:
        row = replace(row, guardian=ask("Is that the swimmer's guardian? [y/N] ").strip().lower() in ("y", "yes"))
    until = said.until
    if until is None and minor:
        until = _asked(ask, f"Until which day, at most {LONGEST_YEARS} years on? [{_year_on(today)}]: ", "--until")
        until = until.strip() or _year_on(today)
    elif until is None and ask is not None:
        until = ask("Until which day, such as 2027-05-02? [no end]: ").strip()
    audience = said.audience or ""
    if purpose == "teaching" and not audience:
        audience = _asked(ask, "Who may see it, such as: coaches at the spring workshop? ", "--audience").strip()
    return replace(row, until=until or "", audience=audience)


def looks_like_a_name(words: str) -> bool:
    """True for what is written as first and last names are.

    >>> looks_like_a_name("Mother of Heron"), looks_like_a_name("mother"), looks_like_a_name("M.K.")
    (True, False, False)
    """
    return bool(_NAME.search(words))


def _usual(minor: bool) -> str:
    return "guardian" if minor else "swimmer"


def _year_on(day: date) -> str:
    return (day.replace(year=day.year + 1, day=min(day.day, 28))).isoformat()


def _asked(ask: Ask | None, question: str, option: str) -> str:
    if ask is None:
        raise ConsentError("The consent lacks a fact, and nobody is at the keyboard to ask.", f"Say it with {option}.")
    return ask(question)
