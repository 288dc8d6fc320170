"""Blocks of the stroke in time: strip of phases, mean cycle, dial of arm and leg timing, way of the hand.

Each takes plain arrays and small records, so that anything that knows moments, curves or phases can be shown.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from casebook.pages.block import Block, rounded
from casebook.pages.charts import MEAN_FROM
from casebook.pages.cycle_chart import cycle_shapes
from casebook.pages.figure import to_png
from casebook.pages.path_chart import path_shapes
from casebook.pages.phase_chart import MOST_ROWS, ROW_S, alone, phase_shapes, pulling, together
from casebook.pages.stroke_records import CycleGroup, HandPath, PhaseRow
from casebook.pages.timing_chart import timing_shapes
from casebook.stroke.points import Unread
from casebook.words import SIDES

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from casebook.stroke.kick_timing import Meeting

#: Points of a curve closer than this only make the page heavy. [% of the cycle]
_STEP_PCT = 1.0
#: A way of the hand keeps this many places.
_PLACES = 80
_EVENTS = {"entry": "As the hand goes in", "past_body": "As it starts back", "catch": "As the catch starts"}


def phase_strip(rows: Sequence[PhaseRow], start: str = "past_body") -> Block:
    """What each arm does, stroke after stroke."""
    strokes: list[dict[str, Any]] = [
        {"side": r.side, "moments": [rounded(t, 3) if np.isfinite(t) else None for t in r.moments_s]} for r in rows
    ]
    known = [m for s in strokes for m in s["moments"] if m is not None]
    title = "What each arm does, stroke after stroke"
    if len(set(known)) < 2:
        return Block("phases", f"{title}: no stroke is marked from its beginning on.", {"title": "", "strokes": []})
    against = "against the water" if start == "catch" else "past the body"
    caption = (
        f"Light box: reach, until the hand starts back {against}. Half full: pull, until it is under the shoulder. "
        "Full: push. Line: over the water. Between the arms a bar: both pull; dots: neither does."
    )
    if any(alone(s["moments"]) for s in strokes):
        caption += " An upright line alone: a hand goes in or comes out, and the rest of that stroke is not seen."
    if max(known) - min(known) > MOST_ROWS * ROW_S:
        caption += f" The first {MOST_ROWS * ROW_S:.0f} seconds."
    data: dict[str, Any] = {"title": title, "strokes": strokes, "caption": caption, "alt": _phase_alt(strokes)}
    return Block("phases", f"{title}\n{data['alt']}", data, to_png(*phase_shapes(strokes)))


def _phase_alt(strokes: Sequence[Mapping[str, Any]]) -> str:
    said = []
    for side in "lr":
        count = sum(s["side"] == side for s in strokes)
        pulls = [b - a for a, b in pulling(strokes, side)]
        if count:
            more = f", pulling for {np.mean(pulls):.2f} s each" if pulls else ""
            said.append(f"{SIDES[side]} arm: {count} stroke{'s' if count > 1 else ''}{more}")
    both, neither = together(strokes)
    if both or neither:
        said.append(
            f"both pull in {len(both)} places ({_seconds(both)}), neither does in {len(neither)} ({_seconds(neither)})"
        )
    return f"{'; '.join(said).capitalize()}."


def _seconds(stretches: Sequence[tuple[float, float]]) -> str:
    return f"{np.mean([b - a for a, b in stretches]):.2f} s each" if stretches else "none"


def mean_cycle(
    groups: Sequence[CycleGroup],
    title: str,
    unit: str,
    moments: Sequence[tuple[float, str]] = ((0.0, "hand in"), (100.0, "in again")),
) -> Block:
    """A measure over the cycle: thin lines for single strokes, their mean and its spread from four strokes on."""
    rows = [
        {"name": g.name, "look": g.look, "lines": [ln for ln in map(_thinned, g.lines) if len(ln) > 1]} for g in groups
    ]
    rows = [r for r in rows if r["lines"]]
    if not rows:
        return Block("cycle", f"{title}: no whole cycle is marked.", {"title": "", "groups": []})
    many = [len(r["lines"]) >= MEAN_FROM for r in rows]
    caption = "From one stroke to the next."
    if any(many):
        caption += " Line: the mean; shade: how much the strokes differ, one standard deviation to each side."
    if not all(many):
        caption += f" Thin lines: single strokes, for under {MEAN_FROM} there is no mean."
    data: dict[str, Any] = {
        "title": title,
        "unit": unit,
        "groups": rows,
        "moments": [[rounded(p, 1), words] for p, words in moments],
        "caption": caption,
        "alt": _cycle_alt(title, unit, rows),
    }
    return Block("cycle", f"{title}\n{data['alt']}", data, to_png(*cycle_shapes(data)))


def _thinned(line: tuple[ArrayLike, ArrayLike]) -> list[list[float]]:
    pct, value = (np.asarray(v, float) for v in line)
    good = np.isfinite(pct) & np.isfinite(value)
    out: list[list[float]] = []
    for p, v in zip(pct[good], value[good], strict=True):
        if not out or p - out[-1][0] >= _STEP_PCT:
            out.append([rounded(p, 1), rounded(v, 3)])
    return out


def _cycle_alt(title: str, unit: str, rows: Sequence[Mapping[str, Any]]) -> str:
    said = []
    space = "" if unit == "°" else " "
    for r in rows:
        values = [v for line in r["lines"] for _, v in line]
        n = len(r["lines"])
        said.append(
            f"{r['name']}, {n} stroke{'s' if n > 1 else ''}: {min(values):.4g} to {max(values):.4g}{space}{unit}"
        )
    return f"{title} over the cycle. {'; '.join(said)}."


def leg_timing(found: Sequence[Meeting | Unread]) -> Block:
    """Which foot kicks down as which hand goes in and catches: up to two dials, an event each."""
    meetings = [m for m in found if not isinstance(m, Unread)]
    events = [e for e in ("entry", "catch", "past_body") if any(m.event == e for m in meetings)][:2]
    foot = SIDES[meetings[0].foot] if meetings else ""
    title = f"Hands and the {foot} foot" if foot else "Hands and feet"
    dials = [
        {"title": _EVENTS[e], "hands": [_hand(m) for m in sorted(meetings, key=lambda m: m.hand) if m.event == e]}
        for e in events
    ]
    if not dials:
        return Block("timing", f"{title}: no hand's moment falls between two marked kicks.", {"title": "", "dials": []})
    said = [m.text() for m in meetings if m.event in events]
    caption = (
        f"One round is one kick of the {foot} foot; at the top it is halfway down. Each mark is one stroke. Filled "
        "marks: right hand; open: left hand. The longer the needle, the steadier the timing; the arc on the rim: where "
        "the mean lies, 95 %. The grey field: together."
    )
    alt = " ".join(said)
    data = {"title": title, "dials": dials, "caption": caption, "alt": alt}
    return Block("timing", f"{title}\n{alt}", data, to_png(*timing_shapes(dials)))


def _hand(m: Meeting) -> dict[str, Any]:
    together_ = m.together
    return {
        "side": m.hand,
        "phases": [rounded(p, 1) for p in m.phases],
        "mean": rounded(together_.mean, 1) if np.isfinite(together_.mean) else None,
        "length": rounded(together_.length, 3),
        "half": rounded(together_.half, 1) if np.isfinite(together_.half) else None,
    }


def hand_path(paths: Sequence[HandPath] | Unread, frame: str = "body", unit: str = "m") -> Block:
    """The way of the hand from the side.

    Parameters
    ----------
    paths : sequence of HandPath, or why there are none
        Against the shoulder, or against a place on still water.
    frame : str
        ``body``: as the swimmer feels it; ``water``: through still water, for coaches.
    unit : str
        ``m``; anything else is drawn without a scale.
    """
    rows = []
    for path in () if isinstance(paths, Unread) else paths:
        xz = np.asarray(path.xz, float)
        xz = xz[np.isfinite(xz).all(-1)]
        if len(xz) > 1:
            kept = xz[np.unique(np.linspace(0, len(xz) - 1, min(_PLACES, len(xz))).round().astype(int))]
            moments = {n: [rounded(v, 3) for v in np.asarray(p, float)] for n, p in path.moments.items()}
            known = {n: p for n, p in moments.items() if np.isfinite(p).all()}
            rows.append(
                {"side": path.side, "points": [[rounded(a, 3), rounded(b, 3)] for a, b in kept], "moments": known}
            )
    title = "The way of the hand past the body" if frame == "body" else "The way of the hand through still water"
    if not rows:
        why = (
            f"{paths.reason} {paths.remedy}"
            if isinstance(paths, Unread)
            else "No stroke of a hand is marked throughout."
        )
        return Block("way", f"{title}: {why}", {"title": "", "paths": []})
    data = {"title": title, "frame": frame, "unit": unit, "paths": rows, **_way_words(title, frame, unit, rows)}
    return Block("way", f"{title}\n{data['alt']}", data, to_png(*path_shapes(data)))


def _way_words(title: str, frame: str, unit: str, rows: Sequence[Mapping[str, Any]]) -> dict[str, str]:
    n = len(rows)
    lines = f"{n} strokes" if n > 1 else "One stroke"
    kind = (
        "As the swimmer feels it: everything against the shoulder."
        if frame == "body"
        else "As the water feels it: a hand that holds the water hardly moves back. It looks odd to a swimmer."
    )
    mean = " The heavy line is their mean." if any(_count(rows, s) >= MEAN_FROM for s in "lr") else ""
    places = np.array([p for r in rows for p in r["points"]])
    size = np.ptp(places, axis=0)
    told = f"{size[0]:.2f} m along and {size[1]:.2f} m up and down" if unit == "m" else "drawn without a scale"
    return {"caption": f"{kind} {lines}, seen from the side.{mean}", "alt": f"{title}: {lines.lower()}, {told}."}


def _count(rows: Sequence[Mapping[str, Any]], side: str) -> int:
    return sum(r["side"] == side for r in rows)
