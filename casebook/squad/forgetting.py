"""Taking one swimmer out of a squad: clips, cards, rows. What was handed over is for the coach to get back."""

from __future__ import annotations

import shutil
from typing import TYPE_CHECKING

from casebook.squad.grid import Grid, read_grid
from casebook.squad.lanes import COLUMNS, REMARKS
from casebook.squad.rows import read_rows, write_rows

if TYPE_CHECKING:
    from casebook.squad.squad import Squad


def forget(squad: Squad, number: int) -> list[str]:
    """Delete everything made of one number; returns what was deleted and what is left to do, in sentences."""
    said = []
    for place, what in (("swimmers", "clips and card"), ("cases", "case")):
        folder = squad.folder / place / str(number)
        if folder.is_dir() and not folder.is_symlink():
            shutil.rmtree(folder)
            said.append(f"Deleted the {what} of number {number}.")
    own = [place for place in read_grid(squad.grid_file) if place[0] == number]
    grid = Grid(squad.grid_file)
    for _, checkpoint in own:
        grid.put(number, checkpoint, "")
    said += [f"Deleted {len(own)} cells of the grid."] if own else []
    _out_of_lanes(squad, number)
    for page in squad.out.glob("*.html"):
        page.unlink()
    said.append("Deleted the pages in out/: make them anew.")
    said.append("Still to do by you: his line in the roster, the recording itself, and whatever was handed over.")
    return said


def _out_of_lanes(squad: Squad, number: int) -> None:
    if squad.lanes_file.is_file():
        kept = [r for r in read_rows(squad.lanes_file, COLUMNS) if r["number"] != str(number)]
        write_rows(squad.lanes_file, COLUMNS, [[r[c] for c in COLUMNS] for r in kept], REMARKS)
