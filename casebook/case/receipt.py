"""The receipt of a deletion: it proves what is gone and names nobody."""

from __future__ import annotations

import hashlib
import secrets
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path

#: What goes out of a case.
KINDS = {"pack": "workshop pack", "parcel": "parcel", "copy": "copy"}
NOT_REACHED = (
    "copies that were sent out, pages and packs saved elsewhere, a squad day's own folder, backups, a synchronised "
    "folder's history, the system's waste bin, and the files on the camera or phone that the clips came from"
)


@dataclass(frozen=True, slots=True)
class Receipt:
    """What was deleted: how many files, bytes and links, and one digest over all the files' digests.

    ``gone_out`` are kind and day of what is known to have left the case; ``linked`` counts files that the disk still
    holds under another name.
    """

    number: str
    date: str
    files: int
    size: int
    links: int
    digest: str
    linked: int = 0
    gone_out: tuple[tuple[str, str], ...] = ()

    @property
    def name(self) -> str:
        """A file name that says nothing of the case."""
        return f"deletion_receipt_{self.number}.txt"

    def text(self) -> str:
        """The receipt as lines to read."""
        lines = [
            "Receipt of a deletion", "",
            f"Number:  {self.number}", f"Day:     {self.date}", f"Files:   {self.files}",
            f"Bytes:   {self.size}", f"Links:   {self.links} removed; what they pointed to was not touched",
            f"SHA-256: {self.digest}", "",
            "The number was drawn at random. The SHA-256 is taken over the SHA-256 of every deleted file, in lower",
            "case hexadecimal, sorted, one a line: whoever holds the same files can compute it again.", "",
            f"Not reached: {NOT_REACHED}.",
            "The space on the disk was released, not written over.",
        ]  # fmt: skip
        if self.linked:
            lines.append(
                f"{self.linked} of the files had a second name on this disk (hard link), which still holds them."
            )
        lines += [f"Known to have gone out: a {KINDS[kind]} on {day}." for kind, day in self.gone_out]
        return "\n".join(lines) + "\n"


def new_number() -> str:
    """A random receipt number."""
    word = secrets.token_hex(6).upper()
    return f"{word[:4]}-{word[4:8]}-{word[8:]}"


def digest_of_file(path: Path) -> str:
    """SHA-256 of a file's bytes, in lower-case hexadecimal."""
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def digest_over(digests: Iterable[str]) -> str:
    """SHA-256 over sorted digests, one a line."""
    return hashlib.sha256("".join(f"{d}\n" for d in sorted(digests)).encode("ascii")).hexdigest()


def known_releases(rows: Iterable[Mapping[str, str]]) -> tuple[tuple[str, str], ...]:
    """Kind and day of what went out, and nothing that could name anybody."""
    return tuple(sorted((row["kind"] if row["kind"] in KINDS else "copy", _day(row["date"])) for row in rows))


def _day(word: str) -> str:
    try:
        return date.fromisoformat(word).isoformat()
    except ValueError:
        return "0000-00-00"
