"""Timing and connection: where the front hand is when the other hand enters, and how the arms share the cycle.

The swimmer is told places of hands. Phases and the index of coordination stand in the coach's appendix, each twice
where both can be read: with the hand turning back against the body, and against the water.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from casebook.checkpoints.answers import near_side
from casebook.checkpoints.arm_reading import FINGERTIP, SHOULDER, ArmOnShot, Occasion, arm_on_shot
from casebook.checkpoints.arm_stills import share, stills_at
from casebook.checkpoints.catch_words import FAR_ARM
from casebook.checkpoints.finding import Finding
from casebook.checkpoints.parts import SIDE_VIEWS, Sheet, Value, spoilt
from casebook.checkpoints.result import CheckpointResult
from casebook.stroke.coordination import CAUTION, Coordination, HandOver, coordination, difference, kind
from casebook.stroke.front_arm import FrontHand, front_hands, other_arms
from casebook.stroke.moment import Moment
from casebook.stroke.phases import PHASES, phases
from casebook.stroke.points import Unread
from casebook.stroke.speed import NoPath, hip_path, slowing
from casebook.words import VIEWS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from casebook.checkpoints.arm_stills import Array
    from casebook.checkpoints.bands import Bands
    from casebook.checkpoints.drawing import Still
    from casebook.clip.shot import Shot
    from casebook.marks.events import EventMark
    from casebook.marks.marks import Marks
    from casebook.plane.measured import Measured
    from casebook.plane.plane import Plane
    from casebook.stroke.strokes import Stroke

CHECKPOINT = "timing"
SPOILT = {"paddles": "Paddles slow the hand and change the timing."}
TOLD = ("front_hand_pct", "other_arm_pct", "hip_slowing_pct")
#: Quantities of the coach's appendix: the beginning of the pull they count from, and their names.
APPENDIX = {
    "past_body": ("idc_pct", "idc_side_pct", "phase_entry_pct", "phase_pull_pct"),
    "catch": ("idc_water_pct", "idc_side_water_pct", "phase_entry_water_pct", "phase_pull_water_pct"),
}
PHASE_KEYS = {"push": "phase_push_pct", "recovery": "phase_recovery_pct"}
ORDER = (*TOLD, *APPENDIX["past_body"], *APPENDIX["catch"], *PHASE_KEYS.values())
#: Directions from shoulder to fingertip up to which the front hand is said to be so. [deg] own judgement, no source
PLACES = ((30.0, "still in front"), (60.0, "on its way down"), (90.0, "nearly under the shoulder"))
#: A wait shorter than this is none. [s] own judgement, no source
LEAST_WAIT_S = 0.03
_NO_ENTRY = Unread(
    "The other hand's entry is not known.",
    "Set the entries of both hands as events, or mark the fingertips through the water line.",
)


@dataclass(frozen=True, slots=True)
class _Arms:
    """Both arms of a shot; ``near`` is the side toward the camera."""

    near: str
    by_side: dict[str, ArmOnShot]

    def strokes(self, side: str) -> tuple[Stroke, ...]:
        return self.by_side[side].strokes

    def notes(self, side: str) -> list[str]:
        return [FAR_ARM] * (side != self.near)


def measure_timing(
    shot: Shot,
    marks: Marks,
    plane: Plane,
    *,
    bands: Bands,
    events: Sequence[EventMark] = (),
    arm_length: Measured | None = None,
    strokes: Mapping[str, tuple[Stroke, ...]] | None = None,
) -> CheckpointResult:
    """Measure how both arms fit together.

    Parameters
    ----------
    shot : Shot
        From the side, best with the camera at the water line, where both hands are seen to enter.
    marks : Marks
        Tracks of shoulder, elbow, wrist and fingertip of both arms; or of the near arm, with the far hand's entries and
        exits set as events.
    plane : Plane
        Its water line tells entries and exits that are not set.
    bands : Bands
    events : sequence of EventMark
    arm_length : Measured, optional
        [m]
    strokes : mapping of side to tuple of Stroke, optional
        Strokes that are known from elsewhere too, such as from a second clip of the same swim, on this shot's clock.
    """
    sheet = Sheet(CHECKPOINT, shot, bands)
    near = near_side(shot)
    if why := spoilt(shot, SPOILT):
        sheet.missing(ORDER, near, why)
        return CheckpointResult(CHECKPOINT, shot.id, tuple(sheet.results))
    if shot.view not in SIDE_VIEWS:
        reason = f"Where the front hand is shows from the side; this is filmed {VIEWS[shot.view]}."
        sheet.missing(ORDER, near, Unread(reason, "Film from the side under water or at the water line."))
        return CheckpointResult(CHECKPOINT, shot.id, tuple(sheet.results))
    sides = (near, "lr".replace(near, ""))
    own = {s: arm_on_shot(shot, marks, plane, s, events, arm_length) for s in sides}
    arms = _Arms(near, {s: replace(a, strokes=(strokes or {}).get(s, a.strokes)) for s, a in own.items()})
    stills: tuple[Still, ...] = ()
    for side in sides:
        if side == near or arms.by_side[side].is_marked:
            stills += _front_hand(sheet, marks, arms, side)
            _other_arm(sheet, arms, side)
            _hip(sheet, marks, arms, side)
    for start in APPENDIX:
        _shared_cycle(sheet, arms, start)
    return CheckpointResult(CHECKPOINT, shot.id, tuple(sheet.results), stills, seen="as seen from the side")


def _front_hand(sheet: Sheet, marks: Marks, arms: _Arms, side: str) -> tuple[Still, ...]:
    """Where the front hand is when the other one enters; returns the stills of that moment."""
    arm, other = arms.by_side[side], "lr".replace(side, "")
    hands = front_hands(arm.shot, marks, arm.plane, arm.strokes, arms.strokes(other))
    if arm.length is None:
        none = Unread("The length of the arm is not known.", "Mark the arm at full reach, or state its length.")
        sheet.missing(["front_hand_pct"], side, none)
        return ()
    values = [_as_share(arm, h) for h in hands]
    entered = any(isinstance(s.moment("entry"), Moment) for s in arms.strokes(other))
    none = Unread("The front arm is not marked when the other hand enters.", "Mark its shoulder and fingertip there.")
    counted = sum(len(h.frames) for h in hands), sum(h.needed for h in hands)
    before = len(sheet.results)
    none = none if entered else _NO_ENTRY
    sheet.add("front_hand_pct", side, values, counted, none=none, notes=[*arms.notes(side), *_head_notes(arm, hands)])
    _word(sheet, before, {(h.number, h.stroke_class): h.slope_deg for h in hands})
    occasions = [Occasion(h.number, h.stroke_class, h.entry) for h in hands]
    return stills_at(arm, occasions, "other_enters", "The other hand enters", _lines)


def _as_share(arm: ArmOnShot, hand: FrontHand) -> Value:
    assert arm.length is not None
    per = 100 / arm.length.px
    # A stated arm is so many pixels by the scale.
    relative = np.hypot(arm.length.sigma_px / arm.length.px, arm.plane.scale_sigma if arm.length.stated else 0.0)
    tilted = hand.up_px * np.radians(arm.plane.tilt_sigma_deg)
    common = per * float(np.hypot(hand.ahead_px * relative, tilted))
    return Value(hand.number, per * hand.ahead_px, per * hand.sigma_px, common, hand.frames, hand.stroke_class)


def _head_notes(arm: ArmOnShot, hands: Sequence[FrontHand]) -> list[str]:
    """How far the hand is ahead of the head, where a point of the head is marked."""
    ahead = [h.head_px for h in hands if np.isfinite(h.head_px)]
    if not ahead or arm.length is None:
        return []
    share_of = 100 * float(np.mean(ahead)) / arm.length.px
    side = "ahead of" if share_of >= 0 else "behind"
    point = next(h.head_point for h in hands if h.head_point)
    return [f"The fingertips are {abs(share_of):.0f} % of the arm {side} the {point.split('_')[0]} then."]


def _word(sheet: Sheet, first: int, slopes: dict[tuple[int, str], float]) -> None:
    """Say of each new finding where the hand is, by the mean direction of the arm."""
    for i in range(first, len(sheet.results)):
        found = sheet.results[i]
        if isinstance(found, Finding):
            mean = float(np.mean([v for (_, name), v in slopes.items() if name == found.stroke_class]))
            word = next((text for limit, text in PLACES if mean <= limit), "already behind the shoulder")
            sheet.results[i] = replace(found, outcome=word)


def _lines(
    level: Array, arm: ArmOnShot
) -> tuple[Sequence[NDArray[np.float64]], Sequence[NDArray[np.float64]], Sequence[tuple[NDArray[np.float64], str]]]:
    """A plumb line through the shoulder, and how far the fingertips are ahead of it."""
    shoulder, tip = level[SHOULDER], level[FINGERTIP]
    foot = np.array([shoulder[0], tip[1]])
    label = share(arm, float(tip[0] - shoulder[0]), "ahead", "behind")
    return [np.array([shoulder, foot])], [np.array([foot, tip])], [((foot + tip) / 2, label)]


def _other_arm(sheet: Sheet, arms: _Arms, side: str) -> None:
    """Where the other arm is when this hand starts back past the body."""
    got = other_arms(arms.strokes(side), arms.strokes("lr".replace(side, "")))
    values = [Value(o.number, o.phase_pct, o.sigma_pct, o.shared_pct, o.start.frames, o.stroke_class) for o in got]
    none = Unread(
        "Either the start of this hand or the other hand's entries are not known.",
        "Mark this arm on every frame, and set the other hand's entries.",
    )
    word = Counter(o.where for o in got).most_common(1)[0][0] if got else ""
    sheet.add("other_arm_pct", side, values, (0, 0), none=none, notes=arms.notes(side), outcome=word)


def _hip(sheet: Sheet, marks: Marks, arms: _Arms, side: str) -> None:
    """Whether the hip slows between the other hand's exit and this hand's catch."""
    shot, plane = sheet.shot, arms.by_side[side].plane
    path = hip_path(shot, marks, plane, arms.near)
    if isinstance(path, NoPath):
        sheet.missing(["hip_slowing_pct"], side, Unread(path.reason, path.remedy))
        return
    given = coordination(arms.strokes("l"), arms.strokes("r"), "catch")
    hand_overs = given.to_left if side == "l" else given.to_right
    waits = [h for h in hand_overs if h.start_s - h.end_s > LEAST_WAIT_S]
    values = []
    for h in waits:
        stroke = next(s for s in arms.strokes(side) if s.number == h.number)
        cycle = stroke.time_s("entry"), stroke.time_s("next_entry")
        percent, sigma = slowing(path, (h.end_s, h.start_s), cycle)
        values.append(Value(h.number, percent, sigma, 0.0, h.frames, h.stroke_class))
    none = Unread("The hip or the arms are not marked through a whole cycle.", "Track hip and both hands.")
    if hand_overs and not waits:
        none = Unread("One hand holds the water before the other has left it: no arm waits.", "")
    sheet.add("hip_slowing_pct", side, values, (0, 0), none=none)


def _shared_cycle(sheet: Sheet, arms: _Arms, start: str) -> None:
    """Appendix: index of coordination and phases, counted from one of the two beginnings of the pull."""
    whole, one_sided, *inner = APPENDIX[start]
    left, right = arms.strokes("l"), arms.strokes("r")
    given = coordination(left, right, start)
    none = _why_none((*right, *left), start)
    before = len(sheet.results)
    sheet.add(whole, "", [_cycle(*pair) for pair in given.cycles], (0, 0), none=none, notes=[CAUTION, *_lean(given)])
    for side in "rl":
        values = [_hand_over(h) for h in (given.to_left if side == "l" else given.to_right)]
        sheet.add(one_sided, side, values, (0, 0), none=none, notes=[CAUTION, *arms.notes(side)])
    for i in range(before, len(sheet.results)):
        found = sheet.results[i]
        if isinstance(found, Finding):
            sheet.results[i] = replace(found, outcome=kind(found.these.low, found.these.high))
    for side in (arms.near, "lr".replace(arms.near, "")):
        # Push and recovery do not depend on where the pull begins: they are told once.
        names = dict(zip(("entry", "pull"), inner, strict=True)) | (PHASE_KEYS if start == "past_body" else {})
        if side == arms.near or arms.strokes(side):
            _phases(sheet, arms, side, start, names)


def _why_none(strokes: Sequence[Stroke], start: str) -> Unread:
    """Why hand-overs or phases from this beginning are not known: as the first stroke that lacks something says."""
    for stroke in strokes:
        for event in (start, "exit", "entry"):
            moment = stroke.moment(event)
            if not isinstance(moment, Moment):
                return Unread(moment.reason, moment.remedy)
    return Unread("The strokes of both arms are not known.", "Track both arms, or set the events of the far one.")


def _hand_over(h: HandOver) -> Value:
    return Value(h.number, h.index_pct, h.sigma_pct, h.shared_pct, h.frames, h.stroke_class)


def _cycle(right: HandOver, left: HandOver) -> Value:
    """The index of one cycle; a stroke of another kind makes the cycle one."""
    classes = [h.stroke_class for h in (right, left) if h.stroke_class != "none"]
    return Value(
        right.number,
        (right.index_pct + left.index_pct) / 2,
        float(np.hypot(right.sigma_pct, left.sigma_pct)) / 2,
        (right.shared_pct + left.shared_pct) / 2,
        tuple(sorted({*right.frames, *left.frames})),
        classes[0] if classes else "none",
    )


def _lean(given: Coordination) -> list[str]:
    """Left against right, in a sentence; nothing with fewer than two hand-overs to each arm."""
    sides = [[h.index_pct for h in own] for own in (given.to_left, given.to_right)]
    gap, low, high = difference(*sides)
    if not np.isfinite(low):
        return []
    clear = "the arms differ" if low > 0 or high < 0 else "no difference can be told"
    return [f"To the left arm minus to the right: {gap:.1f} % of the cycle ({low:.1f} to {high:.1f}), {clear}."]


def _phases(sheet: Sheet, arms: _Arms, side: str, start: str, names: dict[str, str]) -> None:
    got = phases(arms.strokes(side), start)
    frames = [tuple(sorted({f for m in s.found for f in m.frames})) for s in got.strokes]
    none = _why_none(got.strokes, start)
    for k, name in enumerate(PHASES):
        if name in names:
            share, own, shared = (a[:, k].tolist() for a in (got.percent, got.percent_sigma, got.percent_shared))
            values = [
                Value(s.number, share[i], own[i], shared[i], frames[i], s.stroke_class)
                for i, s in enumerate(got.strokes)
            ]
            sheet.add(names[name], side, values, (0, 0), none=none, notes=arms.notes(side))
