"""Where the files that ship with casebook lie: inside the installed package, or beside it in a checkout."""

from __future__ import annotations

from pathlib import Path

from casebook.errors import CasebookError

_PACKAGE = Path(__file__).resolve().parent
#: Notebooks about a group of people: they belong to no swimmer's case.
OF_A_GROUP = ("16_workshop", "17_squad_day")


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
    """The templates of a swimmer's notebooks, in teaching order; those about a group of people are none of them."""
    return sorted(p for p in shipped("notebooks").glob("*.ipynb") if p.stem not in OF_A_GROUP)


def template(stem: str) -> Path:
    """One notebook template by its name without ending, of a swimmer or of a group."""
    return shipped("notebooks") / f"{stem}.ipynb"
