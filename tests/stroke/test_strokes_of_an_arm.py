"""Strokes put together from moments: cut-off ones, the coach's corrections, classes, and what a view cannot show."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from filmed_swimmer import CAST, SEEN, Film

from casebook.clip.shot import Stretch
from casebook.marks.events import EventMark
from casebook.marks.marks import Marks, Origin
from casebook.stroke.moment import COACH
from casebook.stroke.strokes import EVENTS, strokes_of
from casebook.stroke.tally import tally

FILM = Film(CAST[0], seconds=5.0)
NOTHING = Marks.empty(["wrist_r"], [])


@pytest.fixture(scope="module")
def made():
    return FILM.make()


def found(made, events=(), side="r", **changes):
    _, marks, shot, plane = made
    return strokes_of(replace(shot, **changes), marks, plane, side, events)


def test_strokes_run_from_entry_to_next_entry_and_cut_off_ones_say_what_they_lack(made):
    strokes = found(made)
    assert [s.number for s in strokes] == list(range(1, len(strokes) + 1))
    for a, b in pairwise(strokes):
        assert a.next_entry == b.moment("entry")
    whole = [s for s in strokes if np.isfinite(s.duration_s)]
    assert len(whole) >= 2
    for s in whole:
        assert s.duration_s == pytest.approx(60 / 44.3, abs=0.05)
        times = [s.time_s(e) for e in ("entry", "shoulder", "exit", "next_entry")]
        assert times == sorted(times)
    assert not strokes[-1].next_entry
    assert "shot ends" in strokes[-1].next_entry.reason


def test_what_the_coach_sets_wins_and_is_kept_as_his(made):
    plain = found(made)
    frame = plain[1].moment("entry").frame + 4.25
    events = [EventMark("entry", "r", frame), EventMark("exit", "l", 100.0)]
    got = found(made, events)
    assert len(got) == len(plain)
    assert got[1].moment("entry").origin == COACH
    assert got[1].moment("entry").frame == frame
    assert got[0].next_entry.by_coach
    assert got[1].moment("exit") == plain[1].moment("exit")
    assert got[1].time_s("entry") == pytest.approx(frame / 60)


def test_a_motion_set_by_the_coach_takes_the_place_of_the_found_one_in_its_stroke(made):
    plain = found(made)
    frame = round(plain[1].moment("past_body").frame) - 3.0
    got = found(made, [EventMark("past_body", "r", frame)])
    assert got[1].moment("past_body").by_coach
    assert got[1].moment("past_body").frame == frame
    assert got[2].moment("past_body") == plain[2].moment("past_body")


def test_events_alone_make_strokes_without_a_single_mark(made):
    _, _, shot, plane = made
    events = [EventMark("entry", "l", f) for f in (20.0, 100.0, 181.0)] + [EventMark("exit", "l", 75.0)]
    got = strokes_of(shot, NOTHING, plane, "l", events)
    assert [s.duration_s for s in got[:2]] == pytest.approx([80 / 60, 81 / 60])
    assert got[0].moment("exit").by_coach
    assert not got[1].moment("exit")
    assert "wrist" in got[1].moment("exit").remedy


def test_classes_are_set_by_the_coach_before_anything_found(made):
    at = [s.found[-1].frame for s in found(made)]
    events = [
        EventMark("stroke_class", "r", at[1], "breath_r", Origin.drafted),
        EventMark("stroke_class", "r", at[1] - 2, "sighting", Origin.hand),
        EventMark("stroke_class", "r", at[2], "breath_l", Origin.drafted),
    ]
    kinds = [s.stroke_class for s in found(made, events)]
    assert kinds[1:3] == ["sighting", "breath_l"]


def test_the_catch_needs_a_camera_that_stands_still_or_whose_path_is_known(made):
    for s in found(made):
        assert not s.moment("catch")
        assert "camera moves" in s.moment("catch").reason


@pytest.mark.parametrize(
    ("view", "lacks"),
    [
        ("front_under", {"end_of_extension", "past_body", "catch", "shoulder"}),
        ("side_above", {"end_of_extension", "past_body", "catch", "shoulder"}),
        ("top", set(EVENTS)),
        ("front_above", set(EVENTS)),
    ],
)
def test_a_view_says_what_it_cannot_show(view, lacks):
    film = Film(CAST[0], view="side_split" if view == "top" else view, seconds=5.0)
    _, marks, shot, plane = film.make()
    shot = replace(shot, view=view, direction="toward" if "front" in view else "right")
    events = [EventMark("entry", "r", f) for f in (30.0, 111.0)]
    for s in strokes_of(shot, marks, plane, "r", events):
        for event in lacks:
            moment = s.moment(event)
            assert moment.by_coach if moment else (moment.reason and moment.remedy)


def test_without_a_water_line_no_hand_enters(made):
    _, marks, shot, plane = made
    dry = replace(plane, has_water=False)
    for s in strokes_of(shot, marks, dry, "r"):
        assert "water line" in s.moment("entry").reason
        assert s.moment("shoulder")


def test_unknown_slow_motion_leaves_frames_and_takes_times(made):
    plain = found(made)
    unknown = found(made, stretches=(Stretch(0, 300, None),))
    assert len(unknown) == len(plain)
    for a, b in zip(plain, unknown, strict=True):
        for event in ("shoulder", "exit"):
            if a.moment(event):
                assert b.moment(event).frame == pytest.approx(a.moment(event).frame, abs=0.02)
                assert np.isnan(b.time_s(event))


def test_slow_motion_is_undone(made):
    plain, slowed = found(made), found(made, stretches=(Stretch(0, 300, 4.0),))
    for a, b in zip(plain, slowed, strict=True):
        if a.moment("shoulder"):
            assert b.time_s("shoulder") == pytest.approx(a.time_s("shoulder") / 4, abs=2e-3)


def test_hands_are_counted_one_after_the_other(made):
    counted = tally(found(made, side="l"), found(made, side="r"))
    assert [c.number for c in counted] == list(range(1, len(counted) + 1))
    assert all(a.side != b.side for a, b in pairwise(counted))
    assert all(a.time_s < b.time_s for a, b in pairwise(counted))


def test_a_water_line_that_is_unsure_makes_entries_unsure_together():
    _, marks, shot, plane = Film(CAST[0], view="side_under", marked=SEEN, seconds=5.0).make()
    covariance = plane.covariance.copy()
    covariance[2, 2] = 20.0**2
    sure, unsure = (strokes_of(shot, marks, p, "r") for p in (plane, replace(plane, covariance=covariance)))
    a, b = (next(s.moment("entry") for s in got if s.moment("entry")) for got in (sure, unsure))
    assert a.shared_s == 0
    assert b.shared_s > 0.01
    assert b.sigma_s == pytest.approx(np.hypot(b.own_s, b.shared_s))
