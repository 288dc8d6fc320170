"""The frame marker in a real JupyterLab and a real browser, on frames that carry their own number and known dots."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

import numpy as np
import pytest
from marker_page import COUNT, SETUP, SHOW, TIMES, WHITE, Tool, encode, until

from casebook.marks.store import MarkStore

if TYPE_CHECKING:
    from conftest import Lab

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def tool(lab: Lab, new_page: Any) -> Iterator[Tool]:
    encode(lab.folder / "numbered.mp4")
    csv = lab.folder / "numbered.csv"
    with MarkStore(csv, TIMES) as store:
        for frame in (5, 12, 33):
            store.put(frame, "shoulder_r", 500.5, 400.25)
    page = new_page()
    lab.run_all(page, lab.notebook("marking", [SETUP, SHOW, "2 + 2"]), ".cb-picture[data-frame]")
    page.locator(".cb-stage").scroll_into_view_if_needed()
    yield Tool(page, csv)


def test_opens_on_the_first_marked_frame(tool: Tool) -> None:
    tool.shows(5)


def test_every_way_to_a_frame_shows_that_frame(tool: Tool) -> None:
    tool.focus()
    at = 5
    for key, to in (
        ("ArrowRight", 6), ("ArrowLeft", 5), ("ArrowLeft", 4), ("Shift+ArrowRight", 14), ("PageDown", 33),
        ("PageUp", 12), ("PageUp", 5), ("PageUp", 5), ("End", COUNT - 1), ("ArrowRight", COUNT - 1), ("Home", 0),
        ("Shift+ArrowLeft", 0), ("Shift+ArrowRight", 10),
    ):  # fmt: skip
        tool.page.keyboard.press(key)
        tool.shows(at := to)
    for name, by in (("1 on", 1), ("10 on", 10), ("1 back", -1), ("10 back", -10), ("marked after", 2)):
        tool.page.get_by_role("button", name=name, exact=True).click()
        tool.shows(at := at + by)


def test_a_key_held_down_ends_on_the_frame_it_says(tool: Tool) -> None:
    tool.go(0)
    for _ in range(37):
        tool.page.keyboard.press("ArrowRight")
    tool.shows(37)


def test_the_strip_goes_to_the_frame_under_the_pointer(tool: Tool) -> None:
    strip = tool.page.locator(".cb-strip")
    box = strip.bounding_box()
    for frame in (3, 41, 20):
        strip.click(position={"x": (frame + 0.5) / COUNT * box["width"], "y": box["height"] / 2})
        tool.shows(frame)
    strip.press("ArrowRight")
    tool.shows(21)
    assert strip.get_attribute("aria-valuenow") == "21"
    assert strip.get_attribute("aria-valuetext").startswith("frame 21 at 0.700 s")


def test_a_click_on_a_dot_marks_its_centre_to_a_fraction_of_a_pixel(tool: Tool) -> None:
    tool.go(20)
    (x, y), zoom = tool.close_up()
    assert zoom > 3
    tool.page.mouse.click(x, y)
    until(lambda: list(tool.on_disk(20)), ["shoulder_r"])
    # The screen is read in whole pixels, and the browser presses in whole pixels: half of one each.
    assert tool.on_disk(20)["shoulder_r"] == pytest.approx(WHITE, abs=1.0 / zoom)
    assert tool.chosen() == "elbow_r", "the choice went on to the next point"


def test_a_drag_moves_the_mark_by_the_screen_distance_over_the_zoom(tool: Tool) -> None:
    tool.go(22)
    (x, y), zoom = tool.close_up()
    tool.page.mouse.click(x, y)
    until(lambda: list(tool.on_disk(22)), ["shoulder_r"])
    before = np.array(tool.on_disk(22)["shoulder_r"])
    # Grabbed three pixels beside its centre, it must not jump there.
    tool.page.mouse.move(round(x) + 3, round(y) - 2)
    tool.page.mouse.down()
    tool.page.mouse.move(round(x) + 20, round(y) - 10, steps=4)
    tool.page.mouse.move(round(x) + 3 + 53, round(y) - 2 - 31, steps=4)
    tool.page.mouse.up()
    until(lambda: tool.on_disk(22)["shoulder_r"] != tuple(before), True)
    moved = np.array(tool.on_disk(22)["shoulder_r"]) - before
    assert moved == pytest.approx((53 / zoom, -31 / zoom), rel=0.01)
    assert abs(moved[0] - round(moved[0])) > 0.01, "a distance between whole pixels"
    tool.page.keyboard.press("Control+z")
    until(lambda: tool.on_disk(22)["shoulder_r"], tuple(before))


def test_a_drag_beside_the_marks_moves_the_view_and_sets_nothing(tool: Tool) -> None:
    tool.go(24)
    (x, y), _ = tool.close_up()
    tool.page.mouse.move(round(x), round(y))
    tool.page.mouse.down()
    tool.page.mouse.move(round(x) - 60, round(y) - 40, steps=4)
    tool.page.mouse.up()
    white, _ = tool.standing_still()
    assert white - (x, y) == pytest.approx((-60, -40), abs=1)
    assert tool.on_disk(24) == {}


def test_marking_by_keyboard_alone(tool: Tool) -> None:
    tool.go(34)
    tool.page.mouse.move(5, 5)
    press = tool.page.keyboard.press
    press("Enter")
    # With no pointer on the picture a point starts where it was on the nearest marked frame.
    until(lambda: tool.on_disk(34), {"shoulder_r": (500.5, 400.25)})
    for key in ("Alt+ArrowRight", "Alt+ArrowRight", "Control+ArrowRight", "Alt+ArrowUp"):
        press(key)
    until(lambda: tool.on_disk(34), {"shoulder_r": (501.25, 400.0)})
    press("Alt+Shift+ArrowDown")
    until(lambda: tool.on_disk(34), {"shoulder_r": (501.25, 405.0)})
    press("ArrowDown")
    press("h")
    until(lambda: tool.page.get_by_role("radio", name="right elbow, cannot be seen").count(), 1)
    press("Control+z")
    press("Control+z")
    until(lambda: tool.on_disk(34), {"shoulder_r": (501.25, 400.0)})
    press("Control+Shift+z")
    until(lambda: tool.on_disk(34), {"shoulder_r": (501.25, 405.0)})
    until(tool.chosen, "shoulder_r")  # what was undone or redone is chosen again
    press("Delete")
    until(lambda: tool.on_disk(34), {})
    press("Control+z")
    until(lambda: tool.on_disk(34), {"shoulder_r": (501.25, 405.0)})


def test_the_live_value_follows_the_marks(tool: Tool) -> None:
    tool.go(36)
    live = tool.page.locator(".cb-live")
    until(live.inner_text, "0 marks on 36")
    tool.page.keyboard.press("Enter")
    until(live.inner_text, "1 marks on 36")
    tool.page.keyboard.press("ArrowRight")
    until(live.inner_text, "0 marks on 37")


def test_nearby_marks_of_quick_nudges_all_count(tool: Tool) -> None:
    tool.go(38)
    tool.page.mouse.move(5, 5)
    tool.page.keyboard.press("Enter")
    until(lambda: len(tool.on_disk(38)), 1)
    x, y = tool.on_disk(38)["shoulder_r"]
    for _ in range(20):
        tool.page.keyboard.press("Alt+ArrowRight")
    until(lambda: tool.on_disk(38)["shoulder_r"], (x + 5.0, y))


def test_its_keys_stay_out_of_the_notebook(tool: Tool) -> None:
    tool.go(8)
    cells = tool.page.locator(".jp-Notebook-cell")
    active = "[...document.querySelectorAll('.jp-Notebook-cell')].findIndex(c => c.classList.contains('jp-mod-active'))"
    count, where = cells.count(), tool.page.evaluate(active)
    for key in (
        "ArrowDown",
        "ArrowUp",
        "ArrowDown",
        "ArrowRight",
        "c",
        "0",
        "0",
        "h",
        "Control+z",
        "Enter",
        "Control+z",
    ):
        tool.page.keyboard.press(key)
    assert (cells.count(), tool.page.evaluate(active)) == (count, where)
    assert tool.page.locator(".jp-Dialog").count() == 0
    assert tool.page.evaluate("document.activeElement.className") == "cb-stage"
    tool.shows(9)


def test_everything_is_reached_by_tab_and_has_a_name(tool: Tool) -> None:
    tool.focus()
    reached = []
    for _ in range(27):
        tool.page.keyboard.press("Tab")
        reached.append(
            tool.page.evaluate("(e => [e.textContent.trim(), e.getAttribute('aria-label')])(document.activeElement)")
        )
    texts = {text for text, _ in reached}
    assert {"1 on", "undo", "redo", "marked after", "erase point", "cannot be seen", "whole picture", "keys"} <= texts
    assert {"play", "magnifier", "light"} <= texts
    assert "Frame" in {label for _, label in reached}
    style = "(e => [getComputedStyle(e).outlineStyle, parseFloat(getComputedStyle(e).outlineWidth)])"
    tool.page.locator("[data-do=undo]").focus()
    tool.page.keyboard.press("Tab")
    outline, width = tool.page.evaluate(f"{style}(document.activeElement)")
    assert outline == "solid" and width >= 2, "the focus can be seen"


def test_the_page_loaded_anew_goes_on_where_the_kernel_stands(tool: Tool) -> None:
    tool.go(42)
    tool.page.keyboard.press("Control+s")
    until(lambda: "widget-view" in tool.csv.with_name("marking.ipynb").read_text("utf-8"), True)
    tool.load_anew()
    tool.page.wait_for_selector(".cb-picture[data-frame='42']")
    tool.focus()
    tool.page.mouse.move(5, 5)
    tool.page.keyboard.press("Enter")
    until(lambda: len(tool.on_disk(42)), 1)


def test_a_mark_that_could_not_be_saved_says_so_until_the_cell_is_run_again(tool: Tool) -> None:
    tool.go(40)
    tool.page.mouse.move(5, 5)
    tool.page.get_by_role("menuitem", name="Kernel", exact=True).click()
    tool.page.get_by_text("Restart Kernel…", exact=True).click()
    tool.page.locator(".jp-Dialog .jp-mod-accept").click()
    until(tool.page.locator(".jp-Dialog").count, 0)
    tool.focus()
    tool.page.keyboard.press("Enter")
    alert = tool.page.locator(".cb-trouble")
    until(alert.is_visible, True)
    assert alert.inner_text().startswith("Not saved yet")
    tool.page.keyboard.press("ArrowRight")
    assert alert.is_visible(), "moving on does not make it saved"
    tool.page.get_by_role("menuitem", name="Run", exact=True).click()
    tool.page.get_by_text("Run All Cells", exact=True).click()
    tool.page.wait_for_selector(".cb-picture[data-frame='5']")
    assert not alert.is_visible()
    tool.go(40)
    tool.page.keyboard.press("Enter")
    until(lambda: len(tool.on_disk(40)), 1)


def test_no_request_leaves_this_machine(tool: Tool) -> None:
    hosts = {urlsplit(url).hostname for url in tool.page.requested if not url.startswith(("data:", "blob:"))}
    assert hosts == {"127.0.0.1"}
