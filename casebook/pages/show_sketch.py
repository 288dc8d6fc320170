"""The sketch beside a checkpoint's definition: the figure to aim for, with the lines that are measured."""

from __future__ import annotations

from importlib.resources import files
from typing import TYPE_CHECKING

from casebook.pages.block import Block
from casebook.words import CHECKPOINTS

if TYPE_CHECKING:
    from casebook.case.desk import Desk
    from casebook.pages.telling import Result


def sketch(desk: Desk, result: Result) -> Block:
    """What is measured, drawn on an invented swimmer. For the coach's desk; the swimmer's page has his own pictures."""
    words = f"What is measured of the {CHECKPOINTS[result.checkpoint]}, on a drawn figure."
    data: dict[str, object] = {"title": "", "paragraphs": [], "items": []}
    picture = files("casebook.pages").joinpath("sketches", file_of(result.checkpoint)).read_bytes()
    return Block("prose", words, data, picture)


def file_of(checkpoint: str) -> str:
    """Name of the file of a checkpoint's sketch."""
    return f"{checkpoint}.jpg"
