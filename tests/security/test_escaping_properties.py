"""Escaping, tried on words drawn at random from the signs that matter."""

from __future__ import annotations

from html import unescape

from hypothesis import given, settings
from hypothesis import strategies as st
from safe_page import faults

from casebook.pages.markdown import markdown, plain_title
from casebook.pages.markup import clean, el, join, text

#: Pieces that mean something to HTML, Markdown or an address, next to any other sign.
PIECES = st.sampled_from(
    [
        *"<>&\"'`=/\\![]():#*_|-\n x\x00\u202e\u2028", "\n\n", "    ", "&lt", "&#60;", "&colon;", "script", "img",
        "svg", "onerror=x", "href=", "javascript:", "data:text/html,", "https://elsewhere.invalid", "//", "<!--", "-->",
        "]]>", "</", "```", "~~~",
    ]
)  # fmt: skip
WORDS = st.lists(PIECES | st.characters(), max_size=25).map("".join)


@given(WORDS)
def test_words_in_an_element_and_in_an_attribute_come_out_as_they_went_in(words):
    made = el("p", words, title=words)
    assert not faults(made, whole=False)
    assert unescape(text(words)) == clean(words)
    assert made.count("<") == 2 and unescape(made).count(clean(words)) >= 2 * bool(clean(words))


@given(st.lists(WORDS, max_size=4), WORDS)
def test_joining_words_makes_no_markup(words, between):
    made = join(words, between)
    assert "<" not in made and unescape(made) == clean(between).join(map(clean, words))


@settings(max_examples=300)
@given(WORDS)
def test_no_markdown_makes_foreign_markup(words):
    made = markdown(words, 3)
    assert not faults(made, whole=False)
    assert "<img" not in made and "<h1" not in made and "<h2" not in made
    assert "<" not in text(plain_title(words))
