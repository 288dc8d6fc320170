"""Who is in the squad, and who of them may be filmed today: read before all else, and closed where it is silent."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from casebook.errors import SquadError
from casebook.pages.markup import clean
from casebook.squad.rows import Row, answer, read_rows, whole, write_rows
from casebook.squad.slate import NUMBERS
from casebook.words import LEVELS

FILE = "roster.csv"
COLUMNS = (
    "number", "alias", "level", "consent", "until", "sharing", "minor", "guardian", "do_not_film", "lane",
)  # fmt: skip
REMARKS = (
    "One line for each swimmer. Fill it in, and check it with: casebook squad check FOLDER, before anybody is filmed.",
    "number: 1 to 99, the one on the slate.  alias: never a name; a word such as heron.",
    f"level: {', '.join(LEVELS)}.",
    "consent: yes or no, to be filmed and analysed.  until: the last day of it, such as 2027-06-30.",
    "sharing: yes or no, if the card may be handed over.  minor: yes under 18.  guardian: yes if a guardian agreed.",
    "do_not_film: yes or no; yes outranks everything.  lane: where the swimmer swims that day.",
    "An empty cell counts as: not asked yet. Whoever has not been asked is not filmed.",
)
#: A consent that ends within so many days is spoken of. [days] own judgement, no source
NEAR_DAYS = 30
LONGEST_ALIAS = 40


@dataclass(frozen=True, slots=True)
class Member:
    """One line of the roster. ``None`` where the cell is empty, which never counts as a yes."""

    number: int
    alias: str
    level: str
    consent: bool | None = None
    until: date | None = None
    sharing: bool | None = None
    minor: bool | None = None
    guardian: bool | None = None
    do_not_film: bool | None = None
    lane: str = ""

    @property
    def called(self) -> str:
        """Number and alias, as in ``7 heron``."""
        return f"{self.number} {self.alias}".strip()

    @property
    def is_minor(self) -> bool:
        """Counts as a minor unless the roster says no."""
        return self.minor is not False

    def why_not(self, on: date) -> str:
        """Why this swimmer must not be filmed on a day, as the end of a sentence; empty if it is agreed to."""
        if self.do_not_film:
            return "on the do-not-film list"
        if self.do_not_film is None:
            return "do_not_film is not filled in"
        if self.consent is None:
            return "not asked yet"
        if not self.consent:
            return "has not agreed"
        if self.until is not None and self.until < on:
            return f"the consent ran out on {self.until.isoformat()}"
        if self.is_minor and not self.guardian:
            return (
                "no guardian has agreed" if self.minor else "whether a minor is not filled in, and no guardian agreed"
            )
        if self.is_minor and self.until is None:
            return "a minor's consent needs a last day"
        return ""

    def may_be_filmed(self, on: date) -> bool:
        """Whether everything that the roster asks for is there on a day."""
        return not self.why_not(on)

    def may_have_card(self, on: date) -> bool:
        """Whether a card may be made to be handed over."""
        return self.may_be_filmed(on) and self.sharing is True


@dataclass(frozen=True, slots=True)
class Roster:
    """The squad's members by number, in the order of the file."""

    members: tuple[Member, ...]

    def __getitem__(self, number: int) -> Member:
        found = self.get(number)
        if found is None:
            raise SquadError(f"Nobody on the roster has the number {number}.", f"Add a line for {number} to {FILE}.")
        return found

    def get(self, number: int) -> Member | None:
        """Who has a number; None if nobody has."""
        return next((m for m in self.members if m.number == number), None)

    def filmable(self, on: date) -> tuple[Member, ...]:
        """Who may be filmed on a day."""
        return tuple(m for m in self.members if m.may_be_filmed(on))

    def not_to_film(self, on: date) -> tuple[Member, ...]:
        """Who may not; those on the do-not-film list first."""
        return tuple(sorted((m for m in self.members if not m.may_be_filmed(on)), key=lambda m: not m.do_not_film))


def read_roster(folder: Path) -> Roster:
    """The roster of a squad's folder.

    Raises
    ------
    SquadError
        Naming line and column; two lines with one number, and a level or day that cannot be read.
    """
    path = folder / FILE
    rows = read_rows(path, COLUMNS, needed=COLUMNS[:4])
    members: dict[int, Member] = {}
    for row in rows:
        member = _member(path, row)
        if member.number in members:
            raise SquadError(
                f"{FILE}, line {row.line}: number {member.number} stands there twice.", "Give each swimmer one number."
            )
        members[member.number] = member
    return Roster(tuple(members.values()))


def write_roster(folder: Path, roster: Roster) -> None:
    """Replace the roster of a folder in one step, with the remarks that explain it."""
    rows = [
        (
            m.number, m.alias, m.level, _word(m.consent), m.until.isoformat() if m.until else "", _word(m.sharing),
            _word(m.minor), _word(m.guardian), _word(m.do_not_film), m.lane,
        )
        for m in roster.members
    ]  # fmt: skip
    write_rows(folder / FILE, COLUMNS, rows, REMARKS)


def looks_like_a_name(alias: str) -> bool:
    """Whether an alias may be somebody's real name: two words or more that begin with a capital.

    >>> looks_like_a_name("Grey Heron"), looks_like_a_name("heron")
    (True, False)
    """
    words = [w for w in re.split(r"[\s_.,-]+", alias) if w]
    return sum(w[0].isupper() and not w.isupper() for w in words) >= 2


def _member(path: Path, row: Row) -> Member:
    number = whole(path, row, "number")
    if number not in NUMBERS:
        raise SquadError(
            f"{FILE}, line {row.line}: there is no slate for number {number}.",
            f"Use {NUMBERS[0]} to {NUMBERS[-1]}.",
            line=row.line,
        )
    level = row["level"] or "triathlete"
    if level not in LEVELS:
        raise SquadError(
            f'{FILE}, line {row.line}: the level "{level[:40]}" is not one that casebook knows.',
            f"Use one of: {', '.join(LEVELS)}.",
            line=row.line,
        )
    alias = " ".join(clean(row["alias"]).split())[:LONGEST_ALIAS]
    said = {name: answer(path, row, name) for name in ("consent", "sharing", "minor", "guardian", "do_not_film")}
    return Member(number, alias, level, until=_day(row), lane=clean(row["lane"])[:LONGEST_ALIAS], **said)


def _day(row: Row) -> date | None:
    word = row["until"]
    if not word:
        return None
    try:
        return date.fromisoformat(word)
    except ValueError:
        raise SquadError(
            f'{FILE}, line {row.line}: until: "{word[:40]}" is not a day.', "Write it as 2027-06-30.", line=row.line
        ) from None


def _word(value: bool | None) -> str:
    return "" if value is None else "yes" if value else "no"
