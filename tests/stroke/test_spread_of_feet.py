"""Spread of the feet: along the hips' line, perspective undone, and refusals."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from casebook.plane.measured import Measured
from casebook.stroke.points import Points, Unread
from casebook.stroke.spread import HIPS_PER_JOINTS, LEG_M, POINTS, Spread, spread_of

T = np.arange(0, 4, 1 / 60)
STARTS = np.array([0.0, 1.3, 2.6, 3.9])


def shot(view="front_under"):
    return SimpleNamespace(view=view, clip=SimpleNamespace(size=(1280, 720)))


def legs(wide=0.30, up_down=0.25, roll_deg=0.0, far=4.0, front=True, focal=1000.0, hips_seen=None):
    """Hips 0.18 m apart at a distance, feet one leg behind; rolled as a whole; in pixels."""
    phase = 2 * np.pi * T * 2.3
    half = np.stack([np.full(len(T), wide / 2), 0.5 * up_down * np.sin(phase)], -1)
    a = np.radians(np.broadcast_to(roll_deg, T.shape))
    turn = np.stack([np.stack([np.cos(a), -np.sin(a)], -1), np.stack([np.sin(a), np.cos(a)], -1)], -2)
    ankle_l, ankle_r = ((turn @ (s * half)[..., None])[..., 0] for s in (1, -1))
    hip_l, hip_r = ((turn @ np.array([s * 0.09, 0.0]))[...] for s in (1, -1))
    behind = far + (LEG_M if front else -LEG_M)
    level = np.stack([hip_l * focal / far, hip_r * focal / far, ankle_l * focal / behind, ankle_r * focal / behind], 1)
    if hips_seen is not None:
        level[~hips_seen, :2] = np.nan
    shape = level.shape[:2]
    return Points(
        POINTS, np.arange(len(T)), T, True, 1 / 60, level, level, np.full(shape, 1.5), np.full(shape, True),
        np.zeros(shape, bool),
    )  # fmt: skip


@pytest.mark.parametrize("roll", [0.0, 25.0, -40.0])
def test_the_spread_is_along_the_hips_however_they_roll(roll):
    found = spread_of(shot(), legs(roll_deg=roll), STARTS, Measured(4.0, 0.05))
    assert isinstance(found, Spread)
    assert found.value == pytest.approx(0.30 / (0.18 * HIPS_PER_JOINTS), rel=2e-3)


@pytest.mark.parametrize(("view", "front"), [("front_under", True), ("rear_under", False)])
@pytest.mark.parametrize("far", [2.5, 6.0])
def test_feet_drawn_smaller_or_larger_are_put_right_where_the_distance_is_known(view, front, far):
    found = spread_of(shot(view), legs(far=far, front=front), STARTS, Measured(far, 0.05))
    assert found.value == pytest.approx(0.30 / (0.18 * HIPS_PER_JOINTS), rel=2e-3)


@pytest.mark.parametrize("far", [2.8, 4.0, 6.5])
def test_where_it_is_not_known_the_interval_holds_the_truth(far):
    found = spread_of(shot(), legs(far=far), STARTS)
    assert np.all(np.abs(found.value - 0.30 / (0.18 * HIPS_PER_JOINTS)) < 1.96 * found.common)
    assert np.all(found.common > 1.05 * spread_of(shot(), legs(far=far), STARTS, Measured(far, 0.05)).common)


def test_the_widest_frame_is_named():
    legs_ = legs()
    legs_.level[100, 2] += [60.0, 0.0]
    legs_.level[101, 2] += [60.0, 0.0]
    legs_.level[99, 2] += [60.0, 0.0]
    found = spread_of(shot(), legs_, STARTS)
    assert found.row[1] in (99, 100, 101)


def test_hips_hidden_for_long_leave_their_frames_out():
    seen = (T % 1.3) < 1.0
    found = spread_of(shot(), legs(hips_seen=seen), STARTS)
    assert np.isfinite(found.value).all() and found.seen < found.needed
    hidden = spread_of(shot(), legs(hips_seen=np.zeros(len(T), bool)), STARTS)
    assert isinstance(hidden, Unread) and "hips" in hidden.reason


def test_a_side_view_has_no_spread():
    assert isinstance(spread_of(shot("side_under"), legs(), STARTS), Unread)
