"""From a number to the frames that it was read from: the right stroke and picture, and no promise without one."""

from __future__ import annotations

import re
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from invented_catch import InventedCatch, invented_desk, still
from page_maker import block_cell, catch_cells, write_notebook

from casebook.checkpoints.finding import StrokeValue
from casebook.pages import show
from casebook.pages.page import render_page
from casebook.pages.show_charts import _read_from
from casebook.pages.where import Reading, Spot, Where, readings, where_of

LOOP = Spot("loop", "catch", "side", "r", 2, 10, 50, True)
STILL = Spot("still", "catch", "side", "r", 2, 31, 32)
OTHER = Spot("other", "catch", "side", "r", 3, 80, 81)
WHERE = Where((STILL, LOOP, OTHER))


def behind(stroke: int, first: int, last: int, side: str = "r", shot: str = "side", section: str = "catch") -> Any:
    return WHERE.behind(section, Reading(shot, side, stroke, first, last))


def test_a_loop_opens_at_the_still_of_the_stroke_read_there() -> None:
    assert behind(2, 30, 30) == (LOOP, 21), "the value was read between frames 30 and 31"
    assert behind(2, 12, 48) == (LOOP, 21), "of a whole cycle the still is shown"


def test_without_a_still_a_loop_opens_at_the_middle_of_a_short_stretch_and_the_start_of_a_long_one() -> None:
    assert behind(7, 40, 44) == (LOOP, 32)
    assert behind(7, 12, 48) == (LOOP, 2)


def test_a_stroke_outside_the_loop_is_found_among_the_pictures() -> None:
    assert behind(3, 79, 81) == (OTHER, 0)


@pytest.mark.parametrize(
    "asked",
    [
        (9, 90, 90), (3, 90, 90), (2, 80, 80),  # no such frame, or that of another stroke
        (3, 80, 80, "l"), (2, 31, 31, "r", "front"), (2, 31, 31, "r", "side", "kick"),  # side, shot, section
    ],
)  # fmt: skip
def test_where_no_picture_of_it_stands_nothing_is_promised(asked: tuple[Any, ...]) -> None:
    assert behind(*asked) is None


def test_a_stroke_of_another_pass_is_looked_for_in_that_pass() -> None:
    told = _read_from(StrokeValue(2, 1.0, 0.1, 0.1, (41, 40), 0.5, "second_pass"), "side")
    assert told == {"stroke": 2, "shot": "second_pass", "first": 40, "last": 41}
    assert _read_from(StrokeValue(2, 1.0, 0.1, 0.1, (7,), 0.5), "side")["shot"] == "side"


@pytest.mark.parametrize(
    "junk", [None, 3, "x", [3], [[1, 2, 3]], [{"stroke": "2", "first": 1, "last": 2}], [{"stroke": 2}]]
)
def test_nonsense_leads_nowhere(junk: object) -> None:
    assert readings({"read": junk, "side": junk}) == []
    blocks = [{"kind": "loop", "times": junk, "others": junk, "name": junk}, {"kind": "stills", "pictures": junk}, {}]
    assert all(s.shot == "" for s in where_of([("a", blocks)]).spots)


def page_of(folder: Path, catch: InventedCatch, loop: bool = True) -> str:
    desk = invented_desk(folder)
    notebook = write_notebook(folder / "04_catch.ipynb", catch_cells(desk, catch, loop=loop))
    return render_page([notebook], desk.out / "media", folder / "p.html", title="Rowan").read_text("utf-8")


def test_every_link_of_a_page_has_a_place_to_go_with_and_without_the_loop(tmp_path: Path) -> None:
    for name, loop in (("with", True), ("without", False)):
        html = page_of(tmp_path / name, InventedCatch(), loop)
        ids = re.findall(r' id="([^"]+)"', html)
        assert len(ids) == len(set(ids))
        wanted = set(re.findall(r'href="#([^"]+)"', html))
        assert wanted <= {*ids}
        # The values of the invented catch are read from frame 20, of which the page has the still of halfway down.
        row = html[html.index('class="find"') :]
        link = re.search(r'<a href="#([^"]+)" class="see"(?: data-at="(\d+)")?', row)
        assert link is not None
        if loop:
            start = int(re.search(r'data-start="(\d+)"', html)[1])  # type: ignore[index]
            assert link[1] == "rowan-side-catch-2" and int(link[2]) == 20 - (31 - start)
        else:
            assert link[1] == "04-catch-rowan-side-halfway-2" and link[2] is None
            assert "step" not in re.findall(r'class="([^"]+)"', html), "no loop is promised"


def test_the_other_strokes_spoken_of_are_shown_small_and_no_stroke_twice(tmp_path: Path) -> None:
    stills = (*InventedCatch().stills, *(still(k, "reach", "Full reach") for k in (2, 5)))
    own = tuple(
        s if k < 3 else SimpleNamespace(**{f: getattr(s, f) for f in s.__slots__} | {"stroke": k})
        for k, s in enumerate(stills)
    )
    data = show.loop(invented_desk(tmp_path), InventedCatch(stills=own)).data
    assert [(p["stroke"], p["frame"]) for p in data["others"]] == [(3, 2), (4, 5)]
    assert data["stroke"] == 2 and data["first"] == 31 - data["start"]
    for picture in data["others"]:
        assert (tmp_path / "out" / "media" / picture["file"]).is_file() and picture["alt"].startswith("Stroke ")


def test_a_stroke_that_no_number_speaks_of_is_left_out(tmp_path: Path) -> None:
    extra = still(5, "reach", "Full reach")
    foreign = SimpleNamespace(**{f: getattr(extra, f) for f in extra.__slots__} | {"stroke": 40})
    data = show.loop(invented_desk(tmp_path), InventedCatch(stills=(*InventedCatch().stills, foreign))).data
    assert data["others"] == []


def test_what_the_first_section_says_of_the_swimmer_is_not_said_again(tmp_path: Path) -> None:
    desk, catch = invented_desk(tmp_path), InventedCatch()
    first = write_notebook(tmp_path / "n" / "13.ipynb", [block_cell(show.headline(desk, catch))])
    import nbformat

    book = nbformat.read(first, 4)
    book.metadata["casebook"] = {"page": "first"}
    nbformat.write(book, first)
    second = write_notebook(tmp_path / "n" / "04.ipynb", [block_cell(show.headline(desk, catch))])
    html = render_page([first, second], desk.out / "media", tmp_path / "p.html", title="t").read_text("utf-8")
    assert html.count("open water, 1500 m") == 1


def test_the_figures_are_explained_once_and_pointed_to_after_that(tmp_path: Path) -> None:
    desk, catch = invented_desk(tmp_path), InventedCatch()
    books = [write_notebook(tmp_path / "n" / f"{k}.ipynb", catch_cells(desk, catch, loop=False)) for k in ("04", "05")]
    html = render_page(books, desk.out / "media", tmp_path / "p.html", title="t").read_text("utf-8")
    assert html.count("each ring is one stroke") == 1
    assert html.count('href="#how-to-read"') == 1 and html.count('id="how-to-read"') == 1
