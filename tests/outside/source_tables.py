"""Reading the published tables in tests/sources: a head of comment lines, then a plain CSV."""

from __future__ import annotations

import csv
from pathlib import Path

SOURCES = Path(__file__).parents[1] / "sources"


def rows(name: str) -> list[dict[str, str]]:
    """Rows of a source table as dicts of text."""
    lines = (SOURCES / name).read_text("utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def numbers(name: str) -> list[dict[str, float]]:
    """Rows of a source table that holds nothing but numbers; an empty cell is NaN."""
    return [{k: float(v) if v else float("nan") for k, v in row.items()} for row in rows(name)]
