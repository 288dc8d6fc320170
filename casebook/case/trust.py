"""Whether a case may run its code here: cases made on this computer may; one from elsewhere asks once."""

from __future__ import annotations

import hashlib
import os
from pathlib import Path

import platformdirs

from casebook.files import write_atomic


def _folder() -> Path:
    own = os.environ.get("CASEBOOK_DATA")
    return Path(own) if own else Path(platformdirs.user_data_dir("casebook", appauthor=False))


def _ticket(case_folder: Path) -> Path:
    name = hashlib.sha256(str(case_folder.resolve()).encode()).hexdigest()[:32]
    return _folder() / "trusted" / name


def trust(case_folder: Path) -> None:
    """Remember that this case may run its notebooks on this computer."""
    write_atomic(_ticket(case_folder), "")


def is_trusted(case_folder: Path) -> bool:
    """True for cases made here and for those that the coach said yes to."""
    return _ticket(case_folder).is_file()
