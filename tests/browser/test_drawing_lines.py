"""The water line and a known length drawn by hand in a real JupyterLab, found again in the case's own files."""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

import av
import numpy as np
import pytest
from marker_page import until

from casebook.case.case import Case
from casebook.case.create import ClipAnswers, new_case
from casebook.marks.lines import LineMark, read_lines
from casebook.marks.scales import LengthMark, read_scales

if TYPE_CHECKING:
    from conftest import Lab
    from playwright.sync_api import Page

pytestmark = pytest.mark.browser

WIDTH, HEIGHT, COUNT = 1280, 720, 12
SETUP = """
from pathlib import Path
from casebook.case.case import Case
from casebook.widgets.on_desk import marker
case = Case.open(Path("heron"))
desk = case.desk(case.shots[0])
"""


def encode(path: Path) -> None:
    """An even grey: whatever is drawn can be told from it."""
    with av.open(path, "w") as out:
        stream = out.add_stream("libx264", rate=30, options={"crf": "20", "preset": "veryfast"})
        stream.width, stream.height, stream.pix_fmt = WIDTH, HEIGHT, "yuv420p"
        stream.time_base = Fraction(1, 30)
        for n in range(COUNT):
            frame = av.VideoFrame.from_ndarray(np.full((HEIGHT, WIDTH, 3), 110, np.uint8), format="rgb24")
            frame.pts = n
            out.mux(stream.encode(frame))
        out.mux(stream.encode(None))


@dataclass(frozen=True, slots=True)
class Tool:
    """The marker of the case's only shot on its page."""

    page: Page
    case: Case

    @property
    def beside(self) -> Path:
        return self.case.folder / "marks" / self.case.shots[0]

    def lines(self) -> list[LineMark]:
        path = self.beside.with_suffix(".lines.csv")
        return read_lines(path) if path.exists() else []

    def lengths(self) -> list[LengthMark]:
        path = self.beside.with_suffix(".scales.toml")
        return read_scales(path) if path.exists() else []

    def at(self, x: float, y: float) -> tuple[float, float]:
        """Where a picture point is on the page, the whole picture shown. [CSS px]"""
        box = self.page.locator(".cb-stage").bounding_box()
        assert box is not None
        scale = min(box["width"] / WIDTH, box["height"] / HEIGHT)
        left, top = box["x"] + (box["width"] - WIDTH * scale) / 2, box["y"] + (box["height"] - HEIGHT * scale) / 2
        return left + (x + 0.5) * scale, top + (y + 0.5) * scale

    def click(self, x: float, y: float) -> None:
        self.page.mouse.click(*self.at(x, y))

    def choose(self, name: str) -> None:
        self.page.locator(f"[data-line={name}]").click()

    def now(self) -> str:
        return self.page.locator(".cb-now").inner_text()

    def chosen(self) -> str:
        return self.page.get_by_role("radio", checked=True).inner_text()


@pytest.fixture(scope="module")
def tool(lab: Lab, new_page: Any) -> Iterator[Tool]:
    encode(lab.folder / "heron_side.mp4")
    answers = ClipAnswers(view="side_under", direction="right", camera="still", effort="steady", date="2026-05-02")
    new_case(lab.folder / "heron", lab.folder / "heron_side.mp4", answers, alias="heron", coach="ab")
    page = new_page()
    lab.run_all(page, lab.notebook("lines", [SETUP, "marker(desk)"]), ".cb-picture[data-frame]")
    page.locator(".cb-stage").scroll_into_view_if_needed()
    yield Tool(page, Case.open(lab.folder / "heron"))


def test_after_the_last_open_point_nothing_moves_by_itself(tool: Tool) -> None:
    spots = [(500, 300), (560, 380), (600, 450), (620, 500), (300, 310), (610, 480)]
    for spot in spots:
        tool.click(*spot)
    until(tool.now, "frame 0 at 0.000 s, 6 of 6 points")
    desk = tool.case.desk(tool.case.shots[0])
    until(lambda: len(desk.marks.at(0)) if not desk.store.refresh() else 0, 6)
    time.sleep(0.3)
    assert tool.now().startswith("frame 0 ")
    assert tool.chosen() == "right knuckle", "the choice rests on the point set last"


def test_the_water_line_by_two_clicks_is_on_disk(tool: Tool) -> None:
    tool.choose("water")
    until(tool.now, "frame 0 at 0.000 s, water line: set its first end")
    tool.click(90, 120)
    until(tool.now, "frame 0 at 0.000 s, water line: set its other end")
    tool.click(1190, 131)
    until(tool.now, "frame 0 at 0.000 s, water line kept")
    (line,) = tool.lines()
    # The browser presses in whole pixels of the screen.
    assert line.ends == pytest.approx((90, 120, 1190, 131), abs=2)
    assert (line.frame, line.line, line.by) == (0, "water", "ab")
    assert tool.case.desk(tool.case.shots[0]).plane.has_water
    live = tool.page.locator(".cb-live").inner_text
    until(lambda: "below the horizontal" in live(), True)


def test_an_end_is_dragged_and_nudged(tool: Tool) -> None:
    before = tool.lines()[0].ends
    x, y = tool.at(1190, 131)
    tool.page.mouse.move(x, y)
    tool.page.mouse.down()
    tool.page.mouse.move(x, y + 20, steps=4)
    tool.page.mouse.move(x, y + 40, steps=4)
    tool.page.mouse.up()
    until(lambda: tool.lines()[0].y1_px > before[3] + 20, True)
    dragged = tool.lines()[0].ends
    assert dragged[:3] == pytest.approx(before[:3])
    tool.page.keyboard.press("Alt+ArrowUp")
    until(lambda: tool.lines()[0].y1_px, dragged[3] - 0.25)
    tool.page.keyboard.press("e")
    tool.page.keyboard.press("Alt+Shift+ArrowDown")
    until(lambda: tool.lines()[0].y0_px, dragged[1] + 5)
    for _ in range(3):
        tool.page.keyboard.press("Control+z")
    until(lambda: tool.lines()[0].ends, before)


def test_delete_erases_and_undo_brings_back(tool: Tool) -> None:
    before = tool.lines()
    tool.page.keyboard.press("Delete")
    until(tool.lines, [])
    until(tool.now, "frame 0 at 0.000 s, water line: set its first end")
    tool.page.keyboard.press("Control+z")
    until(tool.lines, before)


def test_a_line_drawn_together_is_told_and_kept_as_it_was(tool: Tool) -> None:
    tool.page.keyboard.press("ArrowRight")
    until(tool.now, "frame 1 at 0.033 s, water line: set its first end")
    tool.click(400, 200)
    tool.click(700, 200)
    until(lambda: [m.frame for m in tool.lines()], [0, 1])
    before = tool.lines()
    tool.page.mouse.move(*tool.at(700, 200))
    tool.page.mouse.down()
    tool.page.mouse.move(*tool.at(410, 200), steps=4)
    tool.page.mouse.up()
    until(tool.page.locator(".cb-trouble").is_visible, True)
    assert "too close" in tool.page.locator(".cb-trouble").inner_text()
    assert tool.lines() == before
    tool.page.keyboard.press("Delete")
    until(tool.page.locator(".cb-trouble").is_visible, False)
    until(lambda: [m.frame for m in tool.lines()], [0])


def test_a_known_length_is_kept_with_its_metres(tool: Tool) -> None:
    tool.page.keyboard.press("ArrowDown")
    until(tool.chosen, "known length")
    tool.click(200, 600)
    tool.click(700, 610)
    until(tool.now, "frame 1 at 0.033 s, known length: give its metres")
    assert tool.lengths() == []
    tool.page.get_by_label("length, m", exact=True).fill("two")
    tool.page.keyboard.press("Enter")
    until(tool.page.locator(".cb-trouble").is_visible, True)
    assert tool.page.get_by_label("length, m", exact=True).input_value() == "two"
    tool.page.get_by_label("length, m", exact=True).click()
    tool.page.keyboard.press("Control+a")
    tool.page.keyboard.type("2")
    tool.page.keyboard.press("Tab")
    tool.page.keyboard.type("0.02")
    tool.page.keyboard.press("Tab")
    tool.page.keyboard.type("red 0 rope h")  # letters that are commands elsewhere
    tool.page.keyboard.press("Enter")
    until(lambda: [m.what for m in tool.lengths()], ["red 0 rope h"])
    (length,) = tool.lengths()
    assert (length.frame, length.length_m, length.sigma_m) == (1, 2.0, 0.01)
    assert length.ends == pytest.approx((200, 600, 700, 610), abs=2)
    until(tool.now, "frame 1 at 0.033 s, known length kept, 2 m")
    assert not tool.page.locator(".cb-trouble").is_visible()
    plane = tool.case.desk(tool.case.shots[0]).plane
    assert plane.has_water and plane.has_scale


def test_page_keys_go_to_the_frames_of_the_chosen_line(tool: Tool) -> None:
    tool.page.keyboard.press("End")
    tool.page.keyboard.press("PageUp")
    until(tool.now, "frame 1 at 0.033 s, known length kept, 2 m")
    tool.choose("water")
    tool.page.keyboard.press("PageUp")
    until(tool.now, "frame 0 at 0.000 s, water line kept")
