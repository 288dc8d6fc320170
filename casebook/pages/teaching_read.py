"""Plain JSON read as frozen dataclasses, checked field by field: a file from a stranger is not trusted."""

from __future__ import annotations

import math
import types
from dataclasses import MISSING, fields, is_dataclass
from typing import Any, Union, get_args, get_origin, get_type_hints

from casebook.errors import PageError
from casebook.pages.markup import clean

#: No text and no list of a teaching case is longer.
LONGEST_TEXT, LONGEST_LIST = 2000, 5000


def read_as(kind: Any, value: object, where: str) -> Any:
    """``value`` as ``kind``: a dataclass, str, int, float, bool, a tuple of these, or one of them or None.

    Raises PageError naming the field.

    >>> read_as(tuple[int, str], [3, "x"], "here")
    (3, 'x')
    """
    origin = get_origin(kind)
    if origin in (Union, types.UnionType):
        if value is None and type(None) in get_args(kind):
            return None
        return read_as(next(a for a in get_args(kind) if a is not type(None)), value, where)
    if origin is tuple:
        return _tuple(get_args(kind), value, where)
    if is_dataclass(kind):
        return _made(kind, value, where)
    return _plain(kind, value, where)


def _made(kind: Any, value: object, where: str) -> Any:
    if not isinstance(value, dict):
        raise _wrong(where)
    hints = get_type_hints(kind)
    known = {f.name: f for f in fields(kind)}
    for name in value:
        if name not in known:
            raise _wrong(f"{where}, {clean(name)[:40]}")
    needed = [f.name for f in known.values() if f.default is MISSING and f.default_factory is MISSING]
    for name in needed:
        if name not in value:
            raise _wrong(f"{where}, {name}")
    return kind(**{name: read_as(hints[name], each, f"{where}, {name}") for name, each in value.items()})


def _tuple(kinds: tuple[Any, ...], value: object, where: str) -> tuple[Any, ...]:
    if not isinstance(value, list) or len(value) > LONGEST_LIST:
        raise _wrong(where)
    if len(kinds) == 2 and kinds[1] is Ellipsis:
        return tuple(read_as(kinds[0], each, where) for each in value)
    if len(value) != len(kinds):
        raise _wrong(where)
    return tuple(read_as(k, each, where) for k, each in zip(kinds, value, strict=True))


def _plain(kind: Any, value: object, where: str) -> Any:
    if kind is str and isinstance(value, str) and len(value) <= LONGEST_TEXT:
        return clean(value)
    if kind is bool and isinstance(value, bool):
        return value
    if isinstance(value, (int, float)) and not isinstance(value, bool) and math.isfinite(value) and abs(value) < 1e7:
        if kind is float:
            return float(value)
        if kind is int and value == int(value):
            return int(value)
    raise _wrong(where)


def _wrong(where: str) -> PageError:
    return PageError(f"A teaching case does not read well: {where}.", "Make the workshop pack again.")
