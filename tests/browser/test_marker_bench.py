"""Rulers, moments, stretches, follow, draft and proposals in a real JupyterLab, on the invented swimmer's clip.

Beside each check stand the demo case's own marks: the swimmer's true joints with the error of a hand, 2 px.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from marker_page import until

from casebook.case.case import Case
from casebook.demo.case import build_demo_case
from casebook.marks.marks import Marks, Origin
from casebook.marks.store import MarkStore

if TYPE_CHECKING:
    from pathlib import Path

    from conftest import Lab
    from playwright.sync_api import Page

pytestmark = pytest.mark.browser

ARM = ("shoulder_r", "elbow_r", "wrist_r", "fingertip_r")
#: Frames marked by hand: around the reach of the first stroke, and a gap of ten frames to follow over.
BY_HAND = (50, 60, 70)
SETUP = """
from casebook import marker
from casebook.case.case import Case
desk = Case.open("{case}").desk()
m = marker(desk, "{what}")
"""


@dataclass(frozen=True, slots=True)
class Tool:
    """The marker on its page, the case it works on, and the truth of its swimmer."""

    page: Page
    folder: Path
    truth: Marks
    name: str

    def press(self, *keys: str) -> None:
        for key in keys:
            self.page.keyboard.press(key)

    def to(self, frame: int) -> None:
        """To a frame by keyboard, the choice left to the tool."""
        self.page.locator(".cb-stage").focus()
        self.press("Home", *["Shift+ArrowRight"] * (frame // 10), *["ArrowRight"] * (frame % 10))
        until(lambda: self.now().split(" at ")[0], f"frame {frame}")
        self.page.wait_for_selector(f".cb-picture[data-frame='{frame}']")

    def now(self) -> str:
        return self.page.locator(".cb-now").inner_text()

    def says(self) -> str:
        return self.page.locator(".cb-doing output").inner_text()

    def live(self) -> str:
        return self.page.locator(".cb-live").inner_text()

    def choose(self, point: str) -> None:
        self.page.locator(f"[data-point={point}]").click()

    def csv(self, ending: str = ".csv") -> Path:
        return self.folder / "marks" / f"rowan_side_under{ending}"

    def marks(self) -> Marks:
        desk = Case.open(self.folder).desk()
        with MarkStore(self.csv(), desk.shot.clip.times) as store:
            return store.marks

    def origins(self, point: str, frames: range) -> list[str]:
        marks = self.marks().pick([point], np.array(frames))
        held = dict(zip(marks.frames.tolist(), marks.origin[:, 0].tolist(), strict=True))
        return [Origin(held.get(f, 0)).name for f in frames]

    def events(self) -> list[tuple[str, str, float]]:
        return [(e.event, e.side, e.frame) for e in Case.open(self.folder).desk().events]


def opened(lab: Lab, page: Page, name: str, what: str) -> Tool:
    folder = lab.folder / name
    build_demo_case(folder)
    with Case.open(folder).desk().store as store:
        truth = store.marks
    for path in (folder / "marks").glob("*"):
        if not path.name.endswith((".lines.csv", ".scales.toml")):
            path.unlink()
    with Case.open(folder).desk().store as store:
        for frame in BY_HAND:
            for point in ARM:
                store.put(frame, point, *truth.at(frame)[point])
    lab.run_all(page, lab.notebook(name, [SETUP.format(case=name, what=what), "m"]), ".cb-picture[data-frame]")
    page.locator(".cb-stage").scroll_into_view_if_needed()
    return Tool(page, folder, truth, name)


@pytest.fixture(scope="module")
def tool(lab: Lab, new_page: Any) -> Iterator[Tool]:
    page = new_page()
    yield opened(lab, page, "bench", "catch")
    page.close()


def off(tool: Tool, point: str, frames: range) -> np.ndarray:
    """How far the marks lie from the truth, on those frames that hold one. [px]"""
    own, true = (m.pick([point], np.array(frames)) for m in (tool.marks(), tool.truth))
    both = np.intersect1d(own.frames, true.frames)
    return np.linalg.norm(own.pick([point], both).xy[:, 0] - true.pick([point], both).xy[:, 0], axis=-1)


# ---- reading off the frame


def test_the_catch_is_read_from_the_start_with_its_give_or_take(tool: Tool) -> None:
    tool.to(60)
    until(lambda: tool.live().startswith("forearm ") and "give or take" in tool.live(), True)
    assert "right elbow" in tool.live() and "straight line" in tool.live()


def test_an_angle_between_three_points_of_the_coachs_choice(tool: Tool) -> None:
    tool.to(60)
    for point in ("fingertip_r", "shoulder_r", "elbow_r"):
        tool.choose(point)
        tool.press("q")
    tool.page.locator("[data-ruler=catch]").click()
    s, e, f = (np.array(tool.truth.at(60)[p]) for p in ("shoulder_r", "elbow_r", "fingertip_r"))
    u, v = f - s, e - s
    by_hand = np.degrees(np.arccos(u @ v / np.linalg.norm(u) / np.linalg.norm(v)))
    until(lambda: tool.live().startswith(f"right shoulder to right fingertip, right elbow {by_hand:.0f}°, give"), True)
    lists = tool.page.locator("select[data-slot]:visible")
    assert [lists.nth(i).input_value() for i in range(3)] == ["fingertip_r", "shoulder_r", "elbow_r"]
    lists.nth(2).select_option("wrist_r")
    until(lambda: "right fingertip, right wrist" in tool.live(), True)


def test_one_reading_after_another_by_one_key(tool: Tool) -> None:
    tool.to(60)
    seen = []
    for _ in range(7):
        before = tool.live()
        tool.press("r")
        until(lambda was=before: tool.live() != was, True)
        seen.append(tool.live())
    assert any("under the water line" in s for s in seen)
    assert any("plumb line through" in s for s in seen)
    assert any("draw a lane line" in s for s in seen)


def test_a_lane_line_drawn_here_has_its_corridor_at_once(tool: Tool) -> None:
    tool.page.locator("[data-do='unfold:lines']").click()
    tool.page.locator("[data-line=lane]").click()
    box = tool.page.locator(".cb-stage").bounding_box()
    assert box is not None
    for share in (0.2, 0.8):
        tool.page.mouse.click(box["x"] + share * box["width"], box["y"] + 0.5 * box["height"])
    until(lambda: [m.line for m in Case.open(tool.folder).desk().lines if m.line == "lane"], ["lane"])
    tool.page.locator("[data-do='unfold:rulers']").click()
    if tool.page.locator("[data-ruler=lane]").get_attribute("aria-pressed") == "false":
        tool.page.locator("[data-ruler=lane]").click()
    tool.page.locator("[data-ruler=lane] + div select").select_option("shoulder_r")
    until(lambda: "off the lane line" in tool.live() and "side the corridor of 30 cm" in tool.live(), True)
    tool.page.get_by_label("lane corridor: width").fill("12")
    tool.page.keyboard.press("Enter")
    until(lambda: "the corridor of 12 cm" in tool.live(), True)
    tool.press("Shift+R", "r")
    tool.page.locator("[data-ruler=lane]").click()


# ---- moments


def test_a_moment_is_set_at_the_frame_shown_and_moved_and_taken_back(tool: Tool) -> None:
    tool.to(62)
    tool.press("t", "t", "Enter")
    until(tool.events, [("end_of_extension", "r", 62.0)])
    assert tool.now().endswith("reach ends, right: set at 62")
    assert tool.page.locator(".cb-moment[data-how=set]").inner_text() == "reach"
    tool.press("ArrowLeft", "ArrowLeft", "Enter")
    until(tool.events, [("end_of_extension", "r", 60.0)])
    tool.press("Control+z")
    until(tool.events, [("end_of_extension", "r", 62.0)])
    until(lambda: tool.now().split(" at ")[0], "frame 62")
    tool.press("Delete")
    until(tool.events, [])
    tool.press("Control+z")
    until(tool.events, [("end_of_extension", "r", 62.0)])


def test_the_other_arm_and_the_kind_of_stroke(tool: Tool) -> None:
    tool.to(75)
    tool.press("o")
    tool.page.locator("[data-moment=entry]").click()
    tool.press("Enter")
    until(lambda: tool.events()[-1], ("entry", "l", 75.0))
    tool.page.locator("[data-moment=stroke_class]").click()
    tool.page.get_by_label("kind of stroke", exact=True).select_option("breath_r")
    tool.page.locator(".cb-stage").focus()
    tool.press("o", "Enter")
    until(lambda: [(e.side, e.value) for e in Case.open(tool.folder).desk().events if e.value], [("r", "breath_r")])
    tool.choose("shoulder_r")


def test_jumping_from_moment_to_moment(tool: Tool) -> None:
    tool.to(0)
    tool.press("Shift+PageDown")
    until(lambda: tool.now().split(" at ")[0], "frame 62")
    tool.press("Shift+PageDown")
    until(lambda: tool.now().split(" at ")[0], "frame 75")
    tool.press("Shift+PageUp")
    until(lambda: tool.now().split(" at ")[0], "frame 62")


# ---- following


def test_the_chosen_point_is_followed_between_the_neighbouring_marks(tool: Tool) -> None:
    tool.to(55)
    tool.choose("wrist_r")
    tool.press("g")
    until(lambda: "followed" in tool.says(), True, seconds=40)
    tracked = tool.origins("wrist_r", range(49, 61))
    assert tracked[:2] == ["unmarked", "hand"] and tracked[-1] == "hand"
    assert tracked.count("tracked") >= 6
    assert tool.origins("elbow_r", range(51, 60)) == ["unmarked"] * 9, "the other points stay"
    assert np.median(off(tool, "wrist_r", range(51, 60))) < 8  # two hands' errors and a little
    until(lambda: tool.page.locator("[data-point=wrist_r]").get_attribute("data-how"), "tracked")


def test_accepting_here_and_over_the_stretch_are_one_step_each(tool: Tool) -> None:
    tool.to(55)
    tool.choose("wrist_r")
    before = tool.origins("wrist_r", range(51, 60))
    at = 55 - 51
    assert before[at] == "tracked"
    tool.press("a")
    until(lambda: tool.origins("wrist_r", range(51, 60))[at], "confirmed")
    assert tool.origins("wrist_r", range(51, 60)).count("confirmed") == 1
    tool.press("ArrowRight")
    tool.choose("wrist_r")
    tool.press("Shift+A")
    until(lambda: tool.origins("wrist_r", range(51, 60)).count("confirmed") >= 3, True)
    tool.press("Control+z")
    until(lambda: tool.origins("wrist_r", range(51, 60)).count("confirmed"), 1)
    tool.press("Control+z")
    until(lambda: tool.origins("wrist_r", range(51, 60)), before)


def test_a_stretch_marked_on_the_strip_bounds_what_is_done(tool: Tool) -> None:
    tool.to(52)
    tool.press("b", "ArrowRight", "ArrowRight", "n")
    where = tool.page.locator(".cb-where-to")
    until(where.inner_text, "stretch: 52 to 54")
    assert tool.page.locator(".cb-band").is_visible()
    tool.choose("wrist_r")
    tool.press("Shift+Delete")
    until(lambda: "discarded on frames 52 to 54" in tool.says(), True)
    assert set(tool.origins("wrist_r", range(52, 55))) == {"unmarked"}
    assert "tracked" in tool.origins("wrist_r", range(55, 60))
    tool.press("Control+z", "Escape")
    until(where.inner_text, "stretch: from mark to mark")
    strip = tool.page.locator(".cb-strip")
    box = strip.bounding_box()
    assert box is not None
    x = [box["x"] + (n + 0.5) / 480 * box["width"] for n in (100, 140)]
    tool.page.keyboard.down("Shift")
    tool.page.mouse.move(x[0], box["y"] + 12)
    tool.page.mouse.down()
    tool.page.mouse.move(x[1], box["y"] + 12, steps=3)
    tool.page.mouse.up()
    tool.page.keyboard.up("Shift")
    drawn = [int(word) for word in where.inner_text().split() if word.isdigit()]
    assert drawn == pytest.approx([100, 140], abs=1)
    tool.page.locator(".cb-stage").focus()
    tool.press("Escape")


# ---- proposals


def test_stills_are_proposed_as_such_and_gone_through_by_a_key(tool: Tool) -> None:
    offer = tool.page.locator("[data-do=offer]")
    until(lambda: offer.is_visible() and offer.inner_text().startswith("proposed still ("), True, seconds=15)
    tool.to(0)
    tool.press("k")
    words = tool.page.locator(".cb-offer")
    until(words.is_visible, True)
    assert words.inner_text().startswith("proposed: ") and words.get_attribute("title")
    first = tool.now().split(" at ")[0]
    tool.press("k")
    until(lambda: tool.now().split(" at ")[0] != first, True)
    assert tool.page.locator(".cb-carets span").count() >= 2


# ---- the keys, and the page loaded anew


def test_the_keys_are_told_on_the_tool_itself(tool: Tool) -> None:
    tool.to(60)
    keys = tool.page.locator(".cb-keys")
    assert not keys.is_visible()
    tool.press("?")
    assert keys.is_visible()
    for word in ("T, Shift T", "A, Shift A", "follow between your marks", "these keys"):
        assert word in keys.inner_text()
    tool.press("?")
    assert not keys.is_visible()


def test_saved_and_loaded_anew_all_of_it_is_there(tool: Tool) -> None:
    tool.to(56)
    marks, events = tool.marks(), tool.events()
    tool.press("Control+s")
    until(lambda: "widget-view" in tool.folder.with_name(f"{tool.name}.ipynb").read_text("utf-8"), True)
    tool.page.goto(f"{tool.page.url.partition('?')[0]}?reset")
    tool.page.wait_for_selector(".cb-picture[data-frame='56']")
    until(lambda: tool.page.locator(".cb-moment[data-how=set]").count(), len(events))
    until(lambda: tool.page.locator("[data-point=wrist_r]").get_attribute("data-how"), "tracked")
    again = tool.marks()
    assert np.array_equal(again.xy, marks.xy, equal_nan=True) and np.array_equal(again.origin, marks.origin)
    assert tool.events() == events


# ---- drafting


@pytest.mark.pose
def test_a_stretch_is_drafted_looked_at_swapped_and_accepted(lab: Lab, new_page: Any) -> None:
    page = new_page()
    tool = opened(lab, page, "drafts", "extension")
    tool.to(61)
    tool.press("p", "b", *["ArrowRight"] * 5, "n", "d")
    until(lambda: "drafting on frames 61 to 66" in tool.says(), True)
    tool.press("ArrowLeft")
    until(lambda: tool.now().split(" at ")[0], "frame 65")  # the tool stays at hand meanwhile
    until(lambda: "look before you accept" in tool.says(), True, seconds=60)
    assert not page.locator(".cb-trouble").is_visible()
    over = range(60, 68)
    drafted = tool.origins("shoulder_r", over)
    assert (drafted[0], drafted[-1]) == ("hand", "unmarked") and drafted.count("drafted") >= 3
    assert tool.origins("fingertip_r", over) == ["hand", *["unmarked"] * 7], "no model knows it"
    stature = 190 / 480 * 960  # about, in this picture [px]
    assert np.median(off(tool, "shoulder_r", range(61, 67))) < 0.1 * stature  # how well it drafts is tested elsewhere
    until(lambda: page.locator("[data-how=drafted]").count() > 0, True)
    sides = [f"shoulder_{s}" for s in "lr"]
    left, right = np.moveaxis(tool.marks().pick(sides, np.arange(61, 67)).xy, 1, 0)
    tool.press("Shift+S")
    until(lambda: "swapped on frames 61 to 66" in tool.says(), True)
    now_left, now_right = np.moveaxis(tool.marks().pick(sides, np.arange(61, 67)).xy, 1, 0)
    assert np.array_equal(now_left, right, equal_nan=True) and np.array_equal(now_right, left, equal_nan=True)
    tool.press("Control+z", "Shift+A")
    until(lambda: "accepted on frames 61 to 66" in tool.says(), True)
    accepted = ["confirmed" if how == "drafted" else how for how in drafted]
    until(lambda: tool.origins("shoulder_r", over), accepted)
    tool.press("Control+z")
    until(lambda: tool.origins("shoulder_r", over), drafted)
    page.close()


def test_without_the_pose_model_a_draft_says_what_is_missing_and_marking_goes_on(lab: Lab, new_page: Any) -> None:
    page = new_page()
    folder = lab.folder / "bare"
    build_demo_case(folder)
    setup = "import os\nos.environ['CASEBOOK_POSE_MODEL'] = 'none.task'\n" + SETUP.format(case="bare", what="catch")
    lab.run_all(page, lab.notebook("bare", [setup, "m"]), ".cb-picture[data-frame]")
    tool = Tool(page, folder, Marks.empty(["elbow_r"], []), "bare")
    tool.to(100)
    tool.press("d")
    trouble = page.locator(".cb-trouble")
    until(trouble.is_visible, True)
    assert trouble.inner_text().startswith('There is no pose model "none.task".')
    tool.press("Delete")
    until(trouble.is_visible, False)
    page.close()
