"""Loops for a phone's messages: short, slow, small, silent, with lines only where points are marked."""

from __future__ import annotations

import io
from dataclasses import replace

import av
import numpy as np
import pytest
from parcel_cases import DemoParcel

from casebook.case.overview import Overview, overview
from casebook.checkpoints.priority import Plan
from casebook.marks.marks import Marks
from casebook.pages import parcel_loops as loops
from casebook.pages.card_picture import change_still, good_stills
from casebook.pages.palette import LIGHT, rgb

Pictures = list[np.ndarray]


def decoded(mp4: bytes) -> tuple[Pictures, float]:
    with av.open(io.BytesIO(mp4)) as box:
        assert len(box.streams) == 1 and not box.streams.audio
        stream = box.streams.video[0]
        assert stream.codec_context.name == "h264" and stream.pix_fmt == "yuv420p"
        tags = set(box.metadata) | set(stream.metadata)
        assert tags <= {"major_brand", "minor_version", "compatible_brands", "language", "handler_name"}
        pictures = [frame.to_ndarray(format="rgb24") for frame in box.decode(stream)]
        return pictures, float(box.duration / av.time_base)


@pytest.fixture(scope="module")
def heron(tmp_path_factory):
    return DemoParcel(tmp_path_factory.mktemp("cases"), "heron")


@pytest.fixture(scope="module")
def made(heron):
    return loops.phone_loops(heron.found, "Heron")


def test_there_are_the_change_a_good_thing_and_a_whole_stroke(heron, made):
    assert [m.key for m in made] == ["change", "good", "stroke"]
    assert made[0].words == heron.found.plan.first.fault.title
    assert made[1].words in {g.words.rstrip(".") for g in heron.found.goods}


def test_they_play_in_any_message(made):
    for loop in made:
        pictures, seconds = decoded(loop.mp4)
        assert 2.0 <= seconds <= loops.LONGEST_S + 0.1 and len(loop.mp4) < loops.MOST_BYTES
        assert pictures[0].shape[1] == loops.WIDTH and all(side % 2 == 0 for side in pictures[0].shape[:2])
        assert len(pictures) / seconds < loops.MOST_PER_S
        assert b"Lavf" not in loop.mp4 and b"x264" not in loop.mp4


def test_a_quarter_of_the_speed_or_as_slow_as_the_length_allows(made):
    change, _, stroke = made
    assert change.speed == loops.SLOWEST and loops.SLOWEST <= stroke.speed <= 0.6


def test_the_moment_itself_stands_still_for_a_while(heron, made):
    with av.open(io.BytesIO(made[0].mp4)) as box:
        begins = [float(f.pts * f.time_base) for f in box.decode(video=0)]
    longest = max(np.diff(begins))
    assert longest >= loops.HOLD_S and sorted(np.diff(begins))[-2] < loops.HOLD_S / 2


def test_the_words_stand_under_the_picture_on_paper(made):
    for loop in made:
        foot = decoded(loop.mp4)[0][0][-8:, 8:-8].reshape(-1, 3).mean(0)
        assert foot == pytest.approx(rgb(LIGHT.paper), abs=6)


def scene_of(found: Overview) -> loops._Scene:
    scene = loops._moment(change_still(found))
    assert scene is not None
    return scene


def test_lines_stand_only_where_points_are_marked(heron, monkeypatch):
    """With the marks of every second frame taken away, those pictures are the film's own."""
    scene = scene_of(heron.found)
    marks = scene.desk.marks
    even = marks.pick(marks.points, marks.frames[marks.frames % 2 == 0])
    monkeypatch.setattr(type(scene.desk), "marks", even)
    drawn = {f for f in scene.frames if loops._lines(scene, f).body}
    assert len(drawn) > 5 and all(f % 2 == 0 for f in drawn)
    whole = np.asarray(loops._whole_stroke(change_still(heron.found)).frames)
    assert len(whole) > 20


def test_the_lines_are_in_the_picture_and_nowhere_else(heron, monkeypatch):
    """The same picture without a mark differs only where the lines run, and not at all in the words under it."""
    scene = loops._whole_stroke(change_still(heron.found))
    frame = next(f for f in scene.frames if loops._lines(scene, f).body)
    scene = replace(scene, frames=(frame,))
    (marked,) = loops._pictures(scene, "words", "under")
    monkeypatch.setattr(type(scene.desk), "marks", Marks.empty((), ()))
    (bare,) = loops._pictures(scene, "words", "under")
    assert marked.shape == bare.shape
    changed = (np.abs(marked.astype(int) - bare) > 12).any(-1)
    assert 0.001 < changed.mean() < 0.15
    foot = len(loops._strip("words", "under").tobytes()) // (3 * loops.WIDTH)
    assert not changed[-foot:].any()


def test_without_a_change_the_good_things_and_a_stroke_are_shown(tmp_path, monkeypatch):
    wren = DemoParcel(tmp_path, "wren")
    monkeypatch.setattr(loops, "_filmed", lambda key, words, name, scene: (key, words, len(scene.frames) > 10))
    made = loops.phone_loops(wren.found, "Wren")
    assert [key for key, _, _ in made] == ["good"] * len(good_stills(wren.found)) + ["stroke"]
    assert len(made) >= 2 and all(whole for _, _, whole in made)


def test_where_nothing_has_a_picture_there_is_no_loop():
    assert loops.phone_loops(Overview((), (), (), Plan(None, None, (), (), ())), "Heron") == []


def test_where_slow_motion_is_not_known_no_speed_is_claimed(tmp_path):
    case = DemoParcel(tmp_path, "heron").case
    for shot in case.shots:
        case = case.desk(shot).filmed(time_scale=0).case
    seen = good_stills(overview(case))
    assert seen and all(loops._moment(one.still).speed is None for one in seen)
    assert loops.speed_words(None) == "slowed down"


def test_a_film_too_large_is_made_again_with_less(heron, monkeypatch):
    whole = loops._filmed("change", "words", "Heron", scene_of(heron.found))
    monkeypatch.setattr(loops, "MOST_BYTES", len(whole.mp4) - 1)
    assert len(loops._filmed("change", "words", "Heron", scene_of(heron.found)).mp4) < len(whole.mp4)


def test_fast_films_are_thinned_for_a_phone_and_the_moment_is_kept():
    frames, at = np.arange(240), np.arange(240) / 60 / 0.25 / 4  # 240 pictures a second at quarter speed: 60
    kept = loops._thinned(frames, at, keep={101})
    assert 101 in kept and len(kept) <= at[-1] * loops.MOST_PER_S + 2 and (np.diff(kept) > 0).all()
