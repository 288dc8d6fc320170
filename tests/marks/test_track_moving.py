"""Tracking on made pictures: a patterned ball before a patterned wall, its place known to the hundredth of a pixel."""

from __future__ import annotations

import subprocess
import sys
from types import SimpleNamespace

import numpy as np
import pytest

from casebook.clip.shot import Shot
from casebook.errors import ClipError, MarksError
from casebook.marks.flow import Follower, best_match, likeness, opencv, patches
from casebook.marks.marks import Marks, Origin
from casebook.marks.store import MarkStore
from casebook.marks.track import GreyPictures, track

N, WIDTH, HEIGHT, RADIUS = 25, 320, 240, 22.0
TIMES = np.arange(N) / 60


def pattern(x, y, seed):
    """Waves in many directions, smooth and without end, -1 to 1."""
    rng = np.random.default_rng(seed)
    out = np.zeros_like(x)
    for _ in range(24):
        fx, fy = rng.normal(0, 0.35, 2)
        out += np.sin(fx * x + fy * y + rng.uniform(0, 6.3))
    return out / 8


def place(t):
    """The ball's way: an arc, some 5 px for each picture. [px]"""
    t = np.asarray(t, float)
    return np.stack([60.3 + 8 * t - 0.12 * t * t, 60.7 + 0.28 * t * t - 0.004 * t**3], -1)


def picture(t, bar=False):
    y, x = np.mgrid[0:HEIGHT, 0:WIDTH].astype(float)
    grey = 90 + 25 * pattern(x, y, 1)
    bx, by = place(t)
    inside = np.hypot(x - bx, y - by) < RADIUS
    grey = np.where(inside, 150 + 60 * pattern(x - bx, y - by, 2), grey)
    if bar:
        grey = np.where(np.abs(x - BAR_X) < BAR_HALF, 60 + 40 * pattern(x, y, 3), grey)
    return np.repeat(np.clip(grey, 0, 255).astype(np.uint8)[..., None], 3, 2)


BAR_X, BAR_HALF = 104.0, 12.0


class MadeClip(SimpleNamespace):
    """Pictures made beforehand, with a count of how often each was asked for."""

    def frame(self, i):
        self.asked[i] = self.asked.get(i, 0) + 1
        if i in self.damaged:
            raise ClipError(f"Frame {i} is damaged.")
        return self.pictures[i]


@pytest.fixture(scope="module")
def pictures():
    return [picture(t) for t in range(N)]


def shot_of(pictures, damaged=()) -> Shot:
    clip = MadeClip(n_frames=N, times=TIMES, size=(WIDTH, HEIGHT), pictures=pictures, asked={}, damaged=damaged)
    return Shot("made", clip, "side_under", "right", 0, N)


def marks_on(frames, points=("wrist_l",)) -> Marks:
    xy = np.repeat(place(frames)[:, None], len(points), 1)
    return Marks.from_arrays(points, frames, xy, 0.1)


def test_a_moving_point_is_found_to_a_third_of_a_pixel(pictures):
    found = track(shot_of(pictures), marks_on([0, 12, 24]))
    assert found.frames.tolist() == [f for f in range(N) if f not in (0, 12, 24)]
    assert (found.origin == Origin.tracked).all()
    off = np.linalg.norm(found.xy[:, 0] - place(found.frames), axis=-1)
    straight = np.linalg.norm(place(np.arange(13)) - np.linspace(place(0), place(12), 13), axis=-1)
    assert off.max() < 0.35 < 4 < straight.max()


def test_it_is_followed_where_the_marks_foretell_another_way(pictures):
    """Two marks alone foretell a straight line; the ball leaves it by 5 px and more."""
    found = track(shot_of(pictures), marks_on([0, 12]))
    off = np.linalg.norm(found.xy[:, 0] - place(found.frames), axis=-1)
    assert len(found.frames) >= 9 and off.max() < 1.0


def test_behind_a_bar_it_is_lost_and_not_guessed():
    hidden = [picture(t, bar=True) for t in range(N)]
    found = track(shot_of(hidden), marks_on([0, 11]))
    away = np.abs(place(np.arange(12))[:, 0] - BAR_X)
    covered, clear = np.flatnonzero(away < BAR_HALF - 3), np.flatnonzero(away > BAR_HALF + 8)
    assert len(covered) >= 2 and not np.isin(found.frames, covered).any()
    assert np.isin(np.setdiff1d(clear, [0, 11]), found.frames).mean() > 0.7
    off = np.linalg.norm(found.xy[:, 0] - place(found.frames), axis=-1)
    assert (off < 2.5 * found.sigma_px[:, 0]).all()


def test_hand_marks_are_never_changed_and_hidden_points_stay_untracked(pictures, tmp_path):
    marks = marks_on([0, 8, 16, 24], ("elbow_l", "wrist_l"))
    with MarkStore(tmp_path / "made.csv", TIMES, by="AB") as store:
        store.put_marks(marks)
        store.hide(16, "wrist_l")
        store.put(4, "wrist_l", *(place(4) + 0.2), 0.3, Origin.confirmed)
        store.put(5, "elbow_l", 9.0, 9.0, 6.0, Origin.drafted)
        before = store.marks
        found = track(shot_of(pictures), before)
        taken = store.put_marks(found)
        after = store.marks
        assert taken == found.n_marked
    decided = before.origin >= Origin.confirmed
    now = after.pick(before.points, before.frames)
    np.testing.assert_array_equal(now.xy[decided], before.xy[decided])
    np.testing.assert_array_equal(now.origin[decided], before.origin[decided])
    np.testing.assert_array_equal(now.hidden[decided], before.hidden[decided])
    wrist = found.frames[np.isfinite(found.xy[:, found.index("wrist_l"), 0])]
    assert wrist.max() < 8, "neither side of the hidden mark is tracked"
    assert after.origin[after.frames == 5, after.index("elbow_l")] == Origin.tracked, "a draft gives way"


def test_nothing_is_marked_before_the_first_mark_or_after_the_last(pictures):
    found = track(shot_of(pictures), marks_on([6, 12]))
    assert found.frames.min() > 6 and found.frames.max() < 12
    assert not len(track(shot_of(pictures), marks_on([6])).frames)
    assert not len(track(shot_of(pictures), Marks.empty((), [])).frames)


def test_a_damaged_frame_is_stepped_over(pictures):
    found = track(shot_of(pictures, damaged=(4, 9)), marks_on([0, 12]))
    assert not np.isin([4, 9], found.frames).any()
    off = np.linalg.norm(found.xy[:, 0] - place(found.frames), axis=-1)
    assert len(found.frames) >= 7 and off.max() < 1.0


def test_a_frame_is_read_once(pictures):
    shot = shot_of(pictures)
    track(shot, marks_on([0, 12, 24], ("elbow_l", "wrist_l", "knee_l")))
    assert set(shot.clip.asked) == set(range(N)) and max(shot.clip.asked.values()) <= 2
    assert sum(shot.clip.asked.values()) <= N + 1


def test_no_more_pictures_are_held_than_allowed(pictures):
    shot = shot_of(pictures)
    grey = GreyPictures(shot.clip, limit=5 * WIDTH * HEIGHT)
    for i in [*range(N), *reversed(range(N))]:
        np.testing.assert_array_equal(grey(i), opencv().cvtColor(pictures[i], opencv().COLOR_RGB2GRAY))
        assert grey.held_bytes <= 5 * WIDTH * HEIGHT
    assert all(shot.clip.asked[i] == 1 for i in range(N - 5, N))


def test_unknown_points_are_refused(pictures):
    with pytest.raises(MarksError, match="elbow_x"):
        track(shot_of(pictures), marks_on([0, 12]), ["elbow_x"])


def test_the_same_clip_and_marks_give_the_same_track(pictures):
    a, b = (track(shot_of(pictures), marks_on([0, 12])) for _ in range(2))
    np.testing.assert_array_equal(a.xy, b.xy)
    np.testing.assert_array_equal(a.sigma_px, b.sigma_px)


def test_a_bare_wall_keeps_what_the_marks_foretell_and_says_so():
    """Where nothing can be seen of the motion the place is the foretold one, its error that of the foretelling."""
    wall = np.full((HEIGHT, WIDTH), 128, np.uint8)
    follower = Follower(1, 540)
    follower.begin(wall, np.array([0]), np.array([[100.0, 100.0]]), np.array([2.0]))
    follower.look(wall)
    follower.step(wall, np.array([[3.0, 1.0]]), np.array([2.0]), np.array([0.5]))
    np.testing.assert_allclose(follower.xy[0], (103, 101), atol=1e-3)
    np.testing.assert_allclose(follower.drift[0], 4 * np.eye(2), atol=0.1)


def test_a_straight_edge_says_where_it_is_across_and_not_along():
    across = np.arange(200) - 100 - 0.1 * np.sin(np.arange(200) / 4)[:, None]
    edge = np.round(130 + 70 * np.tanh(across)).astype(np.uint8)
    follower = Follower(1, 540)
    follower.begin(edge, np.array([0]), np.array([[100.0, 100.0]]), np.array([3.0]))
    follower.look(edge)
    follower.step(np.roll(edge, 2, axis=1), np.array([[0.0, 0.0]]), np.array([3.0]), np.array([0.5]))
    np.testing.assert_allclose(follower.xy[0], (102, 100), atol=0.3)
    assert follower.drift[0, 0, 0] < 1 and follower.drift[0, 1, 1] > 5


def test_what_was_seen_of_a_pace_lasts_a_while_and_fades():
    """An edge that moves 2 px otherwise than foretold, then cannot be seen: a half of that each frame, by ``keep``."""
    across = np.arange(200) - 100 - 0.1 * np.sin(np.arange(200) / 4)[:, None]
    edge = np.round(130 + 70 * np.tanh(across)).astype(np.uint8)
    follower, still, half = Follower(1, 540), np.zeros((1, 2)), np.array([0.5])
    follower.begin(edge, np.array([0]), np.array([[100.0, 100.0]]), np.array([3.0]))
    follower.look(edge)
    follower.step(np.roll(edge, 2, axis=1), still, np.array([3.0]), half)
    at, pace = follower.xy[0, 0], follower.pace[0, 0]
    assert pace == pytest.approx(2, abs=0.3)
    dark = np.zeros_like(edge)
    follower.look(dark)
    lost = [follower.drift[0, 0, 0]]
    for k in (1, 2):
        assert not follower.step(dark, still, np.array([3.0]), half)[0]
        lost.append(follower.drift[0, 0, 0])
        assert follower.xy[0, 0] - at == pytest.approx(pace * (1 - 0.5**k), abs=0.2)
    assert lost[0] < 1 < lost[1] < lost[2]


def test_a_square_is_found_between_pixels(pictures):
    grey = pictures[5][..., 0]
    at = place(5)[None]
    template = patches(grey, at, 7)
    offset, peak = best_match(template, patches(grey, at + np.array([1.3, -0.6]), 10))
    np.testing.assert_allclose(offset, [[-1.3, 0.6]], atol=0.15)
    assert peak[0] > 0.98


def test_likeness_does_not_heed_brightness():
    square = np.random.default_rng(0).uniform(0, 100, (1, 9, 9)).astype(np.float32)
    np.testing.assert_allclose(likeness(square, 2 * square + 30), 1, atol=1e-5)
    np.testing.assert_allclose(likeness(square, 255 - square), -1, atol=1e-5)


def test_without_opencv_the_sentence_names_the_libraries():
    code = (
        "import sys; sys.modules['cv2'] = None\n"
        "import casebook.marks.track\n"
        "from casebook.errors import CasebookError\n"
        "from casebook.marks.flow import opencv\n"
        "try:\n    opencv()\nexcept CasebookError as error:\n    print(error)\n"
    )
    told = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, encoding="utf-8"
    ).stdout
    assert "libGL.so.1" in told and "libglib2.0-0" in told
