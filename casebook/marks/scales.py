"""Known lengths marked in the picture; on disk ``<shot>.scales.toml``, a list of ``[[length]]``."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Iterable
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any

import tomlkit

from casebook.errors import MarksError
from casebook.files import write_atomic
from casebook.marks.lines import check_ends
from casebook.marks.marks import HAND_SIGMA_PX

SCHEMA = 1


@dataclass(frozen=True, slots=True)
class LengthMark:
    """Two places of one frame whose true distance is known.

    Attributes
    ----------
    frame : int
    x0_px, y0_px, x1_px, y1_px : float
        The two ends. [px]
    length_m, sigma_m : float
        True distance between them and its standard deviation. [m]
    sigma_px : float
        Standard deviation per coordinate of each end. [px]
    what : str
        What was marked, in the coach's words ("lane rope, red floats").
    distance_ratio, distance_sigma : float
        Camera to swimmer over camera to marking, and its standard deviation: 1 if the length lies in the swimmer's
        own plane; 0.8 if the swimmer is nearer by a fifth.
    """

    frame: int
    x0_px: float
    y0_px: float
    x1_px: float
    y1_px: float
    length_m: float
    sigma_m: float
    sigma_px: float = HAND_SIGMA_PX
    what: str = ""
    distance_ratio: float = 1.0
    distance_sigma: float = 0.0

    def __post_init__(self) -> None:
        check_ends(f'The length "{self.what}" on frame {self.frame}', self.ends, self.sigma_px)
        for name, least in (
            ("length_m", True),
            ("sigma_m", False),
            ("distance_ratio", True),
            ("distance_sigma", False),
        ):
            value = getattr(self, name)
            if not math.isfinite(value) or value < 0 or (least and value == 0):
                raise MarksError(
                    f'The length "{self.what}" on frame {self.frame} has {name} = {value}.',
                    f"{name} is {'more than zero' if least else 'zero or more'}.",
                )
        if self.frame < 0:
            raise MarksError(f'The length "{self.what}" stands on frame {self.frame}.', "Frames count from 0.")

    @property
    def ends(self) -> tuple[float, float, float, float]:
        """The two ends as (x0, y0, x1, y1). [px]"""
        return self.x0_px, self.y0_px, self.x1_px, self.y1_px


_NAMES = tuple(f.name for f in fields(LengthMark))
_NEEDED = _NAMES[:7]


def read_scales(path: Path | str) -> list[LengthMark]:
    """Known lengths of one shot; raises MarksError naming the entry, the key and what to do."""
    path = Path(path)
    try:
        data = tomllib.loads(path.read_text("utf-8-sig"))
    except FileNotFoundError:
        raise MarksError(f'There is no file "{path.name}".', "Check its name and folder.", path=path) from None
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise MarksError(f"{path.name} cannot be read: {error}.", "The file is as it was: correct it.") from None
    schema = data.pop("schema", 0)
    if schema not in (0, SCHEMA):
        raise MarksError(
            f"{path.name} was written by a newer casebook (schema {schema}, this one knows {SCHEMA}).",
            "Update casebook, then open it again. The file is as it was.",
            path=path,
        )
    entries = data.pop("length", [])
    if data or not isinstance(entries, list):
        raise MarksError(
            f"{path.name} holds {', '.join(data) or 'length'} in a form not known here.",
            "It is a list of [[length]] entries. The file is as it was.",
            path=path,
        )
    return [_length(path, i, entry) for i, entry in enumerate(entries, 1)]


def write_scales(path: Path | str, lengths: Iterable[LengthMark]) -> None:
    """Replace the file in one step."""
    document = tomlkit.document()
    document.add("schema", tomlkit.item(SCHEMA))
    entries = tomlkit.aot()
    for length in lengths:
        entry = tomlkit.table()
        for name in _NAMES:
            entry.add(name, getattr(length, name))
        entries.append(entry)
    if len(entries):
        document.add("length", entries)
    write_atomic(path, tomlkit.dumps(document))


def _length(path: Path, number: int, entry: object) -> LengthMark:
    place = f"{path.name}, length {number}"
    if not isinstance(entry, dict):
        raise MarksError(f"{place} is not an entry.", "Write it under a line [[length]].", path=path)
    missing = [n for n in _NEEDED if n not in entry]
    unknown = [n for n in entry if n not in _NAMES]
    if missing or unknown:
        what = f"lacks {', '.join(missing)}" if missing else f"has the unknown key {', '.join(unknown)}"
        raise MarksError(f"{place} {what}.", f"Its keys are: {', '.join(_NAMES)}. The file is as it was.", path=path)
    for name, value in entry.items():
        wanted = {"frame": int, "what": str}.get(name, (int, float))
        if not isinstance(value, wanted) or isinstance(value, bool):
            raise MarksError(
                f"{place}: {name} = {value!r} does not fit.", "The file is as it was: correct it.", path=path
            )
    values: dict[str, Any] = {n: v if n in ("frame", "what") else float(v) for n, v in entry.items()}
    try:
        return LengthMark(**values)
    except MarksError as error:
        raise MarksError(f"{place}: {error.problem}", f"{error.remedy} The file is as it was.", path=path) from None
