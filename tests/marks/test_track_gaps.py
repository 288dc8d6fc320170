"""Where tracking may happen at all, and what the marks alone foretell there. No picture needed."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.interpolate import CubicHermiteSpline

from casebook.marks.agreement import LONG_GAP_S, WORST_SIGMA_PX, Way, join
from casebook.marks.gaps import gaps_between
from casebook.marks.marks import Marks, Origin

TIMES = np.arange(40) / 60
LONG = round(LONG_GAP_S * 60)


def marks_at(frames, xy, origin=Origin.hand, points=("wrist_l",), sigma_px=2.0) -> Marks:
    return Marks.from_arrays(
        points, frames, np.asarray(xy, float).reshape(len(frames), len(points), 2), sigma_px, origin
    )


def test_only_frames_between_two_marks_of_a_point_are_open():
    gaps = gaps_between(marks_at([3, 6, 7, 10], np.arange(8)), ["wrist_l"], 0, 20, TIMES)
    assert gaps.first == 3
    assert (gaps.first + np.flatnonzero(gaps.open[:, 0])).tolist() == [4, 5, 8, 9]
    assert [(s.start, s.stop) for s in gaps.stretches()] == [(0, 4), (4, 8)]


@pytest.mark.parametrize("origin", [Origin.drafted, Origin.tracked])
def test_what_no_coach_has_placed_is_not_followed_from(origin):
    gaps = gaps_between(marks_at([0, 9], np.arange(4), origin), ["wrist_l"], 0, 20, TIMES)
    assert not gaps.open.any() and not gaps.stretches()


def test_confirmed_marks_count_as_the_coachs_own():
    assert gaps_between(marks_at([0, 9], np.arange(4), Origin.confirmed), ["wrist_l"], 0, 20, TIMES).open.sum() == 8


def test_nothing_is_open_on_either_side_of_a_hidden_mark():
    marks = marks_at([0, 5, 10, 15], np.arange(8))
    marks.xy[2], marks.sigma_px[2], marks.hidden[2] = np.nan, np.nan, True
    gaps = gaps_between(marks, ["wrist_l"], 0, 20, TIMES)
    assert np.flatnonzero(gaps.open[:, 0]).tolist() == [1, 2, 3, 4]


def test_marks_outside_the_shot_do_not_count():
    gaps = gaps_between(marks_at([0, 5, 10], np.arange(6)), ["wrist_l"], 4, 20, TIMES)
    assert (gaps.first + np.flatnonzero(gaps.open[:, 0])).tolist() == [6, 7, 8, 9]


def test_a_point_without_marks_is_a_column_without_gaps():
    gaps = gaps_between(marks_at([0, 5], np.arange(4)), ["wrist_l", "toe_r"], 0, 20, TIMES)
    assert gaps.open[:, 0].any() and not gaps.open[:, 1].any()
    assert not len(gaps_between(Marks.empty((), []), ["toe_r"], 0, 20, TIMES).open)


def test_the_foretold_path_is_the_cubic_hermite_curve_of_a_library():
    # Source: scipy.interpolate.CubicHermiteSpline with slopes by numpy.gradient.
    frames, rng = np.array([2, 5, 11, 12, 20]), np.random.default_rng(3)
    xy = rng.uniform(0, 500, (5, 2))
    gaps = gaps_between(marks_at(frames, xy), ["wrist_l"], 0, 30, TIMES)
    expected = CubicHermiteSpline(frames, xy, np.gradient(xy, frames, axis=0), axis=0)(np.arange(2, 21))
    np.testing.assert_allclose(gaps.path[:, 0], expected, atol=1e-9)


def test_an_even_motion_has_no_bend_and_a_turning_one_has():
    frames = [0, 4, 8, 12]
    even = gaps_between(marks_at(frames, [0, 0, 10, 4, 20, 8, 30, 12]), ["wrist_l"], 0, 13, TIMES)
    turning = gaps_between(marks_at(frames, [0, 0, 10, 4, 10, 8, 0, 12]), ["wrist_l"], 0, 13, TIMES)
    assert even.bend[5:8].max() < 1e-12 < 0.5 < turning.bend[5:8].min()


def test_where_a_run_of_marks_ends_the_path_is_doubted_more():
    gaps = gaps_between(marks_at([0, 4, 8, 12], [0, 0, 10, 4, 20, 8, 30, 12]), ["wrist_l"], 0, 13, TIMES)
    assert gaps.bend[1:4].min() == gaps.bend[9:12].min() > 0.5 > gaps.bend[5:8].max()


def ways(gaps, offset_on, offset_back, drift_on=1.0, drift_back=1.0):
    """Two ways that keep to the path but for an offset. [px]"""
    made = []
    for offset, drift in ((offset_on, drift_on), (offset_back, drift_back)):
        xy = np.where(gaps.open[..., None], gaps.path + np.asarray(offset, float), np.nan)
        made.append(Way(xy, np.broadcast_to(np.eye(2) * drift, (*gaps.open.shape, 2, 2)).copy()))
    return made


def test_ways_that_never_meet_count_in_a_short_gap_only():
    for length in (LONG, LONG + 1):
        gaps = gaps_between(marks_at([0, length], [0, 0, 40, 0]), ["wrist_l"], 0, 20, TIMES)
        on, back = ways(gaps, (0, 0), (0, 0))
        on.xy[4:], back.xy[:8] = np.nan, np.nan
        xy, _ = join(on, back, gaps, slice(0, length + 1), 1.0)
        assert np.isfinite(xy).any() == (length == LONG)


def joined(offset_on, offset_back, *drifts, sigma_px=0.5, unit=1.0):
    gaps = gaps_between(marks_at([0, 11], [0, 0, 40, 0], sigma_px=sigma_px), ["wrist_l"], 0, 20, TIMES)
    on, back = ways(gaps, offset_on, offset_back, *drifts)
    xy, sigma = join(on, back, gaps, slice(0, 12), unit)
    return (xy - gaps.path)[1:11, 0], sigma[1:11, 0]


def test_the_answer_that_lost_less_weighs_more():
    away, _ = joined((0, 0), (1, 1), 1.0, 9.0)
    np.testing.assert_allclose(away, (1.0 + 0.25 + 0.0025) / (10 + 2 * 0.2525), atol=1e-9)


def test_disagreement_becomes_error():
    agreed, apart = joined((0, 0), (0, 0))[1], joined((0, 0), (8, 0))[1]
    assert (apart > agreed).all()
    assert apart[4] > 1.2 * apart[0], "most in the middle, where neither mark is near"


def test_where_one_answer_stands_alone_it_is_trusted_less():
    both, one = joined((0, 0), (0, 0))[1], joined((0, 0), (np.nan, np.nan))[1]
    assert (one > both).all()


def test_where_the_two_contradict_each_other_an_answer_alone_is_worth_nothing():
    gaps = gaps_between(marks_at([0, 11], [0, 0, 40, 0]), ["wrist_l"], 0, 20, TIMES)
    for apart, stands in ((2.0, True), (9.0, False)):
        on, back = ways(gaps, (0, 0), (apart, 0))
        back.xy[3:6] = np.nan
        xy, sigma = join(on, back, gaps, slice(0, 12), 1.0)
        held = np.isfinite(xy[1:11, 0, 0])
        np.testing.assert_array_equal(held, stands | ~np.isin(np.arange(1, 11), [3, 4, 5]))
        np.testing.assert_array_equal(held, np.isfinite(sigma[1:11, 0]))


def test_what_both_lost_is_unmarked():
    away, sigma = joined((np.nan, np.nan), (np.nan, np.nan))
    assert np.isnan(away).all() and np.isnan(sigma).all()


def test_a_place_too_unsure_is_unmarked():
    away, sigma = joined((0, 0), (0, 0), 900.0, 900.0)
    assert np.isnan(sigma).all() and np.isnan(away).all()
    assert np.isfinite(joined((0, 0), (0, 0), 900.0, 900.0, unit=4.0)[1]).all(), (
        f"{WORST_SIGMA_PX} px grow with the picture"
    )


def test_the_error_of_the_marks_is_part_of_it():
    # Two independent marks of 2 px, equal weights: 2 / sqrt(2).
    exact, rough = joined((0, 0), (0, 0), 0.1, 0.1, sigma_px=0.01)[1], joined((0, 0), (0, 0), 0.1, 0.1, sigma_px=2.0)[1]
    np.testing.assert_allclose(rough**2 - exact**2, 2.0, atol=0.01)
