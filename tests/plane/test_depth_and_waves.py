"""Depth below the water: the straight line, waves through clicked places, and how sure both are."""

from __future__ import annotations

import math

import numpy as np
import pytest
from plane_makers import length, line, shot

from casebook.demo.water import WAVES
from casebook.errors import CasebookError
from casebook.plane.depth import depth_of, head_over_water
from casebook.plane.make import plane_of
from casebook.plane.plane import Plane
from casebook.plane.waves import curve_through, water_curve

LEVEL = Plane.given(1, m_per_px=0.003, tilt_deg=3.0, water_px=(640, 150))


def test_depth_is_positive_below_the_water_and_negative_above():
    xy = LEVEL.picture([[100.0, -80.0], [100.0, 20.0]])
    depth = depth_of(LEVEL, xy, 2.0)
    np.testing.assert_allclose(depth.px, [80, -20], atol=1e-9)
    np.testing.assert_allclose(depth.m, [0.24, -0.06], atol=1e-12)
    np.testing.assert_allclose(depth.sigma_px, 2.0)
    assert (depth.common_px == 0).all()


def test_depth_needs_a_water_line_and_centimetres_a_scale():
    with pytest.raises(CasebookError, match="No water line"):
        depth_of(Plane.given(1, m_per_px=0.003), [1.0, 2.0], 2.0)
    bare = depth_of(Plane.given(1, water_px=(0, 0)), [0.0, 10.0], 2.0)
    assert bare.px == 10
    assert np.isnan(bare.m)
    assert "no depth" in head_over_water(bare)


def test_sentence_says_which_side_of_the_water():
    plane = Plane.given(1, m_per_px=0.002, water_px=(0, 100))
    assert head_over_water(depth_of(plane, [0.0, 70.0], 2.0)) == "6 cm above the water, give or take 1"
    assert head_over_water(depth_of(plane, [0.0, 130.0], 2.0)) == "6 cm below the water, give or take 1"


def test_errors_of_depth_match_random_draws():
    random = np.random.default_rng(0)
    water, place = np.array([[100.0, 150.0], [1150.0, 180.0]]), np.array([900.0, 420.0])
    drawn_px, drawn_m = [], []
    for _ in range(3000):
        w, tape = water + random.normal(0, 2, (2, 2)), 500 + random.normal(0, 2 * math.sqrt(2))
        plane = plane_of(shot(), [line(w)], [length(tape, 1.5, what="pole")])
        found = depth_of(plane, place + random.normal(0, 2, 2), 2.0)
        drawn_px.append(float(found.px))
        drawn_m.append(float(found.m))
    said = depth_of(plane_of(shot(), [line(water)], [length(500, 1.5, what="pole")]), place, 2.0)
    assert np.std(drawn_px) == pytest.approx(np.hypot(said.sigma_px, said.common_px), rel=0.05)
    assert np.std(drawn_m) == pytest.approx(np.hypot(said.sigma_m, said.common_m), rel=0.05)


def waves(seed: int, high: float = 1.0):
    """Waves of the demo's water along a line, in pixels of 3 mm, and their height at places."""
    phase = np.random.default_rng(seed).uniform(0, 2 * np.pi, len(WAVES))

    def height(x_px):
        x = np.asarray(x_px, float) * 0.003
        return high * sum(s * np.sin(k * x + p) for (k, s), p in zip(WAVES[:, [0, 3]], phase, strict=True)) / 0.003

    return height


def clicked(height, x: np.ndarray, sigma: float, seed: int) -> np.ndarray:
    random = np.random.default_rng(seed)
    return LEVEL.picture(np.stack([x, height(x) + random.normal(0, sigma, len(x))], -1))


@pytest.mark.parametrize("high", [0.0, 1.0, 3.0])
def test_curve_and_its_error_hold_the_waves(high):
    x, at = np.linspace(-500, 500, 9), np.linspace(-480, 480, 33)
    off, said = [], []
    for seed in range(40):
        height = waves(seed, high)
        curve = curve_through(LEVEL, clicked(height, x, 2.0, seed), 2.0)
        found, sigma = curve.height(at)
        off.append(found - height(at))
        said.append(sigma)
    # Real waves are no random curve of one length: coverage is asked for loosely, and it must not be bought by width.
    assert 0.85 < np.mean(np.abs(off) < 1.96 * np.array(said)) <= 1.0
    assert np.sqrt(np.mean(np.square(off))) < (1.5 if high == 0 else 2.5 if high == 1 else 5.5)
    if high == 3.0:
        straight = np.sqrt(np.mean([waves(s, high)(at) ** 2 for s in range(40)]))
        assert np.sqrt(np.mean(np.square(off))) < straight / 3


def test_curve_grows_unsure_away_from_its_places():
    curve = curve_through(LEVEL, clicked(waves(3, 3.0), np.linspace(-300, 300, 7), 1.0, 3), 1.0)
    _, sigma = curve.height([0.0, 600.0, 1500.0])
    assert sigma[0] < sigma[1] < sigma[2]
    assert sigma[2] > 5 * sigma[0]


def test_depth_below_a_wave_counts_from_the_wave():
    height = waves(5, 3.0)
    x = np.linspace(-500, 500, 15)
    curve = curve_through(LEVEL, clicked(height, x, 0.5, 5), 0.5)
    head = np.array([150.0, float(height(150.0)) - 60.0])
    by_wave = depth_of(LEVEL, LEVEL.picture(head), 2.0, curve)
    assert by_wave.px == pytest.approx(60, abs=3 * float(by_wave.sigma_px))
    assert abs(float(by_wave.px) - 60) < abs(float(depth_of(LEVEL, LEVEL.picture(head), 2.0).px) - 60)
    assert by_wave.sigma_px > 2.0


def test_waves_clicked_in_one_frame_do_not_carry_the_errors_of_the_straight_line():
    plane = plane_of(shot(), [line([[100, 150], [1150, 170]], sigma=6.0)], [length(500, 1.5)])
    curve = curve_through(plane, [[200, 152], [600, 160], [1000, 168]], 1.0)
    place = [700.0, 400.0]
    assert depth_of(plane, place, 1.0, curve).common_px == pytest.approx(0, abs=1e-9)
    assert depth_of(plane, place, 1.0).common_px > 3


def test_pieces_of_a_frame_make_its_curve_and_other_frames_do_not():
    pieces = [line([[100, 150], [300, 158]], frame=4), line([[500, 150], [700, 160]], frame=4), line([[0, 9], [9, 9]])]
    plane = plane_of(shot(), pieces[:2])
    assert len(water_curve(plane, pieces, 4).x_px) == 4
    with pytest.raises(CasebookError, match="three or more places"):
        water_curve(plane, pieces, 0)
    with pytest.raises(CasebookError, match="No still water line"):
        water_curve(plane_of(shot()), pieces, 4)
