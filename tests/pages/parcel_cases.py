"""Demo cases as they are before a notebook has run, with the one block that a page of them begins with."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from page_maker import block_cell, text_cell, write_notebook

from casebook.case.case import Case
from casebook.case.overview import Overview, overview
from casebook.demo.case import build_demo_case
from casebook.pages import show


@dataclass
class DemoParcel:
    """A demo case and its overview."""

    folder: Path
    who: str

    @cached_property
    def case(self) -> Case:
        return Case.open(build_demo_case(self.folder / self.who, self.who))

    @cached_property
    def found(self) -> Overview:
        return overview(self.case)


def run_first_page(case: Case, found: Overview) -> None:
    """Leave the case with one notebook that has run: its first page's headline."""
    for path in case.notebooks:
        path.unlink()
    cells = [text_cell("# What to work on first"), block_cell(show.first(case, found))]
    write_notebook(case.folder / "notebooks" / "13_first.ipynb", cells)
