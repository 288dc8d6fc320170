"""Directions against scipy's circular statistics, a study's own figures, and simulated von Mises directions."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from casebook.stroke.circular import BANDS, directions, phase_at, phase_band, rayleigh, resultant, wrapped

#: Martinez Sobrino, Veiga and Navandar, Eur J Hum Mov, article 418: relative phase of arms and legs of eight swimmers
#: at their 400 m speed, four ways to pair them; mean and standard deviation. [deg]
STUDY = ((355.9, 32.7), (0.5, 38.7), (352.9, 35.1), (17.5, 33.0))


def test_the_studys_four_means_are_in_phase_by_its_own_bands():
    assert phase_band([mean for mean, _ in STUDY]).tolist() == [BANDS[0]] * 4
    assert phase_band([180, 90, 270, 330, 30, 150, 210, 31, 149]).tolist() == [
        "anti-phase", "out of phase", "out of phase", "in phase", "in phase", "anti-phase", "anti-phase",
        "out of phase", "out of phase",
    ]  # fmt: skip


def test_the_mean_of_two_of_them_is_not_the_arithmetic_one():
    # 355.9 and 0.5: scipy says 358.2; the arithmetic mean, 178.2, points the other way.
    assert directions([355.9, 0.5]).mean == pytest.approx(358.2, abs=1e-9)
    assert stats.circmean([355.9, 0.5], high=360) == pytest.approx(358.2, abs=1e-9)


@pytest.mark.parametrize("seed", range(5))
def test_mean_length_and_spread_are_those_of_scipy(seed):
    rng = np.random.default_rng(seed)
    angles = np.degrees(rng.vonmises(rng.uniform(-3, 3), rng.uniform(0.3, 8), 12)) % 360
    ours = directions(angles)
    radians = np.radians(angles)
    assert np.cos(np.radians(ours.mean) - stats.circmean(radians)) == pytest.approx(1, abs=1e-12)
    assert ours.length == pytest.approx(1 - stats.circvar(radians), abs=1e-12)
    assert np.radians(ours.spread) == pytest.approx(stats.circstd(radians), abs=1e-9)
    length = stats.directional_stats(np.stack([np.cos(radians), np.sin(radians)], 1)).mean_resultant_length
    assert resultant(angles)[1] == pytest.approx(length, abs=1e-12)


@pytest.mark.parametrize(("kappa", "n"), [(2.0, 8), (4.0, 5), (8.0, 4), (8.0, 12), (30.0, 3)])
def test_the_interval_holds_the_true_mean_of_von_mises_directions(kappa, n):
    # 95 % meant; an interval of few directions may err on the wide side, never on the narrow one.
    rng = np.random.default_rng(11)
    held = 0
    for angles in np.degrees(rng.vonmises(2.0, kappa, (2000, n))):
        found = directions(angles)
        held += abs(wrapped(found.mean - np.degrees(2.0), -180.0)) <= found.half
    assert 0.94 <= held / 2000 <= 1.0


def test_the_interval_of_well_gathered_directions_is_students():
    # On a short arc a circle is a line: mean plus or minus t times s over the square root of n.
    angles = np.array([9.0, 11.5, 10.2, 8.4, 12.1, 10.8])
    line = stats.t.interval(0.95, 5, angles.mean(), stats.sem(angles))
    assert directions(angles).half == pytest.approx((line[1] - line[0]) / 2, rel=2e-3)


@pytest.mark.parametrize("n", [4, 8, 20])
def test_chance_is_how_often_directions_of_no_preference_agree_so_well(n):
    rng = np.random.default_rng(3)
    length = resultant(rng.uniform(0, 360, (20000, n)))[1]
    for share in (0.3, 0.1, 0.05):
        assert np.mean([rayleigh(r, n) < share for r in length]) == pytest.approx(share, abs=0.02)


def test_a_phase_counts_from_beat_to_beat_whatever_their_distance():
    assert phase_at([0.0, 0.5, 1.0, 1.5, 3.0], [0.0, 1.0, 3.0]) == pytest.approx([0, 180, 0, 90, 0])
    assert np.isnan(phase_at([-0.1, 3.1], [0.0, 1.0, 3.0])).all()
    assert np.isnan(phase_at([0.5], [0.0])).all()


def test_no_direction_is_made_up():
    assert directions([]).n == 0 and np.isnan(directions([np.nan]).mean)
    assert np.isnan(directions([10.0, 20.0]).half)
    opposite = directions([0.0, 180.0, 90.0, 270.0])
    assert opposite.length == pytest.approx(0, abs=1e-12) and opposite.half == 180.0
