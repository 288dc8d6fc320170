"""The trunk's tilt where the near shoulder is hidden for a part of each cycle, against the whole of the cycle."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from demo_shots import EVERYTHING, filmed, joint

from casebook.checkpoints.bands import load_bands
from casebook.checkpoints.body_line import PART_HIDDEN, measure_body_line
from casebook.checkpoints.finding import Finding
from casebook.demo.swimmer import Swimmer
from casebook.stroke.body import completed, cycle_means

SWIMMERS = [
    Swimmer(rate=r, roll=roll, hip_roll=h, pitch=p, variation=0.6, seed=k, breath_every=2)
    for k, (r, roll, h, p) in enumerate([(38, 45, 20, 4), (44, 35, 12, 8), (49, 50, 25, 5), (55, 30, 15, 6)])
]


@cache
def filmed_line(swimmer):
    """Shoulder from hip without noise (N, 2), its cycles, its clock. [px]"""
    _, marks, plane, truth = filmed(swimmer, seconds=5.0, marked=EVERYTHING)
    shoulder, hip = (plane.level(marks.pick([f"{n}_r"]).xy[:, 0]) for n in ("shoulder", "hip"))
    return shoulder - hip, np.arange(0.1, 5.0, swimmer.period_s), truth.times


def tilts(line):
    return np.degrees(np.arctan2(line[:, 1], line[:, 0]))


@pytest.mark.parametrize(("hidden", "widest"), [(0.2, 0.6), (0.35, 2.0), (0.48, 7.5)])
def test_intervals_hold_the_tilt_of_the_whole_cycle_whatever_part_is_hidden(hidden, widest):
    """Own measurement over 1,500 cycles of 14 swimmers: 99 % at a fifth hidden, 98 % at a third, 100 % at half."""
    rng, off, sigmas = np.random.default_rng(0), [], []
    for swimmer in SWIMMERS:
        line, starts, t = filmed_line(swimmer)
        noise = np.full(len(t), 2.0 * np.sqrt(2))
        whole = tilts(cycle_means(t, line, noise, starts).value)
        for first in np.arange(0, 1, 0.1):
            gone = (((t - starts[0]) / swimmer.period_s - first) % 1) < hidden
            seen = np.where(gone[:, None], np.nan, line + rng.normal(0, 2.0 * np.sqrt(2), line.shape))
            got = completed(cycle_means(t, seen, noise, starts), t, seen, noise, starts)
            known = np.isfinite(got.value[:, 0])
            off += (tilts(got.value) - whole)[known].tolist()
            sigmas += np.degrees(got.sigma / np.linalg.norm(got.value, axis=-1))[known].tolist()
    inside = np.mean(np.abs(off) < 1.96 * np.array(sigmas))
    assert inside > 0.92
    assert 1.96 * np.mean(sigmas) < widest
    # As many cycles as there are: none is refused up to half hidden.
    assert len(off) > 100


def test_a_cycle_hidden_by_more_than_half_stays_unmeasured():
    line, starts, t = filmed_line(SWIMMERS[0])
    gone = (((t - starts[0]) / SWIMMERS[0].period_s) % 1) < 0.6
    seen, noise = np.where(gone[:, None], np.nan, line), np.ones(len(t))
    assert not completed(cycle_means(t, seen, noise, starts), t, seen, noise, starts).told.any()


def test_the_checkpoint_measures_a_trunk_whose_shoulder_the_arm_hides_and_says_so():
    swimmer = SWIMMERS[1]
    shot, marks, plane, truth = filmed(swimmer, seconds=6.0, sigma=2.0, marked=EVERYTHING)
    whole = measure_body_line(shot, marks, plane, bands=load_bands("distance")).get("trunk_tilt_deg", "r")
    column = marks.index("shoulder_r")
    marks.xy[((truth.times / swimmer.period_s) % 1) < 0.35, column] = np.nan
    found = measure_body_line(shot, marks, plane, bands=load_bands("distance")).get("trunk_tilt_deg", "r")
    d = (joint(truth, "shoulder_r") - joint(truth, "hip_r")).mean(0)
    assert isinstance(found, Finding)
    assert PART_HIDDEN in found.notes and PART_HIDDEN not in whole.notes
    assert found.these.low < np.degrees(np.arctan2(d[2], d[0])) < found.these.high
    assert found.these.half >= whole.these.half
