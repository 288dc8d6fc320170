"""Between the picture that the pose model is shown and ours: cutting out, turning, stretching, mirroring."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from casebook.errors import CasebookError
from casebook.marks.draft import make_draft
from casebook.marks.pose_look import LEFT, RIGHT, Look, around, looks_for, matrix, places, shown, tiles
from casebook.words import VIEWS

BOX = (300.0, 180.0, 620.0, 300.0)
LOOKS = (Look(), Look(turn=20.0), Look(across=1.5, along=0.8, margin=0.1), Look(turn=180.0, flip=True))


def dot(at: tuple[int, int], size: tuple[int, int] = (960, 540), radius: int = 6) -> np.ndarray:
    """A black picture with a bright disc around a pixel."""
    rows, columns = np.mgrid[: size[1], : size[0]]
    disc = (columns - at[0]) ** 2 + (rows - at[1]) ** 2 <= radius**2
    return np.repeat((disc * 255).astype(np.uint8)[..., None], 3, 2)


def brightest(picture: np.ndarray) -> np.ndarray:
    """Centre of brightness in pixel centres. (2,) [px]"""
    weight = picture[..., 0].astype(float)
    rows, columns = np.mgrid[: weight.shape[0], : weight.shape[1]]
    return np.array([(weight * columns).sum(), (weight * rows).sum()]) / weight.sum()


@pytest.mark.parametrize("sign", [-1, 0, 1])
@pytest.mark.parametrize("look", LOOKS)
@pytest.mark.parametrize("at", [(460, 240), (420, 220), (505, 262)])
def test_what_is_seen_in_the_shown_picture_comes_back_to_where_it_was(sign, look, at):
    way = matrix(BOX, look, sign)
    picture = shown(dot(at), way)
    share = (brightest(picture) + 0.5) / picture.shape[0]
    landmarks = np.tile([*share, 1.0], (33, 1))
    np.testing.assert_allclose(places(landmarks, way)[0, :2], at, atol=0.35)


def test_a_large_swimmer_is_made_smaller_without_moving():
    # Two thousand pixels into 384: shrunk by areas before it is turned.
    way = matrix((100.0, 100.0, 2100.0, 1100.0), Look(across=1.3), 1)
    picture = shown(dot((1111, 607), (2200, 1200), radius=15), way)
    share = (brightest(picture) + 0.5) / picture.shape[0]
    np.testing.assert_allclose(places(np.tile([*share, 1.0], (33, 1)), way)[0, :2], (1111, 607), atol=1.0)


@pytest.mark.parametrize(("sign", "head"), [(1, (610, 240)), (-1, (310, 240)), (0, (460, 185))])
def test_the_swimmer_is_shown_head_up(sign, head):
    x, y = brightest(shown(dot(head), matrix(BOX, Look(), sign)))
    assert y < 384 / 2 - 40 and abs(x - 383 / 2) < 2


def test_a_turn_goes_clockwise_in_the_shown_picture():
    # Up in the picture, turned by a right angle clockwise, is on the right.
    x, y = brightest(shown(dot((460, 185)), matrix(BOX, Look(turn=90.0), 0)))
    assert x > 384 / 2 + 40 and abs(y - 383 / 2) < 2


def test_a_look_as_in_a_mirror_exchanges_left_and_right_on_the_way_back():
    way = matrix(BOX, Look(flip=True), 1)
    landmarks = np.full((33, 3), 0.5)
    landmarks[15] = 0.25, 0.4, 0.9
    back = places(landmarks, way)
    assert back[16, 2] == 0.9 and back[15, 2] == 0.5
    plain = places(landmarks, matrix(BOX, Look(), 1))
    assert plain[15, 2] == 0.9
    # Mirrored along the body, which runs along x here: the same x, the other side of the body in y.
    np.testing.assert_allclose(back[16, 0], plain[15, 0])
    np.testing.assert_allclose(back[16, 1] + plain[15, 1], BOX[1] + BOX[3])


def test_left_and_right_landmarks_are_paired():
    assert sorted((0, *LEFT, *RIGHT)) == list(range(33))
    assert all(r - left == (3 if left < 4 else 1) for left, r in zip(LEFT, RIGHT, strict=True))


def test_every_view_has_several_ways_of_looking_none_twice():
    for view in VIEWS:
        ways = looks_for(view)
        assert len(ways) >= 5 and len(set(ways)) == len(ways), view


@pytest.mark.parametrize("size", [(960, 540), (540, 960), (1920, 1080), (300, 300)])
def test_a_small_swimmer_anywhere_lies_inside_one_of_the_parts_searched(size):
    small = min(size) / 4
    for x in np.linspace(0, size[0] - small, 9):
        for y in np.linspace(0, size[1] - small, 9):
            held = [b for b in tiles(size)[1:] if b[0] <= x + 1e-9 and b[1] <= y + 1e-9]
            held = [b for b in held if b[2] >= x + small - 1e-9 and b[3] >= y + small - 1e-9]
            assert min(b[2] - b[0] for b in held) == min(size) / 2


def test_the_box_around_a_body_leaves_out_what_is_missing():
    assert around(np.array([[3.0, 9.0], [np.nan, np.nan], [1.0, 12.0]])) == (1.0, 9.0, 3.0, 12.0)


@pytest.mark.parametrize("view", ["front_above", "rear_above", "rear_under"])
def test_a_view_in_which_drafts_are_no_help_is_refused_before_anything_is_loaded(view):
    with pytest.raises(CasebookError, match="no use"):
        make_draft(SimpleNamespace(view=view))
