"""Two clips of one swim on one clock: the demo swimmer filmed under water and at the water line at once."""

from __future__ import annotations

import shutil

import numpy as np
import pytest

from casebook.case.case import Case
from casebook.checkpoints.finding import Finding
from casebook.demo.case import build_demo_case
from casebook.errors import CaseError
from casebook.marks.events import EventMark, write_events
from casebook.pages import show

UNDER, SPLIT, FRONT = "rowan_side_under", "rowan_side_split", "rowan_front_under"


@pytest.fixture(scope="module")
def case(tmp_path_factory):
    return Case.open(build_demo_case(tmp_path_factory.mktemp("two") / "demo"))


@pytest.fixture(scope="module")
def both(case):
    # The right hand goes in at 0.64 s: frame 38 of 60 a second, 19 of 30.
    return case.together(UNDER, SPLIT, (38, 19))


def test_the_clips_were_started_at_one_instant_and_that_is_found_within_its_interval(both):
    """Both demo clips show the swimmer from the same second on, so that the true offset is nothing."""
    assert abs(both.offset.seconds) < 2 * both.offset.sigma_s
    assert both.offset.sigma_s < 0.012
    assert both.offset.n >= 5 and both.offset.agree


def test_a_frame_said_half_a_stroke_off_still_finds_the_same_offset_and_a_cycle_off_is_another(case, both):
    near = case.together(UNDER, SPLIT, (44, 19))
    assert near.offset.seconds == pytest.approx(both.offset.seconds, abs=1e-9)
    # Strokes are alike: whole cycles apart only the coach can tell.
    other = case.together(UNDER, SPLIT, (120, 19))
    assert other.offset.seconds == pytest.approx(60 / 44, abs=0.06)


def test_exits_of_the_far_arm_come_from_the_other_clip_and_give_the_hand_over(case, both):
    assert both.gained()["l", "exit"] >= 2
    alone = case.desk(UNDER).measure("timing", alone=True).get("idc_side_pct", "r")
    got = both.measure().get("idc_side_pct", "r")
    assert not alone
    assert isinstance(got, Finding)
    # The swimmer's arms are half a cycle apart: both hand-overs are alike, and near opposition from past the body.
    assert got.these.low < 0 < got.these.high
    assert "hand out" in both.text()


def test_moments_taken_over_stand_at_the_first_clips_frames_with_the_offsets_error(both):
    times = both.first.shot.times
    for side in "lr":
        numbers = [s.number for s in both.strokes[side]]
        assert numbers == list(range(1, len(numbers) + 1))
        entries = np.array([s.time_s("entry") for s in both.strokes[side]])
        assert (np.diff(entries[np.isfinite(entries)]) > 1.2).all()
        for m in (m for s in both.strokes[side] for m in s.found):
            assert m.time_s == pytest.approx(np.interp(m.frame, np.arange(len(times)), times), abs=1e-6)
            assert m.sigma_s > 0.008


def test_an_event_set_by_the_coach_in_both_clips_is_a_shared_one(case, tmp_path):
    shutil.copytree(case.folder, tmp_path / "demo")
    case = Case.open(tmp_path / "demo")
    for shot, frame in ((UNDER, 121.0), (SPLIT, 60.4)):
        path = case.folder / "marks" / f"{shot}.events.csv"
        write_events(path, [*case.desk(shot).events, EventMark("entry", "r", frame)])
    got = case.together(UNDER, SPLIT, (121, 60))
    assert abs(got.offset.seconds) < 0.03


@pytest.mark.parametrize(
    ("second", "same", "words"),
    [(SPLIT, (900, 19), "not in"), (SPLIT, (470, 1), "no moment"), ("nobody", (1, 1), "no shot")],
)
def test_what_does_not_go_together_is_said_in_a_sentence(case, second, same, words):
    with pytest.raises(CaseError, match=words):
        case.together(UNDER, second, same)


def test_two_swims_are_never_put_together(case, tmp_path):
    shutil.copytree(case.folder, tmp_path / "demo")
    case = Case.open(tmp_path / "demo")
    text = (case.folder / "case.toml").read_text("utf-8")
    head, _, tail = text.rpartition('swim = "2026-05-02 steady"')
    (case.folder / "case.toml").write_text(f'{head}swim = "2026-05-02 easy"{tail}', "utf-8")
    pass_shot = case.shots[-1]
    with pytest.raises(CaseError, match="two swims"):
        Case.open(case.folder).together(UNDER, pass_shot, (38, 38))


def test_the_notebooks_block_tells_what_is_gained_and_asks_for_a_second_clip_where_none_is_named(case):
    desk = case.desk(UNDER)
    told = str(show.beside(desk, SPLIT, (38, 19)))
    assert "give or take" in told and "one-sided index" in told
    assert "Name the other shot" in str(show.beside(desk, "", (0, 0)))
