"""A coach puts moments and kinds of strokes right on his desk, and every number that rests on them follows."""

from __future__ import annotations

import shutil
from itertools import pairwise

import numpy as np
import pytest

from casebook.case.case import Case
from casebook.checkpoints.finding import Finding
from casebook.demo.case import build_demo_case
from casebook.marks.marks import Origin
from casebook.pages import show
from casebook.stroke.moment import COACH
from casebook.stroke.strokes import strokes_of
from casebook.widgets.desk_files import DeskMoments
from casebook.widgets.moment_sheet import MomentSheet
from casebook.words import STROKE_CLASSES

SHOT, PASS = "rowan_side_under", "rowan_side_under_2"


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    return build_demo_case(tmp_path_factory.mktemp("right") / "demo")


@pytest.fixture
def case(made, tmp_path):
    shutil.copytree(made, tmp_path / "demo", ignore=shutil.ignore_patterns("notebooks"))
    return Case.open(tmp_path / "demo")


def sheet_of(desk):
    """The sheet of moments as the frame marker opens it."""
    return MomentSheet(DeskMoments(desk), desk.shot.times, "ab")


def strokes(desk, side="r"):
    return strokes_of(desk.shot, desk.marks, desk.plane, side, desk.told_events)


@pytest.mark.parametrize("event", ["entry", "end_of_extension", "past_body", "shoulder", "exit"])
def test_every_moment_moved_on_the_sheet_is_kept_and_moves_what_rests_on_it(case, event):
    desk = case.desk(SHOT)
    found, kept = strokes(desk)[2].moment(event), strokes(desk)[1].moment(event)
    key = {"past_body": "phase_entry_pct"}.get(event, "phase_push_pct")
    before = shares(desk, key)
    sheet_of(desk).put(round(found.frame) + 4, event, "r")
    again = Case.open(case.folder).desk(SHOT)
    moved = strokes(again)[2].moment(event)
    assert (moved.origin, moved.frame) == (COACH, round(found.frame) + 4)
    assert [e for e in again.events if e.event == event][-1].origin == Origin.hand
    # The other strokes stay as they were found.
    assert strokes(again)[1].moment(event) == kept
    if event in ("shoulder", "past_body", "exit"):
        after = shares(again, key)
        assert [k for k in before if abs(before[k] - after[k]) > 0.01] == [3]
        # Four pictures of a cycle of 1.36 s at 60 a second are 4.9 % of it.
        sign = {"shoulder": -1, "past_body": 1, "exit": 1}[event]
        assert after[3] - before[3] == pytest.approx(sign * 4.9, abs=0.8)


def shares(desk, key):
    return {s.stroke: s.value for s in desk.measure("timing", alone=True).get(key, "r").strokes}


def test_the_rate_the_strip_and_the_tally_follow_an_entry_put_right(case):
    desk = case.desk(PASS)
    before = desk.measure("rate", alone=True).get("cycles_per_min", "").value
    first = next(s for s in strokes(desk) if np.isfinite(s.duration_s)).moment("entry")
    sheet_of(desk).put(round(first.frame) + 6, "entry", "r")
    after = Case.open(case.folder).desk(PASS)
    # A cycle that begins six pictures of sixty a second later is shorter by 0.1 s.
    assert after.measure("rate", alone=True).get("cycles_per_min", "").value == pytest.approx(
        60 / (60 / before - 0.1), rel=0.01
    )
    counted = show.tally(after)
    assert "set by you" in str(counted)
    assert counted.data["moments"][0]["title"] == "1 right"


@pytest.mark.parametrize("kind", [k for k in STROKE_CLASSES if k != "none"])
def test_every_kind_of_stroke_set_by_the_coach_is_kept_apart(case, kind):
    desk = case.desk(SHOT)
    stroke = strokes(desk)[2]
    sheet_of(desk).put(round(stroke.moment("past_body").frame), "stroke_class", "r", kind)
    result = Case.open(case.folder).desk(SHOT).measure("timing", alone=True)
    own, others = (result.get("phase_push_pct", "r", name) for name in (kind, "none"))
    assert isinstance(own, Finding) and [s.stroke for s in own.strokes] == [3]
    assert 3 not in {s.stroke for s in others.strokes}


def test_strokes_close_to_a_wall_are_found_by_place_and_kept_apart_and_the_coachs_word_goes_before(case):
    path = case.folder / "marks" / f"{PASS}.events.csv"
    path.unlink()
    for metres, kind in ((3.0, "after_push_off"), (11.0, "none"), (20.5, "before_wall")):
        desk = case.desk(PASS).filmed(from_wall_m=metres)
        assert {s.stroke_class for s in strokes(desk)} == {kind}
        rate = desk.measure("rate", alone=True)
        assert isinstance(rate.get("cycles_per_min", "", kind), Finding)
    # A start from the block is start for fifteen metres and not ten.
    desk = case.desk(PASS).filmed(from_wall_m=11.0, dive=True)
    assert {s.stroke_class for s in strokes(desk)} == {"after_push_off"}
    sheet_of(desk).put(60, "stroke_class", "r", "none")
    kinds = [s.stroke_class for s in strokes(Case.open(case.folder).desk(PASS))]
    assert "none" in kinds and "after_push_off" in kinds


def test_a_breath_that_the_face_shows_counts_where_the_coach_named_no_stroke(case):
    """Rowan breathes to the right every second cycle: his left arm is in front, and its strokes are the breath's."""
    (case.folder / "marks" / f"{SHOT}.events.csv").unlink()
    desk = case.desk(SHOT)
    left = [s.stroke_class for s in strokes(desk, "l")]
    assert not desk.events
    assert left.count("breath_r") >= 2 and left.count("none") >= 2
    assert all(a != b for a, b in pairwise(left)), left
    assert {s.stroke_class for s in strokes(desk)} == {"none"}
    assert np.isfinite([s.duration_s for s in strokes(desk)]).sum() >= 4
