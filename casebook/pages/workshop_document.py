"""An HTML document of the workshop: one file, nothing fetched, a strict policy."""

from __future__ import annotations

from casebook.pages.markup import Html, el
from casebook.pages.page import policy


def document(title: str, style: str, script: str, body: Html) -> str:
    """The document as a string; ``script`` is what ``body`` carries, for the policy, and may be empty."""
    return "<!doctype html>\n" + el(
        "html",
        el(
            "head",
            el("meta", http_equiv="Content-Security-Policy", content=policy(style, script)),
            el("meta", charset="utf-8"),
            el("meta", name="viewport", content="width=device-width,initial-scale=1"),
            el("meta", name="referrer", content="no-referrer"),
            el("meta", name="color-scheme", content="light"),
            el("title", title),
            el("style", Html(style)),
        ),
        body,
        lang="en",
    )
