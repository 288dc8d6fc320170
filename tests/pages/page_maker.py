"""Notebooks as a coach's case would hold them, made without running any."""

from __future__ import annotations

import base64
from pathlib import Path
from typing import Any

import nbformat
from invented_catch import InventedCatch, figure_to_aim_for, invented_desk
from nbformat.v4 import new_code_cell, new_markdown_cell, new_notebook, new_output

from casebook.pages import show
from casebook.pages.block import Block
from casebook.pages.page import render_page

COACH_WORDS = "Leave the arm shape alone.\n\nSix easy 25s: *tip, hold, press*."


def block_cell(block: Block, tags: tuple[str, ...] = (), source: str = "show.x(desk, catch)") -> Any:
    """A code cell that has shown a block."""
    return output_cell(block._repr_mimebundle_(), tags, source)


def output_cell(bundle: dict[str, Any], tags: tuple[str, ...] = (), source: str = "x") -> Any:
    """A code cell with one output."""
    data = {k: base64.b64encode(v).decode() if isinstance(v, bytes) else v for k, v in bundle.items()}
    cell = new_code_cell(source, outputs=[new_output("display_data", data=data)])
    cell.metadata["tags"] = list(tags)
    return cell


def text_cell(source: str, *tags: str) -> Any:
    """A Markdown cell."""
    cell = new_markdown_cell(source)
    cell.metadata["tags"] = list(tags)
    return cell


def catch_cells(desk: Any, catch: Any, loop: bool = True) -> list[Any]:
    """The catch as a notebook shows it."""
    blocks = [show.headline(desk, catch), show.whole(desk, catch), show.stills(desk, catch)]
    blocks.append(show.pair(desk, catch, figure_to_aim_for()))
    if loop:
        blocks.append(show.loop(desk, catch))
    blocks += [show.measures(desk, catch), show.curve(desk, catch), show.meaning(desk, catch)]
    after = [show.caution(desk, catch), show.facts(desk), show.sources(desk, catch), show.provenance(desk, catch)]
    return [
        text_cell("# The catch"),
        *map(block_cell, blocks),
        text_cell(COACH_WORDS, "coach"),
        *map(block_cell, after),
    ]


def write_notebook(path: Path, cells: list[Any]) -> Path:
    """Save cells as an executed notebook."""
    path.parent.mkdir(parents=True, exist_ok=True)
    nbformat.write(new_notebook(cells=cells), path)
    return path


def catch_page(folder: Path, extra: tuple[Any, ...] = (), loop: bool = True, **facts: object) -> Path:
    """A page of the invented catch, with more cells at its end."""
    desk, catch = invented_desk(folder, **facts), InventedCatch()
    notebook = write_notebook(folder / "notebooks" / "04_catch.ipynb", [*catch_cells(desk, catch, loop), *extra])
    return render_page(
        [notebook], desk.out / "media", folder / "page.html", title="Rowan: the catch", alias="Rowan", invented=True
    )
