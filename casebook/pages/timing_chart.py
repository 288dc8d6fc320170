"""Hands against a foot on a dial: one round is one kick, at the top the foot is halfway down.

Each mark on the rim is one stroke; the needle points to their mean and is the longer the better they agree; the arc on
the rim is the 95 % interval of the mean. The left hand has open marks and a dashed needle, the right one filled marks.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from casebook.pages.charts import MEAN_FROM
from casebook.pages.figure import Area, Path, Ring, Shape, Words, line
from casebook.stroke.circular import IN_PHASE_DEG
from casebook.words import SIDES

SIZE = (640.0, 334.0)
RADIUS = 104.0
_MIDDLE_Y = 182.0
#: Two marks closer than this on the rim are moved apart inward.
_CLOSE_DEG = 4.0
#: A name keeps so far from the words at top and bottom. [deg]
CLEAR_DEG = 48.0


def timing_shapes(dials: Sequence[Mapping[str, Any]]) -> tuple[list[Shape], tuple[float, float]]:
    """Up to two dials side by side.

    Each holds ``title`` and ``hands`` [{side, phases [deg], mean [deg or None], length 0 to 1, half [deg or None]}].
    """
    shown = dials[:2]
    centres = [SIZE[0] / 2] if len(shown) == 1 else [SIZE[0] / 4, 3 * SIZE[0] / 4]
    shapes: list[Shape] = []
    for centre, dial in zip(centres, shown, strict=True):
        shapes += _dial(dial, centre)
    return shapes, SIZE


def place(centre: float, phase_deg: float, radius: float) -> tuple[float, float]:
    """Where a phase lies on a dial: 0 at the top, clockwise."""
    a = np.radians(phase_deg)
    return centre + radius * float(np.sin(a)), _MIDDLE_Y - radius * float(np.cos(a))


def _dial(dial: Mapping[str, Any], centre: float) -> list[Shape]:
    wedge = [(centre, _MIDDLE_Y), *_rim(centre, -IN_PHASE_DEG, IN_PHASE_DEG, RADIUS)]
    shapes: list[Shape] = [
        Area(tuple(wedge), "wedge"),
        Path(tuple(_rim(centre, 0, 360, RADIUS)), "axis"),
        line(centre - RADIUS, _MIDDLE_Y, centre + RADIUS, _MIDDLE_Y, "zero"),
        line(centre, _MIDDLE_Y - RADIUS, centre, _MIDDLE_Y + RADIUS, "zero"),
        Words(centre, 18, dial["title"], "name"),
        Words(centre, _MIDDLE_Y - RADIUS - 24, "foot kicks down"),
        Words(centre, _MIDDLE_Y + RADIUS + 30, "foot comes up"),
    ]
    # Open marks on top of filled ones, so that none is hidden.
    for hand in sorted(dial["hands"], key=lambda h: h["side"], reverse=True):
        shapes += _marks(hand, centre)
    names: list[Shape] = []
    taken: list[tuple[float, float]] = []
    for hand in dial["hands"]:
        if hand.get("mean") is not None and len(hand["phases"]) >= MEAN_FROM:
            shapes += _needle(hand, centre)
        names.append(_name(hand, centre, taken))
    return shapes + names


def _marks(hand: Mapping[str, Any], centre: float) -> list[Shape]:
    role = _role(hand)
    out: list[Shape] = []
    placed: list[float] = []
    for phase in sorted(hand["phases"]):
        step = sum(abs((phase - p + 180) % 360 - 180) < _CLOSE_DEG for p in placed)
        placed.append(phase)
        x, y = place(centre, phase, RADIUS - 9.0 * step)
        out.append(Ring(x, y, 4.4, f"dot_{role}"))
    return out


def _needle(hand: Mapping[str, Any], centre: float) -> list[Shape]:
    role, mean = _role(hand), float(hand["mean"])
    tip = place(centre, mean, max(RADIUS * float(hand["length"]) - 14.0, 8.0))
    out: list[Shape] = [line(centre, _MIDDLE_Y, *tip, role)]
    half = hand.get("half")
    if half is not None and half < 180:
        out.append(Path(tuple(_rim(centre, mean - half, mean + half, RADIUS + 9)), f"arc_{role}"))
    return out


def _name(hand: Mapping[str, Any], centre: float, taken: list[tuple[float, float]]) -> Words:
    """The hand's name outside the rim, where its marks are."""
    phases = np.radians(np.asarray(hand["phases"], float))
    at = float(np.degrees(np.arctan2(np.sin(phases).sum(), np.cos(phases).sum())))
    # The words at top and bottom keep their place.
    from_end = abs((at + 90) % 180 - 90)
    if from_end < CLEAR_DEG:
        side = 1 if np.sin(np.radians(at)) >= 0 else -1
        at = side * (CLEAR_DEG if np.cos(np.radians(at)) > 0 else 180 - CLEAR_DEG)
    x, y = place(centre, at, RADIUS + 20)
    while any(abs(x - a) < 90 and abs(y - b) < 16 for a, b in taken):
        y += 16
    taken.append((x, y))
    anchor = "start" if x >= centre else "end"
    return Words(x, y + 4, SIDES[hand["side"]], f"{_role(hand)}name", anchor)


def _rim(centre: float, first: float, last: float, radius: float) -> list[tuple[float, float]]:
    count = max(int(abs(last - first) / 4) + 2, 3)
    return [place(centre, float(p), radius) for p in np.linspace(first, last, count)]


def _role(hand: Mapping[str, Any]) -> str:
    return "left" if hand["side"] == "l" else "right"
