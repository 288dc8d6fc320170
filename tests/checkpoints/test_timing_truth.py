"""Timing and connection measured on the demo swimmer's marks, against his pose and what it says of both arms."""

from __future__ import annotations

import re
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from filmed_swimmer import CAST, Film

from casebook.checkpoints.bands import load_bands
from casebook.checkpoints.finding import Finding
from casebook.checkpoints.timing import APPENDIX, ORDER, measure_timing
from casebook.clip.shot import Swim
from casebook.demo.swimmer import Swimmer
from casebook.errors import CasebookError
from casebook.marks.events import EventMark
from casebook.pages.show_appendix import appendix
from casebook.pages.show_motion import angle
from casebook.plane.measured import Measured
from casebook.stroke.coordination import CAUTION
from casebook.words import QUANTITIES

BANDS = load_bands("distance")
EVEN = Swimmer(rate=44.3, variation=0.4, seed=2)
UNEVEN = Swimmer(rate=44.3, variation=0.4, seed=2, offset=0.46)


def measured(film, events=(), **changes):
    _, marks, shot, plane = film.make()
    arm = Measured(film.swimmer.arm_length_m, 0.01)
    return measure_timing(replace(shot, **changes), marks, plane, bands=BANDS, events=events, arm_length=arm)


def true_index(film, start):
    """One-sided indices to the left and to the right arm, from the events solved on each arm's own plane. [%]"""
    times = {s: film.true_times(s) for s in "lr"}
    out = []
    for ending, beginning in (("r", "l"), ("l", "r")):
        lags = [
            (e - times[beginning][start][np.nanargmin(np.abs(times[beginning][start] - e))]) / film.swimmer.period_s
            for e in times[ending]["exit"]
            if 0.5 < e < film.seconds - 0.5
        ]
        out.append(100 * float(np.mean([v for v in lags if abs(v) < 0.4])))
    return out


@pytest.mark.parametrize("swimmer", [EVEN, UNEVEN, CAST[3], CAST[4]])
def test_the_index_from_the_catch_is_that_of_the_pose_for_both_sides(swimmer):
    film = Film(swimmer, seconds=9.0, unrolled=True)
    result = measured(film)
    left, right = true_index(film, "catch")
    for side, true in (("l", left), ("r", right)):
        got = result.get("idc_side_water_pct", side)
        assert got.value == pytest.approx(true, abs=1.0)
        assert got.outcome == "catch-up"
    whole = result.get("idc_water_pct")
    assert whole.these.low - 0.5 < (left + right) / 2 < whole.these.high + 0.5
    assert any("not how well" in note for note in whole.notes)


@pytest.mark.parametrize("swimmer", [EVEN, UNEVEN])
def test_left_against_right_is_told_with_an_interval_that_holds_the_poses(swimmer):
    film = Film(swimmer, seconds=12.0, unrolled=True)
    note = next(n for n in measured(film).get("idc_water_pct").notes if "minus" in n)
    gap, low, high = (float(v) for v in re.findall(r"-?\d+\.\d", note))
    left, right = true_index(film, "catch")
    assert low - 0.5 <= left - right <= high + 0.5
    assert gap == pytest.approx(left - right, abs=1.5)
    assert abs(gap) > 6 if swimmer is UNEVEN else abs(gap) < 2.5
    assert ("the arms differ" in note) == (low > 0 or high < 0)


def test_phases_are_those_of_the_pose():
    film = Film(EVEN, seconds=9.0, unrolled=True)
    result, true = measured(film), film.true_times()
    k = np.flatnonzero((true["entry"] > 0.5) & (true["entry"] < 6.5))
    whole = np.diff(true["entry"])[k]
    for quantity, (a, b) in {
        "phase_entry_water_pct": ("entry", "catch"),
        "phase_pull_water_pct": ("catch", "shoulder"),
        "phase_push_pct": ("shoulder", "exit"),
    }.items():
        share = 100 * np.mean((true[b] - true[a])[k] / whole)
        got = result.get(quantity, "r")
        assert got.value == pytest.approx(share, abs=1.0)
        assert got.these.half < 3


def test_the_two_beginnings_of_the_pull_are_never_mixed():
    moving, still = measured(Film(EVEN)), measured(Film(EVEN, unrolled=True))
    for quantity in APPENDIX["catch"]:
        side = "" if quantity == "idc_water_pct" else "r"
        assert not moving.get(quantity, side)
        assert "camera moves" in moving.get(quantity, side).reason
        assert still.get(quantity, side)
    body, water = (still.get(q, "") for q in ("idc_pct", "idc_water_pct"))
    assert body.value > water.value + 5
    assert body.these.half > water.these.half


def test_the_swimmer_is_told_where_the_front_hand_is_and_the_coach_the_index():
    result = measured(Film(EVEN))
    front = result.get("front_hand_pct", "r")
    assert front.outcome == "nearly under the shoulder"
    assert any("crown" in note for note in front.notes)
    assert result.get("other_arm_pct", "r").outcome
    assert not QUANTITIES["front_hand_pct"].appendix
    assert all(QUANTITIES[q].appendix for names in APPENDIX.values() for q in names)
    keys = {s.key for s in result.stills}
    assert keys == {"other_enters"}
    assert any("ahead" in label.text for s in result.stills for label in s.drawing.labels)


def test_a_hand_that_waits_longer_is_further_ahead():
    quick, slow = measured(Film(EVEN)), measured(Film(replace(EVEN, late_catch=1.0)))
    assert slow.get("front_hand_pct", "r").value > quick.get("front_hand_pct", "r").value + 10


def test_the_hip_is_watched_between_the_other_exit_and_the_catch():
    result = measured(Film(EVEN, unrolled=True))
    got = result.get("hip_slowing_pct", "r")
    assert isinstance(got, Finding)
    # The pose surges by a centimetre twice a cycle: up to 7 % of the mean speed.
    assert abs(got.value) < 10
    assert got.these.half < 8


def test_classes_of_strokes_stay_apart():
    film = Film(EVEN, seconds=9.0)
    entry = film.true_times()["entry"]
    at = [EventMark("stroke_class", "r", 60 * (t + 0.3), "breath_r") for t in entry[(entry > 1) & (entry < 4)]]
    result = measured(film, at)
    breath, none = (result.get("phase_push_pct", "r", name) for name in ("breath_r", "none"))
    assert len(breath.strokes) == len(at)
    assert not {s.stroke for s in breath.strokes} & {s.stroke for s in none.strokes}


@pytest.mark.parametrize(
    ("changes", "word"),
    [
        ({"view": "front_under", "direction": "toward"}, "from the side"),
        ({"swim": Swim("a", kit="paddles")}, "Paddles"),
    ],
)
def test_what_cannot_be_told_is_said_for_every_quantity(changes, word):
    result = measured(Film(EVEN, seconds=3.0), **changes)
    assert not result.findings
    assert {r.quantity for r in result.missing} == set(ORDER)
    assert all(word in f"{r.reason} {r.remedy}" for r in result.missing)


def test_a_near_arm_and_the_far_hands_entries_set_by_the_coach_are_enough():
    film = Film(EVEN)
    _, marks, shot, plane = film.make()
    near = marks.pick([p for p in marks.points if not p.endswith("_l")])
    far = [EventMark("entry", "l", 60 * t) for t in film.true_times("l")["entry"] if 0 < t < 8]
    result = measure_timing(shot, near, plane, bands=BANDS, events=far)
    whole = measured(film).get("front_hand_pct", "r")
    assert result.get("front_hand_pct", "r").value == pytest.approx(whole.value, abs=2.5)
    assert not measure_timing(shot, near, plane, bands=BANDS).get("front_hand_pct", "r")


def test_an_index_that_its_interval_puts_on_both_sides_of_zero_is_given_no_name():
    got = measured(Film(EVEN)).get("idc_pct", "")
    assert got.these.low < -5 and got.these.high > 0
    assert got.outcome == "cannot be told"


def test_the_coachs_appendix_has_the_caution_first_then_index_phases_and_left_against_right():
    film = Film(UNEVEN, seconds=9.0, unrolled=True)
    _, marks, shot, plane = film.make()
    told = appendix(SimpleNamespace(shot=shot, marks=marks, plane=plane, told_events=[]), measured(film))
    assert told.data["paragraphs"][0] == CAUTION
    lines = told.data["items"]
    assert any(line.startswith("index of coordination, pull counted from the catch") for line in lines)
    # Four phases make the cycle: their seconds add up to the swimmer's own.
    whole = next(line for line in lines if line.startswith("Right arm") and "the water" in line)
    seconds = [float(v) for v in re.findall(r"(\d\.\d\d) s", whole)]
    assert sum(seconds) == pytest.approx(film.swimmer.period_s, abs=0.03)
    pushes = [int(v) for v in re.findall(r"together (\d+) %, entry and recovery (\d+) %", whole)[0]]
    assert sum(pushes) == 100
    assert "varying by" in whole
    assert any("left minus right" in line and "told" in line for line in lines)


def test_a_second_clips_moments_go_before_what_the_first_shows_alone():
    """Strokes handed in from elsewhere are what timing is read from."""
    film = Film(EVEN, unrolled=True)
    _, marks, shot, plane = film.make()
    arm = Measured(film.swimmer.arm_length_m, 0.01)
    none = measure_timing(shot, marks, plane, bands=BANDS, arm_length=arm, strokes={"l": ()})
    assert not none.get("idc_water_pct", "")
    assert measure_timing(shot, marks, plane, bands=BANDS, arm_length=arm).get("idc_water_pct", "")


def test_any_joint_is_drawn_over_the_stroke_as_its_marks_have_it():
    film = Film(EVEN, seconds=9.0, sigma_px=0.0)
    _, marks, shot, plane = film.make()
    desk = SimpleNamespace(shot=shot, marks=marks, plane=plane, told_events=[])
    block = angle(desk, "elbow")
    (group,) = block.data["groups"]
    assert len(group["lines"]) >= 4 and "mean" in block.data["caption"]
    a, b, c = (marks.pick([f"{n}_r"]).xy[:, 0] for n in ("shoulder", "elbow", "wrist"))
    bend = np.degrees(np.arccos(((a - b) * (c - b)).sum(-1) / np.linalg.norm(a - b, axis=-1)
                                / np.linalg.norm(c - b, axis=-1)))  # fmt: skip
    entry = film.true_times()["entry"]
    first = entry[entry > 0.2][0]
    for share, value in group["lines"][0][5:60:10]:
        at = first + share / 100 * film.swimmer.period_s
        assert value == pytest.approx(np.interp(at, np.arange(len(bend)) / film.fps, bend), abs=3.0)
    with pytest.raises(CasebookError, match="no joint"):
        angle(desk, "nose")
