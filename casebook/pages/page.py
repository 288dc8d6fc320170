"""From executed notebooks to one self-contained HTML file. Nothing is executed and nothing is fetched."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING

from casebook.errors import PageError
from casebook.files import write_atomic
from casebook.pages.contents import TOP_ID, contents
from casebook.pages.figure import role_css
from casebook.pages.markup import Html, el, join
from casebook.pages.media import Media
from casebook.pages.palette import DARK, LIGHT, css_variables
from casebook.pages.place import Place
from casebook.pages.plain import identifier, wordlist, words
from casebook.pages.section import Section, read_section, read_sections, section_html
from casebook.pages.telling import called
from casebook.pages.where import where_of

if TYPE_CHECKING:
    from casebook.case.case import Case


@dataclass(frozen=True, slots=True)
class Document:
    """What stands on a page around its sections: title, who it is about, language, a word on what kind of copy it is.

    ``invented`` says on the page that the swimmer is invented. ``notes`` are the coach's voice notes (MP4), by
    checkpoint or ``plan``.
    """

    title: str
    alias: str = ""
    invented: bool = False
    lang: str = "en"
    copy: str = ""
    notes: Mapping[str, bytes] = field(default_factory=dict)


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
    document = Document(title, alias, invented, lang)
    write_atomic(target, page_html(sections_of(notebooks), Media(media), document))
    return target


def sections_of(notebooks: Sequence[Path]) -> list[Section]:
    """The sections that a page of these notebooks shows, in its order; raises PageError if one cannot be read."""
    return chosen([s for path in notebooks for s in read_sections(path)])


def chosen(sections: Sequence[Section]) -> list[Section]:
    """The sections of a page in its order: what has nothing to tell is left out, unless nothing has anything.

    A checkpoint that was not looked at is absent and not grey.
    """
    if len(sections) < 2:
        return list(sections)
    telling = [s for s in sections if s.is_ready and s.says_something and not s.is_for_the_coach] or list(sections)
    return sorted(telling, key=lambda s: not s.leads)


def render_case(case: Case, target: Path | None = None, *, light: bool = False) -> Path:
    """The page of a case from its notebooks as they stand, by default ``out/<alias>.html``.

    Parameters
    ----------
    light : bool
        A copy that a phone message can carry (``out/<alias>_light.html``): the same words and numbers, smaller
        pictures, and the few loops that matter most.

    Raises
    ------
    PageError
        There is no notebook, or none that has been run; a picture is missing; a voice note cannot be played.
    """
    notebooks = case.notebooks
    if not any(read_section(path).has_run for path in notebooks):
        raise PageError(
            f"The notebooks of {case.alias} have not been run, so there is nothing to show.",
            f"Run them first: casebook run {case.folder.name}",
        )
    sections = sections_of(notebooks)
    document = Document(
        f"{called(case.alias)}: freestyle, looked at closely", called(case.alias), case.invented, notes=_notes(case)
    )
    target = target or case.out / f"{identifier(case.alias)}{'_light' if light else ''}.html"
    from casebook.pages.light import full_html, light_html

    write_atomic(target, (light_html if light else full_html)(sections, case.out / "media", document))
    return target


def page_html(sections: Sequence[Section], media: Media, document: Document) -> str:
    """The whole document as a string."""
    style, script = stylesheet(), asset("page.js")
    many = len(sections) > 1
    main = el("main", join(_sections(sections, media, document, 3 if many else 2)), id="main")
    return "<!doctype html>\n" + el(
        "html",
        el(
            "head",
            el("meta", http_equiv="Content-Security-Policy", content=policy(style, script)),
            el("meta", charset="utf-8"),
            el("meta", name="viewport", content="width=device-width,initial-scale=1"),
            el("meta", name="referrer", content="no-referrer"),
            el("meta", name="color-scheme", content="light dark"),
            el("title", document.title),
            el("style", Html(style)),
        ),
        el(
            "body",
            el("a", "Skip to the content", href="#main", cls="skip"),
            _top(document, many),
            contents(sections) if many else "",
            main,
            _foot(document),
            el("script", Html(script)),
        ),
        lang=document.lang,
    )


def _sections(sections: Sequence[Section], media: Media, document: Document, level: int) -> list[Html]:
    where = where_of((s.id, s.blocks()) for s in sections)
    many = len(sections) > 1
    shown, said, explains = [], frozenset[str](), True
    for section in sections:
        place = Place(
            level, media, section=section.id, topic=section.topic if many else "", where=where, said=said,
            explains=explains,
        )  # fmt: skip
        note = document.notes.get(words(section.headline, "checkpoint"))
        shown.append(section_html(section, place, note))
        said |= frozenset(wordlist(section.headline, "meta")) if section.leads else frozenset()
        explains = explains and not any(b.get("kind") == "measures" and b.get("measures") for b in section.blocks())
    return shown


def _top(document: Document, many: bool) -> Html:
    """Who the page is about. Over several sections it is the title, and what to work on is set larger than that."""
    invented = document.invented and document.alias
    if many:
        return el(
            "header",
            el("h1", document.title),
            el("p", "An invented swimmer", cls="kicker") if invented else "",
            cls="top",
            id=TOP_ID,
        )
    who = f"{document.alias}, an invented swimmer" if invented else document.alias
    says = f"Freestyle, looked at closely{f' · {who}' if who else ''}"
    return el("header", el("p", says, cls="kicker"), cls="top", id=TOP_ID)


def unwritten_notes(case: Case) -> list[str]:
    """Voice notes beside which the coach wrote nothing: who cannot hear them, or may not here, has nothing of them."""
    from casebook.pages.voice import note_file

    own = {words(s.headline, "checkpoint"): s for s in sections_of(case.notebooks)}
    return [name for name, s in own.items() if note_file(case.folder, name) is not None and not s.has_coachs_words]


def _notes(case: Case) -> dict[str, bytes]:
    from casebook.pages.voice import SPOKEN_OF, note_of

    return {name: note for name in SPOKEN_OF if (note := note_of(case.folder, name)) is not None}


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
    return tones + role_css() + "\n" + asset("page.css") + "\n" + asset("first.css")


def asset(name: str) -> str:
    """A file that ships beside this module."""
    return files("casebook.pages").joinpath(name).read_text("utf-8").replace("\r\n", "\n")


def _digest(content: str) -> str:
    return f"'sha256-{base64.b64encode(hashlib.sha256(content.encode()).digest()).decode()}'"


def _foot(document: Document) -> Html:
    says = [document.copy]
    says += ["The swimmer, the pool and every number on this page are invented."] if document.invented else []
    keys = (
        "A picture fills the screen with Enter. In a loop: arrow keys step, space plays and stops, "
        "1, 2, 4 and 8 play at full, half, quarter and eighth speed, L draws the lines or leaves them out."
    )
    return el("footer", join(el("p", each) for each in says if each), el("p", keys, cls="keys", hidden=True))
