"""Shots and real time. The slow-motion cases follow by hand: file seconds divided by the scale of their stretch."""

from __future__ import annotations

import dataclasses
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numbered import Film, shoot

from casebook.clip.clip import Clip
from casebook.clip.shot import Shot, Stretch, Swim, real_times
from casebook.errors import CasebookError

FILE = np.arange(9) / 30


def test_without_slow_motion_real_time_is_file_time():
    assert np.allclose(real_times(FILE, ()), FILE)
    assert np.allclose(real_times(FILE, (Stretch(0, 9),)), FILE)


def test_240_pictures_a_second_stored_as_30_has_scale_8():
    assert np.allclose(real_times(FILE, (Stretch(0, 9, 8.0),)), np.arange(9) / 240)


def test_a_ramp_slows_only_its_own_stretch():
    # Frames 3, 4, 5 slowed four times: the steps that start at them last 1/120 s, the others 1/30 s.
    steps = [1 / 30] * 3 + [1 / 120] * 3 + [1 / 30] * 2
    assert np.allclose(real_times(FILE, (Stretch(3, 6, 4.0),)), [0, *np.cumsum(steps)])


def test_after_an_unknown_scale_no_time_is_known():
    times = real_times(FILE, (Stretch(4, 6, None),))
    assert np.allclose(times[:5], FILE[:5])
    assert np.isnan(times[5:]).all()


def test_an_unknown_scale_from_the_first_frame_leaves_only_the_start():
    times = real_times(FILE, (Stretch(0, 9, None),))
    assert times[0] == 0
    assert np.isnan(times[1:]).all()


@given(st.lists(st.floats(0.001, 1), min_size=1, max_size=30), st.floats(0.1, 16))
def test_one_scale_for_all_divides_every_time(steps, scale):
    file_times = np.concatenate([[0.0], np.cumsum(steps)])
    assert np.allclose(real_times(file_times, (Stretch(0, len(file_times), scale),)), file_times / scale)


def test_no_frames_have_no_times():
    assert real_times([], ()).size == 0


@pytest.fixture(scope="module")
def clip(tmp_path_factory):
    return Clip(shoot(tmp_path_factory.mktemp("shot") / "pass.mp4", Film(n=30)))


def test_a_shot_keeps_the_clips_own_numbers(clip):
    shot = Shot("pass1", clip, "side_under", "left", 10, 20, stretches=(Stretch(12, 16, 2.0),))
    assert shot.frames.tolist() == list(range(10, 20))
    assert shot.sign == -1
    assert shot.times.shape == (30,)
    assert shot.times[20] == pytest.approx(20 / 60 - 4 / 60 + 4 / 120)


@pytest.mark.parametrize(("direction", "sign"), [("right", 1), ("left", -1), ("toward", 0), ("away", 0)])
def test_the_sign_is_that_of_the_swim_direction_in_the_picture(clip, direction, sign):
    view = "side_under" if sign else "front_under"
    assert Shot("a", clip, view, direction, 0, 30).sign == sign


@pytest.mark.parametrize(("start", "stop"), [(-1, 5), (5, 5), (9, 4), (0, 31)])
def test_a_stretch_outside_the_clip_is_refused(clip, start, stop):
    with pytest.raises(CasebookError, match="frames 0 to 30"):
        Shot("pass1", clip, "side_under", "left", start, stop)


@pytest.mark.parametrize(
    ("field", "value"),
    [("view", "sideways"), ("direction", "up"), ("camera", "drone")],
    ids=["view", "direction", "camera"],
)
def test_an_unknown_word_is_refused_with_the_known_ones(clip, field, value):
    shot = Shot("pass1", clip, "side_under", "left", 0, 30)
    with pytest.raises(CasebookError, match="Use one of: ") as caught:
        dataclasses.replace(shot, **{field: value})
    assert value in caught.value.problem


@pytest.mark.parametrize(("field", "value"), [("effort", "hard"), ("kit", "boat"), ("place", "river")])
def test_a_swim_takes_only_the_glossarys_words(field, value):
    with pytest.raises(CasebookError, match=value):
        Swim("s1", **{field: value})


def test_a_shot_asks_of_its_clip_only_length_and_times():
    clip = SimpleNamespace(n_frames=9, times=FILE)
    assert np.allclose(Shot("a", clip, "bottom", "right", 2, 7).times, FILE)
