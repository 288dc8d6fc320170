"""Hands and elbows against the middle of the body, from head-on or from behind.

Sideways places count from halfway between the shoulders, to the swimmer's own side, in shoulder breadths. A hand ahead
of the shoulders is nearer to a camera in front and drawn larger, and a camera off the line of swimming shifts it; the
first is corrected with the camera's distance, and both widen the interval of every stroke alike.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from casebook.checkpoints.drawing import Drawing, Label, Still
from casebook.checkpoints.parts import Sheet, Value, crop_around, path
from casebook.stroke.moment import Moment
from casebook.stroke.points import Points, Smooth, Unread, points_of, smooth
from casebook.stroke.spread import USUAL_M, USUAL_SIGMA_M
from casebook.stroke.strokes import Stroke, strokes_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from casebook.clip.shot import Shot
    from casebook.marks.events import EventMark
    from casebook.marks.marks import Marks
    from casebook.plane.measured import Measured
    from casebook.plane.plane import Plane

    Array: TypeAlias = NDArray[np.float64]

FRONT_VIEWS = ("front_under", "front_above")
ENTRY = ("entry_from_midline_pct", "front_from_midline_pct")
RAILS = "front_rails_pct"
#: How far the hand is ahead of the shoulders, and its standard deviation: at entry, and at its narrowest in front. [m]
#: computed from an adult arm of 0.77 m: entry at 0.9 of it, full reach with the shoulder along
AHEAD_M = {"entry": (0.69, 0.10), "front": (0.79, 0.08)}
#: In mid pull the hand goes round the shoulder at about this distance: how deep it is tells how far ahead or behind,
#: give or take so much. An adult arm bent to 100 degrees, computed. [m]
PULL_RADIUS_M, PULL_SIGMA_M = 0.60, 0.18
#: How far off the line of swimming a careful camera stands: standard deviation. [deg] own judgement, no source
OFF_LINE_DEG = 4.0
#: Shoulder joints apart, of an adult, to turn metres into breadths. [m] common practice, no source
BREADTH_M = 0.36
#: The breadth itself, from the longest seen: relative standard deviation. own judgement, no source
BREADTH_SIGMA = 0.04
#: The hand is in mid pull while it is below this share of its greatest depth under the shoulders.
DEEP = 0.6
#: The hand is in front for no longer than this after its entry. [s] own judgement, no source
IN_FRONT_S = 0.5
#: A moment without a marked hand is read on a frame at most this many frames away.
NEAREST = 3
_MARK = "Mark both shoulders and the {points} of the {side} arm there, or hide what cannot be seen."
_SIDES = {"l": "left", "r": "right"}


@dataclass(frozen=True, slots=True, eq=False)
class Beside:
    """One arm against the midline over a shot, all (K,) in level pixels: sideways outward, and up.

    ``hand``, ``elbow`` outward of the middle; ``depth`` of the fingertip below the shoulders' middle; ``sigma`` the
    standard deviation of ``hand``. ``breadth`` is that of the shoulders.
    """

    shot: Shot
    plane: Plane
    side: str
    strokes: tuple[Stroke, ...]
    points: Points
    track: Smooth
    hand: Array
    elbow: Array
    depth: Array
    sigma: Array
    breadth: float

    def pct(self, pixels: float, at_m: tuple[float, float], distance: Measured | None) -> tuple[float, float]:
        """A sideways distance as % of shoulder breadth, and the standard deviation common to all strokes.

        ``at_m`` is how far ahead of the shoulders it was read, and the standard deviation of that. [m]
        """
        far, unsure = (USUAL_M, USUAL_SIGMA_M) if distance is None else (distance.value, distance.sigma)
        ahead, ahead_sigma = at_m
        sign = 1.0 if self.shot.direction == "toward" else -1.0
        factor = 1 - sign * ahead / far
        doubt = float(np.hypot(ahead_sigma / far, ahead * unsure / far**2))
        value = 100 * pixels / self.breadth * factor
        line = off_line_pct(at_m)
        return value, float(np.sqrt((value * doubt / factor) ** 2 + (value * BREADTH_SIGMA) ** 2 + line**2))


def beside(shot: Shot, marks: Marks, plane: Plane, side: str, events: Sequence[EventMark] = ()) -> Beside | Unread:
    """One arm against the midline; why not, where shoulders or hand are not marked."""
    names = ("shoulder_l", "shoulder_r", f"fingertip_{side}", f"wrist_{side}", f"elbow_{side}")
    points = points_of(shot, marks, plane, names)
    if not points.marked("shoulder_l", "shoulder_r"):
        return Unread("Both shoulders are not marked in one frame.", "Mark both shoulders where they can be seen.")
    track = smooth(points)
    left, right = track.of("shoulder_l"), track.of("shoulder_r")
    middle = (left + right) / 2
    across = np.linalg.norm(left - right, axis=-1)
    outward = 1.0 if side == "l" else -1.0
    hand = track.of(f"fingertip_{side}")
    sigma = np.hypot(
        track.sigma_of(f"fingertip_{side}"), np.hypot(track.sigma_of("shoulder_l"), track.sigma_of("shoulder_r")) / 2
    )
    return Beside(
        shot, plane, side, strokes_of(shot, marks, plane, side, events), points, track,
        outward * (hand - middle)[:, 0], outward * (track.of(f"elbow_{side}") - middle)[:, 0], (middle - hand)[:, 1],
        sigma, float(np.nanpercentile(across, 90)),
    )  # fmt: skip


def entry_beside_midline(
    sheet: Sheet, shot: Shot, marks: Marks, plane: Plane, events: Sequence[EventMark], distance: Measured | None
) -> tuple[Still, ...]:
    """The hand beside the midline when it goes in and at its narrowest in front, of both arms; returns the stills."""
    stills: tuple[Still, ...] = ()
    narrowest: dict[str, list[Value]] = {}
    for side in "lr":
        arm = beside(shot, marks, plane, side, events)
        if isinstance(arm, Unread):
            sheet.missing(ENTRY, side, arm)
            continue
        none = Unread("No entry of this hand is seen.", _MARK.format(points="fingertip", side=_SIDES[side]))
        needed = sum(isinstance(s.moment("entry"), Moment) for s in arm.strokes)
        for quantity, row_of, at_m, key, title in (
            (ENTRY[0], _entry_row, AHEAD_M["entry"], "entry", "Hand just in"),
            (ENTRY[1], _front_row, AHEAD_M["front"], "narrowest", "Hand in front, nearest to the middle"),
        ):
            rows = [(s, row) for s in arm.strokes if (row := row_of(arm, s)) is not None]
            values = [_value(arm, s, row, float(arm.hand[row]), at_m, distance) for s, row in rows]
            sheet.add(quantity, side, values, (len(values), max(needed, len(values))), none=none, notes=[OFF_LINE])
            stills += tuple(
                _still(arm, s, row, key, title, _place_words(v.value)) for (s, row), v in zip(rows, values, strict=True)
            )
        narrowest[side] = values
    if len(narrowest) == 2:
        pairs = _rails(narrowest["l"], narrowest["r"], off_line_pct())
        none = Unread("No entry of the left hand is followed by one of the right.", "Mark two strokes in a row.")
        sheet.add(RAILS, "", pairs, (2 * len(pairs), 2 * max(len(pairs), 1)), none=none)
    return stills


def _rails(left: Sequence[Value], right: Sequence[Value], line: float) -> list[Value]:
    """Each left hand's place added to that of the next right hand: a camera off the line shifts one out, one in.

    ``line`` is the standard deviation that such a camera gives to each hand, which so falls away.
    """
    out: list[Value] = []
    waiting = sorted(right, key=lambda v: v.frames)
    for a in sorted(left, key=lambda v: v.frames):
        later = [v for v in waiting if v.frames > a.frames]
        if not later:
            break
        b = later[0]
        waiting = later[1:]
        common = sum(float(np.sqrt(max(v.common**2 - line**2, 0.0))) for v in (a, b))
        name = a.stroke_class if a.stroke_class != "none" else b.stroke_class
        out.append(Value(len(out) + 1, a.value + b.value, float(np.hypot(a.sigma, b.sigma)), common,
                         (*a.frames, *b.frames), name))  # fmt: skip
    return out


def off_line_pct(at_m: tuple[float, float] = AHEAD_M["front"]) -> float:
    """Standard deviation that the camera's doubtful place gives to one hand. [% of shoulder breadth]"""
    return float(100 * np.hypot(*at_m) * np.tan(np.radians(OFF_LINE_DEG)) / BREADTH_M)


def pull_beside_midline(
    sheet: Sheet, shot: Shot, marks: Marks, plane: Plane, events: Sequence[EventMark], distance: Measured | None
) -> tuple[Still, ...]:
    """The hand's narrowest place in mid pull and the elbow outside the hand at its deepest, of both arms."""
    stills: tuple[Still, ...] = ()
    for side in "lr":
        arm = beside(shot, marks, plane, side, events)
        quantities = ("pull_from_midline_pct", "elbow_wider_pct")
        if isinstance(arm, Unread):
            sheet.missing(quantities, side, arm)
            continue
        narrow, wider = [], []
        for s in arm.strokes:
            rows = _pull_rows(arm, s)
            if not len(rows):
                continue
            least = int(rows[np.argmin(arm.hand[rows])])
            deepest = int(rows[np.argmax(arm.depth[rows])])
            narrow.append(_value(arm, s, least, float(arm.hand[least]), _pull_at(arm, rows, least), distance))
            stills += (
                _still(arm, s, least, "narrowest", "Hand nearest to the middle", _place_words(narrow[-1].value)),
            )
            out = float(arm.elbow[deepest] - arm.hand[deepest])
            if np.isfinite(out):
                wider.append(_value(arm, s, deepest, out, _pull_at(arm, rows, deepest), distance))
        none = Unread(
            "No pull of this hand is seen from entry to exit.", _MARK.format(points="hand", side=_SIDES[side])
        )
        needed = len(arm.strokes)
        sheet.add(quantities[0], side, narrow, (len(narrow), needed), none=none, notes=[OFF_LINE])
        sheet.add(quantities[1], side, wider, (len(wider), needed), none=none)
    return stills


OFF_LINE = "Judge both hands together: if both seem to err the same way, the camera stands off the line of swimming."


def _place_words(pct: float) -> str:
    """A place beside the middle as it stands on a picture."""
    return f"{abs(pct):.0f} % {'across' if pct < 0 else 'out'}"


def _entry_row(arm: Beside, stroke: Stroke) -> int | None:
    """The first row with the hand at or after its entry, if near."""
    entry = stroke.moment("entry")
    if not isinstance(entry, Moment):
        return None
    rows = np.flatnonzero(np.isfinite(arm.hand) & (arm.points.frames >= np.floor(entry.frame)))
    return int(rows[0]) if len(rows) and arm.points.frames[rows[0]] - entry.frame <= NEAREST else None


def _front_row(arm: Beside, stroke: Stroke) -> int | None:
    """The row with the hand nearest to the midline, or farthest across it, from entry until it is in mid pull."""
    first = _entry_row(arm, stroke)
    if first is None:
        return None
    rows = np.flatnonzero(np.isfinite(arm.hand))
    rows = rows[(rows >= first) & (arm.points.clock[rows] <= arm.points.clock[first] + IN_FRONT_S)]
    pull = _pull_rows(arm, stroke)
    rows = rows[rows < pull[0]] if len(pull) else rows
    return int(rows[np.argmin(arm.hand[rows])]) if len(rows) > 2 else None


def _pull_rows(arm: Beside, stroke: Stroke) -> NDArray[np.int64]:
    """Rows of mid pull: the hand deep below the shoulders, between entry and exit."""
    entry, exits = stroke.moment("entry"), stroke.moment("exit")
    if not isinstance(entry, Moment) or not isinstance(exits, Moment):
        return np.empty(0, np.int64)
    inside = (arm.points.frames >= entry.frame) & (arm.points.frames <= exits.frame) & np.isfinite(arm.hand)
    rows = np.flatnonzero(inside)
    if len(rows) < 3 or arm.depth[rows].max() <= 0:
        return np.empty(0, np.int64)
    return rows[arm.depth[rows] >= DEEP * arm.depth[rows].max()]


def _pull_at(arm: Beside, rows: NDArray[np.int64], row: int) -> tuple[float, float]:
    """How far ahead of the shoulders the hand is in mid pull, and the standard deviation of that. [m]

    It goes round the shoulder: deepest right below it, as far ahead before as it is less deep, and behind afterwards.
    """
    depth = arm.depth[rows]
    share = min(1.0, float(arm.depth[row] / depth.max()))
    side = 1.0 if row < rows[np.argmax(depth)] else -1.0
    return side * PULL_RADIUS_M * float(np.sqrt(1 - share**2)), PULL_SIGMA_M


def _value(
    arm: Beside, stroke: Stroke, row: int, pixels: float, at_m: tuple[float, float], distance: Measured | None
) -> Value:
    value, common = arm.pct(pixels, at_m, distance)
    own = abs(arm.pct(float(arm.sigma[row]), at_m, distance)[0])
    return Value(stroke.number, value, own, common, (int(arm.points.frames[row]),), stroke.stroke_class)


def _still(arm: Beside, stroke: Stroke, row: int, key: str, title: str, text: str) -> Still:
    """The line of the shoulders, the midline through their middle, and the hand's distance from it."""
    level, xy = arm.points.level[row], arm.points.xy[row]
    middle, hand = level[:2].mean(0), level[2]
    foot = np.array([middle[0], hand[1]])
    down = arm.plane.picture(np.array([middle, foot]))
    across = arm.plane.picture(np.array([foot, hand]))
    labels = (Label(path([across.mean(0)])[0], text),) if np.isfinite(across).all() else ()
    body = (path(xy[:2]), path(xy[[4, 3, 2]]))
    drawing = Drawing(tuple(b for b in body if len(b) > 1), (path(down),), (path(across),), labels)
    return Still(int(arm.points.frames[row]), key, title, drawing, stroke.number, crop_around(xy, 0.4), arm.side)
