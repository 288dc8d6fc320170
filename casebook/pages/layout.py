"""Blocks laid out as HTML, one small pure function a kind. Nothing here trusts what a block holds."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from casebook.pages import plain
from casebook.pages.charts import MEAN_FROM, curve_shapes, measure_shapes
from casebook.pages.figure import to_svg
from casebook.pages.loop_layout import loop
from casebook.pages.markup import Html, el, join, text
from casebook.pages.media import Media
from casebook.pages.picture_layout import pair, stills, whole
from casebook.pages.stroke_layout import STROKE_LAYOUTS
from casebook.pages.words_of import BADGES, READING
from casebook.words import VERDICTS

Data = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Place:
    """Where a block stands: the level of its headings, the media it may use, and whether a heading stands over it."""

    level: int
    media: Media
    headed: bool = False

    def heading(self, data: Data) -> Html:
        """The block's own title, unless the notebook has just given one."""
        title = plain.words(data, "title")
        return text("") if self.headed or not title else el(f"h{self.level}", title)


def headline(data: Data, place: Place) -> Html:
    """The finding as a title, who and where, and the two sentences that say it all."""
    return el(
        "header",
        el(f"h{place.level - 1}", plain.words(data, "title")),
        el("p", join(plain.wordlist(data, "meta"), " · "), cls="meta"),
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


def measures(data: Data, place: Place) -> Html:
    """Every measure as one row: words and number at the left, the figure at the right; then what was not measured."""
    found = plain.rows(data, "measures")
    parts = [_measure(m, place) for m in found]
    missing = plain.wordlist(data, "missing")
    reading = [" ".join([READING, *plain.wordlist(data, "shaded")])] if found else []
    notes = [*reading, *plain.wordlist(data, "notes")]
    return el(
        "div",
        place.heading(data),
        join(parts),
        el("div", join(el("p", m) for m in missing), cls="missing") if missing else "",
        el("div", join(el("p", note) for note in notes), cls="small") if notes else "",
        cls="measures",
    )


def badge(verdict: str) -> Html:
    """The verdict as a word with a shape and a border of its own."""
    verdict = verdict if verdict in VERDICTS else "shown"
    shape = el("svg", el("path", d=BADGES[verdict]), viewbox="0 0 12 12", aria_hidden="true", focusable="false")
    return el("span", shape, VERDICTS[verdict], cls=f"verdict {verdict}")


def _measure(m: Data, place: Place) -> Html:
    strokes = plain.pairs(m.get("strokes"))
    chart = {
        "strokes": strokes,
        "these": plain.pair(m.get("these")),
        "habit": plain.pair(m.get("habit")),
        "value": plain.number(m.get("value")),
        "band": plain.open_pair(m.get("band")),
        "unit": plain.words(m, "unit"),
    }
    value = plain.words(m, "value_text")
    give = plain.words(m, "give_text")
    pieces = [value, *give.split(", ")] if give else [value]
    said = [f"{piece}," if k < len(pieces) - 1 else piece for k, piece in enumerate(pieces)]
    told = el("p", join([el("b", said[0]), *(el("span", piece) for piece in said[1:])], " "), cls="value")
    figure: object = ""
    if strokes and (chart["value"] is not None or len(strokes) < MEAN_FROM):
        shapes, size = measure_shapes(chart)
        figure = to_svg(shapes, size, plain.words(m, "alt"), "measure")
    return el(
        "div",
        el(
            "div",
            el(f"h{min(place.level + 1, 6)}", plain.words(m, "title")),
            el("p", plain.words(m, "who"), cls="who"),
            told,
            el("p", badge(plain.words(m, "verdict")), cls="judged"),
            cls="told",
        ),
        el("div", figure, cls="shown"),
        cls="find",
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
        aria_label=plain.words(data, "title"),
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
    "curve": curve,
    "loop": loop,
    "prose": prose,
    "facts": facts,
    "caution": caution,
    "sources": sources,
    "provenance": sources,
}
