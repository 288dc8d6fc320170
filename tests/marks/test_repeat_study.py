"""Marking again, blind: which frames are drawn, what the file holds, and how the error of a coach follows."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from casebook.errors import MarksError
from casebook.marks.marking_error import marking_error, take_over
from casebook.marks.marks import Marks, Origin
from casebook.marks.repeat import RepeatPlan, Round, keep_round, plan_repeat, read_repeat, write_repeat
from casebook.marks.store import MarkStore

POINTS = ("shoulder_r", "elbow_r", "fingertip_r")
N = 200


def shot(n=N):
    return SimpleNamespace(id="pool", frames=np.arange(n))


def arm(n=N, period=60.0):
    """A hand that goes round its shoulder once a second at 60 pictures a second."""
    turn = 2 * np.pi * np.arange(n) / period
    shoulder = np.stack([300 + 2.0 * np.arange(n), np.full(n, 200.0)], -1)
    reach = np.stack([np.cos(turn), np.sin(turn)], -1)
    return np.stack([shoulder, shoulder + 50 * reach, shoulder + 110 * reach], 1)


def marked(xy, **kw):
    return Marks.from_arrays(POINTS, np.arange(len(xy)), xy, **kw)


def rounds(rng, n_frames, errors, offsets=None):
    """A plan whose rounds are the truth with these errors: {(by, number): px}; offsets: {by: (right, down)}."""
    xy = arm()[:n_frames]
    plan = RepeatPlan("pool", POINTS, np.arange(n_frames), ())
    for (by, number), error in errors.items():
        made = xy + rng.normal(0, error, xy.shape) + np.array((offsets or {}).get(by, (0, 0)))
        plan = plan.with_round(Round(by, number, made, np.zeros(xy.shape[:2], bool)))
    return plan


def test_frames_are_drawn_over_the_whole_stroke_and_not_in_order_of_time():
    plan = plan_repeat(marked(arm()), shot(), POINTS, 12, seed=3, by="ab")
    phase = np.sort(plan.frames % 60)
    # Twelve parts of one turn: no gap wider than two of them.
    assert len(plan.frames) == 12
    assert np.diff(np.append(phase, phase[0] + 60)).max() <= 10
    assert (np.diff(plan.frames) < 0).any()
    assert plan.rounds[0].key == ("ab", 1)
    np.testing.assert_array_equal(plan.rounds[0].xy, arm()[plan.frames])


def test_the_same_seed_draws_the_same_frames_and_another_others():
    draws = [plan_repeat(marked(arm()), shot(), POINTS, 12, seed=s).frames.tolist() for s in (1, 1, 2)]
    assert draws[0] == draws[1] != draws[2]


def test_asked_for_frames_are_among_them():
    plan = plan_repeat(marked(arm()), shot(), POINTS, 10, keep=[7, 120, 999])
    assert {7, 120} <= set(plan.frames.tolist())
    assert len(plan.frames) == 10


def test_only_what_was_placed_by_hand_is_asked_again():
    marks = marked(arm())
    marks.origin[:150] = int(Origin.tracked)
    marks.origin[150:160, 1] = int(Origin.confirmed)
    plan = plan_repeat(marks, shot(), POINTS, 30)
    assert plan.frames.min() >= 160
    assert len(plan.frames) == 30
    marks.origin[:] = int(Origin.drafted)
    with pytest.raises(MarksError, match="0 frames on which all of shoulder_r"):
        plan_repeat(marks, shot(), POINTS, 30)


def test_a_point_said_to_be_hidden_is_an_answer_too():
    marks = marked(arm(20))
    marks.xy[:, 2], marks.sigma_px[:, 2], marks.hidden[:, 2] = np.nan, np.nan, True
    plan = plan_repeat(marks, shot(20), POINTS, 6)
    assert plan.rounds[0].hidden[:, 2].all()
    assert plan.left(plan.rounds[0]) == 0


def test_each_round_is_shown_in_an_order_of_its_own():
    plan = plan_repeat(marked(arm()), shot(), POINTS, 24, by="ab")
    orders = [plan.order(by, k).tolist() for by, k in (("ab", 2), ("ab", 3), ("cd", 2))]
    assert all(sorted(o) == list(range(24)) for o in orders)
    assert orders[0] != orders[1] != orders[2] != orders[0]
    assert plan.order("ab", 2).tolist() == orders[0]


def test_a_study_reads_back_as_it_was_written(tmp_path):
    rng = np.random.default_rng(1)
    plan = rounds(rng, 8, {("ab", 1): 2, ("ab", 2): 2, ("c, d", 1): 3})
    plan.rounds[1].xy[2, 1], plan.rounds[1].hidden[2, 1] = np.nan, True
    plan.rounds[2].xy[3] = np.nan
    path = tmp_path / "pool.repeat.csv"
    write_repeat(path, plan)
    text = path.read_text("utf-8")
    assert text.startswith("# schema = 1\nframe,point,round,by,x_px,y_px\n0,shoulder_r,1,ab,")
    back = read_repeat(path)
    assert (back.shot, back.points, back.frames.tolist()) == ("pool", POINTS, list(range(8)))
    for a, b in zip(plan.rounds, back.rounds, strict=True):
        assert a.key == b.key
        np.testing.assert_array_equal(a.xy, b.xy)
        np.testing.assert_array_equal(a.hidden, b.hidden)
    assert [back.left(r) for r in back.rounds] == [0, 0, 3]
    assert back.next_number("ab") == 3
    assert back.next_number("c, d") == 1
    assert back.next_number("new") == 1
    assert "c, d, round 1: 3 still to mark" in back.text()


@pytest.mark.parametrize("by", ["=1+1", "+x", "-x", "@x", "a\nb", "a\tb", "x" * 41])
def test_initials_that_a_spreadsheet_would_run_or_a_line_not_hold_are_refused(tmp_path, by):
    with pytest.raises(MarksError):
        plan_repeat(marked(arm()), shot(), POINTS, 6, by=by)
    if "\n" not in by and "\t" not in by:
        path = tmp_path / "pool.repeat.csv"
        path.write_text(f"# schema = 1\nframe,point,round,by,x_px,y_px\n3,elbow_r,1,{by},1,2\n", "utf-8")
        with pytest.raises(MarksError, match="line 3, column by"):
            read_repeat(path)


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("-1,elbow_r,1,ab,1,2", "column frame"),
        ("3,elbow,1,ab,1,2", 'column point: "elbow"'),
        ("3,elbow_r,0,ab,1,2", "column round: rounds count from 1"),
        ("3,elbow_r,1,ab,1,", "one coordinate of two"),
        ("3,elbow_r,1,ab,x,2", "not a number"),
        ("3,elbow_r,1,ab,1,2\n3,elbow_r,1,ab,1,2", "a second time"),
        ("", "holds no round"),
    ],
)
def test_a_file_in_disorder_is_refused_and_left_alone(tmp_path, row, said):
    path = tmp_path / "pool.repeat.csv"
    text = f"# schema = 1\nframe,point,round,by,x_px,y_px\n{row}\n"
    path.write_text(text, "utf-8")
    with pytest.raises(MarksError, match=said):
        read_repeat(path)
    assert path.read_text("utf-8") == text


def test_two_coaches_who_mark_at_once_keep_both_rounds(tmp_path):
    rng = np.random.default_rng(2)
    plan = rounds(rng, 5, {("ab", 1): 2})
    path = tmp_path / "pool.repeat.csv"
    write_repeat(path, plan)
    other = rounds(rng, 5, {("ab", 2): 2, ("cd", 1): 2})
    keep_round(path, other.rounds[0])
    back = keep_round(path, other.rounds[1])
    assert [r.key for r in back.rounds] == [("ab", 1), ("ab", 2), ("cd", 1)]
    np.testing.assert_array_equal(read_repeat(path).round("ab", 2).xy, other.rounds[0].xy)


def test_error_and_its_interval_find_the_hand_that_made_the_marks():
    """300 studies of 12 frames: the interval of each coach's error holds his true one in 95 % of them."""
    rng = np.random.default_rng(4)
    held = []
    for _ in range(300):
        error = marking_error(rounds(rng, 12, {("ab", 1): 2, ("ab", 2): 2, ("ab", 3): 2}))
        every, elbow = error.of("ab"), error.of("ab", "elbow_r")
        assert (every.spread.dof, elbow.spread.dof) == (12 * 3 * 2 * 2, 12 * 2 * 2)
        held.append([e.spread.sd.low < 2 < e.spread.sd.high for e in (every, elbow)])
    np.testing.assert_allclose(np.mean(held, 0), 0.95, atol=3 * np.sqrt(0.95 * 0.05 / 300))


def test_what_differs_between_coaches_is_found_apart_from_their_noise():
    rng = np.random.default_rng(5)
    found = []
    for _ in range(200):
        offsets = {"ab": rng.normal(0, 1.5, (3, 2)), "cd": rng.normal(0, 1.5, (3, 2))}
        error = marking_error(rounds(rng, 15, {(by, k): 2 for by in ("ab", "cd") for k in (1, 2)}, offsets))
        found.append(error.between_px**2)
        pair = error.between[1]
        truth = offsets["ab"][1] - offsets["cd"][1]
        assert (pair.first, pair.second, pair.point) == ("ab", "cd", "elbow_r")
        assert pair.bias[0].value == pytest.approx(truth[0], abs=2.5)
    # Six figures of chi-square kind each: 3 standard errors of their mean over 200 studies are 0.28 px^2.
    assert np.mean(found) == pytest.approx(1.5**2, abs=0.3)
    none = [
        marking_error(rounds(rng, 15, {(by, k): 2 for by in ("ab", "cd") for k in (1, 2)})).between_px
        for _ in range(50)
    ]
    assert np.median(none) < 0.35


def test_a_shift_between_rounds_is_told_and_counts_as_error():
    rng = np.random.default_rng(6)
    plan = rounds(rng, 40, {("ab", 1): 1, ("ab", 2): 1})
    moved = Round("ab", 2, plan.rounds[1].xy + np.array([3.0, 0.0]), plan.rounds[1].hidden)
    error = marking_error(plan.with_round(moved)).of("ab")
    assert error.shift[0].low < 3 < error.shift[0].high
    assert error.shift[1].low < 0 < error.shift[1].high
    # Half of the coordinates carry 3^2 / 2 more: 1 + 4.5 / 2.
    assert error.sigma_px == pytest.approx(np.sqrt(1 + 4.5 / 2), rel=0.1)


def test_points_marked_once_or_not_at_all_get_the_error_of_all_together():
    rng = np.random.default_rng(7)
    plan = rounds(rng, 30, {("ab", 1): 2, ("ab", 2): 2})
    plan.rounds[1].xy[4:, 2] = np.nan
    error = marking_error(plan)
    assert error.sigma_for("fingertip_r", "ab") == error.sigma_for("knee_l", "ab") == error.of("ab").sigma_px
    assert error.sigma_for("elbow_r", "ab") == error.of("ab", "elbow_r").sigma_px
    with pytest.raises(MarksError, match="a second time"):
        error.sigma_for("elbow_r", "cd")
    with pytest.raises(MarksError, match="a second time"):
        marking_error(rounds(rng, 30, {("ab", 1): 2})).sigma_for("elbow_r", "ab")


def test_the_marks_of_a_coach_take_his_error_over_as_one_change(tmp_path):
    rng = np.random.default_rng(8)
    error = marking_error(rounds(rng, 30, {("ab", 1): 3, ("ab", 2): 3}))
    times = np.arange(N) / 60
    with MarkStore(tmp_path / "pool.csv", times, by="ab") as store:
        store.put_marks(marked(arm(40)))
        store.put_marks(Marks.from_arrays(["hip_r"], [3], np.array([[[5.0, 6.0]]]), origin=Origin.tracked))
        store.put_marks(Marks.from_arrays(["knee_r"], [3], np.array([[[5.0, 6.0]]])), by="cd")
        before = store.marks
        assert take_over(store, error) == 40 * 3
        after = store.marks
        np.testing.assert_array_equal(after.xy, before.xy)
        np.testing.assert_array_equal(after.origin, before.origin)
        for point in POINTS:
            assert set(after.pick([point]).sigma_px[:40, 0]) == {error.sigma_for(point, "ab")}
        assert store.at(3)["hip_r"].sigma_px == store.at(3)["knee_r"].sigma_px == 2.0
        assert store.at(3)["knee_r"].by == "cd"
        assert store.undo()
        np.testing.assert_array_equal(store.marks.sigma_px, before.sigma_px)


def test_the_text_names_every_figure_with_its_unit():
    rng = np.random.default_rng(9)
    text = marking_error(rounds(rng, 30, {(by, k): 2 for by in ("ab", "cd") for k in (1, 2)})).text()
    assert "ab, all points: error" in text
    assert "smallest change worth believing" in text
    assert "ab against cd, elbow_r" in text
    assert "ICC(2,1)" in text
    assert "nan" not in text
