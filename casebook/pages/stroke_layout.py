"""Pictures of the stroke in time laid out as HTML: strip of phases, mean cycle, dial of timing, way of the hand."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

from casebook.pages import plain
from casebook.pages.cycle_chart import cycle_shapes
from casebook.pages.figure import Shape, to_svg
from casebook.pages.markup import Html, el, text
from casebook.pages.path_chart import MOMENTS, path_shapes
from casebook.pages.phase_chart import phase_shapes
from casebook.pages.timing_chart import timing_shapes

if TYPE_CHECKING:
    from casebook.pages.place import Place

Data = Mapping[str, Any]
Drawn = tuple[list[Shape], tuple[float, float]]
#: More than this is not one picture any more.
_MOST = 400


def phases(data: Data, place: Place) -> Html:
    """What each arm does, stroke after stroke."""
    strokes = []
    for row in plain.rows(data, "strokes")[:_MOST]:
        moments = row.get("moments")
        if row.get("side") in ("l", "r") and isinstance(moments, list) and len(moments) == 5:
            strokes.append({"side": row["side"], "moments": [plain.number(m) for m in moments]})
    known = [m for s in strokes for m in s["moments"] if m is not None]
    return _figure(data, place, phase_shapes(strokes)) if len(set(known)) > 1 else text("")


def cycle(data: Data, place: Place) -> Html:
    """A value over the cycle."""
    groups = []
    for row in plain.rows(data, "groups")[:4]:
        found = row.get("lines")
        lines = [plain.pairs(each) for each in found[:_MOST]] if isinstance(found, list) else []
        lines = [each for each in lines if len(each) > 1]
        if lines:
            groups.append({"name": plain.words(row, "name"), "look": plain.words(row, "look"), "lines": lines})
    if not groups:
        return text("")
    found = data.get("moments")
    moments = [
        (at, str(m[1])[:40]) for m in (found if isinstance(found, list) else []) if (at := _share(m)) is not None
    ]
    return _figure(data, place, cycle_shapes({"groups": groups, "unit": plain.words(data, "unit"), "moments": moments}))


def timing(data: Data, place: Place) -> Html:
    """Hands against a foot on a dial."""
    dials = []
    for row in plain.rows(data, "dials")[:2]:
        hands = [h for h in map(_hand, plain.rows(row, "hands")[:2]) if h]
        if hands:
            dials.append({"title": plain.words(row, "title"), "hands": hands})
    return _figure(data, place, timing_shapes(dials)) if dials else text("")


def way(data: Data, place: Place) -> Html:
    """The way of the hand from the side."""
    paths = []
    for row in plain.rows(data, "paths")[:_MOST]:
        points, found = plain.pairs(row.get("points")), plain.row(row, "moments")
        if len(points) > 1 and row.get("side") in ("l", "r"):
            moments = {name: p for name in MOMENTS if (p := plain.pair(found.get(name)))}
            paths.append({"side": row["side"], "points": points, "moments": moments})
    if not paths:
        return text("")
    frame = "water" if data.get("frame") == "water" else "body"
    return _figure(data, place, path_shapes({"frame": frame, "unit": plain.words(data, "unit"), "paths": paths}))


def _share(moment: object) -> float | None:
    """The percent of a moment (percent, words), or None."""
    if isinstance(moment, list) and len(moment) == 2 and isinstance(moment[1], str):
        return plain.number(moment[0])
    return None


def _hand(row: Data) -> dict[str, Any] | None:
    found = row.get("phases")
    phases_deg = [p for v in found[:_MOST] if (p := plain.number(v)) is not None] if isinstance(found, list) else []
    if row.get("side") not in ("l", "r") or not phases_deg:
        return None
    length = plain.number(row.get("length"))
    return {
        "side": row["side"],
        "phases": phases_deg,
        "mean": plain.number(row.get("mean")),
        "length": min(max(length or 0.0, 0.0), 1.0),
        "half": plain.number(row.get("half")),
    }


def _figure(data: Data, place: Place, drawn: Drawn) -> Html:
    shapes, size = drawn
    title = plain.words(data, "title")
    return el(
        "figure",
        place.heading(data),
        to_svg(shapes, size, plain.words(data, "alt"), "curve"),
        el("figcaption", el("b", f"{title}. ") if place.headed and title else "", plain.words(data, "caption")),
        cls="curve",
    )


STROKE_LAYOUTS: dict[str, Callable[[Data, Place], Html]] = {
    "phases": phases,
    "cycle": cycle,
    "timing": timing,
    "way": way,
}
