"""Somebody in the next lane covered by hand in a real JupyterLab, and found covered in the case's own clip."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from marker_page import until

from casebook.case.case import Case
from casebook.case.covering import covers_of
from casebook.case.create import ClipAnswers, new_case
from casebook.clip.cover import FILL

sys.path.append(str(Path(__file__).parents[1] / "case"))

from two_swimmers import FRAMES, film_of_two

if TYPE_CHECKING:
    from conftest import Lab
    from playwright.sync_api import Page

pytestmark = pytest.mark.browser
SETUP = """
from pathlib import Path
from casebook.case.case import Case
from casebook.widgets.cover_board import cover_board
cover_board(Case.open(Path("lane")).desk())
"""


@pytest.fixture(scope="module")
def board(lab: Lab, browser, tmp_path_factory) -> Iterator[tuple[Page, Path]]:
    film = film_of_two(tmp_path_factory.mktemp("film") / "two.mp4")
    folder = new_case(lab.folder / "lane", film, ClipAnswers(), coach="AB")
    page = browser.new_page(viewport={"width": 1280, "height": 1000})
    lab.run_all(page, lab.notebook("covers", [SETUP]), ".cb-board-stage img")
    yield page, folder
    page.close()


def drag(page: Page, box: tuple[float, float, float, float]) -> None:
    """Over a part of the picture, given in shares of its sides."""
    stage = page.locator(".cb-board-stage").bounding_box()
    assert stage is not None
    x, y, wide, high = stage["x"], stage["y"], stage["width"], stage["height"]
    page.mouse.move(x + box[0] * wide, y + box[1] * high)
    page.mouse.down()
    page.mouse.move(x + box[2] * wide, y + box[3] * high, steps=4)
    page.mouse.up()


def test_a_box_drawn_over_a_bystander_is_covered_from_then_on(board):
    page, folder = board
    shot = Case.open(folder).shots[0]
    page.get_by_label("What it is").select_option("bystander")
    drag(page, (0.01, 0.56, 0.99, 0.99))
    page.get_by_role("button", name="Cover the box").click()
    until(lambda: [c.name for c in covers_of(folder, shot)], ["bystander 1"])
    (x0, y0), _, (x1, y1), _ = covers_of(folder, shot)[0].keys[0].corners
    for got, drawn in ((x0, 0.01 * 480), (y0, 0.56 * 270), (x1, 0.99 * 480), (y1, 0.99 * 270)):
        assert got == pytest.approx(drawn, abs=2.0)
    assert (Case.open(folder).shot().clip.frame(5)[170:260, 20:460] == FILL).all()
    until(lambda: page.locator(".cb-board li").inner_text().startswith("bystander 1"), True)


def test_the_arrow_keys_go_from_frame_to_frame_and_a_second_box_lets_a_cover_move(board):
    page, folder = board
    shot = Case.open(folder).shots[0]
    page.locator(".cb-board-stage").focus()
    page.keyboard.press("End")
    until(lambda: page.locator(".cb-board-now").inner_text().split(":")[0], f"frame {FRAMES - 1}")
    page.keyboard.press("ArrowLeft")
    until(lambda: page.locator(".cb-board-now").inner_text().split(":")[0], f"frame {FRAMES - 2}")
    page.get_by_label("Belongs to").select_option("bystander 1")
    for side, value in (("left", 0), ("top", 150), ("right", 240), ("bottom", 270)):
        page.get_by_label(f"{side} [px]").fill(str(value))
    page.locator(".cb-board-stage").focus()
    page.keyboard.press("Enter")
    until(lambda: [k.frame for k in covers_of(folder, shot)[0].keys], [0, FRAMES - 2])


def test_what_cannot_be_covered_is_told_and_a_cover_can_be_taken_away(board):
    page, folder = board
    shot = Case.open(folder).shots[0]
    page.get_by_label("What it is").select_option("suit")
    page.get_by_label("Belongs to").select_option("bystander 1")
    drag(page, (0.1, 0.1, 0.2, 0.2))
    page.get_by_role("button", name="Cover the box").click()
    until(lambda: "kind bystander" in page.locator(".cb-board-trouble").inner_text(), True)
    page.get_by_role("button", name="Take away bystander 1").click()
    until(lambda: covers_of(folder, shot), ())
