"""Lengths put together as efforts; clean swimming apart; speed, rate and length held against each other."""

from __future__ import annotations

import math

import numpy as np
import pytest

from casebook.stroke.efforts import clean_of, efforts_of, fits
from casebook.stroke.lengths import Length, product
from casebook.stroke.rate import Rate

EASY = [Length("easy", n, 25, "m", s, k) for n, (s, k) in enumerate([(20.6, 18), (20.9, 19)], 1)]


def test_whole_lengths_of_one_swim_and_distance_are_one_effort_and_parts_are_none():
    part = Length("easy", 3, 10, "m", 7.6, 11, "", 10.0)
    got = efforts_of([*EASY, part, Length("easy", 4, 50, "m", 42.0, 40)])
    assert [(e.swim, len(e.lengths)) for e in got] == [("easy", 2), ("easy", 1)]
    assert got[0].mean("seconds")[0] == pytest.approx(20.75)
    assert got[0].mean("strokes")[0] == pytest.approx(18.5)


def test_what_was_not_taken_has_no_mean():
    (got,) = efforts_of([Length("a", 1, 25, "m", None, 18), Length("a", 2, 25, "m", None, 19)])
    assert got.measures == ("strokes", "metres_per_cycle")
    assert math.isnan(got.mean("seconds")[0])


def test_the_means_error_is_that_of_many_watches():
    """A watch in the hand errs by 0.15 s: the mean of two lengths by 0.15 / sqrt(2), by hand."""
    rng = np.random.default_rng(0)
    means = [
        efforts_of([Length("a", n, 25, "m", 20 + rng.normal(0, 0.15)) for n in (1, 2)])[0].mean("seconds")[0]
        for _ in range(2000)
    ]
    half = efforts_of(EASY)[0].mean("seconds")[1]
    assert half == pytest.approx(1.96 * 0.15 / math.sqrt(2), rel=1e-3)
    assert np.mean(np.abs(np.array(means) - 20) < half) == pytest.approx(0.95, abs=0.02)


@pytest.mark.parametrize(
    ("begin", "far", "number", "clean"),
    # Int J Environ Res Public Health 2020, 17(17):6257: 10 m after a turn and 5 m before one are none; 15 m of a start.
    [(10, 10, 2, True), (9, 10, 2, False), (12, 9, 2, False), (10, 10, 1, False), (15, 5, 1, True)],
)
def test_clean_is_what_race_analysis_calls_so(begin, far, number, clean):
    assert bool(clean_of([Length("a", number, far, "m", 7.0, 9, "", begin)], 25.0)) is clean


def test_a_pool_of_yards_has_its_clean_part_in_yards_too():
    # 11 yd are 10.06 m from the wall; 11 + 8 yd are 17.37 m, of a pool of 22.86 m.
    assert clean_of([Length("a", 2, 8, "yd", 5.0, 8, "", 11.0)], 22.86)
    assert not clean_of([Length("a", 2, 8, "yd", 5.0, 8, "", 10.0)], 22.86)


def test_watch_and_clip_that_agree_are_said_to_and_a_doubled_rate_is_not():
    said = fits((1.32, 0.05), product(1.32, 0.025, Rate(44.0), 0.2, 1.80, 0.06))
    assert "no more than their errors explain" in said
    assert "one is wrong" in fits((1.32, 0.05), product(1.32, 0.025, Rate(88.0), 0.2, 1.80, 0.06))
