"""One notebook as one section of the page: which cells are shown, and in what dress."""

from __future__ import annotations

import base64
import binascii
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from casebook.case.fold import parts_of
from casebook.case.notebooks import read_notebook
from casebook.errors import CaseError, PageError
from casebook.pages import plain
from casebook.pages.block import MIME, SCHEMA
from casebook.pages.layout import LAYOUTS
from casebook.pages.markdown import markdown, plain_title
from casebook.pages.markup import Html, el, join, text
from casebook.pages.media import data_uri, is_picture
from casebook.pages.place import Place

#: Cells with one of these tags stay at the coach's desk.
HIDE = frozenset({"hide", "desk", "parameters"})
#: Small print comes last, in this order, wherever its cells stand.
LAST = ("facts", "sources", "provenance")
COACH = "coach"
COACH_TITLE = "In the coach's words"
VOICE_TITLE = "In the coach's own voice"
#: The slot of what a coach saw before anything was measured; it is called so.
FIRST_SLOT, FIRST_TITLE = "first-impression", "In the coach's words: before measuring"
_WIDGET = "application/vnd.jupyter.widget-view+json"


@dataclass(frozen=True, slots=True)
class Section:
    """An executed notebook: its cells as plain dicts, its name for the contents, its id on the page.

    ``leads`` is true for the one that stands first on a page of several.
    """

    id: str
    name: str
    cells: tuple[Mapping[str, Any], ...]
    leads: bool = False

    @property
    def has_run(self) -> bool:
        """True if any cell holds an output."""
        return any(cell.get("outputs") for cell in self.cells)

    @property
    def says_something(self) -> bool:
        """It has a headline with something measured or seen under it; what has none says what it says."""
        found = [b for b in self.blocks() if b.get("kind") == "headline"]
        return not found or any(b.get("measured", True) for b in found)

    @property
    def topic(self) -> str:
        """Its name without the number that it has in teaching order."""
        return re.sub(r"^\d+\s+", "", self.name)

    @property
    def is_ready(self) -> bool:
        """It has been run, if there is anything in it to run."""
        return self.has_run or not any(c.get("cell_type") == "code" for c in self.cells)

    @property
    def is_for_the_coach(self) -> bool:
        """No cell of it shows anything on a page."""
        texts = [c for c in self.cells if c.get("cell_type") == "markdown" and not _tags(c) & HIDE]
        written = any(COACH not in _tags(c) or is_written(str(c.get("source", ""))) for c in texts)
        return not written and not any(True for _ in self.blocks())

    @property
    def has_coachs_words(self) -> bool:
        """The coach wrote something in it that a page shows."""
        texts = (
            c for c in self.cells if c.get("cell_type") == "markdown" and COACH in _tags(c) and not _tags(c) & HIDE
        )
        return any(is_written(str(c.get("source", ""))) for c in texts)

    @property
    def headline(self) -> Mapping[str, Any]:
        """Its headline's block; an empty one without."""
        return next((b for b in self.blocks() if b.get("kind") == "headline"), {})

    def blocks(self) -> Iterator[Mapping[str, Any]]:
        """The blocks that a page shows, in the order of their cells."""
        for cell in self.cells:
            if _tags(cell) & HIDE:
                continue
            for output in cell.get("outputs", []):
                block = output.get("data", {}).get(MIME)
                if isinstance(block, Mapping):
                    yield block


def read_section(path: Path) -> Section:
    """Read an executed notebook; raises PageError if it is none."""
    return _section(path.stem, _notebook(path))


def read_sections(path: Path) -> list[Section]:
    """An executed notebook as one section, or, if several are folded into it, as one for each of them."""
    notebook = _notebook(path)
    parts = parts_of(notebook) or {path.stem: notebook}
    return [_section(stem, part) for stem, part in parts.items()]


def _notebook(path: Path) -> Any:
    try:
        return read_notebook(path)
    except CaseError as error:
        raise PageError(error.problem, error.remedy, path=path) from None


def _section(stem: str, notebook: Any) -> Section:
    titles = (plain_title(c.source) for c in notebook.cells if c.cell_type == "markdown")
    name = next((t for t in titles if t), stem)
    leads = notebook.metadata.get("casebook", {}).get("page") == "first"
    return Section(plain.identifier(stem), name, tuple(notebook.cells), leads)


def section_html(section: Section, place: Place, note: bytes | None = None) -> Html:
    """The section: its headline first and its small print last, wherever their cells stand; all else in their order.

    Parameters
    ----------
    place : Place
        ``place.level`` is that of headings inside it; the section's own title is one higher.
    note : bytes, optional
        The coach's voice note (MP4), to be heard under the headline.
    """
    shown = list(_pieces(section, place))
    first = next((k for k, (kind, _) in enumerate(shown) if kind == "headline"), None)
    head = el(f"h{place.level - 1}", section.name) if first is None else shown.pop(first)[1]
    body = [html for kind, html in shown if kind not in LAST]
    body += [html for last in LAST for kind, html in shown if kind == last]
    # Among others, a section says what it is about over its headline; that of its own page is in the title.
    topic = el("p", section.topic, cls="topic") if place.level > 2 and first is not None else ""
    spoken = voice_note(note, place) if note else ""
    return el(
        "section", topic, head, spoken, join(body), id=section.id, aria_label=section.topic,
        cls="leads" if section.leads else None,
    )  # fmt: skip


def voice_note(note: bytes, place: Place) -> Html:
    """The coach's voice note with its label."""
    label = place.label(VOICE_TITLE)
    audio = el("audio", controls=True, preload="metadata", src=data_uri(note, "audio/mp4"), aria_label=label)
    return el("figure", el("figcaption", VOICE_TITLE), audio, cls="voice")


def _pieces(section: Section, place: Place) -> Iterator[tuple[str, Html]]:
    headed = False
    for cell in section.cells:
        tags = _tags(cell)
        source = cell.get("source", "")
        if cell.get("cell_type") == "markdown":
            if tags & HIDE or (COACH in tags and not is_written(source)):
                continue
            piece = (
                coach_note(source, place, _coach_title(cell)) if COACH in tags else _prose(source, section, place.level)
            )
            headed = COACH not in tags and _ends_headed(source, section)
            yield "coach" if COACH in tags else "markdown", piece
        elif cell.get("cell_type") == "code" and not tags & HIDE:
            for output in cell.get("outputs", []):
                for kind, html in _output(output, replace(place, headed=headed)):
                    headed = headed and not html
                    yield kind, html


def _tags(cell: Mapping[str, Any]) -> set[str]:
    return set(cell.get("metadata", {}).get("tags", []))


def is_written(source: str) -> bool:
    """False for an empty coach cell and for one that still holds the template's invitation to write.

    >>> is_written("*Write here what you saw. Delete this line.*"), is_written("Tip, hold, press.")
    (False, True)
    """
    return bool(source.strip()) and not re.fullmatch(r"\*Write here[^*]*[Dd]elete this line\.\*", source.strip())


def _coach_title(cell: Mapping[str, Any]) -> str:
    slot = str(cell.get("metadata", {}).get("casebook", {}).get("slot", ""))
    return FIRST_TITLE if slot.endswith(FIRST_SLOT) else COACH_TITLE


def coach_note(source: str, place: Place, title: str = COACH_TITLE) -> Html:
    """What the coach wrote, set apart as his."""
    return el(
        "aside",
        el(f"h{place.level}", title),
        markdown(source, place.level + 1),
        cls="note coach",
        aria_label=place.label(title),
    )


def _prose(source: str, section: Section, level: int) -> Html:
    source = _without_name(source, section)
    return el("div", markdown(source, level), cls="prose") if source.strip() else text("")


def _without_name(source: str, section: Section) -> str:
    """The text without the notebook's own title, which is the section's name already."""
    first, _, rest = source.lstrip().partition("\n")
    return rest if first.startswith("# ") and plain_title(first) == section.name else source


def _ends_headed(source: str, section: Section) -> bool:
    """True if a heading stands over what follows."""
    return bool(plain_title(_without_name(source, section)))


def _output(output: Mapping[str, Any], place: Place) -> Iterator[tuple[str, Html]]:
    kind = output.get("output_type")
    if kind == "error":
        yield "error", el("p", "One part of this analysis did not finish; it is left out here.", cls="missing")
    elif kind in ("display_data", "execute_result"):
        yield _data(output.get("data", {}), place)


def _data(data: Mapping[str, Any], place: Place) -> tuple[str, Html]:
    words = str(data.get("text/plain", ""))
    block = data.get(MIME)
    if isinstance(block, Mapping):
        return _block(block, words, place)
    if _WIDGET in data:
        return "widget", text("")
    for mime in ("image/png", "image/jpeg"):
        if mime in data:
            return "picture", _picture(data[mime], mime, words)
    return "words", el("pre", words) if words.strip() else text("")


def _block(block: Mapping[str, Any], words: str, place: Place) -> tuple[str, Html]:
    kind = str(block.get("kind"))
    schema = block.get("schema")
    if not isinstance(schema, int) or schema > SCHEMA:
        raise PageError(
            f"A block of kind {kind[:40]!r} has schema {str(schema)[:20]}; this casebook reads schema {SCHEMA}.",
            "Install a newer casebook, or run the notebooks again.",
        )
    if kind not in LAYOUTS:
        return "words", el("pre", words)
    try:
        return kind, LAYOUTS[kind](block, place)
    except (ValueError, TypeError, KeyError, IndexError, OverflowError):
        return "words", el("pre", words)


def _picture(encoded: object, mime: str, words: str) -> Html:
    try:
        raw = base64.b64decode("".join(str(encoded).split()), validate=True)
    except (binascii.Error, ValueError):
        return text("")
    if not is_picture(raw, mime):
        return text("")
    return el("figure", el("img", src=data_uri(raw, mime), alt=words), cls="pic whole")
