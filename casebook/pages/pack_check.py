"""A workshop pack read again, byte by byte, before anybody gets it."""

from __future__ import annotations

import hashlib
import html
import json
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from casebook.errors import PageError
from casebook.pages.pack_media import beside_pixels, header_of
from casebook.pages.pack_secrets import ANY_DATE, Secret, plain

MEDIA, TEXTS = (".mp4", ".jpg", ".png"), (".json", ".toml")
#: Words of so many bytes are looked for in coded pictures too: shorter ones stand there by chance.
LONG_ENOUGH = 6
_NAME = re.compile(r"[a-z0-9][a-z0-9_-]{0,60}\.[a-z0-9]{2,4}")
_FOLDER = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,60}")
_WORD = re.compile(r"[^\W_]+")


@dataclass(frozen=True, slots=True)
class Hit:
    """Something that must not be in a pack: in which file, and what kind of thing."""

    file: str
    kind: str

    def __str__(self) -> str:
        return f'"{self.file}" holds {self.kind}'


def look_through(folder: Path, secrets: Sequence[Secret]) -> list[Hit]:
    """Everything in a pack's folder that must not be there: files, metadata, words."""
    hits: list[Hit] = []
    for path in sorted(folder.rglob("*")):
        name = path.relative_to(folder).as_posix()
        hits += [Hit(name[:120], kind) for kind in dict.fromkeys(_kinds(path, name, secrets))]
    return hits


def refuse(hits: Sequence[Hit]) -> None:
    """Raise PageError naming file and kind of what was found, if anything was."""
    if hits:
        told = "; ".join(str(hit) for hit in hits[:5])
        more = f"; and {len(hits) - 5} more" if len(hits) > 5 else ""
        raise PageError(
            f"No pack was made: {told}{more}.",
            "Nothing of it was kept. Take that out of the case, or ask for help with it, and make the pack again.",
            hits=tuple(hits),
        )


def _kinds(path: Path, name: str, secrets: Sequence[Secret]) -> Iterator[str]:
    if path.is_symlink():
        yield "a link"
        return
    yield from _in_text(name, secrets)
    if path.is_dir():
        if not _FOLDER.fullmatch(path.name):
            yield "a folder that is no part of a pack"
        return
    if path.suffix not in MEDIA + TEXTS or not _NAME.fullmatch(path.name):
        yield "a file that is no part of a pack"
        return
    raw = path.read_bytes()
    digest = hashlib.sha256(raw).hexdigest()
    if any(secret.words == digest for secret in secrets):
        yield "an original film"
    if path.suffix in MEDIA:
        yield from beside_pixels(path.name, raw)
        yield from _in_bytes(raw, secrets, LONG_ENOUGH)
        yield from _in_bytes(_header(path.name, raw), secrets, 4)
    else:
        yield from _in_bytes(raw, secrets, LONG_ENOUGH)
        yield from _in_file(path, raw, secrets)


def _header(name: str, raw: bytes) -> bytes:
    try:
        return header_of(name, raw)
    except ValueError:
        return raw


def _in_file(path: Path, raw: bytes, secrets: Sequence[Secret]) -> Iterator[str]:
    try:
        text = raw.decode("utf-8")
        strings = list(_strings(json.loads(text))) if path.suffix == ".json" else []
    except ValueError:
        yield "text that does not read"
        return
    # As it stands, with its escapes undone, and as a page would show it.
    for told in dict.fromkeys((text, html.unescape(text), "\n".join(strings), html.unescape("\n".join(strings)))):
        yield from _in_text(told, secrets)


def _in_text(text: str, secrets: Sequence[Secret]) -> Iterator[str]:
    words, exact = f" {plain(text)} ", f" {' '.join(_WORD.findall(text))} "
    for secret in secrets:
        if secret.exact:
            if f" {secret.words} " in exact:
                yield secret.kind
        elif f" {plain(secret.words)} " in words:
            yield secret.kind
    if ANY_DATE.search(text):
        yield "a date"


def _in_bytes(raw: bytes, secrets: Sequence[Secret], shortest: int) -> Iterator[str]:
    low = raw.lower()
    for secret in secrets:
        word = secret.words.lower()
        coded = (word.encode("utf-8"), word.encode("utf-16-le"), word.encode("utf-16-be"))
        if len(coded[0]) >= shortest and not secret.exact and any(form in low for form in coded):
            yield secret.kind


def _strings(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for key, each in value.items():
            yield str(key)
            yield from _strings(each)
    elif isinstance(value, list):
        for each in value:
            yield from _strings(each)
