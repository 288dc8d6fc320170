"""From the readings of single strokes to findings: one per quantity, arm and stroke class."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from casebook.checkpoints.bands import Bands
from casebook.checkpoints.catch_reading import (
    ELBOW_ANGLE,
    HEIGHT,
    HEIGHT_KNUCKLE,
    STEEP,
    STEEP_KNUCKLE,
    STEEPEST_DEG,
    WRIST_ANGLE,
    Reading,
)
from casebook.checkpoints.catch_space import SPACE_OF, ArmInSpace, space_reading
from casebook.checkpoints.catch_strokes import ArmLength, MeasuredStroke, wrist_is_bent
from casebook.checkpoints.catch_words import (
    KNUCKLE_USED,
    WIDE_ELBOW,
    frames_in_words,
    marks_missing,
    missing_points,
    outcome_of,
    points_aside,
    seen_otherwise,
    sentence,
)
from casebook.checkpoints.finding import Band, Finding, NotMeasured, StrokeValue
from casebook.checkpoints.verdict import habit, these_strokes, verdict
from casebook.stroke.arm import HIP
from casebook.stroke.reading import seen_of_needed
from casebook.words import QUANTITIES, STROKE_CLASSES

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from casebook.plane.foreshorten import JointInSpace
    from casebook.plane.plane import Plane
    from casebook.stroke.arm import Arm

    Array: TypeAlias = NDArray[np.float64]

CHECKPOINT = "catch"
ORDER = (
    "hand_ahead_pct", "elbow_height_pct", "elbow_height_m", "elbow_angle_45_deg", "elbow_angle_under_deg",
    "upper_arm_turn_deg", "wrist_angle_45_deg", *SPACE_OF,
)  # fmt: skip
#: A finding stands on at least this share of the frames it needs. common practice, no source
LEAST_SEEN = 0.5


@dataclass(frozen=True, slots=True)
class _Value:
    """One stroke: value, independent sigma, slope per common parameter (those of the plane, then ln arm length)."""

    stroke: MeasuredStroke
    reading: Reading
    value: float
    sigma: float
    slope: Array
    space: JointInSpace | None = None


@dataclass(frozen=True, slots=True)
class _Group:
    """Strokes of one arm and class, with what they share."""

    strokes: Sequence[MeasuredStroke]
    plane: Plane
    length: ArmLength | None
    knuckle: bool
    arm: ArmInSpace | None

    def in_arms(self, reading: Reading, i: int, stroke: MeasuredStroke) -> _Value | None:
        """Pixels as % of the arm."""
        if self.length is None:
            return None
        per = 100 / self.length.px
        value = reading.values[i] * per
        # A stated arm is so many pixels only by the scale: a longer pixel makes it fewer.
        slope = np.append(reading.by_plane[i] * per, -value)
        slope[0] += value if self.length.stated else 0.0
        return _Value(stroke, reading, value, reading.sigma[i] * per, slope)

    def in_metres(self, reading: Reading, i: int, stroke: MeasuredStroke) -> _Value:
        """Pixels as metres."""
        m = self.plane.m_per_px
        value = reading.values[i] * m
        slope = np.append(reading.by_plane[i] * m, 0.0)
        slope[0] += value
        return _Value(stroke, reading, value, reading.sigma[i] * m, slope)

    def common(self, slope: Array) -> float:
        """Standard deviation that the common parameters give to a value with these slopes."""
        length = self.length
        relative = length.sigma_px / length.px if length else 0.0
        by_plane = slope[:-1] @ self.plane.covariance @ slope[:-1]
        return float(np.sqrt(by_plane + (slope[-1] * relative) ** 2))


def _plain(reading: Reading, i: int, stroke: MeasuredStroke) -> _Value:
    return _Value(stroke, reading, reading.values[i], reading.sigma[i], np.append(reading.by_plane[i], 0))


def findings_of(
    arm: Arm,
    strokes: Sequence[MeasuredStroke],
    plane: Plane,
    length: ArmLength | None,
    bands: Bands,
    notes: Sequence[str] = (),
    arm_in_space: ArmInSpace | None = None,
) -> list[Finding | NotMeasured]:
    """All quantities of one arm; each class of strokes apart, those without breath first.

    Angles in space need ``arm_in_space``.
    """
    out: list[Finding | NotMeasured] = []
    if not strokes:
        reason, remedy = marks_missing(arm)
        return [NotMeasured(CHECKPOINT, q, arm.side, reason, remedy) for q in ORDER]
    for name in STROKE_CLASSES:
        own = [s for s in strokes if s.stroke_class == name]
        if own:
            group = _Group(own, plane, length, wrist_is_bent(own), arm_in_space)
            out += _with_space_beside([_result(group, q, arm.side, name, bands, notes) for q in ORDER])
    return out


def _with_space_beside(results: list[Finding | NotMeasured]) -> list[Finding | NotMeasured]:
    """A note on each seen angle that is surely another one in space."""
    by_quantity = {r.quantity: r for r in results}
    for space, seen in SPACE_OF.items():
        a, b = by_quantity[seen], by_quantity[space]
        if isinstance(a, Finding) and isinstance(b, Finding) and not b.these.low <= a.value <= b.these.high:
            noted = replace(a, notes=(*a.notes, seen_otherwise(b.value, b.these.low, b.these.high)))
            results[results.index(a)] = noted
    return results


def _result(
    group: _Group, quantity: str, side: str, name: str, bands: Bands, notes: Sequence[str]
) -> Finding | NotMeasured:
    values, refusals = [], []
    for stroke in group.strokes:
        got = _value(group, quantity, stroke)
        if isinstance(got, tuple):
            refusals.append(got)
        else:
            values.append(got)
    if not values:
        return NotMeasured(CHECKPOINT, quantity, side, *_said_once(refusals))
    counts = [seen_of_needed(s.set_up.arm, _clock(s, quantity), s.set_up.dense) for s in group.strokes]
    seen, needed = (sum(c[i] for c in counts) for i in (0, 1))
    if seen < LEAST_SEEN * needed:
        reason = f"Only {seen} of the {needed} frames needed carry shoulder, elbow, wrist and fingertip."
        return NotMeasured(CHECKPOINT, quantity, side, reason, refusals[0][1] if refusals else "Mark the others.")
    return _finding(group, quantity, side, name, bands, notes, values, refusals, (seen, needed))


def _finding(
    group: _Group,
    quantity: str,
    side: str,
    name: str,
    bands: Bands,
    notes: Sequence[str],
    values: list[_Value],
    refusals: list[tuple[str, str]],
    counted: tuple[int, int],
) -> Finding:
    each = np.array([v.value for v in values])
    shared = float(np.mean([v.reading.shared for v in values]))
    common = float(np.hypot(group.common(np.mean([v.slope for v in values], axis=0)), shared))
    these = these_strokes(each, [v.sigma for v in values], common)
    band = _band(group, quantity, bands)
    value = float(each.mean())
    strokes = tuple(
        StrokeValue(
            v.stroke.number, float(v.value), float(v.sigma), float(np.hypot(group.common(v.slope), v.reading.shared)),
            v.reading.frames, v.stroke.time_s(v.reading),
        )
        for v in values
    )  # fmt: skip
    outcome = outcome_of(these) if quantity.startswith("elbow_height") else ""
    notes = list(notes)
    if quantity.startswith("elbow_height"):
        notes += [WIDE_ELBOW, *([KNUCKLE_USED] if group.knuckle else [])]
    notes += (
        [f"{len(refusals)} of {len(group.strokes)} strokes could not be read: {refusals[0][0]}"] if refusals else []
    )
    notes += _leaving(values)
    in_m = group.plane.m_per_px * group.length.px if group.length and quantity == "elbow_height_pct" else float("nan")
    return Finding(
        CHECKPOINT,
        quantity,
        side,
        name,
        value,
        QUANTITIES[quantity].unit,
        these,
        habit(each, common),
        strokes,
        tuple(sorted({f for v in values for f in v.reading.frames})),
        *counted,
        verdict(value, these, band),
        sentence(quantity, value, these.half, outcome, len(values), in_m),
        band,
        outcome,
        tuple(notes),
    )


def _leaving(values: list[_Value]) -> list[str]:
    """How far the limbs of these strokes leave the picture plane, for an angle in space."""
    joints = [v.space for v in values if v.space is not None]
    if not joints:
        return []
    upper, fore = (
        (float(a), float(b), float(c))
        for a, b, c in np.mean([[(o.deg, o.low, o.high) for o in j.out] for j in joints], axis=0)
    )
    return [points_aside(upper, fore)]


def _value(group: _Group, quantity: str, stroke: MeasuredStroke) -> _Value | tuple[str, str]:
    """One quantity of one stroke, or why not and what to do."""
    reading = _reading(stroke, quantity)
    if reading is None:
        return _why(stroke, quantity)
    if quantity in SPACE_OF:
        return _in_space(group, quantity, stroke, reading)
    if quantity in ("elbow_height_pct", "elbow_height_m"):
        i = HEIGHT_KNUCKLE if group.knuckle else HEIGHT
        steep = reading.values[STEEP_KNUCKLE if group.knuckle else STEEP]
        if not np.isfinite(reading.values[i]):
            return (
                "The wrist is bent by more than 20 degrees, which fakes a high elbow, and the knuckle is not marked.",
                f"Mark the knuckle in {frames_in_words(reading.frames)}.",
            )
        if steep > STEEPEST_DEG:
            return (
                "The line from shoulder to fingertips is already steeper than 60 degrees when the forearm is halfway "
                "down, so above and below mean nothing.",
                "Look at the hand ahead of the shoulder instead.",
            )
        if quantity == "elbow_height_m":
            return group.in_metres(reading, i, stroke) if group.plane.has_scale else _NO_SCALE
        return group.in_arms(reading, i, stroke) or _NO_ARM
    if quantity == "hand_ahead_pct":
        return group.in_arms(reading, 0, stroke) or _NO_ARM
    return _plain(
        reading, {"elbow_angle_45_deg": ELBOW_ANGLE, "wrist_angle_45_deg": WRIST_ANGLE}.get(quantity, 0), stroke
    )


def _in_space(group: _Group, quantity: str, stroke: MeasuredStroke, reading: Reading) -> _Value | tuple[str, str]:
    if group.arm is None:
        return _NO_ARM
    i = ELBOW_ANGLE if quantity == "elbow_angle_45_space_deg" else 0
    got = space_reading(reading, i, group.arm, quantity)
    if isinstance(got[0], str):
        return got
    return replace(_plain(got[0], 0, stroke), space=got[1])


_NO_SCALE = ("The picture has no scale, so nothing is known in metres.", "Mark a known length in the swimmer's plane.")
_NO_ARM = (
    "The length of the arm is not known.",
    "Mark the arm at full reach, or state the arm's length and mark a known length.",
)


def _reading(stroke: MeasuredStroke, quantity: str) -> Reading | None:
    if quantity == "hand_ahead_pct":
        return stroke.down
    if quantity in ("elbow_angle_under_deg", "elbow_angle_under_space_deg"):
        return stroke.under
    return stroke.turn if quantity == "upper_arm_turn_deg" else stroke.halfway


def _why(stroke: MeasuredStroke, quantity: str) -> tuple[str, str]:
    frames = frames_in_words(stroke.frames)
    if quantity == "upper_arm_turn_deg":
        if not np.isfinite(stroke.set_up.arm.xy[:, HIP]).any():
            return ("The upper arm is held against the trunk, and the hip is not marked.", f"Mark the hip in {frames}.")
        return (
            "The marks do not cover the first 40 degrees of the forearm's turn.",
            f"Mark shoulder, elbow, wrist, fingertip and hip from full reach to forearm halfway ({frames}).",
        )
    gaps = missing_points(stroke.set_up.arm)
    if gaps:
        return (f"Marks are missing: {gaps}.", "Mark them, or take a stroke in which they can be seen.")
    moment = {
        "hand_ahead_pct": "the forearm straight down",
        "elbow_angle_under_deg": "the hand under the shoulder",
        "elbow_angle_under_space_deg": "the hand under the shoulder",
    }.get(quantity, "the forearm halfway down")
    return (
        f"No marked frame is near {moment}.",
        f"Mark shoulder, elbow, wrist and fingertip there (marked so far: {frames}).",
    )


def _said_once(refusals: list[tuple[str, str]]) -> tuple[str, str]:
    reasons = list(dict.fromkeys(r for r, _ in refusals))
    remedies = list(dict.fromkeys(r for _, r in refusals))
    return " ".join(reasons), " ".join(remedies)


def _clock(stroke: MeasuredStroke, quantity: str) -> float:
    reading = _reading(stroke, quantity)
    return float("nan") if reading is None else reading.clock


def _band(group: _Group, quantity: str, bands: Bands) -> Band | None:
    """The band of a quantity; metres are the same fact as the percentage and so are shown with its band, not judged."""
    band = bands.get(quantity)
    if quantity != "elbow_height_m" or band is not None:
        return band
    pct = bands.get("elbow_height_pct")
    if pct is None or group.length is None:
        return None
    arm = group.length.px * group.plane.m_per_px / 100
    low, high = (None if e is None else e * arm for e in (pct.low, pct.high))
    return Band(quantity, low, high, pct.margin * arm, "m", pct.source, pct.level, False)
