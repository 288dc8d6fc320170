"""The noun ``Marks``: shapes, picking, rank, merging, round trip through the file."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from casebook.errors import MarksError
from casebook.marks.csvfile import read_marks, write_marks
from casebook.marks.marks import HAND_SIGMA_PX, Marks, Origin
from casebook.marks.merge import merge
from casebook.marks.points import LINES, POINTS, SKELETON, mirrored


def test_there_are_27_points_and_each_has_its_mirror():
    assert len(POINTS) == len(set(POINTS)) == 27
    assert {mirrored(p) for p in POINTS} == set(POINTS)
    assert all(mirrored(mirrored(p)) == p for p in POINTS)
    assert {p for p in POINTS if mirrored(p) == p} == {"crown", "mouth", "neck"}
    assert {p for pair in SKELETON for p in pair} <= set(POINTS)
    assert set(LINES) == {"water", "lane", "plumb"}


def test_rank_is_hand_confirmed_tracked_drafted():
    assert Origin.hand > Origin.confirmed > Origin.tracked > Origin.drafted > Origin.unmarked


def test_arrays_with_gaps_become_marks_with_gaps():
    xy = np.array([[[1.0, 2.0], [np.nan, 5.0]], [[3.0, 4.0], [7.0, 8.0]]])
    marks = Marks.from_arrays(("elbow_l", "wrist_l"), [4, 9], xy)
    assert marks.n_marked == 3
    assert np.isnan(marks.xy[0, 1]).all() and np.isnan(marks.sigma_px[0, 1])
    assert marks.origin.tolist() == [[4, 0], [4, 4]]
    assert marks.sigma_px[1, 1] == HAND_SIGMA_PX
    assert marks.at(4) == {"elbow_l": (1.0, 2.0)} and marks.at(5) == {}


def test_shapes_that_do_not_fit_are_refused():
    with pytest.raises(MarksError, match="2 frames and 1 points"):
        Marks(("elbow_l",), np.arange(2), np.ones((3, 1, 2)), np.ones((2, 1)), np.ones((2, 1)), np.ones((2, 1), bool))
    with pytest.raises(MarksError, match="increase"):
        Marks.empty(("elbow_l",), [3, 3])


def test_picking_gives_the_asked_points_and_frames_and_gaps_for_what_is_not_held():
    marks = Marks.from_arrays(("elbow_l", "wrist_l"), [1, 2, 3], np.arange(12.0).reshape(3, 2, 2))
    marks.hidden[2, 1], marks.xy[2, 1] = True, np.nan
    part = marks.pick(("wrist_l", "knee_r"), np.array([2, 3, 8]))
    assert part.points == ("wrist_l", "knee_r") and part.frames.tolist() == [2, 3]
    assert part.xy[0, 0].tolist() == [6.0, 7.0] and part.hidden[1, 0]
    assert np.isnan(part.xy[:, 1]).all() and not part.origin[:, 1].any()
    with pytest.raises(MarksError, match="elbow_l, wrist_l"):
        marks.index("knee_r")


def test_merging_keeps_the_higher_rank_and_the_second_of_equals():
    hand = Marks.from_arrays(("elbow_l",), [1, 2], np.full((2, 1, 2), 1.0), origin=Origin.hand)
    track = Marks.from_arrays(("elbow_l", "ear_l"), [2, 3], np.full((2, 2, 2), 2.0), 3.0, Origin.tracked)
    for merged in (merge(hand, track), merge(track, hand)):
        assert merged.points == ("ear_l", "elbow_l")
        assert merged.frames.tolist() == [1, 2, 3]
        assert merged.xy[..., 0].tolist()[1:] == [[2.0, 1.0], [2.0, 2.0]]
        assert np.isnan(merged.xy[0, 0]).all() and merged.origin[:, 1].tolist() == [4, 4, 2]
    later = Marks.from_arrays(("elbow_l",), [2], np.full((1, 1, 2), 9.0))
    assert merge(hand, later).at(2) == {"elbow_l": (9.0, 9.0)}
    assert merge(later, hand).at(2) == {"elbow_l": (1.0, 1.0)}


def test_a_hidden_hand_mark_outranks_a_draft_when_merged():
    hidden = Marks.empty(("elbow_l",), [1])
    hidden.hidden[0, 0], hidden.origin[0, 0] = True, Origin.hand
    draft = Marks.from_arrays(("elbow_l",), [1], np.ones((1, 1, 2)), 10.0, Origin.drafted)
    for merged in (merge(hidden, draft), merge(draft, hidden)):
        assert merged.hidden[0, 0] and np.isnan(merged.xy[0, 0]).all()


@given(st.lists(st.tuples(st.integers(0, 5), st.integers(0, 26), st.integers(1, 4)), max_size=20), st.integers(0, 20))
def test_merging_parts_is_the_same_in_any_order_where_ranks_differ(rows, cut):
    def marks(rows, salt):
        out = Marks.empty(POINTS, range(6))
        for frame, point, origin in rows:
            out.origin[frame, point] = origin
            out.xy[frame, point] = (10 * origin + salt, frame)
            out.sigma_px[frame, point] = 1.0
        return out

    a, b = marks(rows[:cut], 1), marks(rows[cut:], 2)
    one, other = merge(a, b), merge(b, a)
    np.testing.assert_array_equal(one.origin, np.maximum(a.origin, b.origin))
    differ = a.origin != b.origin
    np.testing.assert_array_equal(one.xy[differ], other.xy[differ])


def test_marks_go_through_the_file_unchanged(tmp_path):
    rng = np.random.default_rng(1)
    xy = rng.uniform(-10, 2000, (20, 27, 2))
    xy[rng.random((20, 27)) < 0.3] = np.nan
    marks = Marks.from_arrays(POINTS, np.arange(5, 25), xy, rng.uniform(1, 4, (20, 27)), Origin.tracked)
    write_marks(tmp_path / "side.csv", marks, np.arange(30) / 50)
    back = read_marks(tmp_path / "side.csv", np.arange(30) / 50)
    assert back.points == POINTS
    for name in ("frames", "xy", "sigma_px", "origin", "hidden"):
        np.testing.assert_array_equal(getattr(back, name), getattr(marks, name))
