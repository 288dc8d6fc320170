"""The top of a page of several sections, and its contents, which stay within reach wherever the reader is."""

from __future__ import annotations

from collections.abc import Sequence

from casebook.pages import plain
from casebook.pages.markup import Html, el, join
from casebook.pages.section import Section

TOP_ID = "top"


def contents(sections: Sequence[Section]) -> Html:
    """A bar that stays at the top of the screen: the contents unfold from it, and one link leads back to the top."""
    links = join(el("li", _entry(s)) for s in sections)
    unfold = el("summary", el("span", "Contents"), el("span", cls="here", aria_hidden="true"))
    return el(
        "nav",
        el("div", el("details", unfold, el("ol", links)), el("a", "Top", href=f"#{TOP_ID}", cls="up"), cls="inner"),
        cls="guide",
        aria_label="Contents",
    )


def _entry(section: Section) -> Html:
    """What a section is about, and its headline."""
    says = plain.words(section.headline, "title")
    about = el("span", section.topic, cls="of")
    return el("a", about, *((" ", el("span", says, cls="says")) if says else ()), href=f"#{section.id}")
