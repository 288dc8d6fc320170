"""Pictures with their lines: the whole swimmer, a row of close-ups, you beside the picture to aim for."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from casebook.pages import plain
from casebook.pages.markup import Html, el, join, text
from casebook.pages.overlay import overlay_svg
from casebook.pages.words_of import STEP

if TYPE_CHECKING:
    from casebook.pages.place import Place

Data = Mapping[str, Any]


def picture(data: Data, place: Place, cls: str = "", tag: str = "", *, linked: bool = True) -> Html:
    """One picture with its lines, a button that shows it large, and its caption; ``tag`` is a word set above it.

    ``linked`` pictures can be led to from elsewhere on the page.
    """
    width, height = plain.size(data.get("size"))
    title = plain.words(data, "title")
    image = el("img", src=place.media.uri(data.get("file")), alt=plain.words(data, "alt"), width=width, height=height)
    frame = el("div", image, overlay_svg(plain.row(data, "drawing"), (width, height)), cls="frame")
    grow = el("button", "Large", cls="grow", type="button", hidden=True, aria_label=f"Large: {title or 'picture'}")
    ways = el("span", _step(data, place), grow, cls="ways-on")
    return el(
        "figure",
        el("p", tag, cls="tag") if tag else "",
        frame,
        el("figcaption", el("b", f"{title}. ") if title else "", plain.words(data, "caption"), " ", ways),
        cls=" ".join(filter(None, ("pic", cls, upright(width, height)))),
        id=place.picture_id(data) if linked else None,
    )


def upright(width: int, height: int) -> str:
    """The class of a picture that is taller than wide (a phone held upright): it is not drawn across the page."""
    return "tall" if height > width else ""


def whole(data: Data, place: Place) -> Html:
    """The whole swimmer at the moment in question."""
    return picture(plain.row(data, "picture"), place, "whole")


def stills(data: Data, place: Place) -> Html:
    """Close-ups side by side, in the order in which they happen; on a phone one under the other."""
    return row_of(plain.rows(data, "pictures"), place)


def row_of(pictures: list[Data], place: Place, cls: str = "stills", *, linked: bool = True) -> Html:
    """Pictures side by side, as wide as their number lets them be."""
    many = min(len(pictures), 3)
    shown = join(picture(p, place, linked=linked) for p in pictures)
    return el("div", shown, cls=f"{cls} of{many}") if pictures else text("")


def pair(data: Data, place: Place) -> Html:
    """You, and beside you the same moment to aim for."""
    you, aim = plain.row(data, "you"), plain.row(data, "aim")
    both = picture(you, place, tag="You"), picture(aim, place, "aim", "Aim for this", linked=False)
    return el(
        "div",
        place.heading(data),
        el("div", *both, cls="two"),
        el("p", plain.words(data, "caption"), cls="small"),
        cls="pair",
    )


def _step(data: Data, place: Place) -> Html:
    loop, at = plain.identifier(plain.words(data, "loop", "-")), plain.number(data.get("at"))
    if not place.where.has_loop(loop) or at is None:
        return text("")
    says = f"{STEP}: {plain.words(data, 'title') or 'you'}"
    return el("a", STEP, href=f"#{loop}", cls="step", data_at=int(at), aria_label=says)
