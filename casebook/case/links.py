"""Links in a case folder: one that leads out of it is refused, whoever put it there."""

from __future__ import annotations

import os
import stat
from collections.abc import Iterator
from pathlib import Path

from casebook.errors import CaseError

#: Windows' junctions are folders that lead elsewhere.
_JUNCTION = getattr(stat, "IO_REPARSE_TAG_MOUNT_POINT", None)


def is_link(path: Path | os.DirEntry[str]) -> bool:
    """True for a symbolic link and for a junction."""
    if path.is_symlink():
        return True
    return _JUNCTION is not None and getattr(os.lstat(path), "st_reparse_tag", 0) == _JUNCTION


def entries(folder: Path) -> Iterator[os.DirEntry[str]]:
    """Everything under a folder, a folder before what is in it; links are named and never followed."""
    with os.scandir(folder) as found:
        rows = sorted(found, key=lambda entry: entry.name)
    for entry in rows:
        yield entry
        if entry.is_dir(follow_symlinks=False) and not is_link(entry):
            yield from entries(Path(entry.path))


def refuse_links_out(folder: Path) -> None:
    """Raise CaseError if anything in a case is a link to something outside it."""
    home = folder.resolve()
    for entry in entries(folder):
        if is_link(entry) and not Path(entry.path).resolve().is_relative_to(home):
            name = Path(entry.path).relative_to(folder).as_posix()
            raise CaseError(
                f'"{name}" in the case "{folder.name}" is a link that leads out of the case.',
                "Put the file itself there, or remove the link.",
                path=Path(entry.path),
            )
