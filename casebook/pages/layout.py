"""Blocks laid out as HTML, one small pure function a kind. Nothing here trusts what a block holds."""

from __future__ import annotations

from collections.abc import Callable

from casebook.pages import plain
from casebook.pages.charts import curve_shapes
from casebook.pages.counted_layout import efforts
from casebook.pages.figure import to_svg
from casebook.pages.loop_layout import loop
from casebook.pages.markup import Html, el, join, text
from casebook.pages.measure_layout import measures
from casebook.pages.picture_layout import pair, stills, whole
from casebook.pages.place import Data, Place
from casebook.pages.stroke_layout import STROKE_LAYOUTS

__all__ = ["LAYOUTS", "Data", "Place"]


def headline(data: Data, place: Place) -> Html:
    """The finding as a title, who and where, and the two sentences that say it all."""
    meta = [fact for fact in plain.wordlist(data, "meta") if fact not in place.said]
    return el(
        "header",
        el(f"h{place.level - 1}", plain.words(data, "title")),
        el("p", join(meta, " · "), cls="meta") if meta else "",
        join(el("p", p, cls="lead") for p in plain.wordlist(data, "lead")),
        cls="headline",
    )


def prose(data: Data, place: Place) -> Html:
    """Paragraphs and points under a heading."""
    return el(
        "div",
        place.heading(data),
        join(el("p", p) for p in plain.wordlist(data, "paragraphs")),
        _list(plain.wordlist(data, "items")),
        cls="prose",
    )


def curve(data: Data, place: Place) -> Html:
    """A curve with its band and a caption."""
    lines = []
    for each in plain.rows(data, "lines"):
        points = plain.pairs(each.get("points"))
        if len(points) > 1:
            lines.append({"side": plain.words(each, "side"), "points": points, "read": plain.pair(each.get("read"))})
    if not lines:
        return text("")
    shapes, size = curve_shapes(
        {
            "lines": lines,
            "band": plain.open_pair(data.get("band")),
            "read_at": plain.number(data.get("read_at")),
            "unit": plain.words(data, "unit"),
        }
    )
    return el(
        "figure",
        place.heading(data),
        to_svg(shapes, size, plain.words(data, "alt"), "curve"),
        el(
            "figcaption",
            el("b", f"{plain.words(data, 'title')}. ") if place.headed else "",
            plain.words(data, "caption"),
        ),
        cls="curve",
    )


def facts(data: Data, place: Place) -> Html:
    """What the clip can answer and what it cannot."""
    return el(
        "div",
        place.heading(data),
        el(
            "dl",
            el("dt", "It can show"),
            el("dd", _sentence(plain.wordlist(data, "can"))),
            el("dt", "It cannot show"),
            el("dd", _sentence(plain.wordlist(data, "cannot"))),
        ),
        join(el("p", p) for p in plain.wordlist(data, "heed")),
        cls="facts small",
    )


def caution(data: Data, place: Place) -> Html:
    """What to take care of, set apart."""
    return el(
        "aside",
        place.heading(data),
        join(el("p", p) for p in plain.wordlist(data, "items")),
        cls="note caution",
        aria_label=place.label(plain.words(data, "title")),
    )


def sources(data: Data, place: Place) -> Html:
    """Where bands and definitions come from; also version, clip and marker. Folded, for those who ask."""
    return el(
        "details",
        el("summary", el(f"h{place.level}", plain.words(data, "title"))),
        _list(plain.wordlist(data, "items")),
        cls="sources small",
    )


def _list(items: list[str]) -> Html:
    return el("ul", join(el("li", i) for i in items)) if items else text("")


def _sentence(items: list[str]) -> str:
    return "; ".join(items) + "." if items else "nothing for certain."


LAYOUTS: dict[str, Callable[[Data, Place], Html]] = {
    **STROKE_LAYOUTS,
    "headline": headline,
    "whole": whole,
    "stills": stills,
    "pair": pair,
    "measures": measures,
    "efforts": efforts,
    "curve": curve,
    "loop": loop,
    "prose": prose,
    "facts": facts,
    "caution": caution,
    "sources": sources,
    "provenance": sources,
}
