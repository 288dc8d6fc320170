"""Lengths as counted: what follows from seconds and strokes, in metres and yards, and two efforts side by side."""

from __future__ import annotations

import math

import numpy as np
import pytest

from casebook.errors import CasebookError
from casebook.stroke.lengths import Length, is_clean, product, segments, side_by_side
from casebook.stroke.rate import Rate


def test_strokes_are_of_both_arms_and_a_cycle_has_two():
    one = Length("a", 1, 25, "m", 20.0, 20)
    assert one.strokes_per_min == 60
    assert one.metres_per_cycle == 2.5
    assert one.speed == 1.25
    assert one.stroke_index == pytest.approx(3.125)
    # v = SR x SL: 30 cycles a minute of 2.5 m.
    assert one.strokes_per_min / 2 / 60 * one.metres_per_cycle == pytest.approx(one.speed)


def test_a_pool_of_yards_is_paced_in_yards_and_measured_in_metres():
    one = Length("a", 1, 25, "yd", 15.0, 16)
    assert one.metres == pytest.approx(22.86)
    assert one.pace_100_s == 60
    assert one.speed == pytest.approx(22.86 / 15)


def test_what_was_not_taken_gives_nothing_and_no_zero():
    one = Length("a", 1, 25, "m", None, 20)
    assert math.isnan(one.speed)
    assert math.isnan(one.stroke_index)
    assert one.metres_per_cycle == 2.5
    assert math.isnan(one.sigma("seconds"))


def test_errors_are_those_of_many_watches_and_counts():
    rng = np.random.default_rng(0)
    one = Length("a", 1, 25, "m", 17.0, 18)
    many = [Length("a", 1, 25, "m", 17 + rng.normal(0, one.sigma("seconds")), 18).speed for _ in range(4000)]
    assert np.std(many) == pytest.approx(one.sigma("speed"), rel=0.05)
    assert one.sigma("metres_per_cycle") / one.metres_per_cycle == pytest.approx(1 / math.sqrt(12) / 18)


def test_wrong_units_and_distances_are_refused():
    with pytest.raises(CasebookError, match="unit"):
        Length("a", 1, 25, "ft")
    with pytest.raises(CasebookError, match="none"):
        Length("a", 1, 0)
    with pytest.raises(CasebookError, match="whole number"):
        segments(110, 25)


def test_a_clean_stretch_lies_between_the_turns():
    race = segments(100, 50)
    assert race.clean == ((15.0, 45.0), (60.0, 95.0))
    assert race.start + race.turns + race.finish + race.clean_m == 100
    assert segments(25, 25).clean == ((15.0, 20.0),)
    assert is_clean(12, 25, first_length=False)
    assert not is_clean(12, 25, first_length=True)
    assert not is_clean(21, 25, first_length=False)


def test_two_efforts_stand_side_by_side_with_what_the_watch_can_tell():
    easy = [Length("a", n, 25, "m", s, k) for n, (s, k) in enumerate([(21.0, 18), (21.4, 18)], 1)]
    hard = [Length("b", n, 25, "m", s, k) for n, (s, k) in enumerate([(17.0, 21), (17.1, 22)], 1)]
    changes = {c.what: c for c in side_by_side(easy, hard)}
    assert list(changes)[:2] == ["seconds", "strokes"]
    assert changes["seconds"].difference == pytest.approx(-4.15)
    assert changes["speed"].clear
    assert changes["strokes"].clear
    assert not {c.what: c for c in side_by_side(easy, easy)}["seconds"].clear
    assert "speed" not in {c.what for c in side_by_side([Length("a", 1, 25, "m", None, 18)], hard)}
    with pytest.raises(CasebookError, match="different distance"):
        side_by_side(easy, [Length("b", 1, 50, "m", 35.0, 40)])


def test_speed_rate_and_length_taken_apart_are_held_against_each_other():
    rate = Rate(45.0)
    assert product(1.5, 0.01, rate, 0.3, 2.0, 0.01).agrees
    off = product(1.5, 0.01, Rate(90.0), 0.3, 2.0, 0.01)
    assert not off.agrees
    assert off.gap_pct == pytest.approx(-50)
