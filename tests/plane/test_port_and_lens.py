"""Lens and window undone: there and back, what they leave alone, and what is refused with the reason."""

from __future__ import annotations

import numpy as np
import pytest
from plane_makers import SIZE, length, line, shot

from casebook.errors import CasebookError
from casebook.marks.fixed import EdgeMark
from casebook.plane.lens import Lens
from casebook.plane.make import plane_of
from casebook.plane.optics import Optics
from casebook.plane.optics_make import optics_of
from casebook.plane.plumb import fit_lens, lens_of
from casebook.plane.port import FlatPort
from casebook.plane.propagate import jacobian

CENTRE = (np.array(SIZE) - 1) / 2
PORT = FlatPort.of_field(80.0, SIZE, 3.0)
LENS = Lens(700.0, [-0.15, 0.03, 0, 0, 0, *CENTRE], medium="air")
PLACES = np.random.default_rng(0).uniform([40, 40], np.array(SIZE) - 40, (30, 2))


@pytest.mark.parametrize("part", [PORT, LENS, Optics((LENS, PORT))])
def test_straight_and_bent_undo_each_other(part):
    np.testing.assert_allclose(part.bent(part.straight(PLACES)), PLACES, atol=1e-8)
    assert np.isnan(part.straight([np.nan, 1.0])).any()


@pytest.mark.parametrize("part", [PORT, LENS])
def test_middle_of_the_picture_keeps_its_size(part):
    near = CENTRE + np.array([[0.01, 0.0], [0.0, -0.01]])
    np.testing.assert_allclose(part.straight(near), near, atol=1e-7)
    np.testing.assert_allclose(part.straight(CENTRE), CENTRE)


def test_plane_square_to_the_window_comes_back_to_scale_up_to_the_rim():
    x, y = np.meshgrid(np.linspace(-1.9, 1.9, 7), np.linspace(-0.9, 0.9, 5))
    depth = PORT.distance_m + PORT.behind_m + PORT.glass_m
    drawn = PORT.project(np.stack([x, y, np.full(x.shape, depth)], -1))
    found = (PORT.straight(drawn) - CENTRE) / np.where(np.stack([x, y], -1) == 0, np.nan, np.stack([x, y], -1))
    assert np.nanstd(found) < 1e-9 * np.nanmean(found)
    # Without it the rim is drawn a tenth and more too large.
    bare = (drawn - CENTRE)[0, 0, 0] / x[0, 0]
    assert bare / np.nanmean(found) > 1.1


def test_window_shrinks_nothing_where_there_is_no_light():
    bare = FlatPort(800.0, CENTRE, 3.0, behind_m=0.0, glass_m=0.0)
    beyond = CENTRE + np.array([800.0 * 1.4 * bare.water, 0.0])
    assert np.isnan(bare.bent(beyond)).all()
    assert np.isnan(bare.project([0.1, 0.0, -1.0])).all()


def test_fold_of_a_polynomial_is_not_a_place():
    folding = Lens(400.0, [-0.3, 0, 0, 0, 0, *CENTRE])
    # It turns back where 1 + 3 k1 r2 = 0, at r = 1.05, drawn at 0.70 focal lengths from the centre: by hand.
    assert np.isfinite(folding.straight(CENTRE + np.array([0.69 * 400, 0]))).all()
    assert np.isnan(folding.straight(CENTRE + np.array([0.71 * 400, 0]))).all()


@pytest.mark.parametrize("part", [PORT, LENS, Optics((LENS, PORT))])
def test_batch_of_changed_parameters_gives_one_answer_each(part):
    shifts = np.random.default_rng(1).normal(0, 1, (5, 1, len(part.params))) * np.array(part.steps)
    batch = part.straight(PLACES, shifts)
    assert batch.shape == (5, len(PLACES), 2)
    for shift, rows in zip(shifts, batch, strict=True):
        np.testing.assert_allclose(part.straight(PLACES, shift[0]), rows, atol=1e-9)


def under(view="side_under"):
    return shot(view=view)


def test_lens_calibrated_in_air_is_refused_under_water_with_the_reason():
    with pytest.raises(CasebookError, match=r"calibrated in air.*filmed under water.*enlarges the corners"):
        optics_of(under(), lens=LENS)


def test_lens_calibrated_in_air_serves_under_water_with_a_window_and_says_so():
    port = FlatPort(700.0, CENTRE, 3.0)
    optics = optics_of(under(), lens=LENS, port=port)
    assert [type(p).__name__ for p in optics.parts] == ["Lens", "FlatPort"]
    assert any("water behind the flat window is corrected on top" in s for s in optics.limits)
    # What the two together draw: first the window bends, then the lens.
    x = np.array([0.8, -0.4, 3.013])
    drawn = LENS.bent(port.project(x))
    scale = 700.0 / (3.0 / port.water + port.behind_m + port.glass_m / port.glass)
    np.testing.assert_allclose(optics.straight(drawn) - CENTRE, scale * x[:2], rtol=1e-9)


@pytest.mark.parametrize(
    ("view", "lens", "port", "words"),
    [
        ("side_under", Lens(700.0, LENS.params, medium="water"), PORT, "taken out twice"),
        ("side_above", None, PORT, "no window before water"),
        ("side_above", Lens(700.0, LENS.params, medium="water"), None, "calibrated under water"),
        ("side_split", LENS, None, "half in air and half in water"),
        ("side_under", LENS, FlatPort(1000.0, CENTRE, 3.0), "focal length of 1000 px, the lens 700 px"),
    ],
)
def test_what_must_not_be_put_together_is_refused(view, lens, port, words):
    with pytest.raises(CasebookError, match=words):
        optics_of(under(view), lens=lens, port=port)


def test_nothing_given_changes_nothing():
    assert optics_of(under()) is None
    assert optics_of(under("side_above"), lens=LENS).parts == (LENS,)


@pytest.mark.parametrize("edges", [[], [np.zeros((2, 2))], [np.full((3, 2), np.nan)]])
def test_lens_without_bowed_edges_is_refused(edges):
    with pytest.raises(CasebookError, match="three or more places"):
        fit_lens(edges, SIZE)


def test_edge_that_is_not_straight_is_named_and_widens_the_error():
    rows = [np.stack([np.linspace(20, 1260, 9), np.full(9, y)], -1) for y in (60.0, 200.0, 380.0, 560.0, 690.0)]
    good = fit_lens([LENS.bent(r) for r in rows], SIZE, sigma_px=1.0)
    assert "edge 3" not in good.how.lower()
    rows[2] = rows[2] + np.stack([np.zeros(9), 15 * np.sin(np.linspace(0, 6, 9))], -1)
    bad = fit_lens([LENS.bent(r) for r in rows], SIZE, sigma_px=1.0)
    assert "Edge 3 stays less straight" in bad.how
    assert bad.covariance[0, 0] > 4 * good.covariance[0, 0]


def test_edges_through_the_middle_tell_no_lens_and_that_is_said():
    through = [np.stack([np.linspace(300, 980, 5), np.full(5, CENTRE[1])], -1)]
    assert "cannot tell from none" in fit_lens(through, SIZE).how


def test_lens_and_window_enter_the_plane_and_its_errors():
    port = FlatPort(700.0, CENTRE, 3.0, focal_sigma=0.05, distance_sigma=0.1)
    optics = optics_of(under(), lens=LENS, port=port)
    water = line(optics.bent(np.array([[150.0, 150.0], [1150.0, 150.0]])))
    pole = optics.bent(np.array([[400.0, 500.0], [900.0, 500.0]]))
    known = length(1.0, 1.5, what="pole")
    known = type(known)(0, *pole.ravel(), 1.5, 0.01, 2.0, "pole")
    plane = plane_of(under(), [water], [known], optics=optics)
    assert plane.names[3:] == optics.names
    # In the straightened picture all is as drawn: level water, 500 px for 1.5 m.
    assert plane.tilt_deg == pytest.approx(0, abs=1e-6)
    assert plane.m_per_px == pytest.approx(0.003, rel=1e-9)
    straight = np.array([[1200.0, 600.0], [700.0, 650.0]])
    seen = optics.bent(straight)
    np.testing.assert_allclose(plane.world(seen)[:, 1], -(straight[:, 1] - 150) * 0.003, atol=1e-9)
    np.testing.assert_allclose(plane.picture(plane.level(seen)), seen, atol=1e-7)
    assert "flat window" in plane.how


def test_errors_of_the_window_reach_results_as_random_draws_say():
    port = FlatPort(700.0, CENTRE, 3.0, focal_sigma=0.05, distance_sigma=0.1)
    water = line(port.bent(np.array([[150.0, 150.0], [1150.0, 150.0]])), sigma=0.01)
    pole = port.bent(np.array([[100.0, 500.0], [600.0, 560.0]]))
    known = type(length(1, 1))(0, *pole.ravel(), 1.5, 0.0, 0.01, "pole")
    seen = port.bent(np.array([[1200.0, 640.0], [1000.0, 400.0]]))

    def reach_and_depth(p):
        world = p.world(seen)
        return np.array([*(world[0] - world[1]), world[0, 1]])

    plane = plane_of(under(), [water], [known], optics=Optics((port,)))
    jac = jacobian(
        lambda d: np.array([reach_and_depth(plane.shifted(row)) for row in d]), np.zeros(len(plane.params)), plane.steps
    )
    said = np.sqrt(np.diag(jac @ plane.covariance @ jac.T))
    random, drawn = np.random.default_rng(5), []
    for _ in range(600):
        focal, far = 700.0 * np.exp(random.normal(0, 0.05)), 3.0 * np.exp(random.normal(0, 0.1))
        other = FlatPort(focal, CENTRE, far)
        drawn.append(reach_and_depth(plane_of(under(), [water], [known], optics=Optics((other,)))))
    # 600 draws know a standard deviation to 3 %; the pole at the rim and the hand at the other err together.
    np.testing.assert_allclose(np.std(drawn, axis=0), said, rtol=0.12)


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: FlatPort(0.0, CENTRE, 3.0), "makes no sense"),
        (lambda: FlatPort(700.0, CENTRE, 3.0, water=2.0), "refractive index"),
        (lambda: FlatPort.of_field(170.0, SIZE, 3.0), "field of view"),
        (lambda: Lens(0.0, LENS.params), "focal length"),
        (lambda: Lens(700.0, LENS.params, medium="oil"), "oil"),
        (lambda: Lens(700.0, [1.0, 2.0]), "7 numbers"),
    ],
)
def test_lens_or_window_that_makes_no_sense_is_refused(make, words):
    with pytest.raises(CasebookError, match=words):
        make()


def test_edges_marked_on_a_shot_give_its_lens_in_its_medium():
    marks = [
        EdgeMark(frame, "tile row", *LENS.bent([x, y]), 0.5)
        for frame, y in ((0, 40.0), (5, 680.0), (9, 200.0))
        for x in np.linspace(30, 1250, 7)
    ]
    lens = lens_of(under(), marks)
    assert lens.medium == "water"
    assert lens_of(under("side_above"), marks).medium == "air"
    inner = PLACES[np.abs(PLACES - CENTRE)[:, 1] < 300]
    np.testing.assert_allclose(lens.straight(LENS.bent(inner)), inner, atol=4.0)
    with pytest.raises(CasebookError, match="break at the water line"):
        lens_of(under("side_split"), marks)
    with pytest.raises(CasebookError, match="of 3 places"):
        lens_of(under(), marks[:2])
