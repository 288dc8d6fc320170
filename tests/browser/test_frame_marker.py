"""The frame marker in a real JupyterLab and a real browser, on frames that carry their own number and known dots."""

from __future__ import annotations

import io
import math
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

import av
import numpy as np
import pytest
from PIL import Image

from casebook.marks.store import MarkStore

if TYPE_CHECKING:
    from conftest import Lab
    from playwright.sync_api import Page

pytestmark = pytest.mark.browser

WIDTH, HEIGHT, COUNT, FPS = 1600, 900, 48, 30
BITS, BLOCK = 6, 80
#: Centre of a white dot on every frame, and from it to the centre of a black one. [px]
WHITE, TO_BLACK = (640.0, 500.0), (36.0, 27.0)
TIMES = np.arange(COUNT) / FPS
POINTS = ("shoulder_r", "elbow_r", "wrist_r", "fingertip_r")

SETUP = """
import json
from pathlib import Path
from casebook.clip.clip import Clip
from casebook.marks.store import MarkStore
from casebook.widgets.frame_marker import FrameMarker

clip = Clip("numbered.mp4")
store = MarkStore(Path("numbered.csv"), clip.times)
def live(frame, marks):
    return f"{len(marks)} marks on {frame}"
"""
SHOW = f"FrameMarker(clip, store, points={POINTS!r}, live=live)"

READ_NUMBER = """([width, height, bits, block]) => {
  const canvas = document.querySelector(".cb-picture"), g = canvas.getContext("2d");
  const scale = Math.min(canvas.width / width, canvas.height / height);
  const left = (canvas.width - width * scale) / 2, top = (canvas.height - height * scale) / 2;
  let number = 0;
  for (let bit = 0; bit < bits; bit++) {
    const [red] = g.getImageData(left + (bit + 0.5) * block * scale, top + block / 2 * scale, 1, 1).data;
    if (red > 128) number += 2 ** bit;
  }
  return [number, Number(canvas.dataset.frame)];
}"""


def numbered(n: int) -> np.ndarray:
    """Frame ``n``: its number as white and black blocks at the upper left, lowest bit first, and the two dots."""
    frame = np.full((HEIGHT, WIDTH), 128, np.uint8)
    for bit in range(BITS):
        frame[:BLOCK, bit * BLOCK : (bit + 1) * BLOCK] = 240 if n >> bit & 1 else 16
    y, x = np.mgrid[:HEIGHT, :WIDTH]
    for (cx, cy), tone in ((WHITE, 250), ((WHITE[0] + TO_BLACK[0], WHITE[1] + TO_BLACK[1]), 4)):
        frame[np.hypot(x - cx, y - cy) <= 4] = tone
    return np.repeat(frame[..., None], 3, 2)


def encode(path: Path) -> None:
    with av.open(path, "w") as out:
        stream = out.add_stream("libx264", rate=FPS, options={"crf": "10", "preset": "veryfast"})
        stream.width, stream.height, stream.pix_fmt = WIDTH, HEIGHT, "yuv420p"
        stream.time_base = Fraction(1, FPS)
        for n in range(COUNT):
            frame = av.VideoFrame.from_ndarray(numbered(n), format="rgb24")
            frame.pts = n
            out.mux(stream.encode(frame))
        out.mux(stream.encode(None))


@dataclass(frozen=True, slots=True)
class Tool:
    """The widget on its page, and the marks file that it writes."""

    page: Page
    csv: Path

    def number(self) -> tuple[int, int]:
        """The number read from the pixels on screen (whole picture shown), and the one that the widget claims."""
        read, claimed = self.page.evaluate(READ_NUMBER, [WIDTH, HEIGHT, BITS, BLOCK])
        return read, claimed

    def shows(self, frame: int) -> None:
        """The pixels, the widget's claim and its words all come to say ``frame``."""
        until(self.number, (frame, frame))
        until(lambda: self.page.locator(".cb-now").inner_text().split(" at ")[0], f"frame {frame}")

    def go(self, frame: int) -> None:
        """To a frame by keyboard alone, seeing the whole picture."""
        self.focus()
        self.page.keyboard.press("0")
        self.page.keyboard.press("Home")
        for _ in range(frame // 10):
            self.page.keyboard.press("Shift+ArrowRight")
        for _ in range(frame % 10):
            self.page.keyboard.press("ArrowRight")
        self.shows(frame)

    def focus(self) -> None:
        self.page.locator(".cb-stage").focus()

    def chosen(self) -> str | None:
        return self.page.get_by_role("radio", checked=True).get_attribute("data-point")

    def on_disk(self, frame: int) -> dict[str, tuple[float, float]]:
        with MarkStore(self.csv, TIMES) as store:
            return store.marks.at(frame)

    def dots(self) -> tuple[np.ndarray, np.ndarray]:
        """Where the white and the black dot are on the page, from a picture of the screen. [CSS px]"""
        box = self.page.locator(".cb-stage").bounding_box()
        assert box is not None
        shot = np.asarray(Image.open(io.BytesIO(self.page.screenshot())).convert("L"), int)
        x0, y0 = math.ceil(box["x"]) + 4, math.ceil(box["y"]) + 4
        part = shot[y0 : math.floor(box["y"] + box["height"]) - 4, x0 : math.floor(box["x"] + box["width"]) - 4]
        found = []
        for mask in (part > 190, part < 66):
            assert mask.any(), "the dot is in sight"
            rows, columns = np.nonzero(mask)
            # A screen pixel's middle is half a pixel from its edge.
            found.append(np.array([columns.mean() + x0 + 0.5, rows.mean() + y0 + 0.5]))
        return found[0], found[1]

    def standing_still(self) -> tuple[np.ndarray, np.ndarray]:
        """The dots once two pictures of the screen in a row agree. [CSS px]"""
        seen = [self.dots()]
        for _ in range(40):
            time.sleep(0.1)
            seen.append(self.dots())
            if np.allclose(seen[-1], seen[-2]):
                return seen[-1]
        pytest.fail("The picture never came to rest.")

    def close_up(self) -> tuple[np.ndarray, float]:
        """Zoom in on the white dot by wheel; its place on the page and the zoom, both read off the screen."""
        box = self.page.locator(".cb-stage").bounding_box()
        assert box is not None
        scale = min(box["width"] / WIDTH, box["height"] / HEIGHT)
        left, top = box["x"] + (box["width"] - WIDTH * scale) / 2, box["y"] + (box["height"] - HEIGHT * scale) / 2
        self.focus()
        self.page.mouse.move(left + WHITE[0] * scale, top + WHITE[1] * scale)
        for _ in range(5):
            self.page.mouse.wheel(0, -200)
        until(lambda: self.page.locator(".cb-picture").get_attribute("data-width"), str(WIDTH))
        # A wheel's turns arrive one by one: read once the picture stands still.
        white, black = self.standing_still()
        return white, float(np.hypot(*(black - white)) / np.hypot(*TO_BLACK))


def until(read: Callable[[], Any], wanted: Any, seconds: float = 8.0) -> None:
    end = time.monotonic() + seconds
    while (got := read()) != wanted:
        assert time.monotonic() < end, f"still {got!r}, not {wanted!r}"
        time.sleep(0.02)


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
    for _ in range(18):
        tool.page.keyboard.press("Tab")
        reached.append(
            tool.page.evaluate("(e => [e.textContent.trim(), e.getAttribute('aria-label')])(document.activeElement)")
        )
    texts = {text for text, _ in reached}
    assert {"1 on", "undo", "redo", "marked after", "erase point", "cannot be seen", "whole picture", "keys"} <= texts
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
    tool.page.reload()
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
