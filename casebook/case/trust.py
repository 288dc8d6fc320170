"""Whether a case may run its code here: cases made on this computer may; one from elsewhere asks once.

The coach's yes is kept outside the case, where no case can reach, and holds for the very folder it was said for: a seal
in the folder must be the one that was set then, by its word and by when the system says it came to lie there. A folder
put in its place, even a copy with the seal in it, is another one.
"""

from __future__ import annotations

import hashlib
import os
import secrets
from pathlib import Path

import platformdirs

from casebook.files import write_atomic

#: Lies in a trusted case. It says nothing by itself.
SEAL = ".made_here"
#: Disks tell one and the same time with less difference than this. [ns]
CLOCK_NS = 1_000_000


def _folder() -> Path:
    own = os.environ.get("CASEBOOK_DATA")
    return Path(own) if own else Path(platformdirs.user_data_dir("casebook", appauthor=False))


def _ticket(case_folder: Path) -> Path:
    name = hashlib.sha256(str(case_folder.resolve()).encode()).hexdigest()[:32]
    return _folder() / "trusted" / name


def trust(case_folder: Path) -> None:
    """Remember that this case may run its notebooks on this computer."""
    write_atomic(case_folder / SEAL, secrets.token_hex(16) + "\n")
    word, since = _seal(case_folder) or ("", 0)
    write_atomic(_ticket(case_folder), f"{word} {since}\n")


def is_trusted(case_folder: Path) -> bool:
    """True for cases made here and for those that the coach said yes to."""
    try:
        word, since = _ticket(case_folder).read_text("utf-8").split()
        found = _seal(case_folder)
        return found is not None and found[0] == word and abs(found[1] - int(since)) <= CLOCK_NS
    except (OSError, ValueError):
        return False


def distrust(case_folder: Path) -> bool:
    """Forget what was said about a case; True if anything was."""
    ticket = _ticket(case_folder)
    known = ticket.exists()
    ticket.unlink(missing_ok=True)
    return known


def _seal(case_folder: Path) -> tuple[str, int] | None:
    """Word of the seal and when it came to lie there, by the system's own clock, which copying does not set. [ns]"""
    path = case_folder / SEAL
    if path.is_symlink() or not path.is_file():
        return None
    return path.read_text("utf-8").strip(), path.stat().st_ctime_ns
