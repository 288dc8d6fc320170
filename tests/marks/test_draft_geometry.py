"""Between the model's picture and ours: turning, cutting out, naming sides, errors. No model needed."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from casebook.clip.shot import Shot
from casebook.errors import CasebookError
from casebook.marks.draft import (
    LANDMARKS,
    LEAST_SIGMA_PX,
    SIGMA_OF_STATURE,
    draft,
    marks_of,
    stature_px,
    turned,
    turned_back,
    window,
)
from casebook.marks.marks import Origin
from casebook.marks.points import POINTS, mirrored


def shot_of(view="side_under", direction="right", mirrored=False, picture=None) -> Shot:
    height, width = (540, 960) if picture is None else picture.shape[:2]
    clip = SimpleNamespace(n_frames=10, times=np.arange(10) / 30, size=(width, height), frame=lambda i: picture)
    return Shot("side", clip, view, direction, 2, 8, mirrored=mirrored)


def swimmer(direction: str) -> np.ndarray:
    """33 landmarks of a plain figure in a 960 x 540 picture, head first in its direction. [px]"""
    rng = np.random.default_rng(5)
    xy = rng.uniform(200, 400, (1, 33, 2))
    ahead = {"right": 1, "left": -1}[direction]
    for index, along in ((11, 0.0), (12, 0.0), (23, -150.0), (24, -150.0), (27, -390.0), (28, -390.0)):
        xy[0, index] = (480 + ahead * along, 300 + index)
    return xy


@pytest.mark.parametrize("sign", [-1, 1])
@pytest.mark.parametrize(("column", "row"), [(0, 0), (6, 3), (2, 1), (6, 0)])
def test_a_pixel_found_in_the_turned_picture_is_the_pixel_it_was(sign, column, row):
    picture = np.zeros((4, 7, 3), np.uint8)
    picture[row, column] = 255
    upright = turned(picture, sign)
    j, i = np.argwhere(upright[..., 0])[0]
    height, width = upright.shape[:2]
    share = np.array([(i + 0.5) / width, (j + 0.5) / height])
    np.testing.assert_allclose(turned_back(share, (7, 4), sign), (column, row), atol=1e-12)


@pytest.mark.parametrize(("sign", "head"), [(1, (6, 1)), (-1, (0, 1))])
def test_the_leading_end_is_up_once_turned(sign, head):
    picture = np.zeros((3, 7, 3), np.uint8)
    picture[head[1], head[0]] = 255
    assert np.argwhere(turned(picture, sign)[..., 0])[0][0] == 0


def test_the_edges_of_the_turned_picture_are_the_edges_of_the_picture():
    corners = np.array([[0.0, 0.0], [1.0, 1.0]])
    for sign in (-1, 1):
        back = turned_back(corners, (960, 540), sign)
        assert back.min() == -0.5 and sorted(back.max(0)) == [539.5, 959.5]


def test_a_box_is_taken_in_whole_pixels_inside_the_picture():
    assert window(None, (960, 540)) == (0, 0, 960, 540)
    assert window((10.2, 20.7, 100.1, 99.0), (960, 540)) == (10, 20, 101, 99)
    assert window((-50, -5, 2000, 900), (960, 540)) == (0, 0, 960, 540)
    for box in ((100, 100, 50, 200), (1000, 0, 1200, 300), (5, 5, 10, 10)):
        with pytest.raises(CasebookError, match="less than 16 pixels"):
            window(box, (960, 540))


def test_every_drafted_point_is_one_of_ours_and_what_the_model_lacks_is_not_drafted():
    assert set(LANDMARKS) <= set(POINTS)
    assert {mirrored(p) for p in LANDMARKS} == set(LANDMARKS)
    lacking = {"crown", "neck", "goggle_l", "goggle_r", "fingertip_l", "fingertip_r"}
    assert set(POINTS) - set(LANDMARKS) == lacking


@pytest.mark.parametrize("direction", ["right", "left"])
def test_landmarks_become_drafted_marks_under_our_names(direction):
    xy = swimmer(direction)
    marks = marks_of(shot_of(direction=direction), np.array([3]), xy, np.ones((1, 33)))
    assert set(np.unique(marks.origin)) == {Origin.drafted}
    assert marks.at(3)["elbow_r"] == pytest.approx(xy[0, 14])
    assert marks.at(3)["mouth"] == pytest.approx(xy[0, [9, 10]].mean(0))
    assert marks.at(3)["knuckle_l"] == pytest.approx(xy[0, [17, 19]].mean(0))


def test_a_swimmer_found_feet_first_is_not_believed():
    marks = marks_of(shot_of(direction="left"), np.array([3]), swimmer("right"), np.ones((1, 33)))
    assert marks.n_marked == 0 and not marks.origin.any()


def test_points_that_the_model_cannot_see_are_left_out():
    seen = np.ones((1, 33))
    seen[0, [14, 17]] = 0.1
    marks = marks_of(shot_of(), np.array([3]), swimmer("right"), seen)
    assert {p for p in LANDMARKS if p not in marks.at(3)} == {"elbow_r", "knuckle_l"}


def test_frames_without_a_swimmer_stay_empty_and_do_not_spoil_the_others():
    xy = np.concatenate([swimmer("right"), np.full((1, 33, 2), np.nan)])
    seen = np.array([np.ones(33), np.full(33, np.nan)])
    marks = marks_of(shot_of(), np.array([3, 4]), xy, seen)
    assert marks.frames.tolist() == [3, 4] and marks.at(4) == {}
    assert len(marks.at(3)) == len(LANDMARKS)
    nothing = marks_of(shot_of(), np.array([4]), xy[1:], seen[1:])
    assert nothing.n_marked == 0


def test_a_mirrored_file_swaps_the_sides():
    xy = swimmer("right")
    marks = marks_of(shot_of(mirrored=True), np.array([3]), xy, np.ones((1, 33)))
    assert marks.at(3)["elbow_l"] == pytest.approx(xy[0, 14])
    assert marks.at(3)["mouth"] == pytest.approx(xy[0, [9, 10]].mean(0))


@pytest.mark.parametrize(("view", "direction"), [("front_under", "toward"), ("rear_above", "away")])
def test_head_on_views_are_refused_since_the_model_is_no_help_there(view, direction):
    with pytest.raises(CasebookError, match="head-on, where the pose model is no help"):
        draft(shot_of(view, direction))


def test_the_error_follows_the_size_of_the_swimmer_and_never_falls_below_the_least():
    xy = swimmer("right")
    # Shoulder to ankle 390 px of 0.779 of stature.
    assert stature_px(xy) == pytest.approx(390 / 0.779, rel=1e-3)
    marks = marks_of(shot_of(), np.array([3]), xy, np.ones((1, 33)))
    np.testing.assert_allclose(marks.sigma_px, SIGMA_OF_STATURE["side_under"] * 390 / 0.779, rtol=1e-3)
    small = marks_of(shot_of(), np.array([3]), xy / 4, np.ones((1, 33)))
    np.testing.assert_allclose(small.sigma_px, LEAST_SIGMA_PX)


def test_frames_outside_the_shot_are_refused():
    with pytest.raises(CasebookError, match='Frame 9 is not in shot "side", which has frames 2 to 7'):
        draft(shot_of(picture=np.zeros((40, 60, 3), np.uint8)), [3, 9])
