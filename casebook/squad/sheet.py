"""One self-contained page to print or to read, in the house's look: no script, no request, only its own style."""

from __future__ import annotations

import base64
import hashlib
from importlib.resources import files
from typing import TYPE_CHECKING

from casebook.files import write_atomic
from casebook.pages.markup import Html, el, join
from casebook.pages.page import stylesheet

if TYPE_CHECKING:
    from pathlib import Path


def write_sheet(path: Path, title: str, *parts: object, kind: str = "") -> Path:
    """Write one page of these parts and return its path; ``kind`` is the class by which squad.css lays it out."""
    write_atomic(path, sheet_html(title, *parts, kind=kind))
    return path


def sheet_html(title: str, *parts: object, kind: str = "") -> str:
    """The whole document as a string."""
    style = stylesheet() + "\n" + files("casebook.squad").joinpath("squad.css").read_text("utf-8").replace("\r\n", "\n")
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    policy = f"default-src 'none'; style-src 'sha256-{digest}'; img-src data:; base-uri 'none'; form-action 'none'"
    head = el(
        "head",
        el("meta", http_equiv="Content-Security-Policy", content=policy),
        el("meta", charset="utf-8"),
        el("meta", name="viewport", content="width=device-width,initial-scale=1"),
        el("meta", name="referrer", content="no-referrer"),
        el("meta", name="color-scheme", content="light dark"),
        el("title", title),
        el("style", Html(style)),
    )
    return "<!doctype html>\n" + el("html", head, el("body", el("main", join(parts)), cls=f"squad {kind}"), lang="en")


def kicker(squad_place: str, day: str, *more: str) -> Html:
    """The small line at the top: where and when."""
    return el("p", join([p for p in ("Squad day", squad_place, day, *more) if p], " · "), cls="kicker")


def listed(items: list[str]) -> Html:
    """Sentences as points."""
    return el("ul", join(el("li", item) for item in items))
