"""Deleting a case completely, on request, with a receipt that names nobody.

Everything in the folder goes: clips, marks and their journals, locks, notebooks and Jupyter's copies of them, results,
and the word outside the folder that its code may run. casebook keeps nothing else of a case on the computer. A link is
removed and what it points to is never touched. A deletion that was cut short goes on where it stopped when it is asked
for again, and its receipt still counts everything.
"""

from __future__ import annotations

import json
import os
import re
import stat
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

from casebook.case.consent import command_line, releases
from casebook.case.links import entries, is_link
from casebook.case.receipt import Receipt, digest_of_file, digest_over, known_releases, new_number
from casebook.case.settings import FILE, read_settings
from casebook.case.trust import SEAL, distrust
from casebook.case.working import refuse_while_open
from casebook.errors import CaseError
from casebook.files import write_atomic

#: Lies in the folder while its deletion goes on.
PLAN = ".deletion"
#: What casebook and Jupyter put at the top of a case; anything else is named before it goes.
OURS = {FILE, "bands.toml", "clips", "marks", "notebooks", "out", "voice", SEAL, PLAN, ".ipynb_checkpoints"}


@dataclass(frozen=True, slots=True)
class Contents:
    """What a deletion would take.

    ``word`` is what the coach types to confirm, ``foreign`` what casebook did not make, ``begun`` true where an earlier
    deletion was cut short.
    """

    folder: Path
    word: str
    files: int
    size: int
    links: int
    foreign: tuple[str, ...]
    begun: bool = False

    def sentences(self) -> list[str]:
        """What would go, for the coach to read before he confirms."""
        lines = [f'"{self.folder}": {self.files} files, {self.size} bytes.']
        if self.links:
            lines.append(f"{self.links} links are removed; what they point to is not touched.")
        if self.foreign:
            lines.append(f"Also in the folder, and not made by casebook: {', '.join(map(repr, self.foreign))}.")
        if self.begun:
            lines.append("A deletion was cut short here; it goes on.")
        return lines


@dataclass(slots=True)
class _Plan:
    """A deletion under way; ``files`` maps each relative name to its digest and size."""

    number: str
    date: str
    gone_out: tuple[tuple[str, str], ...] = ()
    files: dict[str, tuple[str, int]] = field(default_factory=dict)
    links: set[str] = field(default_factory=set)
    linked: int = 0


def contents_of(folder: Path) -> Contents:
    """What lies in a case. Raises CaseError if the folder is none, or one that must not be deleted whole."""
    _refuse_what_is_no_case(folder)
    found = list(entries(folder))
    nested = [e for e in found if e.name == FILE and Path(e.path).parent != folder]
    if nested:
        raise CaseError(
            f'"{folder}" holds another case in "{Path(nested[0].path).parent.relative_to(folder)}".',
            "Delete or move that one first.",
        )
    links = [e for e in found if is_link(e)]
    files = [e for e in found if not is_link(e) and not e.is_dir(follow_symlinks=False) and e.name != PLAN]
    foreign = tuple(sorted({e.name for e in os.scandir(folder)} - OURS))
    size = sum(e.stat(follow_symlinks=False).st_size for e in files)
    return Contents(folder, _alias(folder), len(files), size, len(links), foreign, (folder / PLAN).is_file())


def delete_case(folder: Path, receipt_folder: Path | None = None, on: date | None = None) -> tuple[Receipt, Path]:
    """Delete a case; returns the receipt and where it lies, by default beside the folder.

    Raises CaseError if the folder is no case, somebody works in it, or something in it resists; in the last case what
    could be deleted is gone, and asking again goes on with the rest.
    """
    contents_of(folder)
    home = folder.resolve()
    place = (receipt_folder or home.parent).resolve()
    if place.is_relative_to(home) or not place.is_dir():
        raise CaseError(f'The receipt cannot lie in "{place}".', "Name a folder outside the case: --receipt FOLDER")
    refuse_while_open(home)
    try:
        plan = _planned(home, on or date.today())
        distrust(home)
        _empty(home, plan)
    except KeyboardInterrupt:
        raise CaseError("Stopped part-way.", f"To go on: {command_line('delete', folder)}") from None
    receipt = Receipt(
        number=plan.number,
        date=plan.date,
        files=len(plan.files),
        size=sum(size for _, size in plan.files.values()),
        links=len(plan.links),
        digest=digest_over(digest for digest, _ in plan.files.values()),
        linked=plan.linked,
        gone_out=plan.gone_out,
    )
    write_atomic(place / receipt.name, receipt.text())
    _remove(home / PLAN)
    home.rmdir()
    return receipt, place / receipt.name


def _refuse_what_is_no_case(folder: Path) -> None:
    if os.path.lexists(folder) and is_link(folder):
        raise CaseError(f'"{folder}" is a link to a folder.', "Name the folder itself.", path=folder)
    marker, plan = folder / FILE, folder / PLAN
    if not any(path.is_file() and not is_link(path) for path in (marker, plan) if os.path.lexists(path)):
        raise CaseError(f'"{folder}" is not a case, and nothing was deleted.', f"A case holds {FILE}.", path=folder)
    home = folder.resolve()
    if Path.home().resolve().is_relative_to(home) or home.parent == home:
        raise CaseError(f'"{folder}" is far more than a case, and nothing was deleted.', "Name the case's folder.")
    if Path.cwd().is_relative_to(home):
        raise CaseError(f'Your terminal stands in "{home.name}".', "Go out of it first, then delete it by its name.")


def _alias(folder: Path) -> str:
    try:
        return str(read_settings(folder).get("alias") or folder.resolve().name)
    except CaseError:
        return folder.resolve().name


def _planned(home: Path, on: date) -> _Plan:
    """The plan on disk, or a new one, with everything that is there now."""
    plan = _read_plan(home / PLAN) or _Plan(new_number(), on.isoformat(), _gone_out(home))
    for entry in entries(home):
        path = Path(entry.path)
        name = path.relative_to(home).as_posix()
        if is_link(entry):
            plan.links.add(name)
        elif not entry.is_dir(follow_symlinks=False) and name != PLAN:
            facts = entry.stat(follow_symlinks=False)
            plan.linked += name not in plan.files and facts.st_nlink > 1
            plan.files[name] = (_digest(path, facts), facts.st_size)
    write_atomic(home / PLAN, json.dumps({"schema": 1, **_as_dict(plan)}))
    return plan


def _digest(path: Path, facts: os.stat_result) -> str:
    if not stat.S_ISREG(facts.st_mode):
        return digest_over(())
    try:
        return digest_of_file(path)
    except PermissionError:
        path.chmod(stat.S_IRUSR | stat.S_IWUSR)
        return digest_of_file(path)


def _gone_out(home: Path) -> tuple[tuple[str, str], ...]:
    try:
        return known_releases(releases(home))
    except CaseError:
        return ()


def _as_dict(plan: _Plan) -> dict[str, object]:
    return {
        "number": plan.number, "date": plan.date, "gone_out": plan.gone_out, "files": plan.files,
        "links": sorted(plan.links), "linked": plan.linked,
    }  # fmt: skip


def _read_plan(path: Path) -> _Plan | None:
    """A plan that was begun; None if there is none, or none that this casebook wrote."""
    try:
        raw = json.loads(path.read_text("utf-8"))
        files = {str(name): (str(digest), int(size)) for name, (digest, size) in raw["files"].items()}
        gone = tuple((str(kind), str(day)) for kind, day in raw["gone_out"])
        plan = _Plan(str(raw["number"]), str(raw["date"]), gone, files, set(map(str, raw["links"])), int(raw["linked"]))
        # Nothing that somebody else put there may come into a receipt.
        words = [plan.number, plan.date, *(digest for digest, _ in files.values()), *(day for _, day in gone)]
        sound = all(re.fullmatch(r"[0-9A-Fa-f-]{1,64}", word) for word in words)
        return plan if sound and known_releases([{"kind": k, "date": d} for k, d in gone]) == gone else None
    except (OSError, ValueError, TypeError, KeyError, AttributeError, RecursionError):
        return None


def _empty(home: Path, plan: _Plan) -> None:
    """Remove everything but the plan, the settings last of all; raises CaseError for what resists."""
    resisting: list[str] = []
    inner_first = list(entries(home))[::-1]
    for entry in sorted(inner_first, key=lambda entry: Path(entry.path) == home / FILE):
        path = Path(entry.path)
        if path == home / PLAN:
            continue
        try:
            _remove(path)
        except OSError as error:
            resisting.append(f'"{path.relative_to(home).as_posix()}" ({error.strerror or error})')
    if resisting:
        raise CaseError(
            f"{len(resisting)} of the files and folders could not be deleted, the first {resisting[0]}.",
            f"Close what holds them, then go on: {command_line('delete', home)}",
            path=home,
        )


def _remove(path: Path) -> None:
    """Remove a file, a link or an empty folder, write-protected or not."""
    act = os.rmdir if path.is_dir() and not is_link(path) else os.unlink
    try:
        act(path)
    except PermissionError:
        with suppress(OSError):
            path.parent.chmod(stat.S_IRWXU)
        if not is_link(path):
            path.chmod(stat.S_IRUSR | stat.S_IWUSR | stat.S_IXUSR)
        act(path)
