"""A short loop that the reader steps picture by picture, with the lines on or off."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from casebook.pages import plain
from casebook.pages.markup import Html, el, join, text
from casebook.pages.overlay import KINDS, path_of, points
from casebook.pages.picture_layout import row_of, upright
from casebook.pages.words_of import OTHERS
from casebook.words import SIDES

if TYPE_CHECKING:
    from casebook.pages.place import Place

Data = Mapping[str, Any]
#: Rates, their names, and the key that sets them while the loop has the keyboard.
SPEEDS = ((1.0, "Full speed"), (0.5, "Half"), (0.25, "Quarter"), (0.125, "Eighth"))


def loop(data: Data, place: Place) -> Html:
    """The loop with its controls; three stills stand in for it on paper and where scripts are off."""
    width, height = plain.size(data.get("size"))
    times = [t for t in map(plain.number, data.get("times") or []) if t is not None]
    shows = [t for t in map(plain.number, data.get("clock") or []) if t is not None]
    lines = [_paths(frame) for frame in plain.rows(data, "lines")]
    moments = [m for m in plain.rows(data, "moments") if plain.number(m.get("at")) is not None]
    video = el(
        "video",
        src=place.media.uri(data.get("file")),
        poster=place.media.uri(data.get("poster")),
        width=width,
        height=height,
        muted=True,
        playsinline=True,
        controls=True,
        preload="auto",
        aria_label=plain.words(data, "alt"),
    )
    overlay = el("svg", cls="lines", viewbox=f"0 0 {width} {height}", aria_hidden="true", focusable="false")
    return el(
        "figure",
        place.heading(data),
        el("div", video, overlay, cls="frame"),
        _controls(len(times), moments),
        el("figcaption", plain.words(data, "caption")),
        row_of(plain.rows(data, "stills"), place, "strip", linked=False),
        _others(data, place),
        cls=f"loop {upright(width, height)}".strip(),
        id=plain.identifier(plain.words(data, "name", "loop")),
        data_times=json.dumps(times),
        data_clock=json.dumps(shows),
        data_lines=json.dumps(lines, separators=(",", ":")),
        data_start=int(plain.number(data.get("start")) or 0),
    )


def _controls(n: int, moments: list[Data]) -> Html:
    step = [
        el("button", "Back", type="button", cls="back", aria_label="One picture back"),
        el("button", "Play", type="button", cls="play", aria_pressed="false"),
        el("button", "Forward", type="button", cls="forward", aria_label="One picture forward"),
    ]
    slider = el("input", type="range", min=0, max=max(n - 1, 0), step=1, value=0, aria_label="Picture of the loop")
    jumps = [
        el("button", plain.words(m, "title"), type="button", cls="jump", data_at=int(plain.number(m.get("at")) or 0))
        for m in moments
    ]
    speed = el(
        "label",
        "Speed ",
        el("select", join(el("option", name, value=f"{rate:g}", selected=rate == 0.25) for rate, name in SPEEDS)),
    )
    shown = el("label", el("input", type="checkbox", checked=True), " Lines", cls="switch")
    return el(
        "div",
        el("div", *step, slider, el("output", aria_live="polite"), cls="row"),
        el("div", el("span", *jumps, cls="jumps"), el("span", speed, shown, cls="ways"), cls="row"),
        cls="controls",
        hidden=True,
    )


def _others(data: Data, place: Place) -> Html:
    """The other strokes at the same moments, folded."""
    shown = plain.rows(data, "others")
    if not shown:
        return text("")
    strokes = dict.fromkeys(_stroke(p) for p in shown)
    rows = [
        el("div", el("p", name, cls="tag"), row_of([p for p in shown if _stroke(p) == name], place), cls="stroke")
        for name in strokes
    ]
    return el("details", el("summary", OTHERS), join(rows), cls="others")


def _stroke(picture: Data) -> str:
    number = plain.number(picture.get("stroke"))
    side = SIDES.get(plain.words(picture, "side"), "")
    return f"Stroke {int(number or 0)}{f', {side}' if side else ''}"


def _paths(drawing: Data) -> list[str]:
    """SVG path data: reference, body, measure, dots."""
    paths = [path_of([line for line in points(drawing, kind) if len(line) > 1]) for kind in KINDS]
    dots = "".join(f"M{x:g} {y:g}h0" for line in points(drawing, "body") for x, y in line)
    return [*paths, dots]
