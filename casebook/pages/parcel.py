"""The parcel: all that a swimmer gets of a case, made at once and laid into one folder, ready to be sent."""

from __future__ import annotations

import re
import secrets
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from casebook.case.consent import note_release, releases, require
from casebook.case.overview import overview
from casebook.case.settings import inside
from casebook.errors import MarksError, PageError
from casebook.files import write_atomic
from casebook.marks.c3d import c3d_bytes
from casebook.pages import show_plan
from casebook.pages.card import card_of
from casebook.pages.card_drawing import card_pdf, card_png
from casebook.pages.card_picture import card_still
from casebook.pages.page import render_case
from casebook.pages.parcel_loops import phone_loops, speed_words
from casebook.pages.parcel_tracks import tracks_csv, tracks_of
from casebook.pages.plain import identifier
from casebook.pages.section import read_sections
from casebook.pages.tables import findings_csv, strokes_csv
from casebook.pages.voice import SPOKEN_OF, note_of, strays
from casebook.words import CHECKPOINTS

if TYPE_CHECKING:
    from casebook.case.case import Case
    from casebook.case.overview import Overview

FOLDER = "send"
MESSAGE, MAIL, NUMBERS = "message", "mail", "numbers"
#: How each group is told, in the order of the list.
WAYS = {
    MESSAGE: "By message: the card, then the loops; they play in the message itself.",
    MAIL: "By mail: the page, with everything to step through; the light page is the same, small enough for a message.",
    NUMBERS: "For a colleague or a statistics program; the swimmer needs none of it.",
}
#: Endings of what is ever laid into the folder, behind the alias.
_OURS = re.compile(
    r"[a-z0-9-]+?(_light)?\.html|[a-z0-9-]+_card\.(png|pdf)|[a-z0-9-]+_(change|good|good_2|stroke)\.mp4"
    r"|[a-z0-9-]+_voice_[a-z_]+\.m4a|[a-z0-9-]+_(findings|strokes)\.csv|[a-z0-9-]+_tracks_\d+\.(csv|c3d)"
)


@dataclass(frozen=True, slots=True)
class Piece:
    """One file of the parcel: its name, its size in bytes, what it is, and how it is sent (key of ``WAYS``)."""

    name: str
    size: int
    about: str
    way: str


@dataclass(frozen=True, slots=True)
class Parcel:
    """What lies in the folder, and sentences on what was left out or is to be heeded."""

    folder: Path
    pieces: tuple[Piece, ...]
    notes: tuple[str, ...]

    def text(self) -> str:
        """The list in plain words, with what to send how."""
        wide = max(len(p.name) for p in self.pieces)
        lines = [f"Ready to send, in {self.folder}:"]
        for way, words in WAYS.items():
            own = [p for p in self.pieces if p.way == way]
            if own:
                lines += ["", words, *(f"  {p.name:{wide}}  {size_words(p.size):>7}  {p.about}" for p in own)]
        lines += ["", *self.notes] if self.notes else []
        return "\n".join([*lines, "", "Nothing has left this computer: you send it."])


@dataclass(frozen=True, slots=True)
class _Made:
    """A file on its way into the folder."""

    name: str
    content: bytes
    about: str
    way: str


def make_parcel(case: Case) -> Parcel:
    """Make everything a swimmer gets and lay it into ``out/send``, in the place of what lay there before.

    Raises
    ------
    CaseError
        The folder is a link that leads out of the case.
    ConsentError
        Nobody whose word counts has agreed that it is handed over.
    PageError
        Nothing is measured, the notebooks were not run since marks changed, or the folder holds files of others.
    """
    standing = require(case, "sharing")
    found = overview(case)
    if found.is_empty:
        raise PageError(
            f"Nothing of {case.alias} is measured yet, so there is nothing to send.",
            f"Mark the clips first: casebook open {case.folder.name}",
        )
    refuse_stale(case, found)
    inside(case.folder, f"out/{FOLDER}", "folder")
    target = case.out / FOLDER
    _refuse_strangers(target)
    notes = [standing.warning] if standing.warning else []
    pieces = _laid(case, found, target, notes)
    _remember(case)
    return Parcel(target, pieces, tuple(notes))


def size_words(size: int) -> str:
    """A file's size as people say it.

    >>> size_words(640), size_words(345_678), size_words(2_300_000)
    ('1 kB', '346 kB', '2.3 MB')
    """
    return f"{size / 1e6:.1f} MB" if size >= 1_000_000 else f"{max(1, round(size / 1000))} kB"


def refuse_stale(case: Case, found: Overview) -> None:
    """Raise PageError where the page, made from the notebooks as they were run, would not say what the card says."""
    now = show_plan.first(case, found).data
    every = (block for path in case.notebooks for section in read_sections(path) for block in section.blocks())
    for block in every:
        is_plan = (block.get("kind"), block.get("checkpoint")) == ("headline", "plan")
        if is_plan and (block.get("title"), block.get("lead")) != (now["title"], now["lead"]):
            raise PageError(
                f'The page of {case.alias} is older than its marks: it says "{block.get("title")}", and the marks now '
                f'say "{now["title"]}".',
                f"Run the notebooks again: casebook run {case.folder.name}",
            )


def _laid(case: Case, found: Overview, target: Path, notes: list[str]) -> tuple[Piece, ...]:
    """Make all files beside the folder and put them in its place at the end."""
    fresh = target.with_name(f".{target.name}.{secrets.token_hex(4)}")
    alias = identifier(case.alias)
    try:
        pieces = list(_pages(case, fresh, alias))
        for made in _made(case, found, alias, notes):
            write_atomic(fresh / made.name, made.content)
            pieces.append(Piece(made.name, len(made.content), made.about, made.way))
        if target.exists():
            shutil.rmtree(target)
        fresh.replace(target)
    finally:
        shutil.rmtree(fresh, ignore_errors=True)
    return tuple(pieces)


def _pages(case: Case, folder: Path, alias: str) -> Iterator[Piece]:
    for name, light, about in (
        (f"{alias}.html", False, "the page"),
        (f"{alias}_light.html", True, "the page, light"),
    ):
        path = render_case(case, folder / name, light=light)
        yield Piece(name, path.stat().st_size, about, MAIL)


def _made(case: Case, found: Overview, alias: str, notes: list[str]) -> Iterator[_Made]:
    card, still = card_of(case, found), card_still(found)
    yield _Made(f"{alias}_card.png", card_png(card, still), "the card as a picture", MESSAGE)
    yield _Made(f"{alias}_card.pdf", card_pdf(card, still), "the card to print, A5", MESSAGE)
    yield from _loops(case, found, alias, notes)
    yield from _voices(case, alias, notes)
    yield _Made(f"{alias}_findings.csv", findings_csv(found).encode(), "every finding", NUMBERS)
    yield _Made(f"{alias}_strokes.csv", strokes_csv(found).encode(), "every stroke's value", NUMBERS)
    yield from _tracks(case, alias, notes)


def _loops(case: Case, found: Overview, alias: str, notes: list[str]) -> Iterator[_Made]:
    seen: set[str] = set()
    for loop in phone_loops(found, card_of(case, found).who, case.level):
        name = loop.key if loop.key not in seen else f"{loop.key}_2"
        seen.add(loop.key)
        about = f"{loop.words}, {speed_words(loop.speed)}"
        yield _Made(f"{alias}_{name}.mp4", loop.mp4, about, MESSAGE)
    if not seen:
        notes.append("There are no loops: nothing that was found has a picture.")


def _voices(case: Case, alias: str, notes: list[str]) -> Iterator[_Made]:
    for name in SPOKEN_OF:
        note = note_of(case.folder, name)
        if note is not None:
            about = f"your voice, {CHECKPOINTS.get(name, 'what to work on first')}"
            yield _Made(f"{alias}_voice_{name}.m4a", note, about, MESSAGE)
    notes.extend(strays(case.folder))


def _tracks(case: Case, alias: str, notes: list[str]) -> Iterator[_Made]:
    for k, name in enumerate(case.shots, 1):
        desk = case.desk(name)
        if not desk.marks.n_marked:
            continue
        yield _Made(f"{alias}_tracks_{k}.csv", tracks_csv(desk).encode(), f"marked points, shot {k}", NUMBERS)
        try:
            tracks, told = tracks_of(desk)
        except MarksError as error:
            notes.append(f"No C3D of shot {k}: {error}")
            continue
        yield _Made(f"{alias}_tracks_{k}.c3d", c3d_bytes(tracks), f"marked points, shot {k}, as C3D", NUMBERS)
        if told:
            notes.append(f"Shot {k}: {told}")


def _refuse_strangers(target: Path) -> None:
    """The folder is emptied, so it must hold nothing but earlier parcels."""
    if target.is_symlink() or (target.exists() and not target.is_dir()):
        raise PageError(f'"{target.name}" in the folder out is no folder of ours.', "Take it away.", path=target)
    strange = sorted(p.name for p in target.iterdir() if not _OURS.fullmatch(p.name)) if target.exists() else []
    if strange:
        raise PageError(
            f'The folder out/{FOLDER} is made anew each time, and it holds "{strange[0]}", which is not from here.',
            "Put your own files elsewhere.",
            path=target,
        )


def _remember(case: Case) -> None:
    """Note in the case that a parcel was made; once a day is enough."""
    from datetime import date

    today, where = date.today(), f"out/{FOLDER}"
    row = {"kind": "parcel", "where": where, "date": today.isoformat()}
    if not case.invented and row not in releases(case.folder):
        note_release(case, "parcel", where, today)
