"""One notebook as one section of the page: which cells are shown, and in what dress."""

from __future__ import annotations

import base64
import binascii
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from casebook.errors import PageError
from casebook.pages import plain
from casebook.pages.block import MIME, SCHEMA
from casebook.pages.layout import LAYOUTS, Place
from casebook.pages.markdown import markdown, plain_title
from casebook.pages.markup import Html, el, join, text
from casebook.pages.media import Media, data_uri, is_picture

#: Cells with one of these tags stay at the coach's desk.
HIDE = frozenset({"hide", "desk", "parameters"})
#: Small print comes last, in this order, wherever its cells stand.
LAST = ("facts", "sources", "provenance")
COACH = "coach"
COACH_TITLE = "In the coach's words"
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
        found = [b for b in self._blocks() if b.get("kind") == "headline"]
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
        return not written and not any(True for _ in self._blocks())

    def _blocks(self) -> Iterator[Mapping[str, Any]]:
        for cell in self.cells:
            if _tags(cell) & HIDE:
                continue
            for output in cell.get("outputs", []):
                block = output.get("data", {}).get(MIME)
                if isinstance(block, Mapping):
                    yield block


def read_section(path: Path) -> Section:
    """Read an executed notebook; raises PageError if it is none."""
    import nbformat

    try:
        notebook = nbformat.reads(path.read_text("utf-8"), as_version=4)
    except (OSError, ValueError, KeyError, nbformat.ValidationError, nbformat.reader.NotJSONError) as error:
        raise PageError(
            f'"{path.name}" cannot be read as a notebook: {error}', "Restore it from a copy.", path=path
        ) from None
    titles = (plain_title(c.source) for c in notebook.cells if c.cell_type == "markdown")
    name = next((t for t in titles if t), path.stem)
    leads = notebook.metadata.get("casebook", {}).get("page") == "first"
    return Section(plain.identifier(path.stem), name, tuple(notebook.cells), leads)


def section_html(section: Section, media: Media, level: int) -> Html:
    """The section: its headline first and its small print last, wherever their cells stand; all else in their order.

    ``level`` is that of headings inside it; the section's own title is one higher.
    """
    place = Place(level, media)
    shown = list(_pieces(section, place))
    first = next((k for k, (kind, _) in enumerate(shown) if kind == "headline"), None)
    head = el(f"h{level - 1}", section.name) if first is None else shown.pop(first)[1]
    body = [html for kind, html in shown if kind not in LAST]
    body += [html for last in LAST for kind, html in shown if kind == last]
    # Among others, a section says what it is about over its headline; that of its own page is in the title.
    topic = el("p", section.topic, cls="topic") if level > 2 and first is not None else ""
    return el("section", topic, head, join(body), id=section.id, aria_label=section.name)


def _pieces(section: Section, place: Place) -> Iterator[tuple[str, Html]]:
    headed = False
    for cell in section.cells:
        tags = _tags(cell)
        source = cell.get("source", "")
        if cell.get("cell_type") == "markdown":
            if tags & HIDE or (COACH in tags and not is_written(source)):
                continue
            piece = (
                coach_note(source, place.level, _coach_title(cell))
                if COACH in tags
                else _prose(source, section, place.level)
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


def coach_note(source: str, level: int, title: str = COACH_TITLE) -> Html:
    """What the coach wrote, set apart as his."""
    return el(
        "aside",
        el(f"h{level}", title),
        markdown(source, level + 1),
        cls="note coach",
        aria_label=title,
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
