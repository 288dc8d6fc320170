"""The squad grid in a real JupyterLab: one key a cell, on disk at once, the loop of the row, letters, undo."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from datetime import date
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from casebook.clip.clip import Clip
from casebook.clip.loop import encode_loop
from casebook.squad.cuts import Cut
from casebook.squad.cutting import cut_recording
from casebook.squad.entry import read_entry
from casebook.squad.grid import Cell, read_grid
from casebook.squad.roster import Member
from casebook.squad.squad import Squad, new_squad

if TYPE_CHECKING:
    from conftest import Lab
    from playwright.sync_api import Page

pytestmark = pytest.mark.browser
SETUP = """
from casebook.squad.squad import Squad
from casebook.squad.grid_widget import squad_grid
squad_grid(Squad.open("squad"))
"""
CHECKPOINTS = ("body_line", "breathing", "entry", "catch", "kick")


def until(look: Callable[[], object], wanted: object, seconds: float = 10.0) -> None:
    """Wait until what is looked at is as wanted."""
    end = time.monotonic() + seconds
    while (seen := look()) != wanted and time.monotonic() < end:
        time.sleep(0.05)
    assert seen == wanted


class Tool:
    """The grid on its page and its file on disk."""

    def __init__(self, page: Page, squad: Squad) -> None:
        self.page, self.squad = page, squad

    def at(self, row: int, column: int) -> Any:
        return self.page.locator(f'.cb-grid [data-at="{row} {column}"]')

    def go(self, row: int, column: int) -> None:
        self.at(row, column).click()

    def press(self, *keys: str) -> None:
        for key in keys:
            self.page.keyboard.press(key)

    def here(self) -> str:
        return str(self.page.evaluate("document.activeElement.dataset.at || ''"))

    def on_disk(self) -> dict[tuple[int, str], Cell]:
        return read_grid(self.squad.grid_file)


def numbered(n: int) -> np.ndarray:
    """A picture as bright as its number is high."""
    return np.full((90, 160, 3), 20 + 8 * n, np.uint8)


@pytest.fixture(scope="module")
def tool(lab: Lab, new_page: Any) -> Iterator[Tool]:
    folder, agreed = lab.folder / "squad", {"consent": True, "sharing": True, "minor": False, "do_not_film": False}
    members = [
        Member(n, name, "learner", until=date(2027, 1, 1), **agreed) for n, name in ((1, "owl"), (3, "jay"), (4, "tit"))
    ]
    new_squad(
        folder, (*members, Member(2, "crow", "learner", do_not_film=True)), date="2026-05-02", coach="mk", invented=True
    )
    squad = Squad.open(folder)
    path = lab.folder / "recording.mp4"
    path.write_bytes(encode_loop((numbered(k % 25) for k in range(50)), np.arange(50) / 10, width=160).mp4)
    with Clip(path) as clip:
        cut_recording(squad, clip, [Cut(0, 25, 1), Cut(25, 50, 3)], progress=False)
    page = new_page()
    lab.run_all(page, lab.notebook("squad_day", [SETUP, "2 + 2"]), ".cb-grid [data-at='0 0']")
    page.locator(".cb-grid").scroll_into_view_if_needed()
    yield Tool(page, squad)


def test_one_key_fills_a_cell_and_it_is_on_disk_at_once(tool: Tool) -> None:
    tool.go(0, 0)
    tool.press("1", "2", "0", "1")
    until(tool.here, "0 4")
    wanted = {(1, "body_line"): Cell("fine", "", "mk"), (1, "breathing"): Cell("look again", "", "mk")}
    until(tool.on_disk, wanted | {(1, "catch"): Cell("fine", "", "mk")})


def test_a_fault_stays_for_its_letter_and_then_goes_on_to_the_next_swimmer(tool: Tool) -> None:
    tool.go(0, 4)
    tool.press("3")
    until(lambda: tool.on_disk().get((1, "kick")), Cell("fault", "", "mk"))
    assert tool.here() == "0 4"
    letters = tool.page.locator(".cbg-letters button")
    assert letters.count() == 4 and "the feet fly apart" in letters.first.inner_text()
    tool.press("d")
    until(lambda: tool.on_disk().get((1, "kick")), Cell("fault", "hooked_feet", "mk"))
    until(tool.here, "1 0")
    until(lambda: "the feet are hooked" in tool.at(0, 4).inner_text(), True)


def test_undo_goes_back_to_the_cell_it_undoes_and_redo_as_well(tool: Tool) -> None:
    before = tool.on_disk()
    tool.go(1, 1)
    tool.press("2")
    until(lambda: tool.on_disk().get((3, "breathing")), Cell("look again", "", "mk"))
    tool.press("Control+z")
    until(tool.on_disk, before)
    until(tool.here, "1 1")
    tool.press("Control+Shift+Z")
    until(lambda: tool.on_disk().get((3, "breathing")), Cell("look again", "", "mk"))
    tool.press("Control+z")
    until(tool.on_disk, before)


def test_arrows_move_and_the_rows_loop_comes_beside_it(tool: Tool) -> None:
    tool.go(0, 2)
    video = "document.querySelector('.cb-grid video')"
    until(lambda: tool.page.evaluate(f"{video}.src.startsWith('blob:') && {video}.readyState >= 2"), True)
    first = tool.page.evaluate(f"{video}.src")
    tool.press("ArrowDown")
    until(lambda: tool.page.evaluate(f"{video}.src !== '{first}' && {video}.readyState >= 2"), True)
    assert tool.page.locator(".cbg-whose").inner_text() == "3 jay"
    tool.press("ArrowDown")
    assert tool.page.locator(".cbg-blank").is_visible(), "nothing was cut for the third"
    tool.press("ArrowDown", "End", "PageUp", "Home")
    assert tool.here() == "0 0"


def test_the_picture_on_screen_is_taken_for_the_card(tool: Tool) -> None:
    tool.go(1, 0)
    video = "document.querySelector('.cb-grid video')"
    until(lambda: tool.page.evaluate(f"{video}.readyState >= 2"), True)
    tool.page.evaluate(f"{video}.pause(); {video}.currentTime = 0.75")
    tool.press(".")
    until(lambda: tool.page.evaluate(f"Math.round({video}.currentTime * 100)"), 85)
    tool.press("s")
    until(lambda: read_entry(tool.squad, 3).still, 8)


def test_it_is_a_grid_with_names_for_those_who_hear_it(tool: Tool) -> None:
    page = tool.page
    assert page.locator('.cb-grid [role="grid"]').get_attribute("aria-label") == "Swimmers by checkpoints"
    assert page.locator('.cb-grid [role="columnheader"]').all_inner_texts()[1:] == [
        "body line", "breathing", "entry", "catch", "kick",
    ]  # fmt: skip
    assert page.locator('.cb-grid [role="gridcell"][tabindex="0"]').count() == 1
    assert tool.at(0, 4).get_attribute("aria-label") == "fault, the feet are hooked"
    assert tool.at(0, 0).inner_text() == "fine" and tool.at(2, 0).get_attribute("aria-label") == "not seen"
    tool.go(0, 0)
    outline = page.evaluate(
        "(e => [e.outlineStyle, parseFloat(e.outlineWidth)])(getComputedStyle(document.activeElement))"
    )
    assert outline[0] == "solid" and outline[1] >= 2
    assert "crow" not in page.locator(".cb-grid").inner_text(), "whoever may not be filmed has no row"


def test_its_keys_stay_out_of_the_notebook(tool: Tool) -> None:
    cells = tool.page.locator(".jp-Notebook-cell").count()
    tool.go(2, 0)
    tool.press("a", "b", "0", "0", "ArrowUp", "c", "Control+z", "x")
    assert tool.page.locator(".jp-Notebook-cell").count() == cells and tool.page.locator(".jp-Dialog").count() == 0


def test_what_cannot_be_saved_is_said(tool: Tool) -> None:
    kept = tool.squad.grid_file.read_bytes()
    tool.squad.grid_file.write_text("torn\n", "utf-8")
    tool.go(2, 1)
    tool.press("1")
    trouble = tool.page.locator(".cbg-trouble")
    until(lambda: "columns do not fit" in (trouble.text_content() or ""), True)
    tool.squad.grid_file.write_bytes(kept)
    tool.press("1")
    until(trouble.is_visible, False)
