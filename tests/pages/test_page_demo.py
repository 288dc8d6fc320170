"""The demo's page as a swimmer gets it, in a real browser: reachable by keyboard and touch, readable by everyone."""

from __future__ import annotations

import base64
import getpass
import io
import json
import re
import shutil
import socket
import subprocess
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

import av
import pytest
from axe_playwright_python.sync_playwright import Axe
from demo_page import DemoPage, opened
from PIL import Image

from casebook.pages.layout import LAYOUTS
from casebook.pages.light import LIGHT_BYTES
from casebook.pages.pdf import find_browser, print_page
from casebook.pages.section import read_section
from casebook.words import CHECKPOINTS

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

pytestmark = pytest.mark.browser

#: Web Content Accessibility Guidelines 2.2, levels A and AA, as the rules of axe-core name them; best practice beside.
GUIDELINES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
#: All that can differ between the light and the dark dress.
CONTRAST = {"type": "rule", "values": ["color-contrast", "link-in-text-block"]}
PHONE = {"width": 390, "height": 844, "is_mobile": True, "has_touch": True}
#: A4 less the margins of the stylesheet, in CSS pixels of 1/96 inch.
PAPER = (210 - 2 * 17) / 25.4 * 96, (297 - 16 - 18) / 25.4 * 96
#: Text spacing of WCAG 2.2, success criterion 1.4.12.
SPACING = (
    "*{line-height:1.5!important;letter-spacing:.12em!important;word-spacing:.16em!important}"
    "p{margin-bottom:2em!important}"
)


@pytest.fixture
def page(browser: Browser, demo_page: DemoPage) -> Iterator[Page]:
    yield from opened(browser, demo_page.full)


def faults(page: Page, part: str = "body", rules: object = GUIDELINES) -> list[str]:
    """What axe-core holds against the page as it stands. Its script comes through the driver, not through the page."""
    found = Axe().run(page, part, options={"runOnly": rules, "resultTypes": ["violations"]}).response["violations"]
    return [f"{v['id']}: {node['html'][:120]}" for v in found for node in v["nodes"]]


def test_every_kind_of_block_and_every_other_output_stands_on_the_page(demo_page: DemoPage) -> None:
    html = demo_page.full.read_text("utf-8")
    sections = [read_section(p) for p in demo_page.case.notebooks]
    assert {str(b["kind"]) for s in sections for b in s.blocks()} == set(LAYOUTS)
    for words in ("counted: 19, 21", "did not finish", "<blockquote>", 'class="voice"', 'class="others"', "<table>"):
        assert words in html, words
    assert {re.sub(r"^\d+-", "", s) for s in re.findall(r'<section id="([^"]+)"', html)} >= {
        "priorities",
        "catch",
        "rate",
    }
    assert len(CHECKPOINTS) >= 12


@pytest.mark.parametrize("scheme,rules", [("light", GUIDELINES), ("dark", CONTRAST)])
@pytest.mark.parametrize("width", [390, 1280])
def test_axe_core_finds_nothing_against_it(
    browser: Browser, demo_page: DemoPage, width: int, scheme: str, rules: object
) -> None:
    for page in opened(browser, demo_page.full, width, 844, color_scheme=scheme, bypass_csp=True):
        page.evaluate("document.querySelectorAll('details').forEach((part) => { part.open = true; })")
        assert faults(page, rules=rules) == []


def test_axe_core_finds_nothing_against_a_picture_that_fills_the_screen(browser: Browser, demo_page: DemoPage) -> None:
    for page in opened(browser, demo_page.light, bypass_csp=True):
        page.locator(".stills .grow").first.click()
        page.locator("dialog.large").wait_for(state="visible")
        assert faults(page, "dialog.large") == []
        page.evaluate("document.querySelector('dialog img').removeAttribute('alt')")
        assert any(f.startswith("image-alt") for f in faults(page, "dialog.large")), "the checker sees what is wrong"


def test_contents_unfold_by_key_lead_to_a_checkpoint_and_back_to_the_top(page: Page) -> None:
    page.evaluate("scrollTo(0, 9000)")
    bar = page.locator("nav.guide")
    bar.locator("summary").focus()
    page.keyboard.press("Enter")
    links = bar.locator("li a")
    assert links.count() == page.locator("main > section").count() >= 11
    page.keyboard.press("Escape")
    assert not links.first.is_visible()
    assert page.evaluate("document.activeElement.tagName") == "SUMMARY"
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.hash") == "#01-body-line"
    page.keyboard.press("Enter")
    assert not links.first.is_visible()
    box = page.locator("[id='01-body-line']").bounding_box()
    assert box and 0 <= box["y"] < 200, "the section begins under the bar"
    page.locator("nav.guide .here").get_by_text("The body line").wait_for(timeout=5000)
    bar.locator(".up").focus()
    page.keyboard.press("Enter")
    assert page.evaluate("scrollY") == 0


def test_the_keyboard_walks_the_whole_page_in_order_and_is_never_caught_or_hidden(page: Page) -> None:
    # WCAG 2.2: 2.1.2 no trap, 2.4.3 order, 2.4.7 focus visible, 2.4.11 focus not obscured.
    script = """() => {
      const a = document.activeElement, r = a.getBoundingClientRect(), s = getComputedStyle(a);
      const bar = document.querySelector('nav.guide').getBoundingClientRect();
      const hidden = !a.closest('nav, .skip') && r.bottom <= bar.bottom;
      return {tag: a.tagName, ring: s.outlineStyle !== 'none' && parseFloat(s.outlineWidth) >= 1, hidden,
              seen: r.bottom > 0 && r.top < innerHeight, y: r.top + scrollY, nav: Boolean(a.closest('nav, .skip'))};
    }"""
    tops: list[float] = []
    count = page.locator("a, button, select, input, summary, [tabindex='0'], audio").count()
    for _ in range(count + 5):
        page.keyboard.press("Tab")
        now = page.evaluate(script)
        if now["tag"] == "BODY":
            break
        assert now["ring"] and now["seen"] and not now["hidden"], now
        if not now["nav"]:
            tops.append(now["y"])
    else:
        pytest.fail("the focus never left the page")
    assert len(tops) > 150
    # Beside each other, a lower control may come before a higher one; nothing leads back by more than a picture.
    assert all(b > a - 700 for a, b in pairwise(tops))


def test_every_measure_leads_to_the_frames_that_it_was_read_from(page: Page, demo_page: DemoPage) -> None:
    rows = page.locator(".find")
    linked = page.locator(".find:has(a.see)")
    assert linked.count() > 0.7 * rows.count()
    for href in page.eval_on_selector_all("a[href^='#']", "links => links.map(a => a.getAttribute('href'))"):
        assert page.locator(f"[id='{href[1:]}']").count() == 1, href
    catch = next(read_section(p) for p in demo_page.case.notebooks if p.stem == "04_catch")
    (measures,) = (b for b in catch.blocks() if b["kind"] == "measures")
    (loop,) = (b for b in catch.blocks() if b["kind"] == "loop")
    row = measures["measures"][0]
    mine = next(r for r in row["read"] if r["stroke"] == loop["stroke"])
    page.locator("[id='04-catch'] .find").first.get_by_text(f"stroke {loop['stroke']}").click()
    figure = page.locator("[id='04-catch'] figure.loop")
    page.wait_for_function("document.activeElement.className === 'frame'")
    page.wait_for_function("Number(document.querySelector(\"[id='04-catch'] figure.loop\").dataset.shown) >= 0")
    want = [f - loop["first"] for f in range(mine["first"], mine["last"] + 1)]
    page.wait_for_timeout(400)
    assert int(figure.get_attribute("data-shown") or -9) in range(min(want) - 1, max(want) + 2)


def test_a_stroke_beside_the_shown_one_unfolds_and_the_way_back_leads_to_its_number(page: Page) -> None:
    link = page.locator("[id='04-catch'] .find").first.locator("a.see:not([data-at])").first
    link.scroll_into_view_if_needed()
    before = page.evaluate("scrollY")
    link.click()
    target = page.locator(f"[id='{(link.get_attribute('href') or '')[1:]}']")
    assert target.is_visible() and page.evaluate("document.activeElement.tagName") == "FIGURE"
    stroke = (link.text_content() or "").capitalize()
    assert stroke in (target.locator("xpath=ancestor::div[@class='stroke']").text_content() or "")
    page.go_back()
    page.wait_for_function(f"Math.abs(scrollY - {before}) < 50")


def test_a_loop_obeys_keys_for_lines_and_speed_and_plays(page: Page) -> None:
    frame = page.locator("[id='04-catch'] figure.loop > .frame")
    frame.focus()
    page.keyboard.press("l")
    assert not page.locator("[id='04-catch'] figure.loop").get_by_label("Lines").is_checked()
    for key, rate in (("1", 1.0), ("2", 0.5), ("4", 0.25), ("8", 0.125)):
        page.keyboard.press(key)
        assert frame.locator("video").evaluate("v => v.playbackRate") == rate
    page.keyboard.press(" ")
    page.wait_for_function("!document.querySelector(\"[id='04-catch'] video\").paused")
    page.keyboard.press(" ")
    page.wait_for_function("document.querySelector(\"[id='04-catch'] video\").paused")


def test_on_a_phone_everything_to_touch_is_large_enough(browser: Browser, demo_page: DemoPage) -> None:
    for page in opened(browser, demo_page.full, **PHONE):
        small = """els => els.filter(e => e.getClientRects().length).map(e => [e.outerHTML.slice(0, 90),
                   e.getBoundingClientRect().width, e.getBoundingClientRect().height])"""
        everything = page.eval_on_selector_all("button, select, summary, a.see, a.step, a.up, li a, .switch", small)
        # WCAG 2.2, success criterion 2.5.8: 24 by 24 px.
        assert len(everything) > 100 and [e for e in everything if min(e[1:]) < 24] == []
        # 44 px for what is used again and again: 2.5.5, level AAA.
        assert [
            e for e in page.eval_on_selector_all(".controls button, .controls select, .switch", small) if e[2] < 44
        ] == []


@pytest.mark.parametrize("width,height", [(1280, 800), (640, 400), (320, 256)])
def test_at_200_and_400_percent_and_with_wide_text_nothing_scrolls_sideways(
    browser: Browser, demo_page: DemoPage, width: int, height: int
) -> None:
    # WCAG 2.2, 1.4.10: 1280 px wide at 400 percent are 320 px; 1.4.12: text spacing.
    cut = """() => [...document.querySelectorAll('main *, nav *')].filter(e => e.getClientRects().length
             && getComputedStyle(e).overflowX !== 'visible' && e.clientWidth > 1 && e.scrollWidth > e.clientWidth + 1
             && !e.matches('.frame, .here, svg, svg *, input')).map(e => e.outerHTML.slice(0, 90))"""
    for page in opened(browser, demo_page.full, width, height, bypass_csp=True):
        for _ in range(2):
            assert page.evaluate("document.documentElement.scrollWidth") <= width
            assert page.evaluate(cut) == []
            page.evaluate("document.querySelectorAll('details').forEach((part) => { part.open = true; })")
            page.add_style_tag(content=SPACING)


def test_nothing_moves_by_itself_and_least_of_all_where_that_is_unwelcome(
    browser: Browser, demo_page: DemoPage
) -> None:
    for page in opened(browser, demo_page.full, reduced_motion="reduce"):
        assert page.locator("video[autoplay], audio[autoplay]").count() == 0
        assert page.evaluate("[...document.querySelectorAll('video')].every(v => v.paused)")
        assert page.evaluate("document.getAnimations().length") == 0
        assert page.evaluate("getComputedStyle(document.documentElement).scrollBehavior") == "auto"
        lasts = "e => parseFloat(getComputedStyle(e).transitionDuration) > 0"
        assert page.evaluate(f"[...document.querySelectorAll('*')].filter({lasts}).length") == 0


def test_the_voice_note_is_in_its_section_with_a_label_and_can_be_heard(page: Page) -> None:
    audio = page.locator("[id='04-catch'] figure.voice audio")
    assert page.locator("audio").count() == 1
    assert audio.get_attribute("aria-label") == "In the coach's own voice: The catch"
    assert (audio.get_attribute("src") or "").startswith("data:audio/mp4;base64,")
    page.wait_for_function("document.querySelector('audio').duration > 0.9")
    assert audio.evaluate("a => a.duration") == pytest.approx(1.0, abs=0.15)


def test_both_pages_ask_for_nothing_and_allow_nothing(browser: Browser, demo_page: DemoPage) -> None:
    for path in (demo_page.full, demo_page.light):
        context = browser.new_context()
        asked: list[str] = []
        context.on("request", lambda request, asked=asked: asked.append(request.url))
        page = context.new_page()
        said: list[str] = []
        page.on("console", lambda message, said=said: said.append(message.text))
        page.goto(path.as_uri())
        page.evaluate("scrollTo(0, document.body.scrollHeight)")
        page.get_by_role("button", name="Play").first.click()
        page.wait_for_timeout(400)
        assert [u for u in asked if not u.startswith(("data:", "blob:", path.as_uri()))] == [] and said == []
        policy = page.locator("meta[http-equiv='Content-Security-Policy']").get_attribute("content") or ""
        rules = dict(rule.split(" ", 1) for rule in policy.split("; "))
        assert rules["default-src"] == "'none'"
        for loose in ("unsafe", "*", "http", "file:", "filesystem:", "'self'"):
            assert loose not in policy
        assert "data:" not in rules["script-src"] + rules["style-src"]
        context.close()


def test_sizes_are_what_a_message_carries(demo_page: DemoPage) -> None:
    assert demo_page.full.stat().st_size < 15_000_000
    assert demo_page.light.stat().st_size < LIGHT_BYTES == 3_000_000


def test_the_light_page_says_the_same_words_and_numbers(browser: Browser, demo_page: DemoPage) -> None:
    told = []
    for path in (demo_page.full, demo_page.light):
        for page in opened(browser, path):
            told.append(
                page.locator(".find h4, .find .value, .find .verdict, .prose p, .note, .headline").all_inner_texts()
            )
            loops = page.locator("figure.loop").count()
            shown = page.evaluate("Number(document.querySelector('figure.loop').dataset.shown)")
            assert shown == shown, "the loop stands at a picture"
    assert told[0] == told[1]
    assert loops == 3
    words = demo_page.light.read_text("utf-8")
    assert "A light copy for a message: the same words and numbers, smaller pictures, 3 of" in words


def embedded(html: str) -> list[tuple[str, bytes]]:
    found = re.findall(r'(?:src|poster)="data:([a-z0-9/]+);base64,([A-Za-z0-9+/=]+)"', html)
    return [(mime, base64.b64decode(raw)) for mime, raw in found]


def test_nothing_of_this_machine_is_in_either_page(demo_page: DemoPage) -> None:
    for path in (demo_page.full, demo_page.light):
        html = path.read_text("utf-8")
        parts = embedded(html)
        bare = re.sub(r'"data:[^"]+"', "", html).encode() + b"".join(raw for _, raw in parts)
        case, user, host = demo_page.case.folder, getpass.getuser(), socket.gethostname()
        secrets = [str(Path.home()), str(case), str(case.parent), f"/home/{user}", f"/Users/{user}"]
        secrets += ["C:\\", "file://", "/tmp/", "site-packages"]
        # A short name may be part of any word.
        secrets += [host] if len(host) > 5 else []
        assert [s for s in secrets if s.encode() in bare] == []
        assert {mime for mime, _ in parts} >= {"image/jpeg", "image/png", "video/mp4"}
        for mime, raw in parts:
            assert about(mime, raw) == {}, mime


def about(mime: str, raw: bytes) -> dict[str, Any]:
    """What a picture, a loop or a recording says of its origin."""
    if mime.startswith("image/"):
        image = Image.open(io.BytesIO(raw))
        plain = {"jfif", "jfif_version", "jfif_unit", "jfif_density", "transparency", "gamma"}
        return dict(image.getexif()) | {k: v for k, v in image.info.items() if k not in plain}
    with av.open(io.BytesIO(raw)) as box:
        usual = {"major_brand", "minor_version", "compatible_brands", "language", "handler_name", "vendor_id"}
        said = [box.metadata, *(s.metadata for s in box.streams)]
        return {k: v for each in said for k, v in each.items() if k not in usual}


def test_on_paper_it_is_a_booklet_with_whole_figures_and_words_to_select(demo_page: DemoPage, tmp_path: Path) -> None:
    pdf = print_page(demo_page.full, tmp_path / "page.pdf").read_bytes()
    pages = len(re.findall(rb"/Type\s*/Page\b", pdf))
    assert 12 <= pages <= 2.6 * len(CHECKPOINTS), "two or three sheets for a checkpoint"
    assert pdf.count(b"/ToUnicode") >= 2, "letters, not pictures of letters"
    assert not re.search(rb"/(Creator|Producer|CreationDate)\s*\([^)]*\w", pdf)
    assert b"file:" not in pdf and str(Path.home()).encode() not in pdf
    reader = shutil.which("pdftotext")
    if reader is not None:
        said = subprocess.run([reader, tmp_path / "page.pdf", "-"], capture_output=True, check=True, text=True).stdout
        assert "Definitions and sources" in said and "start to tip the fingertips" in " ".join(said.split())


def test_on_paper_loops_are_stills_and_every_figure_fits_on_a_sheet(browser: Browser, demo_page: DemoPage) -> None:
    for page in opened(browser, demo_page.full, round(PAPER[0]), round(PAPER[1])):
        page.emulate_media(media="print", color_scheme="dark")
        assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
        assert (
            page.locator("video:visible, .controls:visible, audio:visible, .grow:visible, a.see:visible").count() == 0
        )
        assert page.locator("figure.loop .strip img:visible").count() >= 15
        assert page.locator("nav.guide li a").first.is_visible(), "the contents stand on the first sheet"
        assert page.locator("details.sources li").first.is_visible()
        assert page.evaluate("document.documentElement.scrollWidth") <= round(PAPER[0])
        kept = page.eval_on_selector_all(
            "figure:not(.loop), .find, .note, .stills, .two, .strip, table",
            "els => els.filter(e => e.getClientRects().length)"
            ".map(e => [e.className, getComputedStyle(e).breakInside, e.getBoundingClientRect().height])",
        )
        assert len(kept) > 100
        assert [k for k in kept if k[1] != "avoid" or k[2] > PAPER[1]] == []


def test_where_nothing_runs_there_are_stills_contents_and_links(browser: Browser, demo_page: DemoPage) -> None:
    for page in opened(browser, demo_page.full, **PHONE, java_script_enabled=False):
        page.locator("nav.guide summary").click()
        page.locator("nav.guide li a").nth(4).click()
        assert page.locator("[id='04-catch'] .strip img").first.is_visible()
        assert page.locator("[id='04-catch'] figure.loop video").get_attribute("controls") is not None
        assert not page.locator("[id='04-catch'] .controls").is_visible()
        page.locator("[id='04-catch'] a.see").first.click()


def test_a_projector_shows_a_still_over_the_whole_screen(browser: Browser, demo_page: DemoPage) -> None:
    for page in opened(browser, demo_page.full, 1920, 1080):
        page.locator("[id='04-catch'] .stills .grow").nth(1).focus()
        page.keyboard.press("Enter")
        box = page.locator("dialog.large .frame").bounding_box()
        assert box and box["height"] > 0.85 * 1080
        page.keyboard.press("Escape")
        if page.locator("dialog.large").is_visible():
            page.keyboard.press("Escape")
        page.locator("dialog.large").wait_for(state="hidden")
        assert page.evaluate("document.activeElement.className") == "grow"


def test_the_browser_that_prints_is_one_of_this_machine() -> None:
    assert find_browser() is not None
    assert json.dumps(find_browser())
