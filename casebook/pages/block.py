"""Blocks: what a notebook's cell shows, and what the page is made from.

A block is shown three ways at once: as words and numbers (compared exactly when notebooks are tested), as a picture for
the notebook, and as a small plain dict under ``MIME`` from which the page is laid out without running anything. The
dict holds rounded numbers and names of files in the case's media folder, never picture bytes, paths or clock times.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Any

from casebook.pages.markup import clean

MIME = "application/vnd.casebook.block+json"
SCHEMA = 1


@dataclass(frozen=True, slots=True)
class Block:
    """One piece of a page.

    Attributes
    ----------
    kind : str
        What it is; decides how the page lays it out (``layout.LAYOUTS``).
    words : str
        The same in plain text.
    data : dict
        Plain lists, dicts, strings and rounded numbers.
    picture : bytes, optional
        JPEG or PNG for the notebook.
    """

    kind: str
    words: str
    data: dict[str, Any] = field(repr=False)
    picture: bytes | None = field(default=None, repr=False)

    def __str__(self) -> str:
        return self.words

    def __repr__(self) -> str:
        return f"Block({self.kind})"

    def _repr_mimebundle_(self, include: Any = None, exclude: Any = None) -> dict[str, Any]:
        bundle: dict[str, Any] = {
            "text/plain": self.words,
            MIME: {"schema": SCHEMA, "kind": self.kind, **self.data},
        }
        if self.picture is not None:
            bundle["image/png" if self.picture[:4] == b"\x89PNG" else "image/jpeg"] = self.picture
        return bundle


def media_name(*parts: object, ending: str) -> str:
    """A stable, harmless file name from what a file shows.

    >>> media_name("rowan side", "straight_down", 3, ending="jpg")
    'rowan_side-straight_down-3.jpg'
    """
    words = (re.sub(r"[^a-z0-9_]+", "_", clean(p).lower()).strip("_") or "x" for p in parts)
    return "-".join(w[:48] for w in words) + f".{ending}"


def rounded(value: float, digits: int = 1) -> float:
    """A rounded plain float; never minus zero, so that saved numbers are the same everywhere."""
    return round(float(value), digits) + 0.0
