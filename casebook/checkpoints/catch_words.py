"""The catch in words: sentences, notes and a plain table, in a coach's and a swimmer's language."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from casebook.checkpoints.finding import Finding, Interval, NotMeasured, in_passes
from casebook.words import QUANTITIES, SIDES, STROKE_CLASSES, VERDICTS

if TYPE_CHECKING:
    from casebook.stroke.arm import Arm

FAR_ARM = "The arm away from the camera: its shoulder is often hidden, so trust it less."
PANNING = "The camera turns: measure where the swimmer is straight in front of it, elsewhere limbs look shortened."
WHAT_TO_MARK = (
    "Mark shoulder, elbow, wrist and fingertip at full reach, with the forearm halfway down and with the forearm "
    "straight down."
)
WIDE_ELBOW = "From the side a wide elbow looks like a high one; a head-on view tells them apart."
KNUCKLE_USED = "The wrist is bent by more than 20 degrees, so the line runs to the knuckle and not to the fingertips."


def sentence(quantity: str, value: float, half: float, outcome: str, strokes: int, arm_m: float = float("nan")) -> str:
    """What was measured, as told to a swimmer, without a verdict.

    ``half`` is half the interval of these strokes; ``arm_m`` the arm's length in metres if known, so that a percentage
    of it can be said in centimetres.
    """
    if quantity == "elbow_height_pct" and np.isfinite(arm_m):
        return _height(value * arm_m, half * arm_m, "cm", outcome, strokes)
    if quantity == "elbow_height_m":
        return _height(value * 100, half * 100, "cm", outcome, strokes)
    if quantity == "elbow_height_pct":
        return _height(value, half, "% of the arm", outcome, strokes)
    more = _give_or_take(half)
    if quantity == "hand_ahead_pct":
        where = "behind the shoulder" if value < 0 and round(value) else "ahead of the shoulder"
        text = f"Hand {abs(value):.0f} % of the arm {where} when the forearm first points straight down, {more}"
    elif quantity == "elbow_angle_45_deg":
        text = f"Elbow bent to {value:.0f} degrees with the forearm halfway down, {more}"
    elif quantity == "elbow_angle_under_deg":
        text = f"Elbow bent to {value:.0f} degrees with the hand under the shoulder, {more}"
    elif quantity == "elbow_angle_45_space_deg":
        text = f"Elbow bent to {value:.0f} degrees in space with the forearm halfway down, {more}"
    elif quantity == "elbow_angle_under_space_deg":
        text = f"Elbow bent to {value:.0f} degrees in space with the hand under the shoulder, {more}"
    elif quantity == "upper_arm_turn_deg":
        text = f"Upper arm turned {value:.0f} degrees while the forearm turned its first 40, {more}"
    else:
        text = f"Wrist at {value:.0f} degrees with the forearm halfway down (180 is straight), {more}"
    return f"{text}{_seen(strokes)}."


def outcome_of(these: Interval) -> str:
    """Where the elbow is for certain against the line from shoulder to fingertips."""
    return "bent above" if these.low > 0 else "dropped below" if these.high < 0 else "straight on"


def looks_shortened(limb: str, out_deg: float) -> tuple[str, str]:
    """Why an angle in space is not given, and what to do: a limb points too much toward the camera or away."""
    return (
        f"The {limb} points about {out_deg:.0f} degrees toward or away from the camera here: one view does not show "
        "which, and the elbow's bend in space cannot be told.",
        "Film head-on too, or read the elbow at a moment when the arm lies along the picture.",
    )


def points_aside(upper_arm: tuple[float, float, float], forearm: tuple[float, float, float]) -> str:
    """How far the arm leaves the picture plane: middle and 95 % interval of each limb. [deg]

    >>> points_aside((5.2, 0.1, 16.0), (27.0, 20.0, 33.0))
    'Toward or away from the camera: upper arm by 5 degrees (0 to 16), forearm by 27 (20 to 33).'
    """
    (u, u0, u1), (f, f0, f1) = upper_arm, forearm
    return (
        f"Toward or away from the camera: upper arm by {u:.0f} degrees ({u0:.0f} to {u1:.0f}), "
        f"forearm by {f:.0f} ({f0:.0f} to {f1:.0f})."
    )


def seen_otherwise(space_deg: float, low: float, high: float) -> str:
    """A note on an angle as seen from the side that is another one in space. [deg]

    >>> seen_otherwise(140.4, 131.0, 150.0)
    'The arm points partly toward or away from the camera: in space the elbow is bent to about 140 (131 to 150).'
    """
    return (
        "The arm points partly toward or away from the camera: in space the elbow is bent to about "
        f"{space_deg:.0f} ({low:.0f} to {high:.0f})."
    )


def _height(value: float, half: float, unit: str, outcome: str, strokes: int) -> str:
    if outcome == "straight on":
        text = f"Elbow on the straight line from shoulder to fingertips, give or take {max(half, 1):.0f} {unit}"
    else:
        side = "above" if value > 0 else "below"
        text = (
            f"Elbow {abs(value):.0f} {unit} {side} the straight line from shoulder to fingertips, {_give_or_take(half)}"
        )
    return f"{text}{_seen(strokes)}."


def _give_or_take(half: float) -> str:
    return f"give or take {max(half, 1):.0f}"


def _seen(strokes: int) -> str:
    if strokes == 1:
        return ", seen once"
    return ", seen twice" if strokes == 2 else f", seen in {strokes} strokes"


def frames_in_words(frames: Sequence[int]) -> str:
    """Frame numbers as a short phrase.

    >>> frames_in_words([12]), frames_in_words([12, 13, 14, 20])
    ('frame 12', 'frames 12-14, 20')
    """
    runs: list[list[int]] = []
    for f in sorted(frames):
        if runs and f == runs[-1][-1] + 1:
            runs[-1].append(f)
        else:
            runs.append([f])
    parts = [f"{r[0]}" if len(r) == 1 else f"{r[0]}-{r[-1]}" for r in runs]
    return f"frame{'s' if len(frames) != 1 else ''} {', '.join(parts)}"


def missing_points(arm: Arm) -> str:
    """Which of the four points are missing in which frames; empty if none."""
    gaps = []
    for i, name in enumerate(("shoulder", "elbow", "wrist", "fingertip")):
        lost = arm.frames[~np.isfinite(arm.xy[:, i]).all(-1)]
        if len(lost):
            gaps.append(f"{name} in {frames_in_words([int(f) for f in lost])}")
    return "; ".join(gaps)


def marks_missing(arm: Arm) -> tuple[str, str]:
    """Why no stroke of an arm could be found, and what to mark."""
    side = SIDES[arm.side]
    if not len(arm.frames):
        return f"The {side} arm is not marked in this shot.", WHAT_TO_MARK
    gaps = missing_points(arm)
    if gaps:
        return f"No whole set-up of the {side} arm is marked; missing: {gaps}.", WHAT_TO_MARK
    marked = frames_in_words([int(f) for f in arm.frames])
    return f"No whole set-up of the {side} arm lies inside this shot and its marks ({marked}).", WHAT_TO_MARK


def table(shot_id: str, results: Sequence[Finding | NotMeasured]) -> str:
    """Plain lines of all results, rounded; the same for the same results."""
    lines = [f"Catch in {shot_id}, as seen from the side"]
    groups: dict[tuple[str, str], list[Finding]] = {}
    for r in results:
        if isinstance(r, Finding):
            groups.setdefault((r.side, r.stroke_class), []).append(r)
    for (side, name), own in groups.items():
        lines.append(f"{SIDES[side]} arm, strokes {STROKE_CLASSES[name]}")
        lines += [f"  {_row(r)}" for r in own]
    lines += [f"not measured: {QUANTITIES[r.quantity].name} ({SIDES[r.side]} arm). {r}" for r in results if not r]
    return "\n".join(lines)


def _row(r: Finding) -> str:
    quantity = QUANTITIES[r.quantity]
    d = quantity.decimals
    each = ", ".join(f"{s.value:.{d}f}" for s in r.strokes)
    usual = f"; habit {_range(r.habit, d)}" if r.habit is not None and len(r.strokes) > 3 else ""
    outcome = f", {r.outcome}" if r.outcome else ""
    over = in_passes(r)
    return (
        f"{quantity.name}: {r.value:.{d}f} {quantity.unit} ({_range(r.these, d)} in these strokes{usual}){outcome}; "
        f"strokes {each}{over}; {r.seen} of {r.needed} frames seen; {VERDICTS[r.verdict]}"
    )


def _range(i: Interval | None, decimals: int) -> str:
    return "" if i is None else f"{i.low:.{decimals}f} to {i.high:.{decimals}f}"
