"""Loops for the page: one packet a picture, none reordered, the same bytes each time, and silent about the machine."""

from __future__ import annotations

import io

import av
import numpy as np
import pytest
from numbered import corner, picture, read_number

from casebook.clip.clip import Clip
from casebook.clip.loop import encode_loop
from casebook.errors import ClipError

SIZE = (320, 192)
TIMES = np.cumsum([5.0, *([1 / 60, 1 / 30, 1 / 50] * 13)])


@pytest.fixture(scope="module")
def made():
    return encode_loop([picture(i, SIZE) for i in range(40)], TIMES)


def test_every_picture_is_there_at_its_time(made, tmp_path):
    (tmp_path / "loop.mp4").write_bytes(made.mp4)
    clip = Clip(tmp_path / "loop.mp4")
    assert [read_number(f) for f in clip.frames()] == list(range(40))
    assert np.array_equal(clip.times, made.times_s)
    assert np.abs(made.times_s - (TIMES - TIMES[0])).max() <= 0.5 / 90_000
    assert clip.size == made.size == SIZE


def test_a_browser_can_decode_it_and_seek_in_it(made):
    with av.open(io.BytesIO(made.mp4)) as box:
        stream = box.streams.video[0]
        assert (stream.codec_context.name, stream.codec_context.pix_fmt) == ("h264", "yuv420p")
        assert not stream.codec_context.has_b_frames
        packets = [p for p in box.demux(stream) if p.size]
        assert len(packets) == 40
        assert all(p.pts == p.dts for p in packets)
        keys = [i for i, p in enumerate(packets) if p.is_keyframe]
        assert max(np.diff(keys)) <= 8


def test_colours_survive(made, tmp_path):
    (tmp_path / "loop.mp4").write_bytes(made.mp4)
    image = Clip(tmp_path / "loop.mp4").frame(20)
    for name in ("top_left", "top_right", "bottom_left"):
        assert np.abs(corner(image, name) - corner(picture(20, SIZE), name)).max() < 12


def test_the_same_pictures_give_the_same_bytes(made):
    assert encode_loop((picture(i, SIZE) for i in range(40)), TIMES).mp4 == made.mp4


def test_nothing_tells_when_where_or_with_what_it_was_made(made):
    for word in (b"x264", b"Lavf", b"Lavc", b"encoder", b"\xa9too"):
        assert word not in made.mp4
    with av.open(io.BytesIO(made.mp4)) as box:
        assert "creation_time" not in box.metadata


@pytest.mark.parametrize(
    ("size", "width", "expected"),
    [((321, 195), 960, (320, 196)), ((1280, 720), 960, (960, 540)), ((97, 161), 60, (60, 100))],
)
def test_sizes_become_even_and_never_grow(size, width, expected):
    loop = encode_loop([picture(0, size)], [0.0], width=width)
    assert loop.size == expected
    with av.open(io.BytesIO(loop.mp4)) as box:
        assert read_number(next(box.decode(video=0)).to_ndarray(format="rgb24")) == 0


def test_a_higher_crf_costs_fewer_bytes(made):
    assert len(encode_loop([picture(i, SIZE) for i in range(40)], TIMES, crf=40).mp4) < len(made.mp4)


@pytest.mark.parametrize(
    ("n", "times", "words"),
    [
        (0, [], "at least one picture"),
        (2, [0.0, np.nan], "known time"),
        (3, [0.0, 0.1, 0.1], "must rise"),
        (2, [0.0, 0.1, 0.2], "one time for every picture"),
        (3, [0.0, 0.1], "one time for every picture"),
    ],
)
def test_what_makes_no_loop_is_refused_in_words(n, times, words):
    with pytest.raises(ClipError, match=words):
        encode_loop([picture(i) for i in range(n)], times)
