"""Covers of a case's shots: kept beside the marks, applied wherever a picture is shown, checked by the coach.

Bystanders are covered in everything that a case makes, the swimmer's own page included. Head, cap, suit and tattoos are
covered in what is shown to others, and only after the coach has looked at every picture of it and said so. That word
counts for those pictures alone: any change of covers, clip or stretch takes it back.
"""

from __future__ import annotations

import hashlib
import tomllib
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import tomlkit

from casebook.clip.cover import FILL, Cover
from casebook.clip.covered import CoveredClip
from casebook.errors import CaseError, MarksError
from casebook.files import write_atomic
from casebook.marks.covers import read_covers, with_box, write_covers
from casebook.marks.head_covers import HEAD, IMAGE, HeadCovers, drafts_for, head_covers
from casebook.marks.table import check_initials

if TYPE_CHECKING:
    from collections.abc import Sequence

    from casebook.case.desk import Desk
    from casebook.clip.shot import Shot
    from casebook.marks.progress import Tell

SCHEMA = 1
#: Covered wherever the picture is shown.
ALWAYS = "bystander"


@dataclass(frozen=True, slots=True)
class Check:
    """The coach's word that he has looked at all covered pictures of a shot, and what they were."""

    by: str
    date: str
    pictures: int
    digest: str


def covers_of(folder: Path, shot_id: str) -> tuple[Cover, ...]:
    """All covers of a shot, in the order in which they were made."""
    return tuple(read_covers(_path(folder, shot_id)))


def always_covered(folder: Path, shot_id: str) -> tuple[Cover, ...]:
    """The covers without which no picture of a shot is shown to anybody: bystanders."""
    path = _path(folder, shot_id)
    # A long shot has many outlines of heads; opening it does not wait for them.
    if not path.is_file() or ALWAYS.encode() not in path.read_bytes():
        return ()
    return tuple(c for c in read_covers(path) if c.kind == ALWAYS)


def cover(
    desk: Desk, kind: str, frame: int, box: Sequence[float], name: str = "", start: int | None = None,
    stop: int | None = None,
) -> None:  # fmt: skip
    """Cover a box (left, top, right, bottom) [px] of a shot; see ``Desk.cover``."""
    shot = desk.shot
    if not shot.start <= frame < shot.stop:
        raise MarksError(
            f'Frame {frame} is not in shot "{shot.id}", which has frames {shot.start} to {shot.stop - 1}.',
            "Name a frame of the shot.",
        )
    left, top, right, bottom = (float(v) for v in box)
    # A head is elsewhere on the next frame, and a frame with a cover of it counts as safe to show.
    usual = (frame, frame + 1) if kind == "head" else (shot.start, shot.stop)
    first, last = usual[0] if start is None else start, usual[1] if stop is None else stop
    old = covers_of(desk.case.folder, shot.id)
    covers = with_box(old, kind, frame, (left, top, right, bottom), first, last, name)
    write_covers(_path(desk.case.folder, shot.id), covers)
    if kind == ALWAYS:
        _forget_pictures(desk)


def uncover(desk: Desk, name: str) -> None:
    """Take a cover away; raises CaseError naming those there are if there is none of that name."""
    old = covers_of(desk.case.folder, desk.shot.id)
    if name not in {c.name for c in old}:
        held = ", ".join(c.name for c in old) or "none"
        raise CaseError(f'Shot "{desk.shot.id}" has no cover "{name}".', f"It has: {held}.")
    write_covers(_path(desk.case.folder, desk.shot.id), [c for c in old if c.name != name])


def cover_heads(desk: Desk, tell: Tell | None = None, *, use_model: bool = True) -> HeadCovers:
    """Cover the swimmer's head on every frame of a shot, and its image in the surface.

    Heads covered so before are covered anew; every other cover stays. The pose model helps where marks do not reach, if
    it is there.
    """
    shot = desk.shot
    drafts, why = drafts_for(shot, desk.marks, desk.lines, tell) if use_model else (None, "")
    found = head_covers(shot, desk.marks, desk.lines, drafts, minor=desk.case.minor)
    kept = [c for c in covers_of(desk.case.folder, shot.id) if not _is_made_here(c)]
    write_covers(_path(desk.case.folder, shot.id), [*kept, *found.covers])
    return replace(found, told=f"{found.told} {why}".strip())


def covered_for_others(desk: Desk, name: str = "") -> Desk:
    """The desk with a clip of which every cover applies, and of which frames without one of the head show nothing."""
    from casebook.case.desk import Desk as AsDesk

    return AsDesk(desk.case, for_others(desk.case.folder, desk.shot, name))


def for_others(folder: Path, shot: Shot, name: str = "") -> Shot:
    """The shot as others may see it; ``name`` is what its clip is called from then on."""
    clip = CoveredClip(shot.clip.path, covers_of(folder, shot.id), name, only_with="head")
    return replace(shot, clip=clip)


def withheld(folder: Path, shot: Shot) -> tuple[int, ...]:
    """Frames of a shot of which others see nothing, since no head is covered there."""
    shown = {i for c in covers_of(folder, shot.id) if c.kind == "head" for i in range(c.start, c.stop)}
    return tuple(i for i in range(shot.start, shot.stop) if i not in shown)


def digest_of(folder: Path, shot: Shot) -> str:
    """What decides every covered pixel of a shot, as one SHA-256: clip, stretch, covers and their colour."""
    told = (shot.clip.sha256, shot.start, shot.stop, FILL, covers_of(folder, shot.id))
    return hashlib.sha256(repr(told).encode()).hexdigest()


def keep_check(folder: Path, shot: Shot, by: str, pictures: int, on: date | None = None) -> Check:
    """Keep the coach's word that he looked at all covered pictures of a shot.

    Raises
    ------
    CaseError
        No initials, or no frame has a cover over the head.
    """
    if not by.strip():
        raise CaseError("Whoever looked at the pictures puts his initials to it.", "Give them: by, --by.")
    if len(withheld(folder, shot)) == shot.stop - shot.start:
        raise CaseError(f'No head is covered in shot "{shot.id}".', "Cover the heads first, and look at the pictures.")
    day = (on or date.today()).isoformat()
    check = Check(check_initials(by.strip()), day, pictures, digest_of(folder, shot))
    rows = {"schema": SCHEMA, "by": check.by, "date": day, "pictures": pictures, "digest": check.digest}
    write_atomic(_path(folder, shot.id, ".checked.toml"), tomlkit.dumps(rows))
    return check


def check_of(folder: Path, shot: Shot) -> Check | None:
    """The coach's word on the covered pictures as they are now; None if he gave none, or anything changed since."""
    path = _path(folder, shot.id, ".checked.toml")
    try:
        row = tomllib.loads(path.read_text("utf-8"))
        check = Check(str(row["by"]), str(row["date"]), int(row["pictures"]), str(row["digest"]))
    except (OSError, ValueError, KeyError, TypeError):
        return None
    return check if row.get("schema") == SCHEMA and check.digest == digest_of(folder, shot) else None


def require_check(folder: Path, shot: Shot) -> Check:
    """The same; raises CaseError saying what to do if there is none."""
    check = check_of(folder, shot)
    if check is None:
        before = _path(folder, shot.id, ".checked.toml").is_file()
        why = "have changed since they were looked at" if before else "have not been looked at by anybody"
        raise CaseError(
            f'The covered pictures of shot "{shot.id}" {why}.',
            "Make the sheet of all pictures with casebook cover FOLDER, look at every one, then: "
            "casebook cover FOLDER --checked --by INITIALS",
        )
    return check


def _forget_pictures(desk: Desk) -> None:
    """Pictures made for the page before somebody was covered go: it asks for the notebooks to be run again."""
    media = desk.out / "media"
    for path in media.iterdir() if media.is_dir() else ():
        if path.is_file() or path.is_symlink():
            path.unlink()


def _is_made_here(cover: Cover) -> bool:
    return cover.name.rstrip("0123456789").rstrip() in (HEAD, IMAGE)


def _path(folder: Path, shot_id: str, ending: str = ".covers.csv") -> Path:
    return folder / "marks" / f"{shot_id}{ending}"
