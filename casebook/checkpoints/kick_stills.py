"""Stills of the kick: knee most bent, foot lowest, toes; feet widest."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from casebook.checkpoints.drawing import Drawing, Label, Still
from casebook.checkpoints.parts import arc, crop_around, path

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from casebook.plane.plane import Plane
    from casebook.stroke.kick import Kicks, Leg
    from casebook.stroke.points import Points
    from casebook.stroke.spread import Spread

_ROOM = 0.25
#: An angle is drawn this large against the shorter of its limbs.
_ARC = 0.35
_DEGREE = "\N{DEGREE SIGN}"


def leg_stills(leg: Leg, kicks: Kicks, plane: Plane, cycle: NDArray[np.int64]) -> tuple[Still, ...]:
    """Three stills of each cycle, from its kick with the most bent knee."""
    out: list[Still] = []
    for k in np.unique(cycle[cycle >= 0]):
        own = np.flatnonzero((cycle == k) & np.isfinite(kicks.knee_deg))
        if len(own):
            one = int(own[np.argmin(kicks.knee_deg[own])])
            out += _of_kick(leg, kicks, plane, one, int(k) + 1)
    return tuple(out)


def _of_kick(leg: Leg, kicks: Kicks, plane: Plane, i: int, number: int) -> list[Still]:
    bent, lowest = int(kicks.knee_row[i]), int(kicks.bottom_row[i])
    toes = int((kicks.top_row[i] + kicks.bottom_row[i]) // 2)
    stills = [_still(leg, bent, "knee", "Knee most bent", _knee(leg, bent, kicks.knee_deg[i]), number)]
    stills.append(_still(leg, lowest, "lowest", "Foot at its lowest", _lowest(leg, kicks, plane, i), number))
    if np.isfinite(kicks.foot_deg[i]):
        stills.append(_still(leg, toes, "toes", "The foot on its way down", _toes(leg, toes), number))
    return stills


def _still(leg: Leg, row: int, key: str, title: str, drawing: Drawing, number: int) -> Still:
    crop = crop_around(_leg_xy(leg, row), _ROOM)
    return Still(int(leg.points.frames[row]), key, title, drawing, number, crop, leg.side)


def _at(leg: Leg, row: int, name: str) -> NDArray[np.float64]:
    return leg.points.xy[row, leg.points.names.index(f"{name}_{leg.side}")]


def _leg_xy(leg: Leg, row: int) -> NDArray[np.float64]:
    return np.array([_at(leg, row, n) for n in ("hip", "knee", "ankle", "toe")])


def _knee(leg: Leg, row: int, angle: float) -> Drawing:
    hip, knee, ankle, _ = _leg_xy(leg, row)
    radius = _ARC * float(min(np.linalg.norm(hip - knee), np.linalg.norm(ankle - knee)))
    label = Label((float(knee[0]), float(knee[1])), f"{angle:.0f}{_DEGREE}")
    return Drawing((path(_leg_xy(leg, row)),), (), (arc(knee, hip, ankle, radius),), (label,))


def _lowest(leg: Leg, kicks: Kicks, plane: Plane, i: int) -> Drawing:
    """How far the ankle has come down from its highest, upright beside it."""
    row = int(kicks.bottom_row[i])
    ankle = leg.level.of(f"ankle_{leg.side}")[row]
    ends = plane.picture(np.array([ankle, ankle + np.array([0.0, kicks.travel_px[i]])]))
    text = f"{100 * kicks.travel_px[i] * plane.m_per_px:.0f} cm" if plane.has_scale else ""
    labels = (Label((float(ends[1][0]), float(ends[1][1])), text),) if text else ()
    return Drawing((path(_leg_xy(leg, row)),), (), (path(ends),), labels)


def _toes(leg: Leg, row: int) -> Drawing:
    """The shank's line carried on past the ankle, and the foot against it."""
    _, knee, ankle, toe = _leg_xy(leg, row)
    heel = _at(leg, row, "heel")
    onward = ankle + (ankle - knee) / np.linalg.norm(ankle - knee) * np.linalg.norm(toe - heel)
    return Drawing((path([knee, ankle]), path([heel, toe])), (path([ankle, onward]),))


def spread_stills(points: Points, found: Spread, cycles: NDArray[np.int64]) -> tuple[Still, ...]:
    """The frame of each cycle with the feet widest."""
    out = []
    for k in cycles:
        row = int(found.row[k])
        xy = points.xy[row]
        hips, ankles = xy[:2], xy[2:]
        label = Label((float(ankles[:, 0].mean()), float(ankles[:, 1].mean())), f"{found.value[k]:.1f} hip widths")
        drawing = Drawing((), (path(hips),), (path(ankles),), (label,))
        frame = int(points.frames[row])
        out.append(Still(frame, "widest", "Feet widest", drawing, int(k) + 1, crop_around(xy, 0.6)))
    return tuple(out)
