"""What is still missing for which checkpoint, on cases of an invented swimmer marked bit by bit from the truth."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from casebook.case.case import Case
from casebook.case.checklist import STROKES, _knowledge
from casebook.case.create import ClipAnswers, new_case
from casebook.case.settings import FILE
from casebook.checkpoints.measure import VIEWS_FOR
from casebook.demo.truth_files import read_truth
from casebook.demo.truth_marks import key_still_frames, marks_from_truth
from casebook.errors import CasebookError, CaseError
from casebook.marks.points import PAIRED, POINTS, mirrored
from casebook.resources import shipped
from casebook.words import CHECKPOINTS, VIEWS

ARM = ("shoulder_r", "elbow_r", "wrist_r", "fingertip_r")


def case_of(folder, clip, **seen) -> Case:
    new_case(folder, shipped("demo_clips") / f"{clip}.mp4", ClipAnswers(**seen), alias="rowan", coach="AB")
    return Case.open(folder)


@pytest.fixture
def side(tmp_path):
    return case_of(tmp_path / "side", "rowan_side", camera="following").desk()


@pytest.fixture
def front(tmp_path):
    made = case_of(tmp_path / "front", "rowan_front", view="front_under", direction="toward", camera="following")
    return made.desk()


@pytest.fixture(scope="module")
def truth():
    return read_truth(shipped("demo_clips"), "rowan_side")


def test_every_checkpoint_has_key_pictures_in_its_best_view_of_points_that_exist():
    rows = {row["key"]: row for row in _knowledge()}
    assert set(rows) == set(CHECKPOINTS)
    for key, row in rows.items():
        views = [v for still in row["still"] for v in still["views"]]
        assert len(set(views)) == len(views) and set(views) <= set(VIEWS), key
        assert {VIEWS_FOR[key][0]} & set(views) and set(views) <= set(VIEWS_FOR[key]), key
        for still in row["still"]:
            assert still["moments"] and (still.get("near") or still.get("both")), key
            assert set(still.get("near", ())) <= set(PAIRED), key
            assert {p.removesuffix("_r") for p in POINTS if not p.endswith("_l")} >= set(still.get("both", ())), key


def test_nothing_marked_is_ready_for_nothing_and_says_what_to_mark(side):
    made = side.checklist()
    assert made.ready == ()
    assert "catch: not yet" in made.text() and "24 clicks: none yet" in made.text()
    stills = made.item("catch").stills
    assert stills.points == ARM and stills.left == stills.clicks == 24
    assert "first with the forearm straight down" in stills.text() and "right shoulder, elbow" in stills.text()
    assert made.item("roll") is None
    assert "body roll: not from this view. Film head-on, under water." in made.text()


def test_24_clicks_make_the_catch_ready_and_one_less_does_not(side, truth):
    marks = marks_from_truth(truth, ARM, key_still_frames(truth, "r", STROKES))
    assert marks.n_marked == 24
    side.store.put_marks(marks)
    made = side.checklist()
    assert "catch" in made.ready and made.item("catch").stills.left == 0
    frame = int(marks.frames[2])
    side.store.erase(frame, "elbow_r")
    assert side.checklist().item("catch").stills.left == 1
    side.store.hide(frame, "elbow_r")
    assert side.checklist().item("catch").stills.left == 0, "looked for and not to be seen is an answer"


def test_many_pictures_of_one_point_do_not_stand_for_the_others(side, truth):
    side.store.put_marks(marks_from_truth(truth, ["wrist_r"]))
    stills = side.checklist().item("catch").stills
    assert stills.left == stills.clicks * 3 // 4


def test_a_water_line_is_asked_for_where_nothing_goes_without(side, truth):
    side.store.put_marks(marks_from_truth(truth))
    before = side.checklist()
    assert "body_line" not in before.ready and "catch" in before.ready
    assert any("water line" in what for what in before.item("body_line").missing)
    assert any("water line" in what for what in before.item("catch").helps)
    side.draw_water(30, (100.0, 50.0), (800.0, 52.0))
    side.draw_length(30, (100.0, 60.0), (300.0, 60.0), 2.0, 0.02, "two blocks of the rope")
    after = side.checklist()
    assert "body_line" in after.ready and not after.item("catch").helps
    assert "Water line: drawn on 1 picture." in after.about() and "two blocks of the rope" in after.about()
    assert {i.checkpoint for i in after.items} == set(after.ready)


def test_without_a_time_scale_what_is_told_in_seconds_is_not_ready(side, truth):
    side.store.put_marks(marks_from_truth(truth))
    side.draw_water(30, (100.0, 50.0), (800.0, 52.0))
    side = side.filmed(time_scale=0)
    made = side.checklist()
    assert not {"timing", "rate", "kick"} & set(made.ready) and "catch" in made.ready
    assert "how much the file was slowed down is not known" in made.about()
    assert "say how much the file was slowed down" in made.text()


def test_a_rate_nobody_swims_at_puts_the_slow_motion_in_doubt(side, truth):
    side.store.put_marks(marks_from_truth(truth))
    side.draw_water(30, (100.0, 50.0), (800.0, 52.0))
    assert not any("strokes a minute" in doubt for doubt in side.checklist().doubts)
    for scale in (4.0, 0.25):
        made = side.filmed(time_scale=scale).checklist()
        assert any("strokes a minute" in doubt and "slowed down" in doubt for doubt in made.doubts), scale
        assert made.text().startswith("Look into this")


def test_a_wrong_direction_shows_in_the_marks(side, truth):
    side.store.put_marks(marks_from_truth(truth, frames=[10, 60, 110]))
    assert not side.checklist().doubts
    both = marks_from_truth(truth, ["shoulder_r", "hip_r"], [10, 60, 110])
    side.store.put_marks(replace(both, points=("shoulder_l", "hip_l")))
    (doubt,) = side.filmed(direction="left").checklist().doubts
    assert "Is the direction right?" in doubt


def test_swapped_or_mirrored_sides_show_in_the_marks_head_on(front):
    truth = read_truth(shipped("demo_clips"), "rowan_front")
    front.store.put_marks(marks_from_truth(truth, ["shoulder_l", "shoulder_r"], [5, 25, 45]))
    assert not front.checklist().doubts
    assert any("mirrored" in doubt for doubt in front.filmed(mirrored=True).checklist().doubts)
    front = front.filmed(mirrored=False)
    for frame in (5, 25, 45):
        front.store.swap_sides(frame, ["shoulder_l", mirrored("shoulder_l")])
    assert any("the other way round" in doubt for doubt in front.checklist().doubts)


def test_from_the_front_the_key_pictures_are_others(front):
    made = front.checklist()
    assert made.item("catch") is None and "catch: not from this view" in made.text()
    assert made.item("roll").stills.points == ("shoulder_l", "shoulder_r", "hip_l", "hip_r")
    assert not made.item("entry").missing, "no water line is needed to see where the hand goes in, head-on"


def test_how_a_shot_was_filmed_is_kept_and_what_makes_no_sense_is_not(side):
    path = side.case.folder / FILE
    kept = side.filmed(stretches=[[0, 40, 1], [40, 300, 8], [300, 480, 1]])
    assert "slowed down in stretches, up to 8 times" in kept.checklist().about()
    assert np.isfinite(kept.shot.times).all() and len(kept.shot.stretches) == 3
    assert "time_scale" not in path.read_text("utf-8"), "one of the two says it"
    again = kept.filmed(time_scale=2, camera="still", mirrored=True)
    assert "stretches" not in path.read_text("utf-8")
    assert "slowed down 2 times" in again.checklist().about() and "The file is mirrored." in again.checklist().about()
    before = path.read_text("utf-8")
    for wrong in ({"view": "sideways"}, {"start": 400, "stop": 30}, {"colour": "blue"}, {"time_scale": "slow"}):
        with pytest.raises((CaseError, CasebookError)):
            again.filmed(**wrong)
        assert path.read_text("utf-8") == before, wrong


def test_marks_outside_the_shot_do_not_count(side, truth):
    side.store.put_marks(marks_from_truth(truth, ARM, key_still_frames(truth, "r", STROKES)))
    assert side.filmed(start=400, stop=480).checklist().item("catch").stills.left > 0
