"""Every kind of block with hostile words in every place where it holds words, from the notebooks that ship."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import nbformat

import casebook.resources
from casebook.pages.block import MIME
from casebook.pages.layout import LAYOUTS

JPEG = b"\xff\xd8\xff\xe0\x00\x10JFIF\x00\x01\x01\x00\x00\x01\x00\x01\x00\x00\xff\xd9"
MP4 = b"\x00\x00\x00\x18ftypisom\x00\x00\x00\x00isomiso2"
PNG = b"\x89PNG\r\n\x1a\n"
#: These name files of the media folder; a page reads them by name and shows none of them.
FILES = ("file", "poster", "loop", "src")


class Greedy(dict[str, Any]):
    """A block that answers a question for any key that it does not hold with the hostile words."""

    def __init__(self, held: dict[str, Any], words: str) -> None:
        super().__init__(held)
        self.words = words

    def get(self, key: str, default: Any = None) -> Any:
        return super().get(key, None if key in FILES else self.words)

    def __missing__(self, key: str) -> Any:
        return self.words


@cache
def seen() -> dict[str, tuple[dict[str, Any], ...]]:
    """For each kind the blocks of the shipped notebooks that hold words in different places."""
    found: dict[str, dict[frozenset[str], dict[str, Any]]] = {kind: {} for kind in LAYOUTS}
    for path in casebook.resources.templates():
        for cell in nbformat.read(path, 4).cells:
            for output in cell.get("outputs", ()):
                block = output.get("data", {}).get(MIME)
                if block and block["kind"] in LAYOUTS:
                    places = frozenset(".".join(place) for place, _ in words_in(block))
                    found[block["kind"]].setdefault(places, block)
    return {kind: _covering(blocks) for kind, blocks in found.items()}


def _covering(blocks: dict[frozenset[str], dict[str, Any]]) -> tuple[dict[str, Any], ...]:
    """Few blocks that together hold words in every place."""
    chosen, left = [], frozenset().union(*blocks)
    while left:
        best = max(blocks, key=lambda places: len(places & left))
        chosen.append(blocks[best])
        left -= best
    return tuple(chosen)


def words_in(value: Any, place: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], str]]:
    """Every text of a block and where it stands."""
    if isinstance(value, str):
        yield place, value
    elif isinstance(value, dict):
        for key, each in value.items():
            yield from words_in(each, (*place, key))
    elif isinstance(value, list):
        for each in value:
            yield from words_in(each, (*place, "*"))


def spoiled(value: Any, words: str, key: str = "") -> Any:
    """The block with the hostile words in place of every text and behind every key."""
    if isinstance(value, str):
        return value if key in (*FILES, "kind") else words
    if isinstance(value, dict):
        return Greedy({k: spoiled(each, words, k) for k, each in value.items()}, words)
    if isinstance(value, list):
        return [spoiled(each, words, key) for each in value]
    return value


def hostile_blocks(words: str) -> Iterator[dict[str, Any]]:
    """Every kind of block, spoiled; of a kind that no notebook shows, what it makes of nothing but the words."""
    for kind, blocks in seen().items():
        for block in blocks or ({"schema": 1, "kind": kind},):
            yield spoiled(block, words)


def lay_media(folder: Path) -> Path:
    """A media folder with a small file of the right beginning for every name that the blocks use."""
    folder.mkdir(parents=True, exist_ok=True)
    for blocks in seen().values():
        for block in blocks:
            for place, name in words_in(block):
                if place[-1] in FILES and "." in name:
                    data = {"jpg": JPEG, "png": PNG, "mp4": MP4}[name.rpartition(".")[2]]
                    (folder / name).write_bytes(data)
    return folder
