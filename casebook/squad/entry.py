"""One swimmer's folder in the squad: the passes that were cut for him, and the still that goes on his card."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import tomlkit
from tomlkit.exceptions import TOMLKitError

from casebook.case.settings import inside
from casebook.clip.clip import Clip
from casebook.clip.shot import Shot
from casebook.errors import SquadError
from casebook.files import write_atomic

if TYPE_CHECKING:
    from casebook.squad.squad import Squad

FILE = "entry.toml"


@dataclass(frozen=True, slots=True)
class Pass:
    """One stretch of the recording: file of the cut, and which frames (``stop`` exclusive) and seconds it was."""

    file: str
    start: int
    stop: int
    from_s: float
    to_s: float


@dataclass(frozen=True, slots=True)
class Entry:
    """What lies in a swimmer's folder. ``still`` counts the frames of the first pass; -1: the middle one. ``recording``
    says what it was cut from."""

    number: int
    passes: tuple[Pass, ...] = ()
    still: int = -1
    recording: str = ""


def read_entry(squad: Squad, number: int) -> Entry | None:
    """A swimmer's entry; None if nothing was cut for him."""
    path = squad.entry(number) / FILE
    if not path.is_file():
        return None
    try:
        raw = tomlkit.parse(path.read_text("utf-8-sig")).unwrap()
        passes = tuple(Pass(**row) for row in raw.get("pass", ()))
        return Entry(number, passes, int(raw.get("still", -1)), str(raw.get("recording", "")))
    except (TOMLKitError, UnicodeDecodeError, TypeError, ValueError) as error:
        raise SquadError(f'"{path}" cannot be read: {error}.', "Cut the recording again.", path=path) from None


def write_entry(squad: Squad, entry: Entry) -> None:
    """Keep an entry."""
    document: dict[str, Any] = {"number": entry.number, "still": entry.still, "recording": entry.recording}
    document["pass"] = [
        {"file": p.file, "start": p.start, "stop": p.stop, "from_s": p.from_s, "to_s": p.to_s} for p in entry.passes
    ]
    write_atomic(squad.entry(entry.number) / FILE, tomlkit.dumps(document))


def pass_file(squad: Squad, entry: Entry, which: int = 0) -> Path:
    """The file of one of a swimmer's passes; CaseError if a link leads out of the squad's folder."""
    if not 0 <= which < len(entry.passes):
        raise SquadError(f"Number {entry.number} has no pass {which + 1}.", "Cut the recording first.")
    name = Path(entry.passes[which].file.replace("\\", "/")).name
    inside(squad.folder, f"swimmers/{entry.number}/{name}", "pass")
    return squad.entry(entry.number) / name


def shot_of(squad: Squad, number: int, which: int = 0) -> Shot:
    """A swimmer's pass as a shot."""
    entry = _needed(squad, number)
    clip = Clip(pass_file(squad, entry, which))
    return Shot(str(number), clip, squad.view, squad.direction, 0, clip.n_frames, swimmer=squad.roster[number].alias)


def choose_still(squad: Squad, number: int, frame: int) -> Entry:
    """Take a frame of the first pass for the card; raises SquadError if there is no such frame."""
    entry = _needed(squad, number)
    count = entry.passes[0].stop - entry.passes[0].start
    if not 0 <= frame < count:
        raise SquadError(f"The pass of number {number} has frames 0 to {count - 1}; there is no {frame}.", "")
    kept = replace(entry, still=frame)
    write_entry(squad, kept)
    return kept


def still_of(squad: Squad, number: int, width: int = 1600) -> bytes | None:
    """The card's still as JPEG without any metadata; None if nothing was cut for this number."""
    entry = read_entry(squad, number)
    if entry is None or not entry.passes:
        return None
    with Clip(pass_file(squad, entry)) as clip:
        frame = entry.still if 0 <= entry.still < clip.n_frames else clip.n_frames // 2
        return clip.jpeg(frame, width=width, quality=88)


def _needed(squad: Squad, number: int) -> Entry:
    entry = read_entry(squad, number)
    if entry is None or not entry.passes:
        raise SquadError(
            f"Nothing has been cut for number {number}.", "Cut the recording first: casebook squad cut FOLDER VIDEO"
        )
    return entry
