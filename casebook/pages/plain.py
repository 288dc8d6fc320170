"""Reading a block's dict without trusting it: a value of the wrong type counts as absent."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from typing import Any


def words(data: Mapping[str, Any], key: str, usual: str = "") -> str:
    """A text."""
    value = data.get(key)
    return value if isinstance(value, str) else usual


def wordlist(data: Mapping[str, Any], key: str) -> list[str]:
    """A list of texts."""
    value = data.get(key)
    return [v for v in value if isinstance(v, str)] if isinstance(value, list) else []


def rows(data: Mapping[str, Any], key: str) -> list[Mapping[str, Any]]:
    """A list of dicts."""
    value = data.get(key)
    return [v for v in value if isinstance(v, Mapping)] if isinstance(value, list) else []


def row(data: Mapping[str, Any], key: str) -> Mapping[str, Any]:
    """A dict; an empty one if there is none."""
    value = data.get(key)
    return value if isinstance(value, Mapping) else {}


def number(value: object) -> float | None:
    """A finite number of reasonable size, or None."""
    fits = isinstance(value, (int, float)) and not isinstance(value, bool) and math.isfinite(value) and abs(value) < 1e7
    return float(value) if fits else None  # type: ignore[arg-type]


def pair(value: object) -> tuple[float, float] | None:
    """Two numbers, or None."""
    if isinstance(value, (list, tuple)) and len(value) == 2:
        a, b = number(value[0]), number(value[1])
        if a is not None and b is not None:
            return a, b
    return None


def pairs(value: object) -> list[tuple[float, float]]:
    """A list of pairs; what is none is left out."""
    return [p for p in map(pair, value) if p] if isinstance(value, (list, tuple)) else []


def open_pair(value: object) -> tuple[float | None, float | None] | None:
    """Two numbers of which one may be open, or None if both are."""
    if isinstance(value, (list, tuple)) and len(value) == 2:
        low, high = number(value[0]), number(value[1])
        if low is not None or high is not None:
            return low, high
    return None


def size(value: object) -> tuple[int, int]:
    """Width and height of a picture; raises ValueError if they are not."""
    found = pair(value)
    if found is None or not all(1 <= v <= 20000 for v in found):
        raise ValueError("a picture without a size")
    return int(found[0]), int(found[1])


def identifier(value: str) -> str:
    """A name that can stand in an id or a link within the page.

    >>> identifier("Rowan side, 3")
    'rowan-side-3'
    """
    return re.sub(r"[^a-z0-9]+", "-", value.lower()).strip("-")[:60] or "x"
