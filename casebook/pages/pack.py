"""The workshop pack: cases for teaching, with nothing in them that leads to the swimmer, the coach or the computer.

A pack is a folder: ``pack.toml`` says who it is for and lists every file with its digest; ``cases/<alias>/`` holds each
case (``case.json``, covered stills and loops). It is made beside its place under another name, read again byte by byte,
and only then put there.
"""

from __future__ import annotations

import hashlib
import re
import secrets as tickets
import shutil
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import TYPE_CHECKING

import tomlkit

from casebook.case.case import Case
from casebook.case.consent import Standing, note_release, require
from casebook.case.covering import check_of, for_others, require_check, withheld
from casebook.errors import CaseError, ConsentError, PageError
from casebook.files import write_atomic
from casebook.pages.pack_check import look_through, refuse
from casebook.pages.pack_secrets import Secret, plain, secrets_of
from casebook.pages.teaching_case import TeachingCase, load_teaching_case, save_teaching_case, tell_case

if TYPE_CHECKING:
    from casebook.clip.shot import Shot

SCHEMA = 1
FILE = "pack.toml"
_ALIAS = re.compile(r"[A-Za-z][A-Za-z0-9-]{0,39}")


@dataclass(frozen=True, slots=True)
class Pack:
    """A pack as it was made: where, for whom, its cases by alias, its files, and what the coach should know."""

    folder: Path
    audience: str
    aliases: tuple[str, ...]
    files: tuple[str, ...]
    size: int
    notes: tuple[str, ...] = ()

    def __str__(self) -> str:
        who = ", ".join(self.aliases)
        told = f"{self.folder.name}: {who}; {len(self.files)} files, {self.size / 1e6:.1f} MB, for {self.audience}."
        return " ".join([told, *self.notes])


def make_pack(
    cases: Sequence[Case],
    out: Path,
    audience: str,
    aliases: Mapping[str, str] | None = None,
    shots: Sequence[str] = (),
) -> Pack:
    """Make a workshop pack.

    Parameters
    ----------
    cases : sequence of Case
    out : Path
        A folder that is not there yet.
    audience : str
        Who will see it, in the words of the consents.
    aliases : mapping, optional
        From a case's alias to the one it goes by in the pack.
    shots : sequence of str, optional
        Only these shots; all of a case's unless given.

    Raises
    ------
    CasebookError
        A case without consent for teaching this audience; covered pictures that nobody has looked at; or anything in
        the finished pack that must not be there: file and kind are named, and nothing is kept.
    """
    named = _named(cases, aliases or {})
    told = _agreed(cases, audience)
    if out.exists():
        raise PageError(f'"{out}" is there already.', "Name a folder that is not there yet.")
    only = [_only_shots(case, shots) for case in cases]
    part = out.with_name(f".{out.name}.{tickets.token_hex(4)}.part")
    try:
        notes = [_put(case, alias, told, part) for case, alias in zip(only, named, strict=True)]
        files = _list(part, told, named)
        refuse(look_through(part, _hidden(cases, named)))
        _read_back(part, named)
        part.replace(out)
    finally:
        shutil.rmtree(part, ignore_errors=True)
    for case in cases:
        if not case.invented:
            note_release(case, "pack", out.name)
    size = sum((out / name).stat().st_size for name in files)
    return Pack(out, told, tuple(named), tuple(files), size, tuple(filter(None, notes)))


def _named(cases: Sequence[Case], aliases: Mapping[str, str]) -> list[str]:
    known = {case.alias for case in cases}
    for alias in aliases:
        if alias not in known:
            raise PageError(f'No case of this pack goes by "{alias}".', f"They are: {', '.join(sorted(known))}.")
    named = [aliases.get(case.alias, case.alias) for case in cases]
    for alias in named:
        if not _ALIAS.fullmatch(alias):
            raise PageError(f'"{alias}" cannot serve as an alias in a pack.', "Choose a short word of plain letters.")
    if not named or len({a.lower() for a in named}) < len(named):
        raise PageError("Each case of a pack needs an alias of its own.", "Name the cases, and --alias OLD=NEW.")
    return named


def _agreed(cases: Sequence[Case], audience: str) -> str:
    """The audience, if every consent names it."""
    audience = " ".join(audience.split())
    standings: list[tuple[Case, Standing]] = [(case, require(case, "teaching")) for case in cases]
    if not audience:
        raise ConsentError("A pack says who will see it.", 'Name them: --audience "..."')
    for case, found in standings:
        if found.consent is not None and plain(found.consent.audience) != plain(audience):
            raise ConsentError(
                f'The consent of "{case.alias}" is for another audience: "{found.consent.audience}".',
                "Show it to them alone; or ask again, for this audience.",
            )
    return audience


def _only_shots(case: Case, shots: Sequence[str]) -> Case:
    if not shots:
        return case
    rows = tuple(row for row in case._shots if row["id"] in shots)
    if not rows:
        raise CaseError(f'The case "{case.alias}" has none of these shots.', f"It has: {', '.join(case.shots)}.")
    return replace(case, _shots=rows)


class _CoveredCase(Case):
    """A case of which no picture can be had but a covered one, and none of a shot that nobody has looked at."""

    def shot(self, shot_id: str = "") -> Shot:
        shot = Case.shot(self, shot_id)
        require_check(self.folder, shot)
        return for_others(self.folder, shot, name=f"film {self.shots.index(shot.id) + 1}")


def _put(case: Case, alias: str, audience: str, part: Path) -> str:
    """Write one case into a pack; returns what the coach should know, if anything."""
    folder = part / "cases" / alias
    covered = _CoveredCase(**{f.name: getattr(case, f.name) for f in fields(case)} | {"alias": alias})
    told = tell_case(covered, folder, desk_of=covered.desk, audience=audience)
    save_teaching_case(replace(told, audience=audience), folder)
    _leave_only_named(told, folder)
    blank = sum(len(withheld(case.folder, case.shot(name))) for name in case.shots)
    return f"{alias}: of {blank} frames nothing is shown, for no head is covered there." if blank else ""


def _leave_only_named(told: TeachingCase, folder: Path) -> None:
    """Nothing lies in the folder but what the case names."""
    named = {"case.json", *told.files}
    for path in folder.iterdir():
        if path.name not in named:
            path.unlink()


def _list(part: Path, audience: str, aliases: Sequence[str]) -> list[str]:
    files = sorted(p.relative_to(part).as_posix() for p in part.rglob("*") if p.is_file())
    document = tomlkit.document()
    document.update({"schema": SCHEMA, "audience": audience, "aliases": list(aliases)})
    rows = tomlkit.aot()
    for name in files:
        row = tomlkit.table()
        row.update({"name": name, "sha256": hashlib.sha256((part / name).read_bytes()).hexdigest()})
        rows.append(row)
    document.append("file", rows)
    write_atomic(part / FILE, tomlkit.dumps(document))
    return [FILE, *files]


def _hidden(cases: Sequence[Case], aliases: Sequence[str]) -> list[Secret]:
    found: list[Secret] = []
    for case in cases:
        initials = [c.by for shot in case.shots if (c := check_of(case.folder, case.shot(shot))) is not None]
        found += secrets_of(case, aliases, initials)
    return found


def _read_back(part: Path, aliases: Sequence[str]) -> None:
    """Every case reads, and every file it names is there."""
    for alias in aliases:
        folder = part / "cases" / alias
        case = load_teaching_case(folder)
        missing = [name for name in case.files if not (folder / name).is_file()]
        if missing:
            raise PageError(f'The case "{alias}" of the pack lacks "{missing[0]}".', "Make the pack again.")
