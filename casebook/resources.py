"""Where the files that ship with casebook lie: inside the installed package, or beside it in a checkout."""

from __future__ import annotations

from pathlib import Path

from casebook.errors import CasebookError

_PACKAGE = Path(__file__).resolve().parent


def shipped(name: str) -> Path:
    """Folder of shipped files: ``notebooks`` (the templates) or ``demo_clips``."""
    for place in (_PACKAGE / "_data" / name, _PACKAGE.parent / name):
        if place.is_dir():
            return place
    raise CasebookError(
        f'The folder "{name}" that ships with casebook is missing.',
        "Install casebook again: pip install --force-reinstall casebook",
    )


def templates() -> list[Path]:
    """The notebook templates, in teaching order."""
    return sorted(shipped("notebooks").glob("*.ipynb"))
