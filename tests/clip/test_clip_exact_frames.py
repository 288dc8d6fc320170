"""Every picture carries its own number, so the number read back is a check from outside the clip's own counting."""

from __future__ import annotations

import itertools
from concurrent.futures import ThreadPoolExecutor
from fractions import Fraction

import av
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numbered import Film, read_number, shoot

from casebook.clip.clip import Clip

UNEVEN = [0, *itertools.accumulate([1500, 1500, 3000, 1400, 1600, 700, 6000, 1500] * 6)][:48]


def x264(**settings: object) -> dict[str, str]:
    return {"x264-params": ":".join(f"{k.replace('_', '-')}={v}" for k, v in settings.items())}


def x265(**settings: object) -> dict[str, str]:
    return {"x265-params": ":".join(f"{k.replace('_', '-')}={v}" for k, v in {**settings, "log_level": "none"}.items())}


FILMS: dict[str, Film] = {
    "plain.mp4": Film(),
    "b_frames.mp4": Film(options=x264(bframes=3, b_pyramid="normal", keyint=16), audio="aac"),
    "long_group.mp4": Film(n=120, options=x264(bframes=3, keyint=250)),
    "open_group.mp4": Film(options=x264(bframes=3, keyint=12, min_keyint=12, open_gop=1)),
    "moving_refresh.mp4": Film(options=x264(intra_refresh=1, keyint=12, bframes=0)),
    "uneven.mp4": Film(ticks=UNEVEN, options=x264(bframes=2, keyint=16)),
    "uneven.mkv": Film(ticks=UNEVEN, options=x264(bframes=2, keyint=16)),
    "sound.mov": Film(options=x264(bframes=2, keyint=10), audio="aac"),
    "b_frames.mkv": Film(options=x264(bframes=3, keyint=16), audio="aac"),
    "b_frames.ts": Film(options=x264(bframes=3, keyint=16), audio="aac"),
    "b_frames.avi": Film(options=x264(bframes=3, keyint=16)),
    "open_group.avi": Film(options=x264(bframes=3, keyint=16, min_keyint=16, open_gop=1)),
    "odd.mkv": Film(size=(161, 97), pix_fmt="yuv444p"),
    "hevc_open.mp4": Film(codec="libx265", options=x265(keyint=12, min_keyint=12, open_gop=1, bframes=4)),
    "hevc_10bit.mov": Film(codec="libx265", pix_fmt="yuv420p10le", options=x265(keyint=12), audio="aac"),
    "hevc.mkv": Film(codec="libx265", options=x265(keyint=24, bframes=4)),
    "vp9.webm": Film(
        codec="libvpx-vp9", options={"deadline": "realtime", "cpu-used": "8", "lag-in-frames": "16"}, audio="libopus"
    ),
    "vp8.webm": Film(codec="libvpx", options={"lag-in-frames": "16", "auto-alt-ref": "1"}),
    "av1.mp4": Film(codec="libsvtav1", options={"preset": "12", "svtav1-params": "keyint=16"}),
    "mpeg4.avi": Film(codec="mpeg4", options={"bf": "2", "g": "12", "qscale": "3"}, audio="mp3"),
    "mpeg4.mp4": Film(codec="mpeg4", options={"bf": "2", "g": "12"}),
    "mjpeg.avi": Film(codec="mjpeg", pix_fmt="yuvj420p", full_range=True),
    "mjpeg.mov": Film(codec="mjpeg", pix_fmt="yuvj422p", full_range=True, audio="pcm_s16le"),
    "mpeg2.ts": Film(codec="mpeg2video", rate=Fraction(30), options={"bf": "2", "g": "12"}, audio="mp2"),
    "prores.mov": Film(codec="prores_ks", pix_fmt="yuv422p10le"),
}


@pytest.fixture(scope="session")
def films(tmp_path_factory):
    folder = tmp_path_factory.mktemp("films")
    made = {}

    def film(name):
        if name not in made:
            made[name] = shoot(folder / name, FILMS[name])
        return made[name]

    return film


def test_the_encoders_that_these_tests_need_are_all_there():
    missing = [f.codec for f in FILMS.values() if f.codec not in av.codecs_available]
    assert not missing


@pytest.mark.parametrize("name", FILMS)
def test_the_picture_of_a_number_is_the_same_in_any_order_of_access(films, name):
    film, rng = FILMS[name], np.random.default_rng(7)
    with Clip(films(name)) as clip:
        assert clip.n_frames == film.n
        assert clip.size == film.size
        orders = [range(film.n), range(film.n - 1, -1, -1), rng.permutation(film.n)]
        for order in orders:
            clip.close()  # Forgets every picture held.
            assert [read_number(clip.frame(i)) for i in order] == list(order)
        for i in rng.integers(0, film.n, 12):
            clip.close()
            assert read_number(clip.frame(int(i))) == i


@pytest.mark.parametrize("name", FILMS)
def test_times_are_those_the_film_was_encoded_with(films, name):
    film = FILMS[name]
    clip = Clip(films(name))
    given_times = np.arange(film.n) / float(film.rate) if film.ticks is None else np.array(film.ticks) / film.tick_rate
    # Matroska and WebM store whole milliseconds (IETF RFC 9559, TimestampScale default).
    tick = 0.001 if name.endswith(("mkv", "webm")) else 1e-9
    assert clip.times[0] == 0.0
    assert np.abs(clip.times - given_times).max() <= tick
    assert clip.times_are_nominal == (name in ("b_frames.avi", "open_group.avi"))
    assert clip.facts.variable_rate == (film.ticks is not None)
    assert clip.facts.audio == bool(film.audio)


def test_no_frame_of_a_sound_film_is_called_damaged(films):
    for name in FILMS:
        clip = Clip(films(name))
        assert clip.check(progress=False) == (), name


@given(order=st.lists(st.integers(0, 47), min_size=1, max_size=30), forget=st.sets(st.integers(0, 29)))
@settings(max_examples=25, deadline=None)
@pytest.mark.parametrize("name", ["open_group.mp4", "b_frames.avi"])
def test_any_walk_through_the_film_meets_the_right_pictures(films, name, order, forget):
    clip = Clip(films(name))
    for step, i in enumerate(order):
        if step in forget:
            clip.close()
        assert read_number(clip.frame(i)) == i


def test_iterating_counts_as_range_does(films):
    clip = Clip(films("b_frames.mp4"))
    assert [read_number(f) for f in clip.frames(5, 30, 4)] == list(range(5, 30, 4))
    assert [read_number(f) for f in clip.frames(44)] == [44, 45, 46, 47]


def test_two_iterations_at_once_do_not_disturb_each_other(films):
    clip = Clip(films("b_frames.mp4"))
    pairs = list(zip(clip.frames(0, 20), clip.frames(27, 47), strict=True))
    assert [(read_number(a), read_number(b)) for a, b in pairs] == [(i, i + 27) for i in range(20)]


def test_several_threads_get_the_right_pictures(films):
    clip = Clip(films("b_frames.mp4"))
    wanted = np.random.default_rng(3).integers(0, 48, 120).tolist()
    with ThreadPoolExecutor(4) as pool:
        assert list(pool.map(lambda i: read_number(clip.frame(i)), wanted)) == wanted


def test_nearest_is_the_frame_whose_time_is_nearest(films):
    clip = Clip(films("uneven.mp4"))
    asked = np.linspace(-0.1, clip.times[-1] + 0.1, 301)
    by_search = [int(np.argmin(np.abs(clip.times - t))) for t in asked]
    assert [clip.nearest(t) for t in asked] == by_search
    assert [clip.nearest(t) for t in clip.times] == list(range(clip.n_frames))


def test_a_frame_cannot_be_written_on(films):
    image = Clip(films("plain.mp4")).frame(0)
    assert image.dtype == np.uint8
    with pytest.raises(ValueError, match="read-only"):
        image[0, 0] = 0


@pytest.mark.parametrize("number", [-1, 48, 10_000])
def test_a_number_outside_is_refused_in_words(films, number):
    with pytest.raises(IndexError, match="frames 0 to 47"):
        Clip(films("plain.mp4")).frame(number)


def test_pictures_before_the_cut_of_an_edit_list_are_not_counted(tmp_path):
    # Packets with times before zero become an edit list in MP4 (ISO/IEC 14496-12, 8.6.6): players skip them.
    ticks = [(i - 10) * 1500 for i in range(48)]
    film = Film(ticks=ticks, options=x264(bframes=2, keyint=24))
    clip = Clip(shoot(tmp_path / "trimmed.mp4", film))
    assert [read_number(f) for f in clip.frames()] == list(range(10, 48))
    clip.close()
    assert [read_number(clip.frame(i)) for i in (37, 0, 20, 3)] == [47, 10, 30, 13]
    assert np.allclose(clip.times, np.arange(38) / 60)


def test_the_fingerprint_is_that_of_the_file(films):
    import hashlib

    path = films("plain.mp4")
    assert Clip(path).sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
