"""Two coaches who measure the same clip get the same number within its stated error, and how often the same verdict."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from demo_shots import filmed

from casebook.checkpoints.agreement import agree, measured_by, quantity_agreement, verdict_agreement
from casebook.checkpoints.bands import load_bands
from casebook.checkpoints.finding import Finding, Interval, NotMeasured, StrokeValue
from casebook.checkpoints.result import CheckpointResult
from casebook.demo.cast import CAST
from casebook.demo.second_coach import InventedCoach, invented_round
from casebook.demo.truth_marks import key_still_frames, key_stills
from casebook.marks.events import EventMark
from casebook.marks.marking_error import marking_error
from casebook.marks.repeat import plan_repeat

POINTS = [f"{name}_r" for name in ("shoulder", "elbow", "wrist", "fingertip", "hip", "knuckle")]
QUANTITIES = ("hand_ahead_pct", "elbow_height_pct", "elbow_angle_45_deg", "wrist_angle_45_deg", "upper_arm_turn_deg")
SHOT, _, PLANE, TRUTH = filmed(CAST["rowan"].swimmer, seconds=8.0)
EVENTS = [EventMark("stroke_class", s.side, s.halfway, s.stroke_class, by="a") for s in key_stills(TRUTH, "r")]
BANDS = load_bands("triathlete")


def pair_of(number, offset_px, frames):
    """Two invented coaches of 2 and 2.4 px, their marks carrying what a repeat study of theirs says."""
    coaches = InventedCoach("a", 2.0, offset_px, 100 + 2 * number), InventedCoach("b", 2.4, offset_px, 101 + 2 * number)
    marks = [coach.marks(TRUTH, POINTS, frames) for coach in coaches]
    plan = plan_repeat(marks[0], SHOT, POINTS, 24, number, by="a")
    for coach, go in ((coaches[0], 2), (coaches[1], 1), (coaches[1], 2)):
        plan = plan.with_round(invented_round(plan, TRUTH, coach, go))
    error = marking_error(plan)
    return [carrying(m, [error.sigma_for(p, c.by) for p in m.points]) for m, c in zip(marks, coaches, strict=True)]


def carrying(marks, sigma):
    return replace(marks, sigma_px=np.where(np.isfinite(marks.sigma_px), np.array(sigma), np.nan))


def compared(marks):
    return quantity_agreement(*measured_by("catch", SHOT, marks, PLANE, bands=BANDS, events=EVENTS))


@pytest.mark.parametrize("offset_px", [0.0, 0.8])
def test_two_coaches_agree_on_a_stroke_as_often_as_their_intervals_say(offset_px, capsys):
    """50 pairs of coaches mark the key pictures of five strokes; with 0.8 px each sees every joint a little beside,
    always to the same side. Their sigma comes from a study of 24 frames: the share of strokes within the joint 95 %
    intervals is 95 %, give or take three standard errors of a share among 250 (4.1 %)."""
    frames = key_still_frames(TRUTH, "r").tolist()
    agreed = {quantity: [] for quantity in QUANTITIES}
    apart = {quantity: [] for quantity in QUANTITIES}
    for number in range(50):
        for one in compared(pair_of(number, offset_px, frames)):
            if one.quantity in agreed:
                agreed[one.quantity] += [agree(a, b) for a, b in one.pairs]
                apart[one.quantity].append((one.typical.sd.value, one.stated))
    with capsys.disabled():
        print(f"\noffset {offset_px} px")
        for quantity, yes in agreed.items():
            if yes:
                typical, stated = np.sqrt(np.mean(np.square(apart[quantity]), 0))
                print(
                    f"  {quantity:20s} {len(yes)} strokes: {100 * np.mean(yes):.1f} % agree; "
                    f"typical error {typical:.2f}, stated {stated:.2f}"
                )
    measured = {quantity: yes for quantity, yes in agreed.items() if yes}
    assert len(measured) >= 4
    for quantity, yes in measured.items():
        assert len(yes) == 250, quantity
        assert np.mean(yes) == pytest.approx(0.95, abs=3 * np.sqrt(0.95 * 0.05 / 250)), quantity
    every = [y for yes in measured.values() for y in yes]
    assert np.mean(every) == pytest.approx(0.95, abs=0.02)


def test_marks_that_claim_too_little_disagree_more_often_than_they_say():
    """The same study would notice: with half the error claimed, far fewer strokes agree."""
    frames = key_still_frames(TRUTH, "r").tolist()
    yes = []
    for number in range(12):
        marks = [carrying(m, [1.0] * len(POINTS)) for m in pair_of(number, 0.8, frames)]
        yes += [agree(a, b) for one in compared(marks) if one.quantity in QUANTITIES for a, b in one.pairs]
    assert np.mean(yes) < 0.85


def test_a_habit_shows_as_bias_of_the_number():
    """One coach marks the elbow 4 px higher: all his elbows stand higher above the line, by up to 4 px of this arm."""
    exact = InventedCoach("a", 0.5, 0.0, 1).marks(TRUTH, POINTS, key_still_frames(TRUTH, "r").tolist())
    moved = replace(exact, xy=exact.xy.copy())
    moved.xy[:, POINTS.index("elbow_r"), 1] -= 4.0
    one = next(a for a in compared([moved, exact]) if a.quantity == "elbow_height_pct")
    arm = np.linalg.norm(np.diff(TRUTH.world[0, [TRUTH.index(p) for p in POINTS[:4]]], axis=0), axis=-1).sum()
    # The line of a straight arm at 45 degrees or so is not level: between a half and all of it counts.
    whole = 100 * 4.0 * PLANE.m_per_px / arm
    assert one.limits.bias.low > 0
    assert 0.5 * whole < one.limits.bias.value < 1.1 * whole
    assert one.typical.sd.value < one.limits.bias.value / 3


def stroke(k, value, time_s, sigma=1.0):
    return StrokeValue(k, value, sigma, 0.5, (k,), time_s)


def result(strokes, verdict="within", quantity="hand_ahead_pct", checkpoint="catch"):
    interval = Interval(0.0, 1.0)
    finding = Finding(
        checkpoint, quantity, "r", "none", 1.0, "%", interval, None, tuple(strokes), (), 1, 1, verdict, "", None
    )  # fmt: skip
    return CheckpointResult(checkpoint, "pool", (finding,))


def test_the_same_stroke_is_found_by_its_time_and_not_by_its_number():
    first = result([stroke(0, 10, 1.0), stroke(1, 11, 2.2), stroke(2, 12, 3.4)])
    second = result([stroke(0, 11.5, 2.25), stroke(1, 12.5, 3.35), stroke(2, 30, 9.0)])
    (one,) = quantity_agreement(first, second)
    assert [(a.value, b.value) for a, b in one.pairs] == [(11, 11.5), (12, 12.5)]
    assert one.alone == 2
    assert one.limits.bias.value == pytest.approx(-0.5)
    assert one.agreeing == 2
    assert "2 of 2 strokes agree" in one.text()


def test_one_stroke_in_both_readings_is_too_few_for_limits():
    (one,) = quantity_agreement(result([stroke(0, 10, 1.0)]), result([stroke(0, 11, 1.0)]))
    assert np.isnan(one.typical.sd.value)
    assert "too few" in one.text()


def test_what_both_share_does_not_excuse_a_difference():
    assert agree(stroke(0, 10.0, 1.0), stroke(0, 12.7, 1.0))
    assert not agree(stroke(0, 10.0, 1.0), stroke(0, 12.9, 1.0))


def test_verdicts_are_paired_and_what_is_not_judged_stays_out():
    words = ["within", "within", "outside", "near", "undecided", "shown", "within"]
    other = ["within", "outside", "outside", "near", "undecided", "within", None]

    def results(said):
        for k, word in enumerate(said):
            if word is None:
                gap = NotMeasured("catch", f"q{k}", "r", "Not seen.", "Film again.")
                yield CheckpointResult("catch", "pool", (gap,))
            else:
                yield result([], word, f"q{k}")

    got = verdict_agreement(results(words), results(other))
    assert (got.n, got.left_out) == (5, 1)
    assert got.agreement == pytest.approx(4 / 5)
    assert got.categories == ("within", "near", "outside", "undecided")
    assert got.shares == pytest.approx((0.3, 0.2, 0.3, 0.2))
    # By hand: chance (2*1 + 1*1 + 1*2 + 1*1) / 25.
    assert got.value.value == pytest.approx((4 / 5 - 6 / 25) / (1 - 6 / 25))
