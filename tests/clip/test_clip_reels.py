"""Reels: every coded picture is the frame it says, upright, in its place and colours, whatever the file is like."""

from __future__ import annotations

import subprocess
import sys
import threading
import time
from fractions import Fraction

import av
import numpy as np
import pytest
from numbered import CORNERS, Film, corner, picture, read_number, shoot

from casebook.clip.clip import Clip
from casebook.clip.reel import FRAMES, Reel, reel_size

SHARP = {"crf": "4", "preset": "ultrafast"}
SIZE = (320, 192)


def decoded(reel: Reel, first: int = 0) -> list[np.ndarray]:
    """The reel's pictures from its ``first`` on, decoded from its bytes alone by the general library."""
    coder = av.CodecContext.create("h264", "r")
    out = []
    begins = [0, *reel.ends[:-1]]
    for begin, end in list(zip(begins, reel.ends, strict=True))[first:]:
        out += coder.decode(av.Packet(reel.data[begin:end]))
    return [f.reformat(format="rgb24", dst_color_range="JPEG").to_ndarray() for f in out + coder.decode(None)]


def reels_of(clip: Clip, numbers: list[int] | None = None) -> dict[int, Reel]:
    """These reels, or all of them, in the order in which they come."""
    numbers = list(range(clip.proxy.n_reels)) if numbers is None else numbers
    come: dict[int, Reel] = {}
    done = threading.Event()

    def take(reel: Reel) -> None:
        come[reel.number] = reel
        if len(come) == len(numbers):
            done.set()

    clip.proxy.want(take, numbers)
    assert done.wait(30), f"only {list(come)} came"
    return come


def numbers_in(reels: dict[int, Reel]) -> list[tuple[int, int]]:
    """The frame that each coded picture says it is, and the number read from it."""
    return [
        (frame, read_number(image))
        for reel in reels.values()
        for frame, image in zip(reel.frames, decoded(reel), strict=True)
    ]


UNEVEN = np.cumsum(np.random.default_rng(7).choice([1500, 1500, 1500, 3000, 1501, 700], 100)).tolist()
FILMS = {
    "even": Film(n=100, size=SIZE),
    "with pictures stored out of order": Film(n=100, size=SIZE, options={"preset": "medium", "crf": "12"}),
    "in one group": Film(n=100, size=SIZE, options={"x264-params": "keyint=250:scenecut=0", "crf": "12"}),
    "of open groups": Film(n=100, size=SIZE, codec="libx265", options={"x265-params": "keyint=20:log-level=none"}),
    "of uneven rate": Film(n=100, size=SIZE, ticks=UNEVEN, options={"crf": "12"}),
    "of 240 a second": Film(n=100, size=SIZE, rate=Fraction(240), options={"crf": "12"}),
    "turned": Film(n=100, size=SIZE[::-1], turn=90, options={"crf": "12"}),
    "of ten bits": Film(
        n=100, size=SIZE, codec="libx265", pix_fmt="yuv420p10le", options={"x265-params": "log-level=none"}
    ),
}


@pytest.mark.parametrize("name", FILMS)
def test_every_coded_picture_is_the_frame_it_says(tmp_path, name):
    film = FILMS[name]
    with Clip(shoot(tmp_path / "film.mp4", film)) as clip:
        # Backwards, so that each is reached by a jump.
        found = numbers_in(reels_of(clip, [2, 1, 0]))
    assert sorted(found) == [(n, n) for n in range(film.n)]


def test_pictures_can_be_had_from_any_key_on(tmp_path):
    with Clip(shoot(tmp_path / "film.mp4", Film(n=FRAMES, size=SIZE))) as clip:
        reel = reels_of(clip)[0]
    keys = [i for i, key in enumerate(reel.keys) if key]
    assert keys[0] == 0 and max(np.diff([*keys, len(reel.keys)])) <= 8
    for key in keys:
        assert [read_number(image) for image in decoded(reel, key)] == list(range(key, FRAMES))


@pytest.mark.parametrize("turn", [0, 90, 180, 270])
def test_pictures_are_upright_and_in_the_filmed_colours(tmp_path, turn):
    with Clip(shoot(tmp_path / "film.mp4", Film(n=3, size=(322, 194), turn=turn, options=SHARP))) as clip:
        reel = reels_of(clip)[0]
    assert reel.size == (322, 194)
    for image in decoded(reel):
        for name, rgb in CORNERS.items():
            assert np.abs(corner(image, name) - rgb).max() < 16


def test_a_film_that_asks_to_be_mirrored_is(tmp_path):
    path = tmp_path / "mirrored.mp4"
    with av.open(str(path), "w") as box:
        stream = box.add_stream("libx264", rate=30, options=SHARP)
        stream.width, stream.height, stream.pix_fmt = 160, 96, "yuv420p"
        stream.set_display_rotation(90, hflip=True)
        for i in range(3):
            box.mux(stream.encode(av.VideoFrame.from_ndarray(picture(i))))
        box.mux(stream.encode(None))
    with Clip(path) as clip:
        for small, full in zip(decoded(reels_of(clip)[0]), clip.frames(), strict=True):
            assert small.shape == full.shape
            assert np.abs(small.astype(int) - full).mean() < 5


def test_of_two_woven_fields_the_one_filmed_first_is_shown(tmp_path):
    pictures = []
    for i in range(6):
        woven = picture(2 * i)
        woven[1::2] = picture(2 * i + 1)[1::2]
        pictures.append(woven)
    film = Film(rate=Fraction(25), options={"x264-params": "tff=1:crf=4:keyint=4"})
    with Clip(shoot(tmp_path / "woven.mp4", film, pictures)) as clip:
        assert clip.facts.interlaced
        assert numbers_in(reels_of(clip)) == [(i, 2 * i) for i in range(6)]


def test_shrinking_does_not_shift_the_picture(tmp_path):
    """A dot's centre, read off the reel and off the frame itself, in source pixels."""
    y, x = np.mgrid[:720, :1280]
    at = [(400.0 + 3.25 * i, 300.0 + 1.5 * i) for i in range(8)]
    pictures = [np.repeat((30 + 200 * np.exp(-((x - a) ** 2 + (y - b) ** 2) / 50.0))[..., None], 3, 2) for a, b in at]
    film = Film(n=8, size=(1280, 720), options=SHARP)
    with Clip(shoot(tmp_path / "dot.mp4", film, [p.astype(np.uint8) for p in pictures])) as clip:
        reel = reels_of(clip)[0]
    assert reel.size == (960, 540)
    for (a, b), image in zip(at, decoded(reel), strict=True):
        light = np.clip(image.astype(float).mean(2) - 60, 0, None)
        rows, columns = np.mgrid[: image.shape[0], : image.shape[1]]
        middle = np.array([(light * columns).sum(), (light * rows).sum()]) / light.sum()
        # Pixel centres are at integers, so an outer edge is at -0.5 at either size.
        assert (middle + 0.5) * 1280 / 960 - 0.5 == pytest.approx((a, b), abs=0.15)


def test_a_damaged_frame_is_left_out_and_the_others_stand(tmp_path):
    film = Film(n=60, size=SIZE, options={"x264-params": "keyint=20:min-keyint=20:scenecut=0:bframes=0", "crf": "12"})
    path = shoot(tmp_path / "film.mp4", film)
    with av.open(str(path)) as box:
        pos, size = [(p.pos, p.size) for p in box.demux(video=0) if p.size][30]
    data = bytearray(path.read_bytes())
    data[pos : pos + size] = bytes(size)
    path.write_bytes(data)
    with Clip(path) as clip:
        found = numbers_in(reels_of(clip))
        sound = sorted(set(range(60)) - set(clip.check(progress=False)))
    assert set(range(30, 40)).isdisjoint(sound), "what is built on the damaged one is damaged too"
    assert found == [(n, n) for n in sound]


def test_the_small_size_keeps_the_shape_and_is_never_larger():
    assert reel_size((1920, 1080)) == (960, 540)
    assert reel_size((1080, 1920)) == (540, 960)
    assert reel_size((853, 481)) == (852, 480)
    assert reel_size((320, 180)) == (320, 180)


# ---- made beside the kernel's work


def test_frames_are_had_while_reels_are_made(tmp_path):
    film = Film(n=240, size=(480, 288), options={"preset": "ultrafast"})
    with Clip(shoot(tmp_path / "film.mp4", film)) as clip:
        come = []
        clip.proxy.want(lambda reel: come.append(reel.number), range(clip.proxy.n_reels))
        asked = np.random.default_rng(3).integers(0, film.n, 30).tolist()
        assert [read_number(clip.frame(n)) for n in asked] == asked
        wait_for(lambda: len(come) == clip.proxy.n_reels)
    assert come == sorted(come)


def test_a_new_wish_replaces_the_old_one_and_what_is_there_comes_at_once(tmp_path):
    with Clip(shoot(tmp_path / "film.mp4", Film(n=480, size=(160, 96), options={"preset": "ultrafast"}))) as clip:
        come: list[int] = []

        def take(reel: Reel) -> None:
            come.append(reel.number)

        clip.proxy.want(take, range(10))
        clip.proxy.want(take, [7])
        wait_for(lambda: 7 in come)
        time.sleep(0.2)
        assert len(come) <= 2, "of the first wish at most the one that was just being finished"
        come.clear()
        clip.proxy.want(take, [7])
        assert come == [7]


def test_two_listeners_each_get_what_they_asked_for(tmp_path):
    with Clip(shoot(tmp_path / "film.mp4", Film(n=480, size=(160, 96), options={"preset": "ultrafast"}))) as clip:
        one: list[int] = []
        other: list[int] = []
        clip.proxy.want(lambda reel: one.append(reel.number), [0, 1])
        clip.proxy.want(lambda reel: other.append(reel.number), [1, 5])
        wait_for(lambda: sorted(one) == [0, 1] and sorted(other) == [1, 5])


def test_the_thread_ends_when_there_is_nothing_to_make_and_when_the_clip_is_closed(tmp_path):
    def at_work() -> int:
        return sum(thread.name == "casebook reels" for thread in threading.enumerate())

    clip = Clip(shoot(tmp_path / "film.mp4", Film(n=480, size=(160, 96))))
    reels_of(clip, [0])
    wait_for(lambda: at_work() == 0)
    clip.proxy.want(lambda reel: None, range(10))
    assert at_work() == 1
    clip.close()
    assert at_work() == 0
    assert read_number(decoded(reels_of(clip, [3])[3])[0]) == 3 * FRAMES, "asked again it opens the file again"
    clip.close()


def test_a_file_that_is_gone_makes_a_reel_without_frames(tmp_path):
    path = shoot(tmp_path / "film.mp4", Film(n=60, size=SIZE))
    clip = Clip(path)
    path.unlink()
    assert reels_of(clip, [1])[1].frames == ()


def test_a_program_that_ends_does_not_wait_for_reels(tmp_path):
    path = shoot(tmp_path / "film.mp4", Film(n=480, size=SIZE, options={"preset": "ultrafast"}))
    code = (
        "import sys, time; from casebook.clip.clip import Clip; clip = Clip(sys.argv[1]); "
        "clip.proxy.want(lambda reel: time.sleep(30) if reel.number else None, range(10)); clip.frame(0)"
    )
    ended = subprocess.run([sys.executable, "-c", code, str(path)], capture_output=True, text=True, timeout=25)
    assert (ended.returncode, ended.stderr) == (0, "")


def test_nothing_is_written_to_disk(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    with Clip(shoot(tmp_path / "film.mp4", Film(n=60, size=SIZE))) as clip:
        reels_of(clip)
    assert [path.name for path in tmp_path.iterdir()] == ["film.mp4"]


def wait_for(what) -> None:
    end = time.monotonic() + 30
    while not what():
        assert time.monotonic() < end
        time.sleep(0.01)
