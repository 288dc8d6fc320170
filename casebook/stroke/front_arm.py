"""Front-arm timing, as a swimmer is told it: where the front hand is when the other hand enters.

And the other way round: where the other arm is when the front hand starts to press. Seconds of waiting say little, for
they follow stroke rate; places of hands do not.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from casebook.plane.geometry import inclination_deg
from casebook.plane.propagate import track_correlation
from casebook.stroke.arm import FINGERTIP, SHOULDER, arm_of, clock_of
from casebook.stroke.localfit import half_width, weights_at
from casebook.stroke.moment import Moment

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from casebook.clip.shot import Shot
    from casebook.marks.marks import Marks
    from casebook.plane.plane import Plane
    from casebook.stroke.arm import Arm
    from casebook.stroke.strokes import Stroke

    Array: TypeAlias = NDArray[np.float64]

#: An arm is entering within this share of its stroke around the entry. [%] own judgement, no source
AT_ENTRY_PCT = 3.0
#: Points of the head, foremost first: what "ahead of the head" is held against.
HEAD = ("crown", "goggle_l", "goggle_r", "mouth", "ear_l", "ear_r")


@dataclass(frozen=True, slots=True)
class FrontHand:
    """The front arm at the moment the other hand enters.

    Attributes
    ----------
    side, number, stroke_class
        Of the front arm's own stroke.
    entry : Moment
        Of the other hand.
    ahead_px, sigma_px : float
        Fingertip ahead of its own shoulder along the swim direction. [px]
    up_px : float
        Fingertip above its own shoulder. [px]
    slope_deg : float
        Direction from shoulder to fingertip: 0 forward, 90 straight down, over 90 already behind. [deg]
    head_px : float
        Fingertip ahead of the head's foremost marked point, NaN where no point of the head is marked. [px]
    head_point : str
        Which point that is.
    frames : tuple of int
        Frames that were read.
    needed : int
        Frames around the moment that could have been.
    """

    side: str
    number: int
    stroke_class: str
    entry: Moment
    ahead_px: float
    sigma_px: float
    up_px: float
    slope_deg: float
    head_px: float
    head_point: str
    frames: tuple[int, ...]
    needed: int


@dataclass(frozen=True, slots=True)
class OtherArm:
    """The other arm at the moment the front hand starts to press.

    ``phase_pct`` is how far it is in its own stroke, from its entry; ``sigma_pct`` and ``shared_pct`` the standard
    deviation of its own and the shared part; ``where`` a word for it.
    """

    side: str
    number: int
    stroke_class: str
    start: Moment
    phase_pct: float
    sigma_pct: float
    shared_pct: float
    where: str


def front_hands(
    shot: Shot, marks: Marks, plane: Plane, own: Sequence[Stroke], other: Sequence[Stroke]
) -> tuple[FrontHand, ...]:
    """The front hand at every entry of the other hand, where its shoulder and fingertip are marked around it.

    Parameters
    ----------
    own, other : sequence of Stroke
        Strokes of the front arm and of the arm that enters.
    """
    if not own:
        return ()
    arm = arm_of(shot, marks, own[0].side)
    both, clock = plane.level(arm.xy[:, [SHOULDER, FINGERTIP]]), clock_of(shot)
    head, point = _head(shot, marks, plane)
    begun = _begun(own)
    out = []
    for stroke in other:
        entry = stroke.moment("entry")
        front = _stroke_at(own, begun, entry.time_s) if isinstance(entry, Moment) else None
        if front is None or not isinstance(entry, Moment):
            continue
        at = float(np.interp(entry.frame, [int(entry.frame), int(entry.frame) + 1], clock[int(entry.frame) :][:2]))
        if (got := _hand_at(arm, both, at, entry.sigma_s)) is not None:
            shoulder, tip, sigma, rows = got
            ahead_of = _near(*head, at, half_width(arm.step))
            frames = tuple(int(f) for f in arm.frames[rows])
            needed = int(2 * half_width(arm.step) / arm.step)
            out.append(
                FrontHand(
                    front.side, front.number, front.stroke_class, entry, float(tip[0] - shoulder[0]), sigma,
                    float(tip[1] - shoulder[1]), float(inclination_deg(shoulder, tip)), float(tip[0]) - ahead_of, point,
                    frames, max(needed, len(frames)),
                )
            )  # fmt: skip
    return tuple(out)


def _begun(strokes: Sequence[Stroke], event: str = "") -> Array:
    """When each stroke begins: at an event, or at the first moment that it has. (N,) [s]"""
    if event:
        return np.array([s.time_s(event) for s in strokes])
    return np.array([min((m.time_s for m in s.found), default=np.nan) for s in strokes])


def _stroke_at(strokes: Sequence[Stroke], begun: Array, time_s: float) -> Stroke | None:
    """The stroke that has begun last before an instant; ``begun`` increases."""
    before = int(np.searchsorted(begun, time_s, "right"))
    return strokes[before - 1] if before else None


def _hand_at(arm: Arm, both: Array, at: float, unsure_s: float) -> tuple[Array, Array, float, NDArray[np.int64]] | None:
    """Shoulder and fingertip (2,), the standard deviation of one ahead of the other, and the rows read. [px]"""
    reach = half_width(arm.step)
    first, last = np.searchsorted(arm.clock, [at - reach, at + reach], "right")
    rows = first + np.flatnonzero(np.isfinite(both[first:last]).all((-1, -2)))
    # The instant must lie among the frames that are read.
    if len(rows) < 3 or not arm.clock[rows[0]] - arm.step <= at <= arm.clock[rows[-1]] + arm.step:
        return None
    weights = weights_at(at, arm.clock[rows], np.ones(len(rows), bool), reach)
    fit = np.tensordot(weights[:2], both[rows], 1)
    noise = 0.0
    for point in (SHOULDER, FINGERTIP):
        part = weights[0] * arm.sigma_px[rows, point]
        noise += float(part @ track_correlation(arm.by_hand[rows, point], arm.clock[rows]) @ part)
    shoulder, tip = fit[0]
    moving = float(fit[1, 1, 0] - fit[1, 0, 0])
    sigma = float(np.sqrt(noise + (moving * unsure_s) ** 2))
    return shoulder, tip, sigma, rows


def _head(shot: Shot, marks: Marks, plane: Plane) -> tuple[tuple[Array, Array], str]:
    """Times and x of that point of ``HEAD`` that is marked most often, the foremost of equals, and its name."""
    own = marks.pick(HEAD, shot.frames)
    known = np.asarray(np.isfinite(own.xy).all(-1))
    best = int(np.argmax(known.sum(0))) if len(known) else 0
    rows = known[:, best]
    if not rows.any():
        return (np.empty(0), np.empty(0)), ""
    return (clock_of(shot)[own.frames[rows]], plane.level(own.xy[rows, best])[:, 0]), HEAD[best]


def _near(clock: Array, values: Array, at: float, reach: float) -> float:
    """Value at an instant between samples no further off than ``reach``; NaN without."""
    after = int(np.searchsorted(clock, at))
    near = slice(max(after - 1, 0), after + 1)
    if not len(clock[near]) or np.abs(clock[near] - at).max() > reach:
        return float("nan")
    return float(np.interp(at, clock[near], values[near]))


def other_arms(own: Sequence[Stroke], other: Sequence[Stroke], start: str = "past_body") -> tuple[OtherArm, ...]:
    """The other arm at every start of the front hand.

    Parameters
    ----------
    own, other : sequence of Stroke
        Strokes of the arm that starts, and of the other one.
    start : str
        ``past_body`` or ``catch``.
    """
    usual = np.array([s.duration_s for s in other])
    usual = usual[np.isfinite(usual)]
    entered = [s for s in other if np.isfinite(s.time_s("entry"))]
    entries = _begun(entered, "entry")
    out = []
    for stroke in own:
        moment = stroke.moment(start)
        if not isinstance(moment, Moment):
            continue
        begun = _stroke_at(entered, entries, moment.time_s)
        if begun is None or not len(usual):
            continue
        length = begun.duration_s if np.isfinite(begun.duration_s) else float(usual.mean())
        phase = 100 * (moment.time_s - begun.time_s("entry")) / length
        if phase > 150:
            continue
        out.append(
            OtherArm(
                stroke.side,
                stroke.number,
                stroke.stroke_class,
                moment,
                phase,
                100 * float(np.hypot(moment.own_s, begun.own_s("entry"))) / length,
                100 * float(np.hypot(moment.shared_s, begun.shared_s("entry"))) / length,
                where_is(begun, moment.time_s, length),
            )
        )
    return tuple(out)


def where_is(stroke: Stroke, time_s: float, length_s: float) -> str:
    """Where an arm is at an instant of its stroke, in words; nothing where its exit or the shoulder would tell.

    Parameters
    ----------
    stroke : Stroke
    time_s : float
        [s]
    length_s : float
        Of the stroke; the usual one where its end is not marked. [s]
    """
    off = 100 * (time_s - stroke.time_s("entry")) / length_s
    if min(abs(off), abs(off - 100)) <= AT_ENTRY_PCT:
        return "just entering"
    if off > 100:
        return "already in front"
    leaves, under = stroke.time_s("exit"), stroke.time_s("shoulder")
    if not np.isfinite(leaves):
        return ""
    if time_s >= leaves:
        passed = (time_s - leaves) / max(stroke.time_s("entry") + length_s - leaves, 1e-9)
        return "over the water, in the first half of its way" if passed < 0.5 else "over the water, on its way in"
    if np.isfinite(under) and time_s >= under:
        return "still pushing"
    return "still pulling" if np.isfinite(under) else "under water"
