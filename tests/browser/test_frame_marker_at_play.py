"""Playing, the magnifier and the viewing light in a real browser, on frames that carry their own number."""

from __future__ import annotations

import time
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from marker_page import (
    BITS,
    BLOCK,
    COUNT,
    FPS,
    HEIGHT,
    READ_NUMBER,
    SETUP,
    STRIPES,
    TIMES,
    WHITE,
    WIDTH,
    Tool,
    encode,
    until,
)

from casebook.clip.clip import Clip
from casebook.marks.store import MarkStore

if TYPE_CHECKING:
    from conftest import Lab

pytestmark = pytest.mark.browser

SHOW = "FrameMarker(clip, store, points=('elbow_l', 'elbow_r', 'wrist_l', 'wrist_r'))"
WATCH = f"""() => {{
  const canvas = document.querySelector(".cb-picture"), read = {READ_NUMBER};
  window.seen = [];
  window.watching = new MutationObserver(() =>
    window.seen.push([...read({[WIDTH, HEIGHT, BITS, BLOCK]}), performance.now()]));
  window.watching.observe(canvas, {{ attributes: true, attributeFilter: ["data-frame"] }});
}}"""
#: Brightness of the inset's pixels along its middle row, and its place.
INSET_ROW = """() => {
  const inset = document.querySelector(".cb-inset"), canvas = inset.querySelector("canvas");
  const { data } = canvas.getContext("2d").getImageData(0, Math.floor(canvas.height / 2), canvas.width, 1);
  return Array.from({ length: canvas.width }, (_, i) => data[4 * i]);
}"""
PICTURE = """() => {
  const canvas = document.querySelector(".cb-picture");
  const { data } = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height);
  return [...data].filter((_, i) => i % 4 < 3 && i % 97 === 0);
}"""


@pytest.fixture(scope="module")
def tool(lab: Lab, new_page: Any) -> Iterator[Tool]:
    folder = lab.folder
    encode(folder / "numbered.mp4")
    csv = folder / "viewing.csv"
    with MarkStore(csv, TIMES) as store:
        for frame in (18, 20, 21, 23):
            store.put(frame, "elbow_l", 400.5 + frame, 400.25)
        store.put(21, "elbow_r", 900.0, 300.0)
    page = new_page()
    setup = SETUP.replace("numbered.csv", "viewing.csv")
    lab.run_all(page, lab.notebook("viewing", [setup, SHOW]), ".cb-picture[data-frame]")
    page.locator(".cb-stage").scroll_into_view_if_needed()
    yield Tool(page, csv)
    page.close()


def on_page(tool: Tool, x: float, y: float) -> tuple[float, float]:
    """Where a picture point is on the page, the whole picture shown. [CSS px]"""
    box = tool.page.locator(".cb-stage").bounding_box()
    assert box is not None
    scale = min(box["width"] / WIDTH, box["height"] / HEIGHT)
    left, top = box["x"] + (box["width"] - WIDTH * scale) / 2, box["y"] + (box["height"] - HEIGHT * scale) / 2
    return left + (x + 0.5) * scale, top + (y + 0.5) * scale


def words(tool: Tool) -> str:
    return tool.page.locator(".cb-now").inner_text()


# ---- play


def test_playing_shows_every_frame_in_order_and_a_step_stops_it(tool: Tool) -> None:
    tool.go(0)
    tool.page.keyboard.press("2")
    tool.page.evaluate(WATCH)
    tool.page.keyboard.press("Space")
    until(lambda: tool.number()[1] >= 12, True, seconds=20)
    assert "half speed" in words(tool)
    status = tool.page.locator(".cb-status")
    assert status.get_attribute("aria-live") == "polite" and "half speed" in status.inner_text()
    assert tool.page.locator(".cb-now").get_attribute("aria-live") == "off", "no frame by frame to hear"
    tool.page.keyboard.press("ArrowRight")
    seen = tool.page.evaluate("(window.watching.disconnect(), window.seen)")
    read, claimed, at = (list(column) for column in zip(*seen, strict=True))
    assert claimed == list(range(1, len(seen) + 1)), "none left out, none twice"
    assert read == claimed
    stopped = tool.number()
    time.sleep(0.5)
    assert tool.number() == stopped
    tool.shows(stopped[0])
    assert words(tool).endswith("0 of 4 points")
    # It may be slower than the pool's times where pictures are late, never faster.
    playing = np.diff(at[:-1])
    assert playing.sum() >= (len(playing) - 2) * 2000 / FPS


def test_space_stops_and_the_end_of_the_shot_does_too(tool: Tool) -> None:
    tool.go(3)
    tool.page.keyboard.press("8")
    tool.page.keyboard.press("Space")
    until(lambda: tool.number()[0] > 3, True)
    tool.page.keyboard.press("Space")
    until(lambda: "speed" in words(tool), False)
    tool.shows(tool.number()[0])
    tool.page.keyboard.press("1")
    tool.go(40)
    tool.page.get_by_role("button", name="play", exact=True).click()
    until(lambda: tool.number()[0], COUNT - 1, seconds=20)
    until(lambda: words(tool).endswith("0 of 4 points"), True)
    assert tool.page.get_by_role("button", name="play", exact=True).count() == 1
    assert tool.page.get_by_role("button", name="full speed").get_attribute("aria-pressed") == "true"


def test_a_press_or_an_erasing_key_while_playing_only_stops_it(tool: Tool) -> None:
    for stop in (lambda: tool.page.mouse.click(*on_page(tool, 800, 600)), lambda: tool.page.keyboard.press("Delete")):
        tool.go(16)
        tool.page.keyboard.press("8")
        before = {frame: tool.on_disk(frame) for frame in range(16, 26)}
        tool.page.keyboard.press("Space")
        until(lambda: tool.number()[0] > 17, True)
        stop()
        until(lambda: "speed" in words(tool), False)
        time.sleep(0.3)
        assert {frame: tool.on_disk(frame) for frame in range(16, 26)} == before


# ---- the magnifier


def test_the_magnifier_shows_the_sources_own_pixels_beside_the_pointer(tool: Tool) -> None:
    tool.go(6)
    x, y = on_page(tool, STRIPES[0] + 20, STRIPES[1] + 20)
    tool.page.mouse.move(x, y)
    inset = tool.page.locator(".cb-inset")
    until(lambda: inset.is_visible() and inset.get_attribute("data-width"), str(WIDTH))
    row = np.array(tool.page.evaluate(INSET_ROW), float)
    middle = row[len(row) // 2 - 60 : len(row) // 2 + 60]
    bright = middle > 128
    turns = np.flatnonzero(np.diff(bright.astype(int)))
    assert np.diff(turns) == pytest.approx(8, abs=1), "one source pixel is eight screen pixels"
    assert middle[bright].mean() - middle[~bright].mean() > 100, "stripes of one pixel stay apart"
    box = inset.bounding_box()
    assert box is not None
    assert not (box["x"] <= x <= box["x"] + box["width"] and box["y"] <= y <= box["y"] + box["height"])
    tool.page.keyboard.press("m")
    assert not inset.is_visible()
    tool.page.keyboard.press("m")
    assert inset.is_visible()
    tool.page.mouse.move(5, 5)
    assert not inset.is_visible(), "it follows the work, and is gone with it"


def test_the_magnifier_looks_at_a_point_that_is_dragged_or_nudged(tool: Tool) -> None:
    tool.go(8)
    tool.page.mouse.click(*on_page(tool, *WHITE))
    until(lambda: list(tool.on_disk(8)), ["elbow_l"])
    tool.page.keyboard.press("ArrowUp")
    tool.page.mouse.move(5, 5)
    inset = tool.page.locator(".cb-inset")
    assert not inset.is_visible()
    tool.page.keyboard.press("Alt+ArrowRight")
    until(lambda: inset.is_visible() and inset.get_attribute("data-width"), str(WIDTH))
    row = tool.page.evaluate(INSET_ROW)
    assert row[len(row) // 2] > 190, "the white dot is in the middle"
    tool.page.locator(".cb-strip").focus()
    assert not inset.is_visible()
    tool.page.mouse.move(*on_page(tool, *WHITE))
    tool.page.mouse.down()
    tool.page.mouse.move(*on_page(tool, WHITE[0] - 60, WHITE[1] - 60), steps=5)
    row = tool.page.evaluate(INSET_ROW)
    assert inset.is_visible()
    assert abs(row[len(row) // 2] - 128) < 20, "the plain grey where the point is now"
    tool.page.mouse.up()
    until(lambda: tool.on_disk(8)["elbow_l"][0] < WHITE[0] - 50, True)
    tool.page.keyboard.press("Control+z")
    tool.page.keyboard.press("Control+z")
    tool.page.keyboard.press("Control+z")
    until(lambda: tool.on_disk(8), {})


# ---- the viewing light


def test_light_changes_what_is_seen_and_nothing_that_is_kept(tool: Tool) -> None:
    clip_path = tool.csv.with_name("numbered.mp4")
    tool.go(20)
    with Clip(clip_path) as clip:
        frame = np.array(clip.frame(20))
    files = {path: path.read_bytes() for path in (tool.csv, clip_path)}
    marks, filmed = tool.on_disk(20), np.array(tool.page.evaluate(PICTURE))
    tool.page.get_by_role("button", name="light", exact=True).click()
    slider = tool.page.get_by_label("brightness")
    for _ in range(3):
        slider.press("ArrowRight")
    brighter = np.array(tool.page.evaluate(PICTURE))
    # Three steps of 0.06 of the full range, up to white; at the edges of white it is scaled after, not before.
    assert np.quantile(np.abs(brighter - np.minimum(255, filmed + 3 * 0.06 * 255)), 0.99) <= 1.5
    tool.page.get_by_label("clear water").check()
    assert not np.array_equal(tool.page.evaluate(PICTURE), brighter)
    tool.page.get_by_role("button", name="light, changed", exact=True).wait_for()
    assert tool.on_disk(20) == marks
    assert {path: path.read_bytes() for path in files} == files
    with Clip(clip_path) as clip:
        assert np.array_equal(clip.frame(20), frame)
    tool.focus()
    tool.page.keyboard.press("Control+s")
    until(lambda: "widget-view" in tool.csv.with_name("viewing.ipynb").read_text("utf-8"), True)
    tool.load_anew()
    tool.page.wait_for_selector(".cb-picture[data-frame='20']")
    tool.page.get_by_role("button", name="light, changed", exact=True).wait_for()
    tool.focus()
    tool.page.keyboard.press("f")
    tool.page.get_by_role("button", name="light", exact=True).wait_for()
    assert np.array_equal(tool.page.evaluate(PICTURE), filmed), "one key, and it is as filmed"


# ---- swapping sides


def test_one_key_swaps_left_and_right_on_this_frame(tool: Tool) -> None:
    tool.go(21)
    before = tool.on_disk(21)
    tool.page.keyboard.press("s")
    until(lambda: tool.on_disk(21), {"elbow_l": before["elbow_r"], "elbow_r": before["elbow_l"]})
    assert tool.on_disk(20) == {"elbow_l": (420.5, 400.25)}
    tool.page.keyboard.press("Control+z")
    until(lambda: tool.on_disk(21), before)
