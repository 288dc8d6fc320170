"""Covers over frames, and a clip of which only covered pictures can be had."""

from __future__ import annotations

import io
import threading
from pathlib import Path

import av
import numpy as np
import pytest
from numbered import Film, shoot
from PIL import Image

from casebook.clip.clip import Clip
from casebook.clip.cover import FILL, MOST_GROWTH, Cover, Key, box_corners, covered, mask_of, outlines_at
from casebook.clip.covered import CoveredClip, open_clip
from casebook.errors import ClipError

SQUARE = box_corners((10, 10, 30, 30))


def moving(**changes):
    said = {
        "name": "a", "kind": "bystander", "start": 0, "stop": 40,
        "keys": (Key(10, SQUARE), Key(20, box_corners((30, 10, 50, 30)))),
    }  # fmt: skip
    return Cover(**(said | changes))


def test_corners_move_evenly_between_key_frames():
    assert moving().at(15).tolist() == [[20, 10], [40, 10], [40, 30], [20, 30]]
    assert moving().at(20).tolist() == [list(c) for c in box_corners((30, 10, 50, 30))]


def test_before_and_after_its_key_frames_a_cover_is_held_and_grows():
    before, after, long_after = moving().at(5), moving().at(25), moving(stop=1000).at(999)
    assert before[0, 0] < 10 and before[2, 1] > 30
    assert after[0, 0] < 30 and after[2, 0] > 50
    assert np.ptp(long_after[:, 0]) == pytest.approx(20 * (1 + 2 * MOST_GROWTH))


def test_outside_its_frames_a_cover_does_not_apply():
    cover = moving(start=12, stop=18)
    assert cover.at(11) is None and cover.at(18) is None and cover.at(12) is not None
    assert len(outlines_at([cover, moving()], 11)) == 1


@pytest.mark.parametrize(
    "wrong",
    [
        {"name": ""}, {"name": "two\nlines"}, {"kind": "face"}, {"start": 9, "stop": 9}, {"keys": ()},
        {"keys": (Key(20, SQUARE), Key(10, SQUARE))}, {"keys": (Key(0, SQUARE), Key(1, SQUARE[:3]))},
        {"keys": (Key(0, SQUARE[:2]),)}, {"keys": (Key(0, ((0, 0), (1, float("nan")), (1, 1))),)},
    ],
)  # fmt: skip
def test_a_cover_that_would_hide_nothing_certain_is_refused(wrong):
    with pytest.raises(ClipError):
        moving(**wrong)


def test_an_empty_box_is_refused():
    with pytest.raises(ClipError, match="holds nothing"):
        box_corners((10, 10, 10, 30))


def test_nothing_is_left_of_what_is_covered():
    """Two pictures that differ only under the cover are the same to the last bit once covered."""
    rng = np.random.default_rng(1)
    one = rng.integers(0, 256, (60, 80, 3), np.uint8)
    other = one.copy()
    outline = np.array([[20.3, 11.2], [50.1, 15.0], [44.4, 40.9], [18.0, 33.3]])
    under = mask_of([outline], (80, 60))
    other[under] = rng.integers(0, 256, (int(under.sum()), 3), np.uint8)
    assert np.array_equal(covered(one, [outline]), covered(other, [outline]))
    assert (covered(one, [outline])[under] == FILL).all()
    assert np.array_equal(covered(one, [outline])[~under], one[~under])


@pytest.mark.parametrize("seed", range(12))
def test_every_pixel_that_an_outline_touches_is_covered(seed):
    from matplotlib.path import Path as Inside

    rng = np.random.default_rng(seed)
    turn = np.sort(rng.uniform(0, 2 * np.pi, 7))
    outline = np.array([40.0, 30.0]) + rng.uniform(15, 28, 7)[:, None] * np.stack([np.cos(turn), np.sin(turn)], -1)
    y, x = np.mgrid[:60, :80]
    # Corners of each pixel's square count too.
    inside = [
        Inside(outline).contains_points(np.stack([x.ravel() + dx, y.ravel() + dy], -1)).reshape(60, 80)
        for dx in (-0.5, 0, 0.5)
        for dy in (-0.5, 0, 0.5)
    ]
    assert mask_of([outline], (80, 60))[np.any(inside, 0)].all()


def test_an_outline_beyond_the_picture_covers_what_is_in_it():
    assert mask_of([np.array([[-50.0, -50.0], [500, -50], [500, 500], [-50, 500]])], (80, 60)).all()


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return shoot(tmp_path_factory.mktemp("clips") / "jane_doe.mp4", Film(n=60))


def half(clip: Clip, **changes) -> Cover:
    width, height = clip.size
    corners = box_corners((0, 0, width / 2, height))
    keys = (Key(0, corners), Key(59, corners))
    return Cover(**({"name": "left half", "kind": "bystander", "start": 0, "stop": 60, "keys": keys} | changes))


def test_every_way_to_a_picture_gives_the_covered_one(made: Path):
    with Clip(made) as bare:
        cover, left = half(bare), bare.size[0] // 2
        with CoveredClip(made, [cover]) as clip:
            assert isinstance(clip, Clip) and clip.n_frames == bare.n_frames and clip.sha256 == bare.sha256
            for picture in (clip.frame(7), next(clip.frames(33)), clip.frame(7)):
                assert (picture[:, :left] == FILL).all()
                assert not picture.flags.writeable
            assert np.array_equal(clip.frame(7)[:, left + 3 :], bare.frame(7)[:, left + 3 :])
            small = np.asarray(Image.open(io.BytesIO(clip.jpeg(7))), int)
            assert np.abs(small[:, : left - 8] - FILL).max() < 12


def test_the_small_copies_for_the_marker_are_covered_too(made: Path):
    with Clip(made) as bare:
        cover = half(bare, start=0, stop=60)
    done = threading.Event()
    reels = []

    def keep(reel):
        reels.append(reel)
        done.set()

    with CoveredClip(made, [cover]) as clip:
        clip.proxy.want(keep, [0])
        assert done.wait(30)
    reel = reels[0]
    coder = av.CodecContext.create("h264", "r")
    begin, pictures = 0, []
    for end in reel.ends:
        pictures += coder.decode(av.Packet(reel.data[begin:end]))
        begin = end
    pictures += coder.decode(None)
    assert len(pictures) == len(reel.frames) == 48
    for picture in pictures:
        shown = picture.to_ndarray(format="rgb24").astype(int)
        assert np.abs(shown[:, : shown.shape[1] // 2 - 8] - FILL).max() < 14


def test_a_clip_with_a_name_of_its_own_leads_nobody_to_the_file(made: Path):
    with Clip(made) as bare, CoveredClip(made, [half(bare)], name="film 1") as clip:
        assert clip.name == "film 1" and "jane" not in repr(clip)
        assert clip.sha256 != bare.sha256 and len(clip.sha256) == 64
        with pytest.raises(IndexError, match="film 1"):
            clip.frame(1000)


def test_frames_on_which_no_head_is_covered_show_nothing(made: Path):
    with Clip(made) as bare:
        head = half(bare, kind="head", start=10, stop=20)
    with CoveredClip(made, [head], only_with="head") as clip:
        assert clip.withheld == frozenset(range(60)) - frozenset(range(10, 20))
        assert (clip.frame(9) == FILL).all() and (clip.frame(20) == FILL).all()
        assert not (clip.frame(10) == FILL).all()


def test_a_clip_without_covers_is_opened_as_it_is(made: Path):
    with open_clip(made) as clip:
        assert type(clip) is Clip
    with open_clip(made, [half(clip)]) as clip:
        assert isinstance(clip, CoveredClip)
