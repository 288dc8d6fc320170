"""The truth of a clip on disk: ``<clip>.truth.csv``, ``<clip>.angles.csv``, ``<clip>.truth.toml``.

Every number has a fixed count of decimals, so that a rebuild gives the same bytes.
"""

from __future__ import annotations

import csv
import io
import math
import tomllib
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from casebook.demo.camera import Camera
from casebook.demo.events import EVENTS, TrueStroke
from casebook.demo.plane_truth import INSTANTS, QUANTITIES, CatchTruth
from casebook.demo.swimmer import Swimmer
from casebook.demo.truth import ANGLES, VISIBLE, ClipTruth
from casebook.errors import CasebookError
from casebook.files import write_atomic

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray

SCHEMA = 1
HEAD = f"# schema = {SCHEMA}"
COLUMNS = ("frame", "time_s", "point", "x_px", "y_px", "visible", "x_m", "y_m", "z_m")
_TIME, _PX, _METRE, _ANGLE = 6, 3, 5, 4


def write_truth(folder: Path | str, truth: ClipTruth) -> tuple[Path, Path, Path]:
    """Write the three files of a clip beside it; returns their paths."""
    base = Path(folder)
    files = (
        (base / f"{truth.name}.truth.csv", points_csv(truth)),
        (base / f"{truth.name}.angles.csv", angles_csv(truth)),
        (base / f"{truth.name}.truth.toml", facts_toml(truth)),
    )
    for path, text in files:
        write_atomic(path, text)
    return files[0][0], files[1][0], files[2][0]


def fixed(value: float, decimals: int) -> str:
    """A number with so many decimals; nothing for NaN, and no minus before a zero."""
    if not math.isfinite(value):
        return ""
    text = f"{value:.{decimals}f}"
    return text[1:] if text.startswith("-") and not float(text) else text


def points_csv(truth: ClipTruth) -> str:
    """One row for each frame and point."""
    rows = [HEAD, ",".join(COLUMNS)]
    for i, t in enumerate(truth.times):
        lead = f"{i},{fixed(t, _TIME)}"
        for j, name in enumerate(truth.points):
            pixels = ",".join(fixed(v, _PX) for v in truth.xy[i, j])
            metres = ",".join(fixed(v, _METRE) for v in truth.world[i, j])
            rows.append(f"{lead},{name},{pixels},{truth.visible[i, j]},{metres}")
    return "\n".join(rows) + "\n"


def angles_csv(truth: ClipTruth) -> str:
    """One row for each frame: joint angles and roll [deg], breath 0 to 1, phase in cycles."""
    rows = [HEAD, ",".join(("frame", "time_s", *ANGLES))]
    table = np.stack([truth.angles[name] for name in ANGLES], 1)
    for i, t in enumerate(truth.times):
        rows.append(f"{i},{fixed(t, _TIME)}," + ",".join(fixed(v, _ANGLE) for v in table[i]))
    return "\n".join(rows) + "\n"


def facts_toml(truth: ClipTruth) -> str:
    """Camera, swimmer, rates, and for each stroke its events and its catch on the plane."""
    swimmer, camera = truth.swimmer, truth.camera
    out = [
        "# Truth of a demo clip. The swimmer is invented.",
        f"schema = {SCHEMA}",
        f'clip = "{truth.name}"',
        f"frames = {len(truth.times)}",
        f'direction = "{camera.direction}"',
        "",
        "[rates]",
        f"cycles_per_min = {fixed(swimmer.rate, 6)}",
        f"speed_m_s = {fixed(swimmer.speed, 6)}",
        f"arm_length_m = {fixed(swimmer.arm_length_m, 6)}",
        "",
        "[camera]",
        *_pairs(asdict(camera).items()),
        "",
        "[swimmer]",
        *_pairs(asdict(swimmer).items()),
    ]
    for stroke in truth.strokes:
        out += [
            "",
            "[[stroke]]",
            f'side = "{stroke.side}"',
            f"number = {stroke.number}",
            f'class = "{stroke.stroke_class}"',
        ]
        out += _numbers((f"{name}_s", stroke.times[name]) for name in EVENTS)
    for catch in truth.catches:
        for k, number in enumerate(catch.numbers):
            out += ["", "[[catch]]", f'side = "{catch.side}"', f"number = {number}", f'class = "{catch.classes[k]}"']
            out += [f'way = "{catch.way}"', f"plane_y_m = {fixed(catch.plane_y_m, 6)}"]
            out += _numbers((f"{name}_s", catch.events[name][k]) for name in EVENTS)
            out += _numbers((f"{name}_s", catch.instants[name][k]) for name in INSTANTS)
            out += _numbers((name, catch.values[name][k]) for name in QUANTITIES)
    return "\n".join(out) + "\n"


def _pairs(items: Iterable[tuple[str, Any]]) -> list[str]:
    return [f"{name} = {_toml(value)}" for name, value in items]


def _numbers(items: Iterable[tuple[str, float]]) -> list[str]:
    return [f"{name} = {fixed(value, 6)}" for name, value in items if math.isfinite(value)]


def _toml(value: Any) -> str:
    if isinstance(value, str):
        return f'"{value}"'
    if isinstance(value, tuple | list):
        return "[" + ", ".join(_toml(v) for v in value) + "]"
    return str(int(value)) if isinstance(value, int | np.integer) else fixed(float(value), 6)


def read_truth(folder: Path | str, name: str) -> ClipTruth:
    """The truth of a clip from its three files.

    Raises
    ------
    CasebookError
        A file is missing, of another schema, or torn.
    """
    base = Path(folder)
    facts = tomllib.loads(_text(base / f"{name}.truth.toml"))
    if facts.get("schema") != SCHEMA:
        raise CasebookError(
            f'"{name}.truth.toml" has schema {facts.get("schema")}.', f"This version reads schema {SCHEMA}."
        )
    stand: dict[str, Any] = {k: tuple(v) if isinstance(v, list) else v for k, v in facts["camera"].items()}
    camera = Camera(**stand)
    times, points, world, xy, visible = _read_points(base / f"{name}.truth.csv")
    return ClipTruth(
        name,
        Swimmer(**facts["swimmer"]),
        camera,
        times,
        points,
        world,
        xy,
        visible,
        _read_angles(base / f"{name}.angles.csv"),
        tuple(
            TrueStroke(s["side"], s["number"], s["class"], {e: s.get(f"{e}_s", math.nan) for e in EVENTS})
            for s in facts.get("stroke", ())
        ),
        tuple(_read_catch(side, facts.get("catch", ())) for side in "lr") if camera.view.startswith("side") else (),
    )


def _text(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8")
    except OSError as error:
        raise CasebookError(
            f'The truth file "{path.name}" cannot be read.', "Rebuild the demo clips.", path=path
        ) from error


def _rows(path: Path) -> list[list[str]]:
    head, _, rest = _text(path).partition("\n")
    if head != HEAD:
        raise CasebookError(f'"{path.name}" does not begin with "{HEAD}".', "Rebuild the demo clips.", path=path)
    return list(csv.reader(io.StringIO(rest)))


def _read_points(
    path: Path,
) -> tuple[NDArray[np.float64], tuple[str, ...], NDArray[np.float64], NDArray[np.float64], NDArray[np.str_]]:
    head, *rows = _rows(path)
    if tuple(head) != COLUMNS or not rows:
        raise CasebookError(f'"{path.name}" has not the columns of a truth file.', "Rebuild the demo clips.", path=path)
    points = tuple(row[2] for row in rows if row[0] == rows[0][0])
    count = len(rows) // len(points)
    if count * len(points) != len(rows) or any(row[5] not in VISIBLE for row in rows):
        raise CasebookError(f'"{path.name}" is torn: {len(rows)} rows for {len(points)} points.', path=path)
    numbers = np.array([[float(c) if c else math.nan for c in (row[1], row[3], row[4], *row[6:])] for row in rows])
    table = numbers.reshape(count, len(points), 6)
    visible = np.array([row[5] for row in rows], dtype="<U12").reshape(count, len(points))
    return table[:, 0, 0], points, table[..., 3:], table[..., 1:3], visible


def _read_angles(path: Path) -> dict[str, NDArray[np.float64]]:
    head, *rows = _rows(path)
    table = np.array([[float(c) if c else math.nan for c in row] for row in rows])
    return {name: table[:, head.index(name)] for name in ANGLES}


def _read_catch(side: str, rows: Iterable[dict[str, Any]]) -> CatchTruth:
    own = [row for row in rows if row["side"] == side]

    def column(name: str) -> NDArray[np.float64]:
        return np.array([row.get(name, math.nan) for row in own], float)

    return CatchTruth(
        side,
        "plane",
        np.array([row["number"] for row in own], dtype=np.int64),
        np.array([row["class"] for row in own], dtype="<U8"),
        float(own[0]["plane_y_m"]) if own else math.nan,
        {name: column(f"{name}_s") for name in EVENTS},
        {name: column(f"{name}_s") for name in INSTANTS},
        {name: column(name) for name in QUANTITIES},
    )
