"""The doubt of a camera held square by eye: against exact pinholes that are not square, and a window before water."""

from __future__ import annotations

import numpy as np
import pytest

from casebook.plane.optics import Optics
from casebook.plane.plane import Plane
from casebook.plane.unsquare import NotSquare, with_doubt

SIZE = (1280, 720)
FOCAL = 1200.0
CENTRE = (np.array(SIZE) - 1) / 2
PLACES = np.array([[0.0, 0.0], [1.0, 0.3], [-0.8, -0.5], [0.2, 0.6]])  # on the swimmer's plane, 4 m away [m]


def pictured(aside_deg, up_deg):
    """A pinhole 4 m away that looks aside and up by small angles: x right, y down. [px]"""
    a, u = np.radians([aside_deg, up_deg])
    turn_y = np.array([[np.cos(a), 0, -np.sin(a)], [0, 1, 0], [np.sin(a), 0, np.cos(a)]])
    turn_x = np.array([[1, 0, 0], [0, np.cos(u), np.sin(u)], [0, -np.sin(u), np.cos(u)]])
    xyz = np.column_stack([PLACES, np.full(len(PLACES), 4.0)]) @ (turn_x @ turn_y).T
    return FOCAL * xyz[:, :2] / xyz[:, 2:] + CENTRE


def test_nothing_is_changed_without_a_shift():
    part = NotSquare(FOCAL, CENTRE)
    xy = pictured(0, 0)
    np.testing.assert_allclose(part.straight(xy), xy)
    np.testing.assert_allclose(part.straight(xy, np.zeros(3)), xy)
    np.testing.assert_allclose(part.bent(xy), xy)


@pytest.mark.parametrize(("aside", "up"), [(3.0, 0.0), (0.0, -4.0), (2.0, 2.0)])
def test_a_slanting_look_is_undone_but_for_place_and_size(aside, up):
    """Shapes against a square camera: first order in the turn, so a tenth of what was bent may be left."""
    part = NotSquare(FOCAL, CENTRE)

    def bent(xy):
        square = pictured(0, 0)
        return np.abs(shape(xy) - shape(square)).max()

    def shape(xy):
        return (xy - xy[0]) / np.linalg.norm(xy[1] - xy[0])

    # Which way a turn counts is the part's own affair: one of the four signs has to undo it.
    turns = [np.radians([i * aside, j * up, 0.0]) for i in (1, -1) for j in (1, -1)]
    left = min(bent(part.straight(pictured(aside, up), turn)) for turn in turns)
    assert left < 0.2 * bent(pictured(aside, up))


def test_the_rim_of_a_flat_window_lies_within_its_allowance():
    """Snell's law: tan in air of sin = n sin in water; at 0.3 focal lengths the rim is 3.7 % too large (computed)."""
    n, t = 1.333, 0.3
    sine = n * t / np.sqrt(1 + t * t)
    apparent = sine / np.sqrt(1 - sine * sine) / n
    assert apparent / t - 1 == pytest.approx((n * n - 1) / 2 * t * t, rel=0.12)
    part = NotSquare(FOCAL, CENTRE)
    xy = CENTRE + np.array([FOCAL * apparent, 0])
    back = part.straight(xy, np.array([0, 0, (n * n - 1) / 2]))
    assert (back[0] - CENTRE[0]) / FOCAL == pytest.approx(t, rel=0.006)


def test_a_plane_carries_the_doubt_more_toward_the_rim():
    plane = Plane.given(1, m_per_px=0.003, optics=Optics((NotSquare.of_size(SIZE),)))
    assert plane.names[3:] == ("aside_rad", "up_rad", "rim")

    def length_sigma(at):
        ends = np.array([at, np.add(at, [60.0, 0.0])])
        steps = plane.steps
        up, down = (
            np.linalg.norm(np.diff(plane.level(ends, s * np.diag(steps)[:, None]), axis=1)[:, 0], axis=-1)
            for s in (1, -1)
        )
        slope = (up - down) / (2 * steps)
        return float(np.sqrt(slope @ plane.covariance @ slope)) / 60

    middle, rim = length_sigma((610.0, 360.0)), length_sigma((1150.0, 360.0))
    assert middle < 0.005
    assert 0.05 < rim < 0.35


def test_only_a_plane_without_optics_is_given_the_doubt():
    bare = Plane.given(-1, m_per_px=0.004, scale_sigma=0.02)
    doubted = with_doubt(bare, SIZE)
    assert len(doubted.params) == 6
    assert with_doubt(doubted, SIZE) is doubted
    np.testing.assert_allclose(doubted.level(pictured(0, 0)), bare.level(pictured(0, 0)))
    assert doubted.scale_sigma == bare.scale_sigma
