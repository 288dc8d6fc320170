"""case.toml: the settings of one swimmer, read with plain errors and written without losing the coach's comments."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import date
from pathlib import Path, PurePosixPath
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError

from casebook.case.permitted import MANY, MOST_BYTES, complaints
from casebook.errors import CaseError
from casebook.files import write_atomic

SCHEMA = 1
FILE = "case.toml"


def read_settings(folder: Path) -> dict[str, Any]:
    """The settings of a case as plain dicts and lists; every unknown key or wrong type is named at once."""
    path = folder / FILE
    if not path.is_file():
        raise CaseError(
            f'"{folder}" is not a case: it holds no {FILE}.', "Make one with: casebook new FOLDER VIDEO", path=path
        )
    if not path.resolve().is_relative_to(folder.resolve()):
        raise CaseError(f'"{path}" is a link that leads out of the case.', "Put the file itself there.", path=path)
    if path.stat().st_size > MOST_BYTES:
        raise CaseError(f'"{path}" is too long for a settings file.', "Restore it from a copy.", path=path)
    try:
        raw = _with_words_for_days(tomlkit.parse(path.read_text("utf-8-sig")).unwrap())
    except (TOMLKitError, ValueError) as error:
        raise CaseError(f'"{path}" cannot be read: {error}.', "Open it in a text editor and mend that line.") from None
    except RecursionError:
        raise CaseError(f'"{path}" is nested too deep to be read.', "Restore it from a copy.", path=path) from None
    schema = raw.get("schema")
    if not isinstance(schema, int) or schema > SCHEMA:
        raise CaseError(
            f'"{path}" has schema {schema!r}; this casebook reads schema {SCHEMA}.',
            "Install a newer casebook, or set schema = 1 if the line was lost.",
        )
    wrong = complaints(raw)
    if wrong:
        raise CaseError(f'"{path}" has {len(wrong)} setting(s) to mend: {"; ".join(wrong)}.', "")
    return raw


def write_settings(
    folder: Path,
    settings: Mapping[str, Any],
    comments: Mapping[str, str] | None = None,
    closing: Sequence[str] = (),
) -> None:
    """Write case.toml afresh.

    ``comments`` maps a top-level or table key to the remark printed beside it; ``closing`` are remarks at the end.
    """
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
    remarks = "".join(f"# {line}\n" for line in closing)
    write_atomic(folder / FILE, tomlkit.dumps(document) + (f"\n{remarks}\n" if remarks else ""))


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


def amend_rows(folder: Path, table: str, change: Callable[[Mapping[str, Any]], Mapping[str, Any]]) -> int:
    """Set in each [[table]] entry of case.toml the values that ``change`` returns for it; returns how many changed.

    Everything else in the file stays as the coach wrote it.
    """
    path = folder / FILE
    document = tomlkit.parse(path.read_text("utf-8-sig"))
    changed = 0
    for row in document.get(table, []):
        values = change(row)
        changed += bool(values)
        for key, value in values.items():
            row[key] = value
    if changed:
        write_atomic(path, tomlkit.dumps(document))
    return changed


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


def _with_words_for_days(value: Any) -> Any:
    """Days that were written without quotation marks, as words."""
    if isinstance(value, dict):
        return {key: _with_words_for_days(each) for key, each in value.items()}
    if isinstance(value, list):
        return [_with_words_for_days(each) for each in value]
    return value.isoformat() if type(value) is date else value
