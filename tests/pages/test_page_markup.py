"""Whatever a person typed stays text."""

from __future__ import annotations

from html.parser import HTMLParser

from hypothesis import given
from hypothesis import strategies as st

from casebook.pages.markup import Html, clean, el, join, text
from casebook.pages.plain import identifier


class Seen(HTMLParser):
    def __init__(self, markup: str) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words = ""
        self.feed(markup)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        self.words += data


@given(st.text())
def test_any_text_in_an_element_comes_back_as_that_text_and_adds_no_element(words: str) -> None:
    seen = Seen(el("p", words, title=words))
    assert [tag for tag, _ in seen.tags] == ["p"]
    assert seen.words == clean(words)


@given(st.text())
def test_an_attribute_never_ends_early(words: str) -> None:
    (tag, attributes), *more = Seen(el("img", alt=words, src="x")).tags
    assert not more
    assert tag == "img" and set(attributes) == {"alt", "src"} and attributes["src"] == "x"


def test_markup_is_passed_on_and_everything_else_is_escaped() -> None:
    assert el("p", Html("<b>x</b>"), "<i>") == "<p><b>x</b>&lt;i&gt;</p>"
    assert join(["<", Html("<br>")], " & ") == "&lt; &amp; <br>"


def test_control_characters_and_directional_overrides_are_left_out() -> None:
    assert text("a\x00b\u202ec\u2066d\x1b") == "abcd"


def test_attributes_that_are_none_or_false_are_left_out_and_true_stands_bare() -> None:
    assert el("video", muted=True, loop=False, poster=None) == "<video muted></video>"


def test_an_identifier_holds_nothing_that_could_end_a_link() -> None:
    assert identifier('"><script>alert(1)</script>') == "script-alert-1-script"
    assert identifier("\u202e///") == "x"
