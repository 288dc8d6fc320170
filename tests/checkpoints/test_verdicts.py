"""Two intervals and the verdict, by the table of their definition."""

from __future__ import annotations

import numpy as np
import pytest

from casebook.checkpoints.finding import Band, Interval
from casebook.checkpoints.verdict import habit, these_strokes, verdict


def band(low=None, high=None, margin=3.0, on=True):
    return Band("hand_ahead_pct", low, high, margin, "%", "common practice, no source", "distance", on)


@pytest.mark.parametrize(
    ("value", "half", "edges", "expected"),
    [
        (25, 2, (20, None), "within"),
        (22, 2, (20, None), "within"),
        (21, 2, (20, None), "undecided"),
        (19, 2, (20, None), "undecided"),
        (17.5, 1, (20, None), "near"),
        (17, 1, (20, None), "outside"),
        (10, 2, (20, None), "outside"),
        (10, 2, (None, 16), "within"),
        (18, 1, (None, 16), "near"),
        (20, 1, (None, 16), "outside"),
        (10, 1, (4, 18), "within"),
        (10, 9, (4, 18), "undecided"),
        (3, 2, (4, 18), "undecided"),
        (2, 1, (4, 18), "near"),
        (30, 1, (4, 18), "outside"),
        (10, 1, (None, None), "shown"),
    ],
)
def test_the_verdict_follows_its_table(value, half, edges, expected):
    assert verdict(value, Interval(value - half, value + half), band(*edges)) == expected


def test_a_band_that_is_switched_off_or_absent_judges_nothing():
    assert verdict(0, Interval(-1, 1), band(20, on=False)) == "shown"
    assert verdict(0, Interval(-1, 1), None) == "shown"


def test_an_interval_that_is_not_known_decides_nothing():
    assert verdict(10, Interval(np.nan, np.nan), band(4, 18)) == "undecided"


def test_independent_errors_shrink_with_the_strokes_and_common_ones_do_not():
    one = these_strokes([10.0], [2.0], 0.0)
    four = these_strokes([10.0] * 4, [2.0] * 4, 0.0)
    assert one.half == pytest.approx(1.96 * 2, abs=1e-3)
    assert four.half == pytest.approx(one.half / 2)
    assert these_strokes([10.0] * 10_000, [2.0] * 10_000, 1.5).half == pytest.approx(1.96 * 1.5, rel=1e-3)


@pytest.mark.parametrize(("n", "t"), [(3, 4.303), (4, 3.182), (10, 2.262)])
def test_the_habit_takes_student_s_t_from_the_printed_table(n, t):
    # t of 97.5 % for n - 1 degrees of freedom: from memory, as printed in any statistics text.
    values = np.arange(n, dtype=float)
    expected = t * values.std(ddof=1) / np.sqrt(n)
    assert habit(values, 0.0).half == pytest.approx(expected, rel=2e-4)


def test_there_is_no_habit_under_three_strokes():
    assert habit([1.0, 2.0], 0.1) is None


def test_what_all_strokes_share_widens_the_habit():
    assert habit([5.0, 5.0, 5.0], 2.0).half == pytest.approx(1.96 * 2, rel=1e-4)
