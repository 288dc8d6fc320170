"""Distance, speed and its swing from a hip whose way is written down."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from made_strokes import stroke

from casebook.clip.shot import Shot, Swim
from casebook.marks.marks import Marks, Origin
from casebook.plane.plane import Plane
from casebook.stroke.speed import HIP_DEPTH, NoPath, cycle_ways, hip_path, slowing, speed_curve, swings

FPS, SPEED, CYCLE, SWING = 60.0, 1.4, 1.3, 0.10
TIMES = np.arange(360) / FPS
PX = 250.0


def way(t):
    """Mean speed with a swing of two waves a cycle: the speed is 1.4 + 0.10 sqrt(2) cos."""
    w = 4 * np.pi / CYCLE
    return SPEED * t + SWING * np.sqrt(2) * SPEED / w * np.sin(w * t)


def made(noise_px=0.0, seed=0, sigma_px=2.0, origin=Origin.hand, scale_sigma=0.02, **shot):
    clip = SimpleNamespace(n_frames=360, times=TIMES, size=(1920, 1080), path=None, times_are_nominal=False)
    x = way(TIMES) * PX + np.random.default_rng(seed).normal(0, noise_px, 360)
    marks = Marks.from_arrays(
        ["hip_r"], np.arange(360), np.stack([x, np.full(360, 400.0)], -1)[:, None], sigma_px, origin
    )
    plane = Plane.given(1, m_per_px=1 / PX, scale_sigma=scale_sigma, water_px=(0.0, 300.0))
    return Shot("a", clip, "side_under", "right", 0, 360, **shot), marks, plane


def cycles(n=4, delay=0.2):
    times = [{"entry": delay + k * CYCLE} for k in range(n)]
    return [stroke("r", k + 1, t, t["entry"] + CYCLE, sigma_s=0.004) for k, t in enumerate(times)]


def test_distance_and_speed_over_whole_cycles_are_those_of_the_way():
    path = hip_path(*made(), "r")
    for got in cycle_ways(path, cycles()):
        assert got.metres == pytest.approx(SPEED * CYCLE, abs=1e-4)
        assert got.speed == pytest.approx(SPEED, abs=1e-4)
    assert path.scale_sigma == pytest.approx(np.hypot(0.02, HIP_DEPTH))


def test_the_error_of_a_distance_is_that_of_many_markings():
    got = [cycle_ways(hip_path(*made(3.0, seed, 3.0), "r"), cycles(1))[0] for seed in range(300)]
    said = np.hypot(got[0].own_metres, 0)
    by_time = np.hypot(0.004, 0.004) * SPEED
    assert np.std([g.metres for g in got]) == pytest.approx(np.sqrt(said**2 - by_time**2), rel=0.15)


def test_the_swing_is_found_under_marking_noise_and_not_made_of_it():
    for noise, rel in ((0.0, 0.06), (2.0, 0.35)):
        path = hip_path(*made(noise, 3, max(noise, 0.01)), "r")
        got = swings(path, cycles())
        assert len(got) == 4
        assert np.mean([s.percent for s in got]) == pytest.approx(100 * SWING, rel=rel)
    still = swings(hip_path(*made(2.0, 1, 2.0), "r"), cycles())
    off = [(s.percent - 100 * SWING) / s.sigma for s in still]
    assert np.abs(off).max() < 3


def test_the_noise_of_the_speed_is_as_said():
    spread = np.std([speed_curve(hip_path(*made(2.0, s, 2.0), "r"))[0] for s in range(60)], axis=0)
    said = speed_curve(hip_path(*made(2.0, 0, 2.0), "r"))[1]
    assert np.median(spread[40:-40]) == pytest.approx(said[100], rel=0.1)


def test_slowing_in_a_part_of_the_cycle():
    path = hip_path(*made(), "r")
    # Half a wave of the slow part: the mean of a half wave is 2 / pi of its height.
    w = 4 * np.pi / CYCLE
    low = (np.pi / 2) / w, (3 * np.pi / 2) / w
    percent, sigma = slowing(path, (low[0] + CYCLE, low[1] + CYCLE), (CYCLE, 2 * CYCLE))
    assert percent == pytest.approx(100 * SWING * np.sqrt(2) * 2 / np.pi, abs=0.5)
    assert 0 < sigma < 3
    assert np.isnan(slowing(path, (1.0, 1.0), (0.5, 2.0))[0])


@pytest.mark.parametrize(
    ("changes", "word"),
    [
        ({"camera": "following"}, "camera moves"),
        ({"swim": Swim("a", place="flume")}, "flume"),
    ],
)
def test_what_the_shot_cannot_show_is_said(changes, word):
    got = hip_path(*made(**changes), "r")
    assert isinstance(got, NoPath)
    assert word in got.reason


def test_without_scale_or_hip_there_is_no_way():
    shot, marks, plane = made()
    assert "no scale" in hip_path(shot, marks, Plane.given(1), "r").reason
    assert "not marked" in hip_path(shot, marks, plane, "l").reason
    assert "side" in hip_path(replace(shot, view="top"), marks, plane, "r").reason
