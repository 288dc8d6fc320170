"""Reading an arm between frames and between stills."""

from __future__ import annotations

import numpy as np
import pytest
from planar_arm import Camera, PlanarArm

from casebook.stroke.arm import arm_of, covariance
from casebook.stroke.reading import forearm, read, shoulder_to_wrist
from casebook.stroke.setup import set_ups

ARM = PlanarArm()
CAMERA = Camera(seconds=3.4, following=True)


def stroke(frames=None, **noise):
    shot = CAMERA.shot()
    return set_ups(shot, arm_of(shot, CAMERA.marks(ARM, frames, **noise), "r"), CAMERA.plane())[0]


@pytest.mark.parametrize("frames", [None, CAMERA.key_stills(ARM, (0,), (10, 45, 90, 125))])
@pytest.mark.parametrize(("state", "target"), [(forearm, 45.0), (forearm, 90.0), (shoulder_to_wrist, 90.0)])
def test_what_is_read_has_the_state_that_was_asked_for(frames, state, target):
    s = stroke(frames)
    how = s.plan(state, target)
    points, clock = read(how, s.level[how.rows])
    assert state(points) == pytest.approx(target, abs=1e-6)
    truth = ARM.joints(np.array(clock))
    lengths = np.linalg.norm(np.diff(points[:4], axis=0), axis=-1) / CAMERA.px_per_m
    np.testing.assert_allclose(lengths, [ARM.upper, ARM.fore, ARM.hand], atol=0.003)
    np.testing.assert_allclose((points - points[0]) / CAMERA.px_per_m, truth - truth[0], atol=0.012)


@pytest.mark.parametrize("frames", [None, CAMERA.key_stills(ARM, (0,))])
def test_a_batch_of_draws_gives_what_a_loop_gives(frames):
    s = stroke(frames)
    how = s.plan(forearm, 45.0)
    draws = s.level[how.rows] + np.random.default_rng(5).normal(0, 2, (3, 4, *s.level[how.rows].shape))
    points, clock = read(how, draws)
    assert points.shape == (3, 4, 6, 2)
    for i in range(3):
        for j in range(4):
            one, at = read(how, draws[i, j])
            np.testing.assert_allclose(points[i, j], one, atol=1e-9)
            assert clock[i, j] == pytest.approx(float(at))


def test_a_reading_far_outside_the_stills_is_refused():
    s = stroke(CAMERA.key_stills(ARM, (0,), (10, 45, 70)))
    assert s.plan(forearm, 75.0) is not None
    assert s.plan(forearm, 90.0) is None


def test_a_hole_in_a_track_where_the_reading_lies_falls_back_to_its_edges():
    at = round(ARM.forearm_at(45, 0) * CAMERA.fps)
    frames = [f for f in range(204) if abs(f - at) > 3]
    s = stroke(frames)
    how = s.plan(forearm, 45.0)
    assert how is not None
    assert how.curves is None


def test_of_stills_too_much_alike_for_their_error_the_nearest_counts():
    down = round(ARM.forearm_at(90, 0) * CAMERA.fps)
    frames = sorted({*CAMERA.key_stills(ARM, (0,)), down, down + 1})
    rough, sharp = (stroke(frames, sigma_px=sigma).plan(forearm, 90.0) for sigma in (4.0, 0.5))
    marked = np.array(frames)
    assert set(marked[rough.rows]) == {frames[0], frames[1], down}
    assert {down, down + 1} <= set(marked[sharp.rows])


def test_hand_marks_err_apart_and_tracked_marks_alike():
    from casebook.marks.marks import Origin

    hand = covariance(stroke(sigma_px=2.0).arm)
    tracked = covariance(stroke(sigma_px=2.0, origin=Origin.tracked).arm)
    np.testing.assert_allclose(hand[1], 4 * np.eye(len(hand[1])))
    assert tracked[1, 0, 0] == pytest.approx(4)
    assert 3.5 < tracked[1, 0, 1] < 4
    assert np.linalg.eigvalsh(tracked[1]).min() > 0
