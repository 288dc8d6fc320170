"""Level and still water from marked lines: known lines, noise by random draws, and water that moves."""

from __future__ import annotations

import math

import numpy as np
import pytest
from plane_makers import lifted, line, turned

from casebook.errors import CasebookError
from casebook.plane.water import LEAST_SIGMA_PX, fit_direction, fit_water

ROW = np.array([[100.0, 200.0], [1100.0, 235.0]])
TILT = math.atan2(35, 1000)


def test_one_line_is_the_line_itself():
    fit = fit_water([line(ROW, sigma=2.0)])
    assert fit.tilt_rad == pytest.approx(TILT)
    np.testing.assert_allclose(fit.anchor_px, [600, 217.5])
    # Two ends, each 2 px off across the line, 1000 px apart.
    assert fit.tilt_sigma_rad == pytest.approx(2 * math.sqrt(2) / np.hypot(1000, 35))
    assert fit.offset_sigma_px == pytest.approx(2 / math.sqrt(2))
    assert fit.moves_px == 0


def test_it_does_not_matter_which_end_was_marked_first():
    a, b = fit_water([line(ROW)]), fit_water([line(ROW[::-1])])
    assert a.tilt_rad == pytest.approx(b.tilt_rad)


def test_pieces_of_one_line_on_several_frames_are_one_long_line():
    along = np.array([math.cos(TILT), math.sin(TILT)])
    pieces = [line([ROW[0] + s * along, ROW[0] + (s + 100) * along], frame=i) for i, s in enumerate((0, 400, 900))]
    fit = fit_water(pieces)
    assert fit.tilt_rad == pytest.approx(TILT, abs=1e-9)
    assert fit.tilt_sigma_rad < fit_water(pieces[:1]).tilt_sigma_rad / 5
    assert fit.moves_px == 0


def test_well_marked_line_outweighs_a_poor_one():
    off = lifted(ROW, 30)
    fit = fit_water([line(ROW, sigma=1.0), line(off, sigma=30.0)])
    assert fit.anchor_px[1] == pytest.approx(217.5 + 30 / 901, abs=1e-6)


def test_errors_of_the_fit_match_random_draws():
    random = np.random.default_rng(5)
    sigma = np.array([1.0, 2.0, 4.0])
    fits, said = [], []
    for _ in range(1500):
        fit = fit_water([line(ROW + random.normal(0, s, (2, 2)), sigma=s, frame=i) for i, s in enumerate(sigma)])
        height = (fit.anchor_px - [600, 217.5]) @ [math.sin(TILT), -math.cos(TILT)]
        fits.append((fit.tilt_rad - TILT, height))
        said.append((fit.tilt_sigma_rad, fit.offset_sigma_px))
    # 1,500 draws know a standard deviation to 2 %; one fit in a hundred takes chance for waves and widens.
    np.testing.assert_allclose(np.std(fits, axis=0), np.median(said, axis=0), rtol=0.06)
    held = np.abs(fits) < 1.96 * np.array(said)
    assert 0.93 < held[:, 0].mean() < 0.975
    assert 0.93 < held[:, 1].mean() < 0.975


def test_water_that_moves_between_frames_widens_the_error_to_its_own_spread():
    random = np.random.default_rng(6)
    lift = random.normal(0, 12, 40)
    fit = fit_water(
        [line(lifted(ROW, d) + random.normal(0, 1, (2, 2)), sigma=1.0, frame=i) for i, d in enumerate(lift)]
    )
    assert fit.moves_px == pytest.approx(np.std(lift) * math.cos(TILT), rel=0.05)
    assert fit.offset_sigma_px == pytest.approx(12, rel=0.35)


def test_camera_that_rolls_between_frames_widens_the_tilt():
    random = np.random.default_rng(8)
    rolls = random.normal(0, 2, 30)
    fit = fit_water([line(turned(ROW, r), sigma=1.0, frame=i) for i, r in enumerate(rolls)])
    assert math.degrees(fit.tilt_sigma_rad) == pytest.approx(2, rel=0.35)


def test_exact_marks_are_given_a_least_error_and_no_waves():
    fit = fit_water([line(ROW, sigma=0.0), line(ROW, sigma=0.0, frame=1)])
    assert 0 < fit.offset_sigma_px < LEAST_SIGMA_PX
    assert fit.moves_px == 0


@pytest.mark.parametrize("kind", ["water", "lane"])
def test_upright_level_line_is_refused_by_name_and_frame(kind):
    with pytest.raises(CasebookError, match=f"{kind} line on frame 12 runs too upright"):
        (fit_water if kind == "water" else fit_direction)([line([[100, 0], [140, 700]], kind, 12)])


def test_level_plumb_line_is_refused():
    with pytest.raises(CasebookError, match="plumb line on frame 0 runs too level"):
        fit_direction([line(ROW, "plumb")])


@pytest.mark.parametrize("tilt", [-20.0, -1.0, 0.0, 3.0, 30.0])
def test_plumb_line_says_the_same_level_as_the_water_it_hangs_into(tilt):
    hanging = turned([[500, 100], [500, 600]], tilt)
    assert math.degrees(fit_direction([line(hanging, "plumb")]).tilt_rad) == pytest.approx(tilt, abs=1e-9)
    assert math.degrees(fit_direction([line(hanging[::-1], "plumb")]).tilt_rad) == pytest.approx(tilt, abs=1e-9)
    assert math.degrees(fit_water([line(turned(ROW, tilt))]).tilt_rad) == pytest.approx(
        tilt + math.degrees(TILT), abs=1e-9
    )


def test_parallel_lines_in_different_places_share_a_direction_not_a_place():
    fit = fit_direction([line([[x, 100], [x + 10, 600]], "plumb", frame=x) for x in (100, 700, 1200)])
    assert math.degrees(fit.tilt_rad) == pytest.approx(-math.degrees(math.atan2(10, 500)))
    one = fit_direction([line([[100, 100], [110, 600]], "plumb")])
    assert fit.tilt_sigma_rad == pytest.approx(one.tilt_sigma_rad / math.sqrt(3))


def test_swinging_pole_is_as_uncertain_as_it_swings():
    swings = [-6.0, -2.0, 2.0, 6.0]
    fit = fit_direction([line(turned([[500, 100], [500, 600]], s), "plumb", i) for i, s in enumerate(swings)])
    assert math.degrees(fit.tilt_sigma_rad) == pytest.approx(math.sqrt(20), rel=0.01)
