"""Rate, length and speed against relations and rows from outside the project. Each row names its source."""

from __future__ import annotations

import pytest

from casebook.stroke.lengths import YARD_M, Length, product, segments
from casebook.stroke.rate import Rate


@pytest.mark.parametrize(
    ("cycle_s", "cycles_per_min"),
    # 60 s over the time of a cycle, by hand.
    [(1.3, 46.15), (1.5, 40.00)],
)
def test_a_cycle_time_is_its_rate(cycle_s, cycles_per_min):
    assert Rate.of_period(cycle_s).cycles_per_min == pytest.approx(cycles_per_min, abs=0.005)


def test_a_frequency_in_hertz_counts_cycles_and_not_strokes():
    """Andersen, Sinclair, McCabe & Sanders 2020, J Strength Cond Res 34:20-25: 13 swimmers sprinted at 0.95 Hz.

    By hand that is 57 cycles a minute.
    """
    rate = Rate.of_period(1 / 0.95)
    assert rate.cycles_per_min == pytest.approx(57.0)
    assert rate.strokes_per_min == pytest.approx(114.0)
    assert rate.possible


def test_speed_is_rate_times_length():
    """Elite girls of 13-14 y, 100 m freestyle, as quoted second-hand: 1.59 m/s, 1.90 m/cycle, 0.84 cycles/s.

    The product is 0.4 % off by the rounding of the printed figures.
    """
    got = product(1.59, 0.005, Rate(0.84 * 60), 0.005 * 60, 1.90, 0.005)
    assert abs(got.gap_pct) < 0.5
    assert got.agrees


def test_the_stroke_index_is_speed_times_distance_per_cycle():
    """Costill et al. 1985, Int J Sports Med 6:266-270, doi 10.1055/s-2008-1025849; worked: 1.59 x 1.90 = 3.021."""
    # 26.33 strokes over 25 m are 1.90 m a cycle; a whole number of strokes stands in: 100 m in 105 strokes.
    one = Length("a", 1, 99.75, "m", 99.75 / 1.59, 105)
    assert one.metres_per_cycle == pytest.approx(1.90)
    assert one.stroke_index == pytest.approx(3.021)


def test_a_race_is_parted_as_in_race_analysis():
    """100 m short course: 45 m turns, 35 m clean, 15 m start, 5 m finish.

    Int J Environ Res Public Health 2020, 17(17):6257, doi 10.3390/ijerph17176257: start to 15 m, turn from 5 m before
    to 10 m after the wall, finish from 95 m.
    """
    race = segments(100, 25)
    assert (race.turns, race.clean_m, race.start, race.finish) == (45, 35, 15, 5)


def test_splits_of_a_final_add_up():
    """Men's 100 m freestyle, a world-championship final, mean of eight: 22.85 + 25.04 s, stated difference 2.19 s."""
    first, second = Length("a", 1, 50, "m", 22.85), Length("a", 2, 50, "m", 25.04)
    assert second.seconds - first.seconds == pytest.approx(2.19)
    assert 2 / (1 / first.speed + 1 / second.speed) == pytest.approx(100 / 47.89)


@pytest.mark.parametrize(
    ("seconds", "speed"),
    # World records of the 100 m freestyle: men 1905 and 2000, women 2004 (data set SwimRecords, R package mosaicData).
    [(65.80, 1.520), (47.84, 2.090), (53.52, 1.868)],
)
def test_world_records_give_their_speed(seconds, speed):
    assert Length("a", 1, 100, "m", seconds).speed == pytest.approx(speed, abs=5e-4)


def test_a_yard_is_the_international_one():
    """0.9144 m exactly, by the agreement of 1959; common knowledge."""
    assert pytest.approx(22.86) == YARD_M * 25
