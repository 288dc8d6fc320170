"""The roster said in plain sentences: who may be filmed today, who may not, whose consent is about to end."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

from casebook.squad.roster import NEAR_DAYS, Member, Roster, looks_like_a_name

DEFERS = "Local safeguarding rules come first: they may ask for more than this list does."
GUARD = "Whoever films does not guard the water: a second adult does nothing else."
NEIGHBOURS = (
    "Whoever swims in the next lane is in the picture too: film one lane alone, and cover neighbours before sharing."
)


def check_text(roster: Roster, on: date) -> str:
    """The whole check, as lines to read at a keyboard; those who must not be filmed stand first."""
    closed, free = roster.not_to_film(on), roster.filmable(on)
    lines = [f"Squad on {on.isoformat()}: {_people(len(roster.members))} on the roster."]
    lines += _block("DO NOT FILM", [f"{m.called}: {m.why_not(on)}." for m in closed] or ["Nobody is on this list."])
    lines += _block("May be filmed", [f"{m.called}{_small(m)}" for m in free] or ["Nobody yet."])
    heed = warnings(roster, on)
    lines += _block("To see to", heed) if heed else []
    return "\n".join([*lines, "", GUARD, DEFERS])


def warnings(roster: Roster, on: date) -> list[str]:
    """What is to be seen to: consents that end soon or have no end, cards that may not be given, aliases like names."""
    out = []
    for member in roster.members:
        if looks_like_a_name(member.alias):
            out.append(
                f"Number {member.number}: the alias looks like a real name. Use a word that names nobody: heron, birch."
            )
        if not member.alias:
            out.append(f"Number {member.number} has no alias; the number alone will stand on the card.")
        if not member.may_be_filmed(on):
            continue
        if member.until is None:
            out.append(f"{member.called}: the consent has no last day. Ask for one.")
        elif member.until <= on + timedelta(days=NEAR_DAYS):
            out.append(f"{member.called}: the consent ends on {member.until.isoformat()}. Ask again in good time.")
        if member.sharing is not True:
            out.append(f"{member.called}: sharing is not agreed to, so no card will be made.")
    return out


def _small(member: Member) -> str:
    facts = ["minor, a guardian agreed"] if member.is_minor else []
    facts += [f"lane {member.lane}"] if member.lane else []
    return f" ({'; '.join(facts)})" if facts else ""


def _block(title: str, lines: Sequence[str]) -> list[str]:
    return ["", title, *(f"  {line}" for line in lines)]


def _people(n: int) -> str:
    return f"{n} swimmer{'' if n == 1 else 's'}"
