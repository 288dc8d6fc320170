"""Results as tables for a spreadsheet or a statistics program: every finding, and every stroke's value behind it.

The tables are CSV by RFC 4180 in UTF-8; the first column says which schema they follow. A number stands as a number in
the unit beside it, what is missing as an empty cell, and no text can be taken for a formula.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from casebook.checkpoints.finding import Finding, NotMeasured
from casebook.pages.markup import clean
from casebook.words import QUANTITIES

if TYPE_CHECKING:
    from casebook.case.overview import Answer, Overview

SCHEMA = 1
FINDINGS = (
    "swimmer", "shots", "view", "checkpoint", "quantity", "name", "side", "stroke_class", "value", "unit",
    "these_low", "these_high", "habit_low", "habit_high", "n_strokes", "frames", "frames_seen", "frames_needed",
    "verdict", "outcome", "band_low", "band_high", "band_margin", "band_used", "band_source", "decision",
    "decision_why", "not_measured",
)  # fmt: skip
STROKES = (
    "swimmer", "shot", "view", "checkpoint", "quantity", "side", "stroke_class", "stroke", "value", "unit",
    "sigma_own", "sigma_shared", "time_s", "frames",
)  # fmt: skip
#: A spreadsheet takes a text that begins with one of these, or with its wide form, for a formula.
_BEGINS_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")
#: Numbers keep so many decimals: far more than anything is measured to.
_DECIMALS = 6

Cell = str | float | int | None


def csv_text(columns: Sequence[str], rows: Iterable[Sequence[Cell]]) -> str:
    """A table with its head; every row begins with the schema's number."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(("schema", *columns))
    writer.writerows((SCHEMA, *(cell(value) for value in row)) for row in rows)
    return out.getvalue()


def cell(value: Cell) -> str | int | float:
    """One value as it stands in a table.

    >>> cell("=1+1"), cell(-3.5), cell(float("nan")), cell(None)
    ("'=1+1", -3.5, '', '')
    """
    if value is None:
        return ""
    if isinstance(value, int):
        return int(value)
    if isinstance(value, float):
        return round(float(value), _DECIMALS) + 0.0 if math.isfinite(value) else ""
    return f"'{value}" if value.startswith(_BEGINS_FORMULA) else value


def findings_csv(found: Overview) -> str:
    """Every finding of a case, and what was not measured with the reason in the last column.

    ``value``, ``these_*`` (the 95 % interval of these strokes) and ``habit_*`` (of what the swimmer does) are in
    ``unit``. ``shots`` counts the case's shots from 1: several are passes of one swim put together, and ``frames`` are
    those of the first.
    """
    return csv_text(FINDINGS, (_finding_row(a, r) for a in found.answers for r in a.result.results))


def strokes_csv(found: Overview) -> str:
    """Every stroke's value, its own error and the one it shares with the others of its clip, one standard deviation
    each in ``unit``, and the frames and the time it was read at."""
    rows = (
        [
            *_where(a, r, (s.shot or a.desk.shot.id,)),
            r.side,
            r.stroke_class,
            s.stroke,
            s.value,
            r.unit,
            s.sigma,
            s.common,
            s.time_s,
            _frames(s.frames),
        ]
        for a in found.answers
        for r in a.result.results
        if isinstance(r, Finding)
        for s in r.strokes
    )
    return csv_text(STROKES, rows)


def _where(answer: Answer, result: Finding | NotMeasured, shots: Sequence[str]) -> list[Cell]:
    case, shot = answer.desk.case, answer.desk.shot
    numbers = " ".join(str(n) for n in sorted(case.shots.index(name) + 1 for name in shots))
    return [clean(case.alias), numbers, shot.view, answer.checkpoint, result.quantity]


def _finding_row(answer: Answer, r: Finding | NotMeasured) -> list[Cell]:
    decided = answer.desk.case.decision(answer.checkpoint)
    known = QUANTITIES.get(r.quantity)
    row = dict.fromkeys(FINDINGS[5:])
    row |= {"name": known.name if known else r.quantity, "side": r.side}
    row |= {"decision": decided.decision, "decision_why": clean(decided.why)} if decided else {}
    row |= _numbers(r) if isinstance(r, Finding) else {"unit": known.unit if known else "", "not_measured": str(r)}
    own = answer.desk.shot.id
    shots = dict.fromkeys([own, *(s.shot or own for s in (r.strokes if isinstance(r, Finding) else ()))])
    return [*_where(answer, r, tuple(shots)), *row.values()]


def _numbers(r: Finding) -> dict[str, Cell]:
    band, habit = r.band, r.habit
    out: dict[str, Cell] = {
        "stroke_class": r.stroke_class,
        "value": r.value,
        "unit": r.unit,
        "these_low": r.these.low,
        "these_high": r.these.high,
        "n_strokes": len(r.strokes),
        "frames": _frames(_own_frames(r)),
        "frames_seen": r.seen,
        "frames_needed": r.needed,
        "verdict": r.verdict,
        "outcome": r.outcome,
    }
    if habit is not None:
        out |= {"habit_low": habit.low, "habit_high": habit.high}
    if band is not None:
        out |= {"band_low": band.low, "band_high": band.high, "band_margin": band.margin}
        out |= {"band_used": "yes" if band.on else "no", "band_source": band.source}
    return out


def _own_frames(r: Finding) -> Sequence[int]:
    """The frames of the shot at hand: another pass counts its own."""
    if not any(s.shot for s in r.strokes):
        return r.frames
    return sorted({f for s in r.strokes if not s.shot for f in s.frames})


def _frames(frames: Sequence[int]) -> str:
    return " ".join(str(f) for f in frames)
