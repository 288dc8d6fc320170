"""One page that holds every payload, in a real browser, with and without its own policy to help it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest
from hostile import AWAY, EVERYWHERE, OUTPUTS, PAGE, RUN
from hostile_blocks import lay_media, seen, spoiled
from nbformat.v4 import new_code_cell, new_markdown_cell, new_output
from safe_page import FOREIGN
from stranger_page import page_of

from casebook.pages.block import MIME

if TYPE_CHECKING:
    from pathlib import Path

    from playwright.sync_api import Browser, Page

pytestmark = pytest.mark.browser

#: Everything in the parsed document that runs, fetches or leads away.
LOOK = """foreign => {
    const found = [];
    const walk = root => root.querySelectorAll('*').forEach(e => {
        const name = e.localName.toLowerCase();
        if (foreign.includes(name)) found.push(name);
        if (name === 'template') walk(e.content);
        if (e.shadowRoot) walk(e.shadowRoot);
        for (const a of e.attributes) {
            const words = a.value.trim().toLowerCase();
            const runs = a.name.startsWith('on') || ['style', 'srcdoc', 'srcset'].includes(a.name);
            const leads = a.name.endsWith('href') && !/^(#|https?:|mailto:)/.test(words);
            const fetches = a.name === 'src' && words && !/^data:(image|video|audio)\\//.test(words);
            if (runs || leads || fetches) found.push(`${name} ${a.name}=${words}`);
        }
    });
    walk(document);
    return {
        found, scripts: document.scripts.length, styles: document.querySelectorAll('style,link').length,
        metas: document.querySelectorAll('meta').length, bodies: document.querySelectorAll('body').length,
        ran: window.ran || 0, title: document.title, frames: window.frames.length,
    };
}"""
#: Whatever waits to be touched is touched.
TOUCH = """() => document.querySelectorAll('body *').forEach(e => {
    for (const kind of ['mouseover', 'mouseenter', 'focus', 'focusin', 'toggle', 'error', 'load', 'animationstart'])
        e.dispatchEvent(new Event(kind));
})"""


def cells() -> list[Any]:
    """Every payload as prose, as the coach's words, as plain output, and as all words of some block."""
    made: list[Any] = []
    blocks = [block for kinds in seen().values() for block in kinds]
    for k, (name, words) in enumerate(EVERYWHERE.items()):
        if name in ("long", "deep"):  # the same as others, only more of it
            words = words[-3000:]
        made += [
            new_markdown_cell(words),
            new_markdown_cell(words, metadata={"tags": ["coach"]}),
            new_code_cell("x", outputs=[new_output("display_data", data={"text/plain": words})]),
            new_code_cell(
                "x", outputs=[new_output("display_data", data={MIME: spoiled(blocks[k % len(blocks)], words)})]
            ),
        ]
    made += [new_code_cell("x", outputs=[new_output("display_data", data=data)]) for data in OUTPUTS.values()]
    return made


class Watch:
    """What a page did that it should not."""

    def __init__(self, page: Page, own: str) -> None:
        self.did: list[str] = []
        page.on("dialog", lambda d: (self.did.append(f"dialog {d.message}"), d.dismiss()))
        page.on("request", lambda r: self._asked(r.url, own))
        page.on("popup", lambda _: self.did.append("popup"))
        page.on("console", lambda m: self.did.append(f"console {m.text}"))
        page.on("pageerror", lambda e: self.did.append(f"error {e}"))
        page.on("websocket", lambda w: self.did.append(f"websocket {w.url}"))
        page.on("download", lambda d: self.did.append(f"download {d.url}"))

    def _asked(self, url: str, own: str) -> None:
        if not url.startswith(("data:", "blob:")) and url != own:
            self.did.append(f"asked {url}")


@pytest.mark.parametrize("without_policy", [False, True], ids=["as it is", "its policy taken away"])
def test_every_payload_is_only_words_in_a_browser(browser: Browser, tmp_path: Path, without_policy: bool) -> None:
    closing = "".join(words for name, words in PAGE.items() if name.startswith("closing"))
    page_of(tmp_path, cells(), cells()[:40], title=closing, alias=closing, media=lay_media(tmp_path / "media"))
    own = (tmp_path / "page.html").as_uri()
    context = browser.new_context(bypass_csp=without_policy)
    page = context.new_page()
    watch = Watch(page, own)
    page.goto(own)
    page.evaluate(TOUCH)
    page.wait_for_timeout(300)
    seen_there = page.evaluate(LOOK, sorted(FOREIGN - {"dialog"}))  # the page's own shows a picture large
    assert watch.did == []
    assert seen_there["found"] == []
    counts = {k: seen_there[k] for k in ("scripts", "styles", "bodies", "ran", "frames")}
    assert counts == {"scripts": 1, "styles": 1, "bodies": 1, "ran": 0, "frames": 0}
    assert RUN in seen_there["title"], "the title shows the hostile words as words"
    assert page.locator("text=onerror").count() > 20, "the words are there to be read"
    assert page.url == own
    context.close()


def test_the_browser_notices_what_runs(browser: Browser) -> None:
    """The same words pasted without any care do run and do ask; so silence above means something."""
    page = browser.new_page()
    asked: list[str] = []
    page.route("**/*", lambda route: (asked.append(route.request.url), route.abort()))
    ran = 0
    for name in ("script", "image that fails", "svg that loads", "closing a tag", "details", "closing the title"):
        page.set_content(f"<title>{PAGE[name]}</title>" if "title" in name else f"<p>{PAGE[name]}</p>")
        page.wait_for_timeout(50)
        ran += page.evaluate("() => window.ran || 0") > 0
    page.set_content(PAGE["image from elsewhere"])
    page.wait_for_timeout(50)
    assert ran >= 5
    assert any(url.startswith(AWAY) for url in asked)
    page.close()
