"""What was counted, laid out as HTML: a table of two efforts, a row a measure."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from casebook.pages import plain
from casebook.pages.markup import Html, el, join, text

if TYPE_CHECKING:
    from casebook.pages.layout import Place

Data = Mapping[str, Any]


def efforts(data: Data, place: Place) -> Html:
    """Efforts side by side."""
    rows = plain.rows(data, "rows")[:12]
    names = plain.wordlist(data, "names")[:2]
    if not rows or not names:
        return text("")
    both = len(names) == 2
    head = ["", *names, *(["Difference"] if both else [])]
    body = []
    for row in rows:
        values = [*plain.wordlist(row, "values")[: len(names)], *([plain.words(row, "difference")] if both else [])]
        title = el("th", plain.words(row, "title"), scope="row")
        body.append(el("tr", title, join(el("td", value) for value in values)))
    return el(
        "figure",
        place.heading(data),
        el(
            "table",
            el("thead", el("tr", join(el("th", name, scope="col") if name else el("td", "") for name in head))),
            el("tbody", join(body)),
        ),
        el("figcaption", plain.words(data, "caption")),
        join(el("p", note, cls="small") for note in plain.wordlist(data, "notes")),
        cls="efforts",
    )
