"""The notebook for clip and marks: the coach looks before any number appears, and nothing of it goes on the page."""

from __future__ import annotations

import re

import pytest

from casebook.case.notebooks import COACH, read_notebook
from casebook.pages.section import HIDE, read_section
from casebook.resources import templates


@pytest.fixture(scope="module")
def path():
    return min(templates(), key=lambda p: p.name)


def test_it_stands_first_and_is_the_coachs_alone(path):
    assert path.name == "00_clip_and_marks.ipynb"
    assert all(set(cell.metadata.get("tags", ())) & HIDE for cell in read_notebook(path).cells)
    section = read_section(path)
    assert section.has_run and section.is_for_the_coach


def test_the_first_impression_is_written_before_any_number_appears(path):
    cells = read_notebook(path).cells
    slots = [cell.metadata.get("casebook", {}).get("slot", "") for cell in cells]
    place = slots.index("clip-first-impression")
    assert COACH in cells[place].metadata["tags"]
    for cell in cells[:place]:
        for output in cell.get("outputs", ()):
            words = output.get("text", "") or output["data"].get("text/plain", "")
            assert words.startswith("FrameMarker("), "the clip to look at, and nothing that was measured"
    printed = [c for c in cells[place:] for o in c.get("outputs", ()) if re.search(r"\d", o.get("text", ""))]
    assert len(printed) >= 2
