"""Pictures with their lines: the whole swimmer, a row of close-ups, you beside the picture to aim for."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from casebook.pages import plain
from casebook.pages.markup import Html, el, join, text
from casebook.pages.overlay import overlay_svg
from casebook.pages.words_of import STEP

if TYPE_CHECKING:
    from casebook.pages.layout import Place
    from casebook.pages.media import Media

Data = Mapping[str, Any]


def picture(data: Data, media: Media, cls: str = "", tag: str = "") -> Html:
    """One picture with its lines, a button that shows it large, and its caption; ``tag`` is a word set above it."""
    width, height = plain.size(data.get("size"))
    title = plain.words(data, "title")
    image = el("img", src=media.uri(data.get("file")), alt=plain.words(data, "alt"), width=width, height=height)
    grow = el("button", "Large", cls="grow", type="button", hidden=True, aria_label=f"Show large: {title or 'picture'}")
    frame = el("div", image, overlay_svg(plain.row(data, "drawing"), (width, height)), grow, cls="frame")
    return el(
        "figure",
        el("p", tag, cls="tag") if tag else "",
        frame,
        el("figcaption", el("b", f"{title}. ") if title else "", plain.words(data, "caption"), " ", _step(data)),
        cls=" ".join(filter(None, ("pic", cls, upright(width, height)))),
    )


def upright(width: int, height: int) -> str:
    """The class of a picture that is taller than wide (a phone held upright): it is not drawn across the page."""
    return "tall" if height > width else ""


def whole(data: Data, place: Place) -> Html:
    """The whole swimmer at the moment in question."""
    return picture(plain.row(data, "picture"), place.media, "whole")


def stills(data: Data, place: Place) -> Html:
    """Close-ups side by side, in the order in which they happen; on a phone one under the other."""
    return el("div", join(picture(p, place.media) for p in plain.rows(data, "pictures")), cls="stills")


def pair(data: Data, place: Place) -> Html:
    """You, and beside you the same moment to aim for."""
    you, aim = plain.row(data, "you"), plain.row(data, "aim")
    return el(
        "div",
        place.heading(data),
        el("div", picture(you, place.media, tag="You"), picture(aim, place.media, "aim", "Aim for this"), cls="two"),
        el("p", plain.words(data, "caption"), cls="small"),
        cls="pair",
    )


def _step(data: Data) -> Html:
    loop, at = plain.words(data, "loop"), plain.number(data.get("at"))
    if not loop or at is None:
        return text("")
    says = f"{STEP}: {plain.words(data, 'title') or 'you'}"
    return el("a", STEP, href=f"#{plain.identifier(loop)}", cls="step", data_at=int(at), aria_label=says)
