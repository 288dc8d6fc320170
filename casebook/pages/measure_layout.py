"""Measures laid out as HTML, a row each: words and number at the left, the figure at the right, the way to the film."""

from __future__ import annotations

from collections.abc import Sequence

from casebook.pages import plain
from casebook.pages.charts import MEAN_FROM, measure_shapes
from casebook.pages.figure import to_svg
from casebook.pages.markup import Html, el, join, text
from casebook.pages.place import Data, Place
from casebook.pages.where import readings
from casebook.pages.words_of import BADGES, READ_TITLE, READING, SEE
from casebook.words import VERDICTS

#: Id of the explanation of the figures, which stands under the first measures of a page.
READING_ID = "how-to-read"


def measures(data: Data, place: Place) -> Html:
    """Every measure as one row; then what was not measured, and how to read the figures."""
    found = plain.rows(data, "measures")
    missing = plain.wordlist(data, "missing")
    # What all rows say of arm and strokes is said once, over them.
    who = {plain.words(m, "who") for m in found}
    same = who.pop() if len(who) == 1 and len(found) > 1 else ""
    return el(
        "div",
        place.heading(data),
        el("p", same, cls="who") if same else "",
        join(_measure(m, place, alone=not same) for m in found),
        el("div", join(el("p", m) for m in missing), cls="missing") if missing else "",
        _notes(data, place, explained=bool(found)),
        cls="measures",
    )


def badge(verdict: str) -> Html:
    """The verdict as a word with a shape and a border of its own."""
    verdict = verdict if verdict in VERDICTS else "shown"
    shape = el("svg", el("path", d=BADGES[verdict]), viewbox="0 0 12 12", aria_hidden="true", focusable="false")
    return el("span", shape, VERDICTS[verdict], cls=f"verdict {verdict}")


def _measure(m: Data, place: Place, *, alone: bool) -> Html:
    told = el(
        "div",
        el(f"h{min(place.level + 1, 6)}", plain.words(m, "title")),
        el("p", plain.words(m, "who"), cls="who") if alone else "",
        el("p", _value(m), cls="value"),
        el("p", badge(plain.words(m, "verdict")), cls="judged"),
        _frames(m, place),
        cls="told",
    )
    return el("div", told, el("div", _figure(m), cls="shown"), cls="find")


def _value(m: Data) -> Html:
    """The number, and its give or take in pieces that are not broken over lines."""
    value, give = plain.words(m, "value_text"), plain.words(m, "give_text")
    pieces = [value, *give.split(", ")] if give else [value]
    said = [f"{piece}," if k < len(pieces) - 1 else piece for k, piece in enumerate(pieces)]
    return join([el("b", said[0]), *(el("span", piece) for piece in said[1:])], " ")


def _figure(m: Data) -> Html:
    strokes = plain.pairs(m.get("strokes"))
    value = plain.number(m.get("value"))
    if not strokes or (value is None and len(strokes) >= MEAN_FROM):
        return text("")
    chart = {
        "strokes": strokes,
        "these": plain.pair(m.get("these")),
        "habit": plain.pair(m.get("habit")),
        "value": value,
        "band": plain.open_pair(m.get("band")),
        "unit": plain.words(m, "unit"),
    }
    shapes, size = measure_shapes(chart)
    return to_svg(shapes, size, plain.words(m, "alt"), "measure")


def _frames(m: Data, place: Place) -> Html:
    """Links to where the page shows what the number was read from; nothing where it shows none of it."""
    links = []
    for reading in readings(m):
        spot = place.where.behind(place.section, reading)
        if spot is not None:
            words = f"stroke {reading.stroke}"
            at = spot[1] if spot[0].is_loop else None
            says = f"{words}: {SEE[:1].lower()}{SEE[1:]} ({plain.words(m, 'title')})"
            links.append(el("a", words, href=f"#{spot[0].id}", cls="see", data_at=at, aria_label=says))
    return el("p", f"{SEE}: ", join(links, ", "), cls="frames") if links else text("")


def _notes(data: Data, place: Place, *, explained: bool) -> Html:
    shaded = plain.wordlist(data, "shaded")
    parts: list[object] = []
    if explained and place.explains:
        parts.append(el("p", f"{READ_TITLE}: {' '.join([READING, *shaded])}", id=READING_ID))
    elif explained:
        parts.append(el("p", join([*shaded, el("a", READ_TITLE, href=f"#{READING_ID}", cls="reading")], " ")))
    parts += _paragraphs(plain.wordlist(data, "notes"))
    return el("div", join(parts), cls="small") if parts else text("")


def _paragraphs(words: Sequence[str]) -> list[Html]:
    return [el("p", each) for each in words]
