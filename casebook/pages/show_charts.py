"""Blocks with figures: every measure against its band, and a curve over the forearm's way down."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Any

import numpy as np

from casebook.checkpoints.finding import Finding, Interval, StrokeValue
from casebook.pages.block import Block, rounded
from casebook.pages.charts import MEAN_FROM, curve_shapes, measure_shapes
from casebook.pages.figure import Shape, Words, moved, to_png
from casebook.pages.narrative import SAME_FACT
from casebook.pages.story import not_measured
from casebook.pages.telling import (
    Result,
    arm_spoken_of,
    findings,
    seen_in,
    sides_spoken_of,
    stroke_half,
    title_of,
    told_unit,
    value_words,
    who,
    without_frames,
)
from casebook.words import QUANTITIES, SIDES, VERDICTS

if TYPE_CHECKING:
    from casebook.case.desk import Desk
    from casebook.checkpoints.catch import CatchResult, Curve

#: Quantities of the catch that a page shows, in order. The elbow's angle halfway down is the same fact as its height:
#: not shown twice.
SHOWN = ("hand_ahead_pct", "elbow_height_pct", "elbow_angle_under_deg", "upper_arm_turn_deg")
#: Curves that can be shown: title, inclination at which the value is read [deg], quantity whose band goes with it.
CURVES = {
    "hand_ahead_pct": ("Hand ahead of the shoulder", 90.0, "hand_ahead_pct"),
    "elbow_height_pct": ("Elbow above the straight line from shoulder to fingertips", 45.0, "elbow_height_pct"),
    "elbow_angle_deg": ("Bend of the elbow", 45.0, "elbow_angle_45_deg"),
}
#: Points of a curve closer than this only show the marking's own noise. [deg]
LEAST_STEP_DEG = 1.5


def shown(result: Result) -> tuple[str, ...]:
    """The quantities of a result that a swimmer is shown, in order."""
    if result.checkpoint == "catch":
        return SHOWN
    return tuple(dict.fromkeys(f.quantity for f in findings(result) if not QUANTITIES[f.quantity].appendix))


def measures(desk: Desk, result: Result) -> Block:
    """Every measure of the sides spoken of: number, give or take, band, verdict; and what was not measured."""
    sides = sides_spoken_of(result, desk.shot)
    chosen = [f for q in shown(result) for f in findings(result) if f.quantity == q and f.side in (*sides, "")]
    if result.checkpoint != "catch":
        # The strokes without breath are the swimmer's stroke; the other classes stand in the coach's table.
        spoken = arm_spoken_of(result, desk.shot)[1]
        chosen = [f for f in chosen if f.stroke_class == spoken] or chosen
    rows = [_measure_row(f, result) for f in chosen]
    missing = list(not_measured(result, sides, SAME_FACT))
    notes = list(dict.fromkeys(without_frames(note) for f in chosen for note in f.notes))
    sources_of = {f.band.source for f in chosen if f.band and f.band.on and f.band.source}
    shaded = [f"Shaded: where your coach aims ({source})." for source in sorted(sources_of)]
    lines = [f"{r['title']} ({r['who']}): {r['value_text']}, {r['give_text']}; {VERDICTS[r['verdict']]}" for r in rows]
    lines += [f"Not measured. {m}" for m in missing]
    told = [without_frames(m) for m in missing]
    data = {"title": "What was measured", "measures": rows, "missing": told, "shaded": shaded, "notes": notes}
    return Block("measures", "\n".join(lines), data, _measures_png(rows) if rows else None)


def curve(desk: Desk, catch: CatchResult, quantity: str = "elbow_height_pct") -> Block:
    """One quantity over the forearm's way from level to straight down, a line a stroke."""
    side, stroke_class = arm_spoken_of(catch, desk.shot)
    drawn = [c for c in catch.curves if (c.quantity, c.side, c.stroke_class) == (quantity, side, stroke_class)]
    factor, unit = told_unit(drawn[0].unit) if drawn else (1.0, "")
    title, read_at, measured = CURVES[quantity]
    lines = [line for line in (_curve_line(c, factor, read_at) for c in drawn) if len(line["points"]) > 1]
    if not lines:
        return Block("curve", f"{title}: too few marked frames for a curve.", {"title": "", "lines": []})
    finding = catch.get(measured, side, stroke_class)
    band = finding.band if isinstance(finding, Finding) else None
    edges = None if band is None or not band.on else [_told(band.low, factor), _told(band.high, factor)]
    where = "straight down" if read_at > 45 else "halfway down"
    caption = (
        f"{SIDES[side].capitalize()} arm, {seen_in(len(lines))}; the forearm goes from level (left) to straight down."
        f" Rings: where the value is read, {where}."
    )
    data: dict[str, Any] = {
        "title": f"{title}, all the way down",
        "unit": unit,
        "band": edges,
        "read_at": read_at,
        "lines": lines,
        "alt": _curve_alt(title, where, lines, unit),
        "caption": caption,
    }
    shapes, size = curve_shapes(data)
    return Block("curve", f"{data['title']}\n{data['alt']}", data, to_png(shapes, size))


def _measure_row(f: Finding, result: Result) -> dict[str, Any]:
    factor, unit = told_unit(f.unit)
    value_text, give_text = value_words(f)
    many = len(f.strokes) >= MEAN_FROM
    if f.quantity == "elbow_height_pct":
        metres = result.get("elbow_height_m", f.side, f.stroke_class)
        if isinstance(metres, Finding) and many:
            value_text += f" ({value_words(metres)[0]})"
    on = f.band is not None and f.band.on
    row = {
        "quantity": f.quantity,
        "title": title_of(f.quantity),
        "who": who(f),
        "value": rounded(f.value * factor, 2),
        "value_text": value_text,
        "give_text": give_text,
        "unit": unit,
        "verdict": f.verdict,
        "band": [_told(f.band.low, factor), _told(f.band.high, factor)] if on and f.band else None,
        "strokes": [
            [rounded(s.value * factor, 2), rounded(stroke_half(f, k) * factor, 2)] for k, s in enumerate(f.strokes)
        ],
        "these": _ends(f.these, factor) if many else None,
        "habit": _ends(f.habit, factor) if many and f.habit else None,
        "side": f.side,
        "read": [_read_from(s, result.shot_id) for s in f.strokes if s.frames],
    }
    row["alt"] = f"{row['title']}: {value_text}, {give_text}. {VERDICTS[f.verdict]}."
    return row


def _read_from(stroke: StrokeValue, shot: str) -> dict[str, Any]:
    """The frames that one stroke's value was read from."""
    first, last = int(min(stroke.frames)), int(max(stroke.frames))
    return {"stroke": int(stroke.stroke), "shot": stroke.shot or shot, "first": first, "last": last}


def _ends(interval: Interval, factor: float) -> list[float]:
    return [rounded(interval.low * factor, 2), rounded(interval.high * factor, 2)]


def _told(edge: float | None, factor: float) -> float | None:
    return None if edge is None else rounded(edge * factor, 2)


def _curve_line(c: Curve, factor: float, read_at: float) -> dict[str, Any]:
    inclination, value = np.asarray(c.inclination_deg, float), np.asarray(c.value, float) * factor
    good = np.isfinite(inclination) & np.isfinite(value) & (inclination >= -5) & (inclination <= 95)
    inclination, value = inclination[good], value[good]
    kept: list[int] = []
    start = int(np.argmin(inclination)) if len(inclination) else 0
    inclination, value = inclination[start:], value[start:]
    for k, at in enumerate(inclination):
        if not kept or at - inclination[kept[-1]] >= LEAST_STEP_DEG:
            kept.append(k)
    inclination, value = inclination[kept], value[kept]
    read = None
    if len(inclination) > 1 and inclination[0] <= read_at <= inclination[-1]:
        read = [read_at, rounded(float(np.interp(read_at, inclination, value)), 2)]
    points = [[rounded(i, 1), rounded(v, 2)] for i, v in zip(inclination, value, strict=True)]
    return {"side": c.side, "stroke": int(c.stroke), "points": points, "read": read}


def _curve_alt(title: str, where: str, lines: list[dict[str, Any]], unit: str) -> str:
    reads = [line["read"][1] for line in lines if line["read"]]
    space = "" if unit == "°" else " "
    if reads:
        return f"{title}, {where}: {', '.join(f'{r:.0f}' for r in reads)}{space}{unit}, a line a stroke."
    return f"{title}: {len(lines)} strokes, a line each."


def _measures_png(rows: list[dict[str, Any]]) -> bytes:
    """All measures under each other, with their words at the left, as the notebook shows them."""
    shapes: list[Shape] = []
    y, left = 14.0, 300.0
    for row in rows:
        chart, (width, height) = measure_shapes(row)
        said = [(w, "name") for w in textwrap.wrap(row["title"], 38)]
        told = (row["who"], f"{row['value_text']}, {row['give_text']}", VERDICTS[row["verdict"]])
        said += [(w, "say") for words in told for w in textwrap.wrap(words, 42)]
        tall = max(height, 16.0 * len(said) + 12)
        shapes += [Words(12, y + 14 + 16 * k, words, role, "start") for k, (words, role) in enumerate(said)]
        shapes += moved(chart, left, y + (tall - height) / 2)
        y += tall + 16
    return to_png(shapes, (left + width + 8, y))
