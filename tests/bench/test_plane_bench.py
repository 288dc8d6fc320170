"""What batches save: one call for all trial planes and points against one call each. Prints ratios."""

from __future__ import annotations

from time import perf_counter

import numpy as np
import pytest

from casebook.plane.geometry import joint_angle_deg
from casebook.plane.plane import Plane
from casebook.plane.propagate import jacobian

pytestmark = pytest.mark.bench


def seconds(work, times: int = 5) -> float:
    """The best of some runs."""
    best = np.inf
    for _ in range(times):
        start = perf_counter()
        work()
        best = min(best, perf_counter() - start)
    return best


def test_trial_planes_in_one_call():
    plane = Plane.given(1, m_per_px=0.003, tilt_deg=2, water_px=(640, 100))
    xy = np.random.default_rng(0).uniform(0, 1000, (480, 4, 2))
    shifts = np.random.default_rng(1).normal(0, 0.01, (64, 1, 1, 3))
    one = seconds(lambda: plane.world(xy, shifts))
    each = seconds(lambda: np.stack([plane.shifted(s[0, 0]).world(xy) for s in shifts]))
    np.testing.assert_allclose(
        plane.world(xy, shifts), np.stack([plane.shifted(s[0, 0]).world(xy) for s in shifts]), rtol=1e-9
    )
    print(f"\n64 trial planes of 480 frames: one at a time takes {each / one:.1f} times as long as one call")


def test_derivatives_in_one_call():
    x = np.random.default_rng(0).uniform(0, 1000, 60)

    def angles(rows):
        p = rows.reshape(len(rows), -1, 3, 2)
        return joint_angle_deg(p[..., 0, :], p[..., 1, :], p[..., 2, :])

    def alone():
        return np.stack([(angles(x[None] + h)[0] - angles(x[None] - h)[0]) / 2e-3 for h in 1e-3 * np.eye(len(x))], -1)

    np.testing.assert_allclose(jacobian(angles, x), alone(), rtol=1e-3, atol=1e-4)
    ratio = seconds(alone) / seconds(lambda: jacobian(angles, x))
    print(f"\n60 derivatives of 10 joint angles: one at a time takes {ratio:.1f} times as long as one call")
