"""From executed notebooks to one self-contained HTML file. Nothing is executed and nothing is fetched."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Sequence
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING

from casebook.errors import PageError
from casebook.files import write_atomic
from casebook.pages.figure import role_css
from casebook.pages.markup import Html, el, join, text
from casebook.pages.media import Media
from casebook.pages.palette import DARK, LIGHT, css_variables
from casebook.pages.plain import identifier
from casebook.pages.section import Section, read_section, section_html
from casebook.pages.telling import called

if TYPE_CHECKING:
    from casebook.case.case import Case


def render_page(
    notebooks: Sequence[Path],
    media: Path,
    target: Path,
    *,
    title: str,
    alias: str = "",
    invented: bool = False,
    lang: str = "en",
) -> Path:
    """Make one HTML file from executed notebooks.

    Parameters
    ----------
    notebooks : sequence of Path
        Executed notebooks, in reading order. They are read, never run.
    media : Path
        Folder of the pictures and loops that blocks name.
    target : Path
        The HTML file; replaced in one step.
    title, alias, lang : str
        Title of the document, who it is about, and its language.
    invented : bool
        Say on the page that the swimmer is invented.

    Raises
    ------
    PageError
        A notebook cannot be read, or a block names a file that is missing or is no picture.
    """
    sections = chosen([read_section(path) for path in notebooks])
    write_atomic(target, page_html(sections, Media(media), title=title, alias=alias, invented=invented, lang=lang))
    return target


def chosen(sections: Sequence[Section]) -> list[Section]:
    """The sections of a page in its order: what has nothing to tell is left out, unless nothing has anything.

    A checkpoint that was not looked at is absent and not grey.
    """
    if len(sections) < 2:
        return list(sections)
    telling = [s for s in sections if s.is_ready and s.says_something and not s.is_for_the_coach] or list(sections)
    return sorted(telling, key=lambda s: not s.leads)


def render_case(case: Case, target: Path | None = None) -> Path:
    """The page of a case from its notebooks as they stand, by default ``out/<alias>.html``.

    Raises PageError if there is no notebook, or none that has been run.
    """
    notebooks = case.notebooks
    if not any(read_section(path).has_run for path in notebooks):
        raise PageError(
            f"The notebooks of {case.alias} have not been run, so there is nothing to show.",
            f"Run them first: casebook run {case.folder.name}",
        )
    return render_page(
        notebooks,
        case.out / "media",
        target or case.out / f"{identifier(case.alias)}.html",
        title=f"{called(case.alias)}: freestyle, looked at closely",
        alias=called(case.alias),
        invented=case.invented,
    )


def page_html(
    sections: Sequence[Section], media: Media, *, title: str, alias: str = "", invented: bool = False, lang: str = "en"
) -> str:
    """The whole document as a string."""
    style, script = stylesheet(), asset("page.js")
    many = len(sections) > 1
    level = 3 if many else 2
    who = f"{alias}, an invented swimmer" if invented and alias else alias
    top = el(
        "header",
        el("p", "Freestyle, looked at closely", f" · {who}" if who else "", cls="kicker"),
        el("h1", title) if many else "",
        _contents(sections) if many else "",
        cls="top",
    )
    main = el("main", join(section_html(s, media, level) for s in sections), id="main")
    return "<!doctype html>\n" + el(
        "html",
        el(
            "head",
            el("meta", http_equiv="Content-Security-Policy", content=policy(style, script)),
            el("meta", charset="utf-8"),
            el("meta", name="viewport", content="width=device-width,initial-scale=1"),
            el("meta", name="referrer", content="no-referrer"),
            el("meta", name="color-scheme", content="light dark"),
            el("title", title),
            el("style", Html(style)),
        ),
        el(
            "body",
            el("a", "Skip to the content", href="#main", cls="skip"),
            top,
            main,
            _foot(invented),
            el("script", Html(script)),
        ),
        lang=lang,
    )


def policy(style: str, script: str) -> str:
    """The Content-Security-Policy: this style and this script by their digests, embedded media, nothing else."""
    return (
        f"default-src 'none'; script-src {_digest(script)}; style-src {_digest(style)}; img-src data: blob:; "
        "media-src data: blob:; font-src data:; base-uri 'none'; form-action 'none'"
    )


def stylesheet() -> str:
    """The page's one stylesheet, with the tones of both dresses and the looks of the charts."""
    tones = (
        f":root{{{css_variables(LIGHT)}}}\n"
        f"@media (prefers-color-scheme:dark){{:root{{{css_variables(DARK)}}}}}\n"
        f"@media print{{:root{{{css_variables(LIGHT)}}}}}\n"
    )
    return tones + role_css() + "\n" + asset("page.css")


def asset(name: str) -> str:
    """A file that ships beside this module."""
    return files("casebook.pages").joinpath(name).read_text("utf-8").replace("\r\n", "\n")


def _digest(content: str) -> str:
    return f"'sha256-{base64.b64encode(hashlib.sha256(content.encode()).digest()).decode()}'"


def _contents(sections: Sequence[Section]) -> Html:
    links = join(el("li", el("a", s.topic, href=f"#{s.id}")) for s in sections)
    return el("nav", el("ol", links), aria_label="What was looked at")


def _foot(invented: bool) -> Html:
    says = "The swimmer, the pool and every number on this page are invented." if invented else ""
    keys = "A picture with the keyboard's focus fills the screen with Enter; in a loop, the arrow keys step."
    return el("footer", el("p", says) if says else text(""), el("p", keys, cls="keys", hidden=True))
