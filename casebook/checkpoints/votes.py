"""What a room of coaches put first, read from the files they handed in.

Beside a workshop's page lie ``choices.csv`` (``number``, ``key``, ``choice``) and ``answers.csv`` (``case``, ``key``:
the reference). Votes lie in a folder of their own, in any of three forms, mixed as they come:

- ``participant``, ``case``, ``choice``: a row a vote, of many coaches in one file;
- ``case``, ``choice``: the votes of one coach, who is called as the file is;
- ``case``, ``choice``, ``hands``: a facilitator's tally.

A case is named by its alias or its number, a choice by its number, key or words. What cannot be read is told in a
sentence that names the file, and the rest counts.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from casebook.checkpoints.choices import Choice
from casebook.checkpoints.first_agreement import CaseVotes
from casebook.errors import CasebookError, MarksError
from casebook.marks.folder_table import column_names, files_in, read_rows, table_text

CHOICES, ANSWERS, VOTES = "choices.csv", "answers.csv", "votes"
#: No room is larger.
LARGEST_ROOM = 500


@dataclass(frozen=True, slots=True)
class Votes:
    """What was handed in: every coach's choice of every case, hands counted, and what could not be used and why."""

    cases: tuple[str, ...]
    choices: tuple[Choice, ...]
    answers: Mapping[str, str]
    said: Mapping[tuple[str, str], str]
    hands: Mapping[tuple[str, str], int]
    problems: tuple[str, ...]

    @property
    def participants(self) -> int:
        """Coaches who handed in a file or a row."""
        return len({who for who, _ in self.said})

    @property
    def counted(self) -> tuple[CaseVotes, ...]:
        """Votes and hands of each case. Where both are handed in, hands are a second count and are left out."""
        keys = [c.key for c in self.choices]
        out = []
        for case in self.cases:
            own = [key for (_, name), key in self.said.items() if name == case]
            counts = [own.count(k) if own else self.hands.get((case, k), 0) for k in keys]
            out.append(CaseVotes(case, tuple(counts), self.answers.get(case, "")))
        return tuple(out)

    @property
    def ballots(self) -> tuple[tuple[int, ...], ...]:
        """A row a coach: the place on the list of his choice in each case, -1 where he made none."""
        place = {c.key: i for i, c in enumerate(self.choices)}
        coaches = dict.fromkeys(who for who, _ in self.said)
        return tuple(
            tuple(place[self.said[who, case]] if (who, case) in self.said else -1 for case in self.cases)
            for who in coaches
        )

    def text(self) -> str:
        """Who handed in what, and what was left out."""
        lines = [f"{self.participants} coaches, {len(self.said)} votes on {len(self.cases)} cases."]
        if self.hands:
            lines.append(f"{sum(self.hands.values())} hands counted by the facilitator.")
        return "\n".join([*lines, *(f"Left out: {p}" for p in self.problems)])


def write_lists(folder: Path, choices: Sequence[Choice], answers: Mapping[str, str]) -> None:
    """Put the list of choices and the reference beside a workshop's page."""
    from casebook.files import write_atomic

    rows = [(c.number, c.key, c.title) for c in choices]
    write_atomic(folder / CHOICES, table_text(("number", "key", "choice"), rows))
    write_atomic(folder / ANSWERS, table_text(("case", "key"), list(answers.items())))


def read_votes(folder: Path) -> Votes:
    """The votes of a workshop's folder; raises MarksError if its list of choices or its reference cannot be read."""
    choices = tuple(
        Choice(n, row["key"], row["choice"]) for n, row in enumerate(read_rows(folder / CHOICES, ("key", "choice")), 1)
    )
    keys = {c.key for c in choices}
    answers = {row["case"]: row["key"] for row in read_rows(folder / ANSWERS, ("case", "key"))}
    wrong = next((key for key in answers.values() if key not in keys), None)
    if wrong is not None:
        raise MarksError(f'"{ANSWERS}" names "{wrong[:40]}", which is not on the list of choices.', "Make both anew.")
    if not (folder / VOTES).is_dir():
        raise MarksError(f'"{folder.name}" has no folder "{VOTES}".', "Put the files that were handed in there.")
    tray = _Tray(tuple(answers), choices)
    for path in files_in(folder / VOTES):
        try:
            tray.take(path)
        except CasebookError as error:
            tray.problems.append(error.problem)
        except OSError as error:
            tray.problems.append(f'"{path.name}" cannot be read: {error.strerror}.')
    return Votes(tuple(answers), choices, answers, tray.said, tray.hands, tuple(tray.problems))


@dataclass
class _Tray:
    """Files as they come in, one after the other."""

    cases: tuple[str, ...]
    choices: tuple[Choice, ...]
    said: dict[tuple[str, str], str] = field(default_factory=dict)
    hands: dict[tuple[str, str], int] = field(default_factory=dict)
    problems: list[str] = field(default_factory=list)
    origin: dict[str, str] = field(default_factory=dict)

    def take(self, path: Path) -> None:
        if path.suffix.lower() != ".csv":
            raise MarksError(f'"{path.name}" is no CSV file.')
        form = _form(column_names(path))
        used, wrong = 0, dict[str, list[int]]()
        for n, row in enumerate(read_rows(path, form), 2):
            try:
                used += self._row(path, row, form)
            except MarksError as error:
                wrong.setdefault(error.problem, []).append(n)
        for problem, lines in wrong.items():
            at = f"line {lines[0]}" if len(lines) == 1 else f"{len(lines)} lines from {lines[0]} on"
            self.problems.append(f'"{path.name}", {at}: {problem}')
        if not used and not wrong:
            raise MarksError(f'"{path.name}" holds no vote.')

    def _row(self, path: Path, row: Mapping[str, str], form: Sequence[str]) -> int:
        if not row["choice"]:
            return 0
        case, key = self._case(row["case"]), self._key(row["choice"])
        if "hands" in form:
            return self._raise_hands(case, key, row["hands"])
        who = _name(row["participant"] if "participant" in form else path.stem)
        if not who:
            raise MarksError("it does not say whose vote it is.")
        if self.origin.setdefault(who, path.name) != path.name:
            raise MarksError(f'"{self.origin[who]}" holds the votes of this coach already.')
        if (who, case) in self.said:
            raise MarksError(f"this coach has a vote on {case} already.")
        if len(self.origin) > LARGEST_ROOM:
            raise MarksError(f"no room holds more than {LARGEST_ROOM} coaches.")
        self.said[who, case] = key
        return 1

    def _raise_hands(self, case: str, key: str, hands: str) -> int:
        if not re.fullmatch(r"\d{1,3}", hands):
            raise MarksError("hands are a whole number.")
        if (case, key) in self.hands:
            raise MarksError(f"hands for this choice are counted already for {case}.")
        self.hands[case, key] = int(hands)
        return 1

    def _case(self, words: str) -> str:
        if words.isdecimal() and 1 <= int(words) <= len(self.cases):
            return self.cases[int(words) - 1]
        found = next((c for c in self.cases if c.casefold() == words.casefold()), None)
        if found is None:
            raise MarksError(f"there is no case {_shown(words)}.")
        return found

    def _key(self, words: str) -> str:
        if words.isdecimal() and len(words) < 4 and 1 <= int(words) <= len(self.choices):
            return self.choices[int(words) - 1].key
        same = words.casefold().rstrip(".")
        found = next((c.key for c in self.choices if same in (c.key.casefold(), c.title.casefold())), None)
        if found is None:
            raise MarksError(f"{_shown(words)} is not on the list.")
        return found


def _form(columns: Sequence[str]) -> tuple[str, ...]:
    """Which of the three forms a file has, by its columns."""
    forms = (("participant", "case", "choice"), ("case", "choice", "hands"))
    return next((form for form in forms if set(form) <= set(columns)), ("case", "choice"))


def _name(words: str) -> str:
    """A coach's name as a key: a second copy of a file is no second coach.

    >>> _name("Anna (1)"), _name("anna - Copy")
    ('anna', 'anna')
    """
    return re.sub(r"( \(\d+\)|[ _-]+copy( \(\d+\))?)$", "", words.strip().casefold()).strip()


def _shown(words: str) -> str:
    printable = "".join(c for c in words[:40] if c.isprintable())
    return f'"{printable}"'
