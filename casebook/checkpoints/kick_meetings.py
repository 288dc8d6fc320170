"""The kick against the hands: the near foot's downbeat at its own hand's catch and at the other hand's entry."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from casebook.checkpoints.parts import Sheet, Value
from casebook.stroke.arm import clock_of
from casebook.stroke.circular import wrapped
from casebook.stroke.cycle_edges import CycleEdges, moments_of
from casebook.stroke.kick_timing import Meeting, meeting
from casebook.stroke.moment import NoMoment
from casebook.stroke.points import Unread

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from casebook.checkpoints.parts import Counted
    from casebook.stroke.kick import Kicks

#: Quantity -> event; the entry is that of the other side's hand.
TIMED = {"kick_catch_deg": "catch", "kick_past_body_deg": "past_body", "kick_entry_deg": "entry"}


def timing(sheet: Sheet, kicks: Kicks, edges: CycleEdges | Unread, near: str, counted: Counted) -> None:
    """The near foot's downbeat against its own hand's catch and the other hand's entry; all meetings as notes."""
    if isinstance(edges, Unread):
        sheet.missing(list(TIMED), near, edges)
        return
    far = "lr".replace(near, "")
    told = [m for m in meetings(kicks, edges, clock_of(sheet.shot)) if isinstance(m, Meeting)]
    said = [f"{m.text()} {_spread(m)}" for m in told]
    for quantity, event in TIMED.items():
        hand = far if event == "entry" else near
        found = next((m for m in told if (m.hand, m.event) == (hand, event)), None)
        if found is None:
            sheet.missing([quantity], near, _no_meeting(edges, kicks, hand, event))
            continue
        mean = wrapped(found.together.mean, -180.0) if np.isfinite(found.together.mean) else 0.0
        values = mean + wrapped(found.phases - mean, -180.0)
        which = edges.of(found.instants)
        frames = np.interp(found.instants, clock_of(sheet.shot), np.arange(len(sheet.shot.times))).round().astype(int)
        own = [
            Value(i + 1, float(v), float(s), 0.0, (int(f),), edges.classes[k] if k >= 0 else "none")
            for i, (v, s, f, k) in enumerate(zip(values, found.sigma, frames, which, strict=True))
        ]
        sheet.add(
            quantity, near, own, counted, none=_no_meeting(edges, kicks, hand, event), notes=said,
            outcome=found.band if found.tied else "not tied",
        )  # fmt: skip


def meetings(kicks: Kicks, edges: CycleEdges, clock: NDArray[np.float64]) -> list[Meeting | Unread]:
    """The foot against entry, past the body and catch of both hands."""
    return [
        meeting(kicks, hand, event, *moments_of(edges.strokes.get(hand, ()), event, clock))
        for event in ("entry", "past_body", "catch")
        for hand in "lr"
    ]


def _no_meeting(edges: CycleEdges, kicks: Kicks, hand: str, event: str) -> Unread:
    gaps = [m for m in (s.moment(event) for s in edges.strokes.get(hand, ())) if isinstance(m, NoMoment)]
    if gaps:
        return Unread(gaps[0].reason, gaps[0].remedy)
    made = meeting(kicks, hand, event, [])
    assert isinstance(made, Unread)
    return made


def _spread(m: Meeting) -> str:
    if m.together.n < 3:
        return ""
    phase = float(wrapped(m.together.mean, -180.0))
    return (
        f"({phase:.0f}\N{DEGREE SIGN} of its kick, spread {m.together.spread:.0f}\N{DEGREE SIGN}, {m.together.n} times)"
    )
