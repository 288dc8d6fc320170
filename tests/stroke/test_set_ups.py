"""Strokes found from the marks of one arm, for motions described in words."""

from __future__ import annotations

import numpy as np
import pytest
from planar_arm import Camera, PlanarArm, with_

from casebook.marks.events import EventMark
from casebook.stroke.arm import arm_of
from casebook.stroke.setup import set_ups

ARM = PlanarArm(period=1.5, first=0.45, pull=0.75)
CAMERA = Camera(seconds=5.0, following=True)


def found(arm=ARM, camera=CAMERA, frames=None, events=(), **noise):
    shot = camera.shot()
    return set_ups(shot, arm_of(shot, camera.marks(arm, frames, **noise), "r"), camera.plane(), events)


def test_a_fully_marked_arm_gives_one_set_up_for_each_stroke_numbered_by_time():
    strokes = found()
    assert [s.number for s in strokes] == [1, 2, 3]
    assert all(s.dense for s in strokes)
    # Full reach is where the arm rests before it turns: up to 0.45 s + n periods.
    for s in strokes:
        assert s.begins == pytest.approx(0.45 + 1.5 * (s.number - 1), abs=0.12)


def test_three_stills_a_stroke_give_the_same_strokes():
    strokes = found(frames=CAMERA.key_stills(ARM, (0, 1, 2)))
    assert [len(s.frames) for s in strokes] == [3, 3, 3]
    assert not any(s.dense for s in strokes)


def test_stills_of_one_stroke_that_lack_a_moment_do_not_run_into_the_next():
    reach, half, _ = CAMERA.key_stills(ARM, (0,))
    others = CAMERA.key_stills(ARM, (1,))
    strokes = found(frames=[reach, half, *others])
    assert [s.frames for s in strokes] == [(reach, half), tuple(others)]


def test_a_still_of_the_pull_alone_is_no_set_up():
    assert found(frames=[CAMERA.key_stills(ARM, (0,))[2]]) == ()


def test_noise_of_four_pixels_neither_adds_nor_loses_a_stroke():
    rng = np.random.default_rng(1)
    for fps in (30.0, 60.0, 120.0):
        camera = with_(CAMERA, fps=fps)
        assert len(found(camera=camera, noise_px=4.0, rng=rng)) == 3


def test_a_stroke_that_the_shot_cuts_off_at_either_end_does_not_count():
    first, second = 0.45, 1.95
    begins_late = with_(CAMERA, start=round((first + 0.25) * 60))
    assert [round(s.begins, 1) for s in found(camera=begins_late)] == pytest.approx([2.0, 3.4], abs=0.15)
    forearm_down = ARM.forearm_at(90, 1)
    ends_early = with_(CAMERA, stop=int(forearm_down * 60) - 3)
    assert len(found(camera=ends_early)) == 1
    assert forearm_down > second


def test_a_track_that_starts_in_mid_recovery_starts_no_stroke_of_its_own():
    for fps in (25.0, 30.0, 60.0):
        for start in range(0, 12, 3):
            camera = with_(CAMERA, fps=fps, start=start)
            assert len(found(camera=camera)) == 3


def test_the_class_of_a_stroke_is_that_of_the_mark_inside_it():
    frames = CAMERA.key_stills(ARM, (0, 1, 2))
    events = [
        EventMark("stroke_class", "r", frames[4], "breath_l"),
        EventMark("stroke_class", "l", frames[0], "sighting"),
        EventMark("stroke_class", "", frames[8] + 4, "before_wall"),
    ]
    assert [s.stroke_class for s in found(frames=frames, events=events)] == ["none", "breath_l", "before_wall"]
    assert [s.stroke_class for s in found(events=events)] == ["none", "breath_l", "before_wall"]


def test_swimming_to_the_left_gives_the_same_set_ups():
    left = with_(CAMERA, sign=-1)
    there, back = found(), found(camera=left)
    assert len(there) == len(back)
    for a, b in zip(there, back, strict=True):
        # The arm rests at full reach, so rounding alone decides which resting frame is its furthest.
        both = sorted(set(a.frames) & set(b.frames))
        assert len(both) > 40
        one, other = (s.level[np.isin(s.arm.frames, both)] for s in (a, b))
        np.testing.assert_allclose(one - one[:, :1], other - other[:, :1], atol=1e-9)
