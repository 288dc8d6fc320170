"""What case.toml may hold: the keys of its tables, the types of their values, and what a value must never be."""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping
from typing import Any

#: Every key a table may hold, and the type of its value. Tables written with [[...]] may come several times.
TABLES: dict[str, dict[str, type | tuple[type, ...]]] = {
    "": {
        "schema": int, "alias": str, "invented": bool, "level": str, "events": list, "aims": str, "coach": str,
        "minor": bool, "about": str, "order": list,
    },
    "body": {
        "stature_m": (int, float), "arm_length_m": (int, float), "arm_length_sigma_m": (int, float),
        "pain_now": str, "stiff": str,
    },
    "consent": {
        "purpose": str, "given_by": str, "guardian": bool, "date": str, "until": str, "audience": str,
        "withdrawn": str,
    },
    "swim": {
        "id": str, "date": str, "effort": str, "kit": str, "place": str, "lane": str, "seconds": (int, float),
        "strokes": int, "note": str,
    },
    "shot": {
        "id": str, "clip": str, "sha256": str, "swim": str, "view": str, "direction": str, "start": int, "stop": int,
        "camera": str, "distance_m": (int, float), "distance_sigma_m": (int, float), "mirrored": bool,
        "camera_height_m": (int, float), "field_deg": (int, float), "window": str, "off_line_deg": (int, float),
        "time_scale": (int, float), "stretches": list, "from_wall_m": (int, float), "dive": bool,
    },
    "decision": {"checkpoint": str, "decision": str, "why": str},
    "observed": {"checkpoint": str, "question": str, "word": str, "side": str, "shot": str, "frame": int, "by": str},
    "intake": {
        "date": str, "times": str, "sessions_a_week": (int, float), "metres_a_week": (int, float),
        "years": (int, float), "pain_before": str, "treated_by": str, "earlier_advice": str, "breathing_side": str,
        "kit_owned": str, "pool": str,
    },
    "priority": {"first": str, "why": str},
    "released": {"kind": str, "where": str, "date": str},
}  # fmt: skip
MANY = ("consent", "swim", "shot", "decision", "observed", "released")
#: What a row cannot do without.
NEEDED = {
    "consent": ("purpose",), "swim": ("id",), "shot": ("id", "clip"), "decision": ("checkpoint", "decision"),
    "released": ("kind", "date"),
}  # fmt: skip
#: Settings that become part of a file's name.
FILE_NAMES = {("shot", "id")}
#: Control characters, and the signs that turn the direction of writing around.
UNWANTED = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]")
#: Names that Windows keeps for devices.
DEVICES = re.compile(r"(?i)(con|prn|aux|nul|com\d|lpt\d)( *\..*)?")
#: Longest settings file that is read, and longest text in it; largest number. Nobody writes more by hand.
MOST_BYTES, MOST_LETTERS, MOST_NUMBER = 4 * 2**20, 20_000, 1e9


def complaints(raw: Mapping[str, Any]) -> list[str]:
    """Every unknown key, missing one, wrong type and unsound value, each as part of a sentence."""
    out = []
    for key, value in raw.items():
        if key in MANY:
            rows = value if isinstance(value, list) else [value]
            for n, row in enumerate(rows, 1):
                out += _wrong(row, key, f"[[{key}]] number {n}: ")
        elif key in TABLES and key:
            out += _wrong(value, key, f"[{key}]: ")
    out += _wrong({k: v for k, v in raw.items() if k not in TABLES}, "", "")
    return out


def _wrong(row: Any, table: str, where: str) -> list[str]:
    if not isinstance(row, Mapping):
        return [f"{where}should be a table of settings"]
    allowed = TABLES[table]
    out = [f'{where}"{key}" is missing' for key in NEEDED.get(table, ()) if key not in row]
    for key, value in row.items():
        if key not in allowed:
            near = difflib.get_close_matches(key, allowed, 1)
            out.append(f'{where}"{_short(key)}" is unknown' + (f' (did you mean "{near[0]}"?)' if near else ""))
        elif not isinstance(value, allowed[key]) or (isinstance(value, bool) and allowed[key] is not bool):
            out.append(f'{where}"{key}" = {_short(repr(value))} has the wrong kind of value')
        elif not _is_sound(value):
            out.append(f'{where}"{key}" = {_short(repr(value))} is too long, too large or holds signs that are no text')
        elif (table, key) in FILE_NAMES and not _names_a_file(str(value)):
            out.append(f'{where}"{key}" = {_short(repr(value))} cannot name a file')
    return out


def _is_sound(value: Any) -> bool:
    """No control sign or turned direction of writing in a text, no endless one, no number beyond reason."""
    if isinstance(value, str):
        return len(value) <= MOST_LETTERS and not UNWANTED.search(value)
    if isinstance(value, list):
        return all(_is_sound(each) for each in value)
    return not isinstance(value, (int, float)) or abs(value) <= MOST_NUMBER


def _names_a_file(word: str) -> bool:
    """A shot names files beside it, and does so on every system."""
    plain = bool(re.fullmatch(r"\w[\w .+-]{0,119}", word)) and word[-1] not in ". "
    return plain and not DEVICES.fullmatch(word)


def _short(words: str) -> str:
    return words if len(words) <= 60 else words[:60] + "..."
