"""The squad's folder: settings, roster, and the paths of what is made from them."""

from __future__ import annotations

import difflib
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError

from casebook.case.settings import inside
from casebook.errors import SquadError
from casebook.files import write_atomic
from casebook.squad.roster import FILE as ROSTER
from casebook.squad.roster import Member, Roster, read_roster, write_roster
from casebook.words import CHECKPOINTS, VIEWS

FILE = "squad.toml"
#: What one sees by eye in two minutes; the coach chooses others. coach's practice, no source
USUAL_CHECKPOINTS = ("body_line", "breathing", "entry", "catch", "kick")
#: Lanes, and swimmers in a lane, where squad.toml does not say. coach's practice, no source
LANES, LANE_SIZE = 4, 6
_TYPES: dict[str, type] = {
    "place": str, "date": str, "coach": str, "view": str, "direction": str, "checkpoints": list, "lanes": int,
    "lane_size": int, "invented": bool,
}  # fmt: skip
_COMMENTS = {
    "place": "pool, in a word that names no person",
    "date": "the day of filming, such as 2026-05-02; empty: today",
    "coach": "initials; they stand in the grid",
    "view": f"how the squad is filmed: {', '.join(VIEWS)}",
    "direction": "which way they swim in the picture: right, left, toward, away",
    "checkpoints": f"the columns of the grid, about five of: {', '.join(CHECKPOINTS)}",
    "lanes": "lanes for the plan",
    "lane_size": "most swimmers in a lane",
}


@dataclass(frozen=True, slots=True)
class Squad:
    """One squad on one day of filming. Open it with ``Squad.open(folder)``."""

    folder: Path
    roster: Roster
    day: date
    place: str = ""
    coach: str = ""
    view: str = "side_under"
    direction: str = "right"
    checkpoints: tuple[str, ...] = USUAL_CHECKPOINTS
    lanes: int = LANES
    lane_size: int = LANE_SIZE
    invented: bool = False

    @classmethod
    def open(cls, folder: Path | str) -> Squad:
        """Read a squad's folder; raises SquadError naming what needs mending."""
        folder = Path(folder)
        raw = _read(folder)
        checkpoints = tuple(_known(str(name), tuple(CHECKPOINTS), "checkpoint") for name in raw.get("checkpoints", []))
        lanes, size = raw.get("lanes", LANES), raw.get("lane_size", LANE_SIZE)
        if not (1 <= lanes <= 20 and 1 <= size <= 30):
            raise SquadError(f"{FILE}: {lanes} lanes of {size} swimmers make no plan.", "Set lanes and lane_size.")
        return cls(
            folder=folder,
            roster=read_roster(folder),
            day=_day(raw.get("date", "")),
            place=raw.get("place", ""),
            coach=raw.get("coach", "")[:40],
            view=_known(raw.get("view", "side_under"), tuple(VIEWS), "view"),
            direction=_known(raw.get("direction", "right"), ("right", "left", "toward", "away"), "direction"),
            checkpoints=tuple(dict.fromkeys(checkpoints)) or USUAL_CHECKPOINTS,
            lanes=lanes,
            lane_size=size,
            invented=raw.get("invented", False),
        )

    def __repr__(self) -> str:
        return f"Squad({len(self.roster.members)} on the roster, {len(self.filmable)} may be filmed)"

    @property
    def judged_on(self) -> date:
        """The day for which consents are judged: the day of filming, and after it today, since keeping and handing over
        need consent too. An invented squad stays on its day."""
        return self.day if self.invented else max(self.day, date.today())

    @property
    def filmable(self) -> tuple[Member, ...]:
        """Who may be filmed, and kept."""
        return self.roster.filmable(self.judged_on)

    def may_be_filmed(self, number: int) -> bool:
        """Whether a number stands on the roster and may be filmed, and kept."""
        member = self.roster.get(number)
        return member is not None and member.may_be_filmed(self.judged_on)

    def entry(self, number: int) -> Path:
        """Folder of one swimmer; CaseError if a link leads it out of the squad's folder."""
        inside(self.folder, f"swimmers/{int(number)}", "swimmer's folder")
        return self.folder / "swimmers" / str(int(number))

    @property
    def out(self) -> Path:
        """Folder of pages to print and to read."""
        return self.folder / "out"

    @property
    def grid_file(self) -> Path:
        """The grid as it is kept."""
        return self.folder / "grid.csv"

    @property
    def cuts_file(self) -> Path:
        """Where the recording is cut."""
        return self.folder / "cuts.csv"

    @property
    def lanes_file(self) -> Path:
        """Who swims in which lane, as the coach has it."""
        return self.folder / "lanes.csv"


def new_squad(folder: Path, members: tuple[Member, ...] = (), **settings: Any) -> Path:
    """Lay out a squad's folder with its settings and roster; one that is there already is refused."""
    for name in (FILE, ROSTER):
        if (folder / name).exists():
            raise SquadError(f'"{folder}" already holds a {name}.', "Choose another folder; nothing was changed.")
    usual: dict[str, Any] = {
        "place": "", "date": "", "coach": "", "view": "side_under", "direction": "right",
        "checkpoints": list(USUAL_CHECKPOINTS), "lanes": LANES, "lane_size": LANE_SIZE,
    }  # fmt: skip
    document = tomlkit.document()
    document.add(tomlkit.comment("A squad on its day of filming. Names never: numbers and aliases."))
    for key, value in (usual | settings).items():
        item = tomlkit.item(value)
        if key in _COMMENTS:
            item.comment(_COMMENTS[key])
        document.append(key, item)
    folder.mkdir(parents=True, exist_ok=True)
    write_atomic(folder / FILE, tomlkit.dumps(document))
    write_roster(folder, Roster(members))
    return folder


def _read(folder: Path) -> dict[str, Any]:
    path = folder / FILE
    if not path.is_file():
        raise SquadError(f'"{folder}" is not a squad: it holds no {FILE}.', "Make one with: casebook squad new FOLDER")
    try:
        raw = dict(tomlkit.parse(path.read_text("utf-8-sig")).unwrap())
    except (TOMLKitError, UnicodeDecodeError) as error:
        raise SquadError(f'"{path}" cannot be read: {error}.', "Open it in a text editor and mend that line.") from None
    for key, value in raw.items():
        kind = _TYPES.get(key)
        if kind is None:
            _known(key, tuple(_TYPES), "setting")
        elif not isinstance(value, kind) or (isinstance(value, bool) and kind is not bool):
            raise SquadError(f'{FILE}: "{key}" = {value!r} has the wrong kind of value.', "Mend that line.")
    return raw


def _day(word: str) -> date:
    if not word:
        return date.today()
    try:
        return date.fromisoformat(word)
    except ValueError:
        raise SquadError(f'{FILE}: date: "{word[:40]}" is not a day.', "Write it as 2026-05-02.") from None


def _known(word: str, words: tuple[str, ...], what: str) -> str:
    if word not in words:
        near = difflib.get_close_matches(word, words, 1)
        hint = f'Did you mean "{near[0]}"?' if near else f"Use one of: {', '.join(words)}."
        raise SquadError(f'{FILE}: "{word[:40]}" is not a {what} that casebook knows.', hint)
    return word
