"""The workshop's page in a real browser: keys, numbers hidden, the tally's sums, no network, no scripts, WCAG."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from axe_playwright_python.sync_playwright import Axe
from PIL import Image
from workshop_maker import FRAMES, NUMBERS, made_cases, pattern_number

from casebook.checkpoints.choices import Choice
from casebook.checkpoints.first_agreement import CaseVotes, first_agreement
from casebook.checkpoints.votes import VOTES, read_votes
from casebook.marks.reliability import Estimate, t95
from casebook.pages.page import asset
from casebook.pages.workshop import make_workshop

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

pytestmark = pytest.mark.browser
WCAG = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]


@pytest.fixture(scope="module")
def room(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("room")
    make_workshop(made_cases(folder / "packs"), folder / "out" / "workshop.html")
    return folder / "out"


@pytest.fixture
def show(browser: Browser, room: Path) -> Iterator[Any]:
    """Opens a page of the room; ``page.asked`` lists what it asked the network for, ``page.wrong`` what went wrong."""
    contexts = []

    def opened(name: str = "workshop", size: tuple[int, int] = (1280, 720), **more: Any) -> Page:
        context = browser.new_context(viewport={"width": size[0], "height": size[1]}, **more)
        contexts.append(context)
        page = context.new_page()
        page.asked, page.wrong = [], []
        context.on("request", lambda r: page.asked.append(r.url))
        page.on("pageerror", lambda e: page.wrong.append(str(e)))
        page.on("console", lambda m: page.wrong.append(m.text) if m.type == "error" else None)
        page.goto((room / f"{name}.html").as_uri())
        return page

    yield opened
    for context in contexts:
        context.close()


def step(page: Page) -> str:
    return str(page.locator(".step.now").get_attribute("id"))


def press(page: Page, *keys: str) -> None:
    for key in keys:
        page.keyboard.press(key)


def shown_number(page: Page) -> int:
    """The number on the picture that the loop shows."""
    frame = page.locator(".step.now .item.now .frame")
    raw = frame.screenshot()
    return pattern_number(np.asarray(Image.open(io.BytesIO(raw)).convert("RGB")))


def hold_on(page: Page, k: int) -> None:
    page.wait_for_selector(f".step.now .loop.now[data-shown='{k}']")


def test_steps_go_by_arrow_and_by_clicker_and_one_shows_at_a_time(show):
    page = show()
    assert step(page) == "opening" and page.locator(".step:visible").count() == 1
    press(page, "ArrowRight")
    assert step(page) == "case-1-step-1"
    press(page, "PageDown", "PageDown", "ArrowLeft", "PageUp")
    assert step(page) == "case-1-step-1"
    for _ in range(40):
        press(page, "ArrowRight")
    assert step(page) == "together" and page.locator(".step:visible").count() == 1
    assert page.evaluate("document.activeElement.localName") == "h2"
    assert not page.wrong


def test_a_page_opened_again_stands_where_it_stood(show):
    page = show()
    press(page, *["ArrowRight"] * 9)
    assert step(page) == "case-2-step-3"
    page.reload()
    assert step(page) == "case-2-step-3"


def test_numbers_are_hidden_until_the_key_and_again_after_it(show):
    page = show()
    press(page, *["ArrowRight"] * 3)
    on_picture = page.locator(".item.now .num text")
    assert on_picture.text_content() == NUMBERS[1] and not on_picture.is_visible()
    press(page, "n")
    assert on_picture.is_visible()
    press(page, "ArrowRight", "ArrowRight")
    told = page.locator(".step.now").get_by_text(NUMBERS[0])
    assert told.is_visible()
    press(page, "n")
    assert not told.is_visible()
    assert not re.search(r"73\d %", page.locator(".step.now").inner_text())


def test_lines_go_and_come_with_their_key(show):
    page = show()
    press(page, *["ArrowRight"] * 3)
    line = page.locator(".item.now .lines .body:not(.under)").first
    assert line.evaluate("e => getComputedStyle(e).visibility") == "visible"
    press(page, "l")
    assert line.evaluate("e => getComputedStyle(e).visibility") == "hidden"


def test_no_line_is_drawn_while_everybody_watches(show):
    page = show()
    press(page, "ArrowRight")
    hold_on(page, 0)
    assert page.locator(".step.now svg.lines path").evaluate_all("all => all.every(p => !p.getAttribute('d'))")


def test_the_loop_steps_exactly_one_picture(show):
    page = show()
    press(page, *["ArrowRight"] * 3, "ArrowDown", "ArrowDown")
    hold_on(page, 10)
    press(page, "l")
    assert shown_number(page) == 10
    for k, key in ((11, "."), (12, "."), (11, ","), (12, "."), (13, "."), (14, ".")):
        press(page, key)
        hold_on(page, k)
    assert shown_number(page) == 14 and "Full reach" in page.locator("output.frame-at").inner_text()
    assert page.locator(".loop.now svg.lines path[d^=M]").count() > 0


def test_full_speed_is_played_twice_and_then_stands(show):
    page = show()
    press(page, "ArrowRight")
    hold_on(page, 0)
    page.evaluate("window.t0 = performance.now()")
    press(page, " ")
    assert page.get_by_role("button", name="Pause").is_visible()
    page.wait_for_selector(".loop.now[data-seen=true]", timeout=20_000)
    took = page.evaluate("(performance.now() - window.t0) / 1000")
    assert took > 2 * FRAMES / 25 * 0.8
    assert page.locator("video").evaluate_all("all => all.every(v => v.paused)")


def test_space_pauses_where_it_is(show):
    page = show()
    press(page, *["ArrowRight"] * 3, "ArrowDown", "ArrowDown")
    hold_on(page, 10)
    press(page, " ")
    page.wait_for_selector(", ".join(f".loop.now[data-shown='{k}']" for k in range(12, 16)))
    press(page, " ")
    page.wait_for_timeout(150)
    at = int(page.locator(".loop.now").get_attribute("data-shown"))
    press(page, "l")
    assert 10 <= at < 20 and shown_number(page) == at


def test_a_finger_or_pointer_draws_on_top_and_the_key_wipes(show):
    page = show()
    press(page, *["ArrowRight"] * 3, "d")
    page.mouse.move(300, 200)
    page.mouse.down()
    page.mouse.move(500, 300, steps=4)
    page.mouse.up()
    assert page.locator(".pen .ink").count() == 1
    press(page, "d")
    assert page.locator(".pen path").count() == 0 and not page.locator(".pen").is_visible()


def test_every_key_is_told_by_its_overlay(show):
    page = show()
    press(page, "?")
    told = page.locator("dialog.keys").inner_text()
    for word in ("Space", "numbers", "lines", "draw", "tally", "step"):
        assert word in told.lower() or word in told
    press(page, "Escape")
    assert not page.locator("dialog.keys").is_visible()


def tally(page: Page, hands: dict[int, int]) -> list[str]:
    """Type hands by number of the choice; returns what the tally says."""
    if not page.locator(".tally").is_visible():
        press(page, "t")
    for number, n in hands.items():
        field = page.locator(f".tally input[aria-label^='Hands for {number}:']")
        field.fill(str(n))
        field.press("Tab")
    return page.locator(".tally .said p").all_inner_texts()


def test_the_tally_counts_as_the_notebook_does(show, room, tmp_path):
    page = show()
    keys = [c.key for c in read_votes(room).choices]
    answer, none = keys.index("crosses_at_entry") + 1, len(keys)
    votes = [{answer: 9, answer + 2: 4, 1: 2}, {none: 8, 2: 5, 6: 1, none - 1: 1}, {answer: 15}]
    for k, hands in enumerate(votes):
        page.evaluate("document.activeElement.blur()")
        press(page, *["ArrowRight"] * (2 if k == 0 else 6))
        said = tally(page, hands)
        assert "after the reveal" in said[-1]
        press(page, "Escape")
    press(page, *["ArrowRight"] * 3, "t")
    page.get_by_role("button", name="One hand more for 1", exact=True).click()
    page.get_by_role("button", name="One hand less for 1", exact=True).click()
    said = page.locator(".tally .said p").all_inner_texts()
    page.get_by_role("button", name="Copy as CSV").click()
    text = page.locator("textarea.csv").input_value()
    rows = list(csv.DictReader(io.StringIO(text)))
    assert {(r["case"], r["choice"], int(r["hands"])) for r in rows} == {
        (case, keys[number - 1], n)
        for case, hands in zip(("Heron", "Wren", "Alder"), votes, strict=True)
        for number, n in hands.items()
    }
    (room / VOTES / "tally.csv").write_text(text, "utf-8")
    try:
        read = read_votes(room)
    finally:
        (room / VOTES / "tally.csv").unlink()
    found = first_agreement(read.counted, read.choices)
    assert not read.problems
    last = found.cases[2]
    assert said[0].startswith(f"15 hands. Most chosen: {answer} (") and said[0].endswith(", 15 of 15.")
    assert said[1].endswith(f"agree in {percent(last.pairs)}.")
    assert said[-1] == f"With the reference: 15 of 15, {percent(last.with_reference)}."
    # The other cases have been walked past their reveals by now.
    press(page, "Escape", "End")
    words = page.locator(".together").inner_text()
    assert f"among us: kappa {kappa(found.together.value)}" in words
    assert f"with the reference: kappa {kappa(found.reference.value)}" in words
    assert not page.wrong


def percent(share: Estimate) -> str:
    return f"{100 * share.value:.0f} % ({100 * share.low:.0f} to {100 * share.high:.0f})"


def kappa(value: Estimate) -> str:
    return value.text(2).replace("-", "\N{MINUS SIGN}")


def test_the_sums_of_the_script_are_those_of_python_on_random_rooms(show):
    page = show()
    rng = np.random.default_rng(5)
    source = asset("workshop_tally.js").replace('"use strict";', "")
    student = [0.0, *(t95(d) for d in range(1, 61))]
    for _ in range(40):
        n, k = int(rng.integers(1, 6)), int(rng.integers(2, 13))
        counts = rng.multinomial(int(rng.integers(0, 25)), rng.dirichlet(np.full(k, 0.4)), size=n)
        reference = rng.integers(0, k, n)
        choices = [Choice(i + 1, str(i), str(i)) for i in range(k)]
        cases = [
            CaseVotes(str(i), tuple(c.tolist()), str(r)) for i, (c, r) in enumerate(zip(counts, reference, strict=True))
        ]
        python = first_agreement(cases, choices)
        got = page.evaluate(
            f"""([table, reference, t]) => {{ {source}
              const each = table.map((row, i) => agreement.ofCase(row, reference[i], t));
              return [each.map((e) => [e.pairs, e.beyond, e.reference]), agreement.among(table, t),
                agreement.withReference(table, reference, t)]; }}""",
            [counts.tolist(), reference.tolist(), student],
        )
        want = [[list_of(c.pairs), list_of(c.beyond_guessing), list_of(c.with_reference)] for c in python.cases]
        np.testing.assert_allclose(np.array(got[0], float), np.array(want, float), atol=1e-9)
        np.testing.assert_allclose(np.array(got[1], float), list_of(python.together.value), atol=1e-9)
        np.testing.assert_allclose(np.array(got[2], float), list_of(python.reference.value), atol=1e-9)


def list_of(value: Estimate) -> list[float]:
    return [value.value, value.low, value.high]


def test_nothing_is_asked_of_the_network(show):
    page = show()
    press(page, *["ArrowRight"] * 4)
    assert [u for u in page.asked if not u.startswith(("file:", "data:", "blob:"))] == [] and not page.wrong


def test_without_scripts_all_of_it_reads_from_top_to_bottom(show):
    page = show(java_script_enabled=False)
    assert page.locator("h3").first.is_visible() and page.locator("video").first.is_visible()
    assert page.locator("video").first.get_attribute("controls") is not None
    assert page.locator(".still img").count() == 6 and page.locator(".still img").last.is_visible()
    assert not page.get_by_text("THE ANSWER").first.is_visible()
    page.locator("summary").first.click()
    assert page.get_by_text("THE ANSWER").first.is_visible()
    assert page.get_by_text(NUMBERS[0]).first.is_visible()
    assert not page.locator(".desk").count()


@pytest.mark.parametrize("size", [(1920, 1080), (1280, 720)])
def test_from_the_back_of_a_room(show, size):
    """What is read aloud is at least a thirtieth of the screen's height, and a picture fills most of it; common
    practice, no source."""
    page = show(size=size)
    press(page, "ArrowRight", "ArrowRight")
    height = page.locator(".step.now .choices li").first.evaluate("e => parseFloat(getComputedStyle(e).fontSize)")
    assert height >= size[1] / 30
    last = page.locator(".step.now .choices li").last.bounding_box()
    assert last["y"] + last["height"] < size[1] - 60
    press(page, "ArrowRight")
    picture = page.locator(".step.now .item.now .frame").bounding_box()
    assert picture["height"] > 0.7 * size[1] and picture["x"] >= 0
    assert picture["y"] + picture["height"] < size[1] - 60


def test_a_phone_shows_it_without_sideways_scrolling_and_by_touch(show):
    page = show(size=(390, 844), has_touch=True)
    page.get_by_role("button", name="Next step").tap()
    assert step(page) == "case-1-step-1"
    for _ in range(6):
        assert page.evaluate("document.documentElement.scrollWidth") <= 390
        assert page.locator(".step.now").evaluate("e => e.scrollWidth <= e.clientWidth")
        page.get_by_role("button", name="Next step").tap()


def violations(page: Page) -> list[str]:
    found = Axe().run(page, options={"runOnly": {"type": "tag", "values": WCAG}})
    return [f"{v['id']}: {v['nodes'][0]['html'][:150]}" for v in found.response["violations"]]


@pytest.mark.parametrize("name", ["handout", "handout_after", "tally_sheet", "guide"])
def test_paper_has_no_violation(show, name):
    assert violations(show(name, bypass_csp=True)) == []


def test_no_step_has_a_violation(show):
    page = show(bypass_csp=True)
    found = violations(page)
    for _ in range(6):
        press(page, "ArrowRight")
        found += violations(page)
    press(page, "n", "t")
    found += violations(page)
    press(page, "Escape", "?")
    found += violations(page)
    press(page, "Escape", "End")
    assert found + violations(page) == []


def test_without_the_stage_there_is_no_violation_either(show):
    page = show(bypass_csp=True)
    page.emulate_media(media="print")
    assert violations(page) == []
