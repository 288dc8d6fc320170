"""The summary is one screen of a laptop, and on a phone nothing is wider than the screen."""

from __future__ import annotations

import nbformat
import pytest
from nbformat.v4 import new_notebook
from page_maker import block_cell, text_cell

from casebook.case.case import Case
from casebook.case.overview import overview
from casebook.demo.case import build_demo_case
from casebook.demo.desk import aim_for_first
from casebook.pages import show
from casebook.pages.page import render_page

pytestmark = pytest.mark.browser
LAPTOP, PHONE = (1366, 768), (390, 844)


@pytest.fixture(scope="module")
def page(tmp_path_factory):
    case = Case.open(build_demo_case(tmp_path_factory.mktemp("first") / "heron", "heron"))
    found = overview(case)
    blocks = [
        show.first(case, found), show.change(case, found, aim_for_first(found)), show.practice(case, found),
        show.ignore(case, found), show.repeat_card(case, found),
    ]  # fmt: skip
    first = [text_cell("# 13 What to work on first", "desk"), *(block_cell(b) for b in blocks)]
    first.insert(4, text_cell("Dear Heron, thank you for the film.", "coach"))
    other = [text_cell("# 2 The entry", "desk"), text_cell("A word on the entry.")]
    paths = []
    for name, cells, about in (("13_priorities", first, {"casebook": {"page": "first"}}), ("02_entry", other, {})):
        paths.append(case.folder / "notebooks" / f"{name}.ipynb")
        paths[-1].write_text(nbformat.writes(new_notebook(cells=cells, metadata=about)), "utf-8")
    return render_page(paths, case.out / "media", case.out / "page.html", title="Heron", alias="Heron", invented=True)


def seen(browser, page, size, script):
    opened = browser.new_page(viewport={"width": size[0], "height": size[1]})
    try:
        opened.goto(page.as_uri())
        return opened.evaluate(script)
    finally:
        opened.close()


def test_all_of_the_summary_is_on_one_screen_of_a_laptop(browser, page):
    script = "[...document.querySelectorAll('.leads>:not(.coach)')].map(e => e.getBoundingClientRect().bottom)"
    bottoms = seen(browser, page, LAPTOP, script)
    assert len(bottoms) == 6 and max(bottoms) <= LAPTOP[1]


def test_nothing_of_the_summary_lies_over_anything_else(browser, page):
    script = """[...document.querySelectorAll('.leads>*')].map(e => e.getBoundingClientRect())
        .filter(b => b.height).map(b => [b.left, b.top, b.right, b.bottom])"""
    boxes = seen(browser, page, LAPTOP, script)
    for i, a in enumerate(boxes):
        for b in boxes[i + 1 :]:
            assert min(a[2], b[2]) <= max(a[0], b[0]) + 1 or min(a[3], b[3]) <= max(a[1], b[1]) + 1


def test_on_a_phone_it_is_one_column_no_wider_than_the_screen(browser, page):
    wide = seen(browser, page, PHONE, "document.documentElement.scrollWidth")
    lefts = seen(browser, page, PHONE, "[...document.querySelectorAll('.leads>.prose')].map(e => e.offsetLeft)")
    assert wide <= PHONE[0] and len(set(lefts)) == 1
