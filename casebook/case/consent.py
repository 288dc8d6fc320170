"""Who agreed to what, on whose word, and until when: a record that the coach keeps.

Three purposes, none of which follows from another: ``analysis`` (filming the swimmer and looking closely), ``sharing``
(handing page, card or loops to the swimmer and the guardian), ``teaching`` (showing the case to others). Filming an
invented swimmer needs nobody's consent.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from casebook.case.settings import add_row, amend_rows, read_settings
from casebook.errors import ConsentError

if TYPE_CHECKING:
    from casebook.case.case import Case

#: What each purpose allows, in the words of the sentences.
PURPOSES = {
    "analysis": "filming and analysing the swimmer",
    "sharing": "handing the page, card or loops to the swimmer",
    "teaching": "showing the case to others to teach",
}
#: A consent that ends within so many days is spoken of. [days] own judgement, no source
NEAR_DAYS = 30
#: Longest that one consent for a minor may run, and after which an open-ended one of an adult is spoken of.
#: [years] own judgement, no source
LONGEST_YEARS = 2
DEFERS = "Local safeguarding rules and the law decide what is needed; casebook only keeps the record."


@dataclass(frozen=True, slots=True)
class Consent:
    """One consent as case.toml holds it. Days are written as 2026-05-02; what was not said is empty.

    ``given_by`` is a role or initials, never a full name; ``audience`` is who may see it; ``withdrawn`` is the day on
    which it was taken back.
    """

    purpose: str
    given_by: str = ""
    guardian: bool = False
    date: str = ""
    until: str = ""
    audience: str = ""
    withdrawn: str = ""


@dataclass(frozen=True, slots=True)
class Standing:
    """Whether a purpose is agreed to on a day: ``sentence`` says why, ``warning`` what to see to soon, if anything."""

    purpose: str
    ok: bool
    sentence: str
    warning: str = ""
    consent: Consent | None = None


def standing(case: Case, purpose: str, on: date | None = None) -> Standing:
    """Where a case stands with one purpose on a day, today if none is given. An unknown purpose raises ConsentError."""
    return standing_of(case.consents, purpose, minor=case.minor, invented=case.invented, on=on)


def standing_of(
    consents: Iterable[Consent], purpose: str, *, minor: bool, invented: bool = False, on: date | None = None
) -> Standing:
    """The same from bare records, for whoever keeps them elsewhere than in a case."""
    known_purpose(purpose)
    on = on or date.today()
    if invented:
        return Standing(purpose, True, "The swimmer is invented: no consent is needed.")
    every = list(consents)
    rows = [row for row in every if row.purpose == purpose]
    if not rows:
        others = "; agreeing to another purpose does not cover it" if every else ""
        return Standing(purpose, False, f"No consent for {purpose} ({PURPOSES[purpose]}) is recorded{others}.")
    found = [(row, wrong_with(row, minor, on)) for row in rows]
    good = [row for row, wrong in found if not wrong]
    if not good:
        row, wrong = found[-1]
        return Standing(purpose, False, f"The consent for {purpose} does not stand: {wrong}.", "", row)
    row = max(good, key=lambda row: row.until or "9999")
    says = f"Agreed to {purpose} by {row.given_by} on {row.date}, {f'until {row.until}' if row.until else 'no end set'}"
    says += f", to be seen by {row.audience}" if row.audience else ""
    return Standing(purpose, True, f"{says}.", _soon(row, minor, on), row)


def require(case: Case, purpose: str, on: date | None = None) -> Standing:
    """The standing, if it allows the purpose; raises ConsentError with the line to type next if not."""
    found = standing(case, purpose, on)
    if not found.ok:
        raise ConsentError(
            f'"{case.alias}": {found.sentence}',
            f"Ask {whom_to_ask(case.minor)}, then type: {line_to_give(case.folder, purpose)}",
            purpose=purpose,
        )
    return found


def reminders(case: Case, on: date | None = None) -> list[str]:
    """One line for each purpose that needs to be seen to: not agreed to for analysis, run out, or soon to run out."""
    lines = []
    for purpose in PURPOSES:
        found = standing(case, purpose, on)
        if found.ok and found.warning:
            lines.append(found.warning)
        elif not found.ok and (purpose == "analysis" or (found.consent is not None and not found.consent.withdrawn)):
            lines.append(f"{found.sentence} See: {command_line('consent', case.folder)}")
    return lines


def wrong_with(row: Consent, minor: bool, on: date) -> str:
    """Why a consent does not stand on a day, as the end of a sentence; empty if it does."""
    given, until = _day(row.date), _day(row.until)
    if row.withdrawn and not ((taken_back := _day(row.withdrawn)) and taken_back > on):
        return f"it was withdrawn ({row.withdrawn})"
    if not row.given_by.strip():
        return "it does not say who gave it"
    if given is None:
        return f'its date "{row.date}" is no day such as 2026-05-02' if row.date else "it has no date"
    if given > on:
        return f"it begins only on {row.date}"
    if row.until and until is None:
        return f'its end "{row.until}" is no day such as 2026-05-02'
    if until is not None and until < on:
        return f"it ran out on {row.until}"
    if row.purpose == "teaching" and not row.audience.strip():
        return "it does not say who may see it (audience)"
    return _wrong_for_minor(row, given, until) if minor else ""


def known_purpose(purpose: str) -> str:
    """The purpose itself; raises ConsentError if there is none of that name."""
    if purpose not in PURPOSES:
        raise ConsentError(f'"{purpose}" is not a purpose of consent.', f"Use one of: {', '.join(PURPOSES)}.")
    return purpose


def whom_to_ask(minor: bool) -> str:
    """Whose word counts."""
    return "a guardian (and the swimmer too)" if minor else "the swimmer"


def command_line(verb: str, folder: Path, *more: str) -> str:
    """What to type, ready to paste."""
    place = str(folder)
    return " ".join(["casebook", verb, f'"{place}"' if " " in place else place, *more])


def line_to_give(folder: Path, purpose: str) -> str:
    """What to type to record a consent; what the line leaves out is asked for."""
    return command_line("consent", folder, "--give", purpose)


def give(folder: Path, consent: Consent, minor: bool, on: date | None = None) -> None:
    """Record a consent in case.toml; raises ConsentError, and records nothing, if it would not stand on that day."""
    known_purpose(consent.purpose)
    wrong = wrong_with(consent, minor, on or date.today())
    if wrong:
        raise ConsentError(
            f"Not recorded: {wrong}.", f"Ask {whom_to_ask(minor)} again and say it with --by, --date, --until."
        )
    row = {key: value for key, value in asdict(consent).items() if value not in ("", False)}
    add_row(folder, "consent", row)


def withdraw(folder: Path, purpose: str, on: date | None = None) -> int:
    """Mark every standing consent for a purpose as withdrawn on a day; returns how many there were."""
    known_purpose(purpose)
    day = (on or date.today()).isoformat()
    return amend_rows(
        folder,
        "consent",
        lambda row: {"withdrawn": day} if row.get("purpose") == purpose and not row.get("withdrawn") else {},
    )


def note_release(case: Case, kind: str, where: str, on: date | None = None) -> None:
    """Remember in case.toml that something made of the case went out.

    ``kind`` is ``pack`` or ``parcel``; ``where`` says in a few words where it is or went (a file's bare name, a
    workshop), no person's name and no path.
    """
    add_row(case.folder, "released", {"kind": kind, "where": where, "date": (on or date.today()).isoformat()})


def releases(folder: Path) -> list[dict[str, str]]:
    """What is known to have gone out of a case: rows of ``kind``, ``where`` and ``date``."""
    return list(read_settings(folder).get("released", []))


def _wrong_for_minor(row: Consent, given: date, until: date | None) -> str:
    if not row.guardian:
        return "the swimmer is a minor and it was not given by a guardian (guardian = true)"
    if until is None:
        return "the swimmer is a minor and it has no end (until)"
    if until > _years_on(given, LONGEST_YEARS):
        return f"for a minor it may run {LONGEST_YEARS} years at most, from {row.date}, and it ends on {row.until}"
    return ""


def _soon(row: Consent, minor: bool, on: date) -> str:
    given, until = _day(row.date), _day(row.until)
    if until is not None and until - on <= timedelta(days=NEAR_DAYS):
        left = (until - on).days
        when = f"in {left} days" if left > 1 else "tomorrow" if left else "today"
        return f"The consent for {row.purpose} ends {when} ({row.until}): ask again."
    if until is None and given is not None and on > _years_on(given, LONGEST_YEARS):
        return f"The consent for {row.purpose} is older than {LONGEST_YEARS} years and has no end: ask again."
    if row.guardian and not minor:
        return f"A guardian gave the consent for {row.purpose}: a swimmer who has come of age is asked again."
    return ""


def _day(word: str) -> date | None:
    try:
        return date.fromisoformat(word) if len(word) == 10 else None
    except ValueError:
        return None


def _years_on(day: date, years: int) -> date:
    try:
        return day.replace(year=day.year + years)
    except ValueError:  # the 29th of February
        return day.replace(year=day.year + years, day=28)
