"""case.toml: the settings of one swimmer, read with plain errors and written without losing the coach's comments."""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from pathlib import Path, PurePosixPath
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError

from casebook.errors import CaseError
from casebook.files import write_atomic

SCHEMA = 1
FILE = "case.toml"

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
    "consent": {"purpose": str, "given_by": str, "guardian": bool, "date": str, "until": str},
    "swim": {
        "id": str, "date": str, "effort": str, "kit": str, "place": str, "lane": str, "seconds": (int, float),
        "strokes": int, "note": str,
    },
    "shot": {
        "id": str, "clip": str, "sha256": str, "swim": str, "view": str, "direction": str, "start": int, "stop": int,
        "camera": str, "distance_m": (int, float), "distance_sigma_m": (int, float), "mirrored": bool,
        "camera_height_m": (int, float), "field_deg": (int, float), "window": str, "off_line_deg": (int, float),
        "time_scale": (int, float), "stretches": list,
    },
    "decision": {"checkpoint": str, "decision": str, "why": str},
    "observed": {"checkpoint": str, "question": str, "word": str, "side": str, "shot": str, "frame": int, "by": str},
    "intake": {
        "date": str, "times": str, "sessions_a_week": (int, float), "metres_a_week": (int, float),
        "years": (int, float), "pain_before": str, "treated_by": str, "earlier_advice": str, "breathing_side": str,
        "kit_owned": str, "pool": str,
    },
    "priority": {"first": str, "why": str},
}  # fmt: skip
MANY = ("consent", "swim", "shot", "decision", "observed")


def read_settings(folder: Path) -> dict[str, Any]:
    """The settings of a case as plain dicts and lists; every unknown key or wrong type is named at once."""
    path = folder / FILE
    if not path.is_file():
        raise CaseError(
            f'"{folder}" is not a case: it holds no {FILE}.', "Make one with: casebook new FOLDER VIDEO", path=path
        )
    try:
        raw = tomlkit.parse(path.read_text("utf-8-sig")).unwrap()
    except (TOMLKitError, UnicodeDecodeError) as error:
        raise CaseError(f'"{path}" cannot be read: {error}.', "Open it in a text editor and mend that line.") from None
    schema = raw.get("schema")
    if not isinstance(schema, int) or schema > SCHEMA:
        raise CaseError(
            f'"{path}" has schema {schema!r}; this casebook reads schema {SCHEMA}.',
            "Install a newer casebook, or set schema = 1 if the line was lost.",
        )
    complaints = _complaints(raw)
    if complaints:
        raise CaseError(f'"{path}" has {len(complaints)} setting(s) to mend: {"; ".join(complaints)}.', "")
    return raw


def write_settings(folder: Path, settings: Mapping[str, Any], comments: Mapping[str, str] | None = None) -> None:
    """Write case.toml afresh. ``comments`` maps a top-level or table key to the remark printed beside it."""
    document = tomlkit.document()
    for key, value in settings.items():
        if key in MANY:
            array = tomlkit.aot()
            for row in value:
                array.append(_table(row, comments or {}))
            document.append(key, array)
        elif isinstance(value, Mapping):
            document.append(key, _table(value, comments or {}))
        else:
            document.append(key, _item(key, value, comments or {}))
    write_atomic(folder / FILE, tomlkit.dumps(document))


def add_row(folder: Path, table: str, row: Mapping[str, Any]) -> None:
    """Append one [[table]] entry to case.toml; everything else in the file stays as the coach wrote it."""
    path = folder / FILE
    document = tomlkit.parse(path.read_text("utf-8-sig"))
    if table not in document:
        document.append(table, tomlkit.aot())
    document[table].append(_table(row, {}))
    write_atomic(path, tomlkit.dumps(document))


def keep_row(folder: Path, table: str, row: Mapping[str, Any], same: tuple[str, ...]) -> None:
    """Keep one [[table]] entry in case.toml in the place of an entry that agrees with it in the keys ``same``.

    Everything else in the file stays as the coach wrote it.
    """
    path = folder / FILE
    document = tomlkit.parse(path.read_text("utf-8-sig"))
    if table not in document:
        document.append(table, tomlkit.aot())
    rows = document[table]
    place = next((i for i, old in enumerate(rows) if all(old.get(k) == row.get(k) for k in same)), None)
    if place is None:
        rows.append(_table(row, {}))
    elif dict(rows[place]) != dict(row):
        for key in [k for k in rows[place] if k not in row]:
            del rows[place][key]
        for key, value in row.items():
            rows[place][key] = value
    write_atomic(path, tomlkit.dumps(document))


def keep_table(folder: Path, table: str, values: Mapping[str, Any]) -> None:
    """Set the values of one [table] of case.toml; everything else in the file stays as the coach wrote it."""
    path = folder / FILE
    document = tomlkit.parse(path.read_text("utf-8-sig"))
    if table not in document:
        document.append(table, tomlkit.table())
    for key, value in values.items():
        document[table][key] = value
    write_atomic(path, tomlkit.dumps(document))


def inside(folder: Path, name: str, what: str) -> Path:
    """A file of the case from its relative name; refuses names that lead out of the case, by links too."""
    pure = PurePosixPath(name.replace("\\", "/"))
    target = (folder / pure).resolve()
    if pure.is_absolute() or ":" in name or not target.is_relative_to(folder.resolve()):
        raise CaseError(f'The {what} "{name}" leads out of the case folder.', "Put the file inside the case.")
    return target


def _table(row: Mapping[str, Any], comments: Mapping[str, str]) -> tomlkit.items.Table:
    table = tomlkit.table()
    for key, value in row.items():
        if value is not None:
            table.append(key, _item(key, value, comments))
    return table


def _item(key: str, value: Any, comments: Mapping[str, str]) -> Any:
    item = tomlkit.item(value)
    if key in comments:
        item.comment(comments[key])
    return item


def _complaints(raw: Mapping[str, Any]) -> list[str]:
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
    out = []
    for key, value in row.items():
        if key not in allowed:
            near = difflib.get_close_matches(key, allowed, 1)
            out.append(f'{where}"{key}" is unknown' + (f' (did you mean "{near[0]}"?)' if near else ""))
        elif not isinstance(value, allowed[key]) or (isinstance(value, bool) and allowed[key] is not bool):
            out.append(f'{where}"{key}" = {value!r} has the wrong kind of value')
    return out
