"""Roll from in line with the swimmer: signs, the twist trap, perspective, cycles without a mark on the hands."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from casebook.stroke import roll as rolls
from casebook.stroke.points import Points, Unread

#: Andersen et al. 2020, J Strength Cond Res 34:20-25, 13 elite swimmers: ranges of shoulders, hips and twist from side
#: to side, sprint and 400 m pace. [deg]
ELITE = {"sprint": (97.7, 36.8, 78.1), "400 m": (101.6, 49.9, 61.3)}
T = np.arange(0, 6, 1 / 60)
PERIOD = 1.3


def shot(view="front_under"):
    return SimpleNamespace(view=view, clip=SimpleNamespace(size=(1280, 720)))


def bar(angle_deg, half, middle):
    """Left and right end of a line rolled by so much, left up: (T, 2, 2)."""
    a = np.radians(angle_deg)
    end = half * np.stack([np.cos(a), np.sin(a)], -1)
    return np.stack([middle + end, middle - end], -2)


def swimmer(shoulder, hip, t=T, sigma=1.5, noise=0.0, seed=0):
    level = np.concatenate([bar(shoulder, 70.0, [0.0, 10.0]), bar(hip, 34.0, [0.0, 0.0])], -2)
    level = level + np.random.default_rng(seed).normal(0, 1, level.shape) * noise
    shape = level.shape[:2]
    # The picture's y runs down; the middle of the picture is at the swimmer.
    xy = level * [1, -1] + [639.5, 359.5]
    return Points(
        rolls.POINTS, np.arange(len(t)), t, True, float(t[1] - t[0]), level, xy, np.full(shape, sigma),
        np.full(shape, True), np.zeros(shape, bool),
    )  # fmt: skip


def lagged(shoulder_range, hip_range, lag_deg):
    turn = 2 * np.pi * T / PERIOD
    return shoulder_range / 2 * np.sin(turn), hip_range / 2 * np.sin(turn - np.radians(lag_deg))


def cycles():
    return PERIOD * np.arange(4) + 0.2


def test_left_up_is_positive_and_a_roll_to_a_side_has_that_side_down():
    found = rolls.roll_of(shot(), swimmer(np.full(len(T), 30.0), np.full(len(T), -12.0)))
    assert found.shoulder == pytest.approx(30.0) and found.hip == pytest.approx(-12.0)
    assert found.twist == pytest.approx(42.0)


@pytest.mark.parametrize("pace", ELITE)
def test_the_range_of_twist_is_not_the_difference_of_the_ranges(pace):
    # The published twist is larger than shoulders minus hips (78.1 against 60.9), for the peaks do not coincide: two
    # sines of the published ranges give the published twist at one lag, by the cosine rule.
    shoulder, hip, twist = ELITE[pace]
    assert twist > shoulder - hip + 5
    lag = np.degrees(np.arccos((shoulder**2 + hip**2 - twist**2) / (2 * shoulder * hip)))
    found = rolls.roll_of(shot(), swimmer(*lagged(shoulder, hip, lag)))
    for which, value in zip(("shoulder", "hip", "twist"), ELITE[pace], strict=True):
        assert rolls.ranges(found, cycles(), which)[0] == pytest.approx(value, rel=0.012)
    assert found.twist == pytest.approx(found.shoulder - found.hip, abs=1e-9)


def test_each_side_has_its_own_peaks():
    turn = 2 * np.pi * T / PERIOD
    found = rolls.roll_of(shot(), swimmer(5 + 40 * np.sin(turn), 20 * np.sin(turn)))
    peaks = rolls.peaks_of(found)
    assert peaks.value[peaks.side == "l"] == pytest.approx(45, abs=0.5)
    assert peaks.value[peaks.side == "r"] == pytest.approx(35, abs=0.5)
    assert (peaks.side[1:] != peaks.side[:-1]).all()


def test_the_stated_error_is_that_of_the_marks():
    found = rolls.roll_of(shot(), swimmer(np.zeros(len(T)), np.zeros(len(T)), noise=1.5, seed=3))
    assert np.std(found.shoulder) == pytest.approx(found.shoulder_sigma.mean(), rel=0.15)
    assert np.std(found.hip) == pytest.approx(found.hip_sigma.mean(), rel=0.15)


def test_perspective_turns_a_line_by_no_more_than_twice_what_is_stated():
    # A shoulder a fifth of the line's length nearer to a camera that looks 10 degrees up.
    far, focal, rise = 3.0, 0.9 * 1280, np.tan(np.radians(10.0))
    left, right = (0.19, rise * far, -0.2 * 0.38), (-0.19, rise * far, 0.0)
    seen = [focal * np.array(p[:2]) / (far + p[2]) for p in (left, right)]
    tilt = np.degrees(np.arctan2(*(seen[0] - seen[1])[::-1]))
    found = rolls.roll_of(shot(), swimmer(np.zeros(len(T)), np.zeros(len(T))))
    assert 1.0 < abs(tilt) <= 2 * found.shoulder_lens.mean()
    assert (found.hip_lens < found.shoulder_lens).all()


def test_a_view_from_the_side_gives_no_number_and_says_why():
    found = rolls.roll_of(shot("side_under"), swimmer(np.zeros(len(T)), np.zeros(len(T))))
    assert isinstance(found, Unread) and "no number" in found.reason and "head-on" in found.remedy


def test_the_roll_itself_tells_the_cycles_even_where_peaks_are_hidden():
    points = swimmer(*lagged(80, 40, 20))
    points.level[(T > 1.1) & (T < 2.0), 0] = np.nan
    edges = rolls.cycles_of(rolls.roll_of(shot(), points))
    assert np.diff(edges) == pytest.approx(PERIOD, rel=0.04)


def test_cycles_keep_away_from_a_breath():
    found = rolls.roll_of(shot(), swimmer(*lagged(80, 40, 20)))
    up = PERIOD / 4 + PERIOD * np.arange(4)
    assert np.abs(rolls.cycles_of(found, up)[:, None] - up).min() > 0.3 * PERIOD
    down = up + PERIOD / 2
    assert np.abs(rolls.cycles_of(found, down)[:, None] - down).min() > 0.3 * PERIOD


def test_only_one_pair_marked_gives_that_pair_alone():
    points = swimmer(*lagged(80, 40, 20))
    points.level[:, 2:] = np.nan
    found = rolls.roll_of(shot(), points)
    assert np.isfinite(found.shoulder).all() and np.isnan(found.twist).all()
    points.level[:, 0] = np.nan
    assert isinstance(rolls.roll_of(shot(), points), Unread)
