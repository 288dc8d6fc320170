"""A page from notebooks whose every byte somebody else wrote."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from nbformat.v4 import new_notebook

from casebook.pages.page import render_page


def write_cells(path: Path, cells: Sequence[Any]) -> Path:
    """A notebook on disk; letters that are none are kept as escapes, as JSON allows."""
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(json.dumps(new_notebook(cells=list(cells)), ensure_ascii=True), "utf-8")
    return path


def page_of(
    folder: Path, *notebooks: Sequence[Any], title: str = "x", alias: str = "", media: Path | None = None
) -> str:
    """The page of one or more notebooks, given as cells."""
    paths = [write_cells(folder / f"{n:02d}_part.ipynb", cells) for n, cells in enumerate(notebooks)]
    target = render_page(paths, media or folder / "media", folder / "page.html", title=title, alias=alias)
    return target.read_text("utf-8")
