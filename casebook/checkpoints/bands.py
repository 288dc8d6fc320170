"""Target bands as data: per level, each with its source, and a case's own file that replaces any of them."""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from casebook.checkpoints.finding import Band
from casebook.errors import CaseError
from casebook.words import LEVELS, QUANTITIES

SCHEMA = 1
NO_SOURCE = "common practice, no source"
_KEYS = ("low", "high", "margin", "unit", "source", "on")
#: Levels that start from the bands of another. common practice, no source
SAME_AS = {"masters": "triathlete", "middle": "distance"}
#: A shoulder that does not reach far is not held against the catch of one that does.
OF_THE_SHOULDER = ("hand_ahead_pct", "elbow_height_pct", "elbow_angle_45_deg", "elbow_angle_under_deg")


@dataclass(frozen=True, slots=True)
class Bands:
    """The bands of one level, by quantity. A quantity without an agreed band has none."""

    level: str
    bands: Mapping[str, Band] = field(default_factory=dict)

    def get(self, quantity: str) -> Band | None:
        """The band of a quantity, or None."""
        return self.bands.get(quantity)


def load_bands(
    level: str,
    override_toml: Path | None = None,
    *,
    squad_toml: Path | None = None,
    events: Sequence[str] = (),
    spare_shoulders: bool = False,
) -> Bands:
    """The bands of a level, some of them replaced by a coach's own: for a squad, for an event, for one swimmer.

    Parameters
    ----------
    level : str
        Key of ``words.LEVELS``.
    override_toml : Path, optional
        A file of tables like ``[hand_ahead_pct]`` with any of low, high, margin, on, source. What a table leaves out
        stays as it was, except the edges: a table that names one edge leaves the other open. ``Band.source`` names the
        file. Tables like ``[event."400 m freestyle".hand_ahead_pct]`` hold for those who swim that event, and go before
        the others of their file.
    squad_toml : Path, optional
        The same for a whole squad; the swimmer's own file goes before it.
    events : sequence of str
        What the swimmer swims, as the case has it.
    spare_shoulders : bool
        For stiff shoulders and for children: the catch is shown and not judged, unless the case's own file says
        otherwise.

    Raises
    ------
    CaseError
        Unknown level or quantity, or a file that cannot be read.
    """
    if level not in LEVELS:
        raise CaseError(f'"{level}" is not a level that casebook knows.', f"Use one of: {', '.join(LEVELS)}.")
    bands = {}
    for quantity, table in _tables(Path(__file__).with_name("bands.toml")).items():
        own = table.get(level, table.get(SAME_AS.get(level, "")))
        if own is not None:
            common = {k: table[k] for k in ("margin", "unit", "source", "on")}
            if spare_shoulders and quantity in OF_THE_SHOULDER:
                common["on"] = False
            bands[quantity] = _band(quantity, level, {**common, **own})
    for path, whose in ((squad_toml, "of the squad"), (override_toml, "of this case")):
        if path is not None:
            for quantity, changed, for_whom in _own_tables(path, events):
                old = bands.get(quantity)
                bands[quantity] = _replaced(quantity, level, changed, old, path, f"{whose}{for_whom}")
    return Bands(level, bands)


def _own_tables(path: Path, events: Sequence[str]) -> Iterator[tuple[str, Mapping[str, Any], str]]:
    """A coach's own bands in the order in which they hold: those for everybody, then those for each of the events."""
    data = _tables(path)
    for_events = data.pop("event", {})
    yield from ((quantity, table, "") for quantity, table in data.items())
    swum = {event.strip().casefold() for event in events}
    for event, tables in for_events.items():
        if not isinstance(tables, dict) or not all(isinstance(t, dict) for t in tables.values()):
            raise CaseError(
                f'{path.name} has no band under [event."{event}"].',
                f'Write [event."{event}".hand_ahead_pct].',
                path=path,
            )
        if event.strip().casefold() in swum:
            yield from ((quantity, table, f" for {event}") for quantity, table in tables.items())


def _replaced(quantity: str, level: str, table: Mapping[str, Any], old: Band | None, path: Path, whose: str) -> Band:
    unknown = set(table) - set(_KEYS)
    if unknown or quantity not in QUANTITIES:
        word, known = (quantity, list(QUANTITIES)) if quantity not in QUANTITIES else (sorted(unknown)[0], list(_KEYS))
        close = difflib.get_close_matches(word, known, 1)
        hint = f'Did you mean "{close[0]}"?' if close else f"It knows: {', '.join(known)}."
        raise CaseError(f'{path.name} has "{word}" in [{quantity}], which no band knows.', hint, path=path)
    edges = table if {"low", "high"} & set(table) else {"low": old and old.low, "high": old and old.high}
    said = table.get("source", "the coach's own band")
    return _band(
        quantity,
        level,
        {
            "low": edges.get("low"),
            "high": edges.get("high"),
            "margin": table.get("margin", old.margin if old else 0.0),
            "unit": QUANTITIES[quantity].unit,
            "on": table.get("on", old.on if old else True),
            "source": f"{said} ({path.name} {whose})",
        },
    )


def _band(quantity: str, level: str, values: Mapping[str, Any]) -> Band:
    low, high = (None if values.get(k) is None else float(values[k]) for k in ("low", "high"))
    if low is not None and high is not None and low >= high:
        raise CaseError(f"The band of {quantity} runs from {low:g} to {high:g}.", "Make low smaller than high.")
    return Band(
        quantity, low, high, float(values["margin"]), values["unit"], values["source"], level, bool(values["on"])
    )


def _tables(path: Path) -> dict[str, dict[str, Any]]:
    try:
        data = tomllib.loads(path.read_text("utf-8"))
    except OSError as err:
        raise CaseError(
            f"Cannot read the bands in {path.name}: {err.strerror}.", "Check the path.", path=path
        ) from None
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as err:
        raise CaseError(f"{path.name} is not valid TOML: {err}.", "Mend that line.", path=path) from None
    if data.pop("schema", SCHEMA) > SCHEMA:
        raise CaseError(f"{path.name} was written by a newer casebook.", "Update casebook to read it.", path=path)
    loose = [k for k, v in data.items() if not isinstance(v, dict)]
    if loose:
        raise CaseError(
            f'{path.name} sets "{loose[0]}" outside of any band.', "Put it under a table such as [hand_ahead_pct]."
        )
    return data
