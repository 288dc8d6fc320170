"""A coach's Markdown as HTML: no raw HTML, no pictures from elsewhere, and only links that a reader can trust."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any

from casebook.pages.markup import Html, clean, el, text

if TYPE_CHECKING:
    from collections.abc import Sequence

    from markdown_it import MarkdownIt
    from markdown_it.token import Token

_LINKS = ("http://", "https://", "mailto:", "#")


def markdown(source: str, level: int) -> Html:
    """Markdown as HTML whose highest heading has the given level and whose headings skip none."""
    parser = _parser()
    tokens = parser.parse(clean(source))
    _set_levels(tokens, level)
    return Html(parser.renderer.render(tokens, parser.options, {}))


def plain_title(source: str) -> str:
    """The text of the first heading, or an empty string."""
    tokens = _parser().parse(clean(source))
    for k, token in enumerate(tokens):
        if token.type == "heading_open":
            return "".join(c.content for c in tokens[k + 1].children or () if c.type in ("text", "code_inline"))
    return ""


@cache
def _parser() -> MarkdownIt:
    from markdown_it import MarkdownIt

    parser = MarkdownIt("commonmark", {"html": False, "linkify": False}).enable("table")
    parser.validateLink = _may_link  # type: ignore[method-assign]
    parser.add_render_rule("image", _image_as_text)
    parser.add_render_rule("link_open", _link)
    return parser


def _may_link(url: str) -> bool:
    return url.strip().lower().startswith(_LINKS)


def _image_as_text(self: Any, tokens: Sequence[Token], idx: int, options: Any, env: Any) -> str:
    words = tokens[idx].content
    return el("em", f"[picture: {words}]") if words else text("")


def _link(self: Any, tokens: Sequence[Token], idx: int, options: Any, env: Any) -> str:
    if not str(tokens[idx].attrGet("href")).startswith("#"):
        tokens[idx].attrSet("rel", "noopener noreferrer")
    return str(self.renderToken(tokens, idx, options, env))


def _set_levels(tokens: list[Token], level: int) -> None:
    heads = [t for t in tokens if t.type in ("heading_open", "heading_close")]
    top = min((int(t.tag[1]) for t in heads), default=1)
    previous = level - 1
    for token in heads:
        if token.type == "heading_open":
            previous = min(level + int(token.tag[1]) - top, previous + 1, 6)
        token.tag = f"h{previous}"
