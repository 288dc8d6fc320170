"""The invented second coach: noise of his own, a habit that stays, and a case of his own marks."""

from __future__ import annotations

import shutil
from dataclasses import replace

import numpy as np
import pytest

from casebook.case.case import Case
from casebook.case.create import ClipAnswers, add_clip
from casebook.case.repeat_study import repeat_file, same_numbers, same_verdicts
from casebook.demo.case import COACH_INITIALS, build_demo_case
from casebook.demo.second_coach import FIRST, SECOND, InventedCoach, open_repeat, second_case
from casebook.demo.truth_files import read_truth
from casebook.marks.csvfile import write_marks
from casebook.marks.marking_error import marking_error
from casebook.resources import shipped
from casebook.widgets.repeat_desk import repeat_marker

TRUTH = read_truth(shipped("demo_clips"), "rowan_side")
POINTS = ("elbow_r", "wrist_r", "hip_r")
ARM = [f"{name}_r" for name in ("shoulder", "elbow", "wrist", "fingertip", "hip", "knuckle")]


def test_a_habit_stays_between_rounds_and_noise_does_not():
    first, second = (SECOND.marks(TRUTH, POINTS, go=go).xy for go in (1, 2))
    truth = TRUTH.xy[:, [TRUTH.index(p) for p in POINTS]]
    seen = np.isfinite(first).all(-1).all(-1)
    off = (first - truth)[seen]
    np.testing.assert_allclose(off.mean(0), [SECOND.offset(p) for p in POINTS], atol=4 * SECOND.noise_px / np.sqrt(200))
    between = (first - second)[seen]
    np.testing.assert_allclose(between.mean((0, 2)), 0, atol=0.5)
    assert between.std() == pytest.approx(SECOND.noise_px * np.sqrt(2), rel=0.05)


def test_a_coach_without_habit_is_off_by_noise_alone():
    assert not InventedCoach("x", 1.0, 0.0, 3).offset("elbow_r").any()


@pytest.fixture(scope="module")
def case(tmp_path_factory):
    return Case.open(build_demo_case(tmp_path_factory.mktemp("demo") / "rowan"))


def test_the_demo_study_finds_the_errors_that_made_it(case):
    desk = case.desk(case.shot_for("catch"))
    plan = open_repeat(desk)
    assert [r.key for r in plan.rounds] == [(COACH_INITIALS, 1), (COACH_INITIALS, 2), ("second", 1), ("second", 2)]
    assert {s.frame for s in desk.measure("catch").stills} <= set(plan.frames.tolist())
    error = marking_error(plan)
    for by, truth in ((COACH_INITIALS, 2.0), ("second", SECOND.noise_px)):
        sd = error.of(by).spread.sd
        assert sd.low < truth < sd.high
    assert 0.2 < error.between_px < 1.4
    before = repeat_file(desk).read_bytes()
    open_repeat(desk)
    assert repeat_file(desk).read_bytes() == before


def test_the_second_case_holds_the_same_film_and_other_marks(case):
    other = second_case(case)
    assert (other.coach, other.shots) == ("second", case.shots)
    desk = case.desk(case.shot_for("catch"))
    same = same_numbers(desk, other, "catch")
    assert {"hand_ahead_pct", "elbow_height_pct"} <= {a.quantity for a in same}
    assert all(a.limits.bias.value != 0 for a in same)
    assert not same_numbers(desk, None, "catch")


def test_a_real_case_has_no_second_coach_until_a_folder_is_named(case):
    real = replace(case, invented=False)
    assert second_case(real) is None
    assert second_case(real, case.folder).folder == case.folder
    assert same_verdicts(real, None) is None


def test_a_shot_without_marks_has_no_study_yet_and_nothing_fails(case, tmp_path):
    bare = tmp_path / "bare"
    shutil.copytree(case.folder, bare)
    for path in (bare / "marks").glob("*"):
        path.unlink()
    desk = Case.open(bare).desk()
    plan = open_repeat(desk)
    assert plan.text().startswith("No pictures yet: mark shoulder_r")
    assert not repeat_file(desk).exists()
    assert repeat_marker(desk, plan) is None
    error = marking_error(plan)
    assert error.text() == f"Marking in {desk.shot.id}: nobody has marked a second round yet"
    assert error.carried("demo", plan.points).startswith("Not known yet")


def test_a_shot_that_is_not_the_demos_gets_no_invented_marks(case, tmp_path):
    mine = tmp_path / "mine"
    shutil.copytree(case.folder, mine)
    name = add_clip(mine, shipped("demo_clips") / "wren_side.mp4", ClipAnswers())
    opened = Case.open(mine)
    write_marks(
        mine / "marks" / f"{name}.csv",
        FIRST.marks(
            read_truth(shipped("demo_clips"), "wren_side"),
            ARM,
        ),
        opened.shot(name).clip.times,
        COACH_INITIALS,
    )
    assert [r.key for r in open_repeat(opened.desk(name)).rounds] == [(COACH_INITIALS, 1)]
    assert second_case(opened).desk(name).marks.n_marked == 0
