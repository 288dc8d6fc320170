"""The blind round: the drawn frames alone, shuffled, the earlier marks unseen, every change in the study's file."""

from __future__ import annotations

import gc
from fractions import Fraction

import av
import numpy as np
import pytest

from casebook.case.case import Case
from casebook.case.create import ClipAnswers, new_case
from casebook.case.repeat_study import repeat_file, repeat_study, same_clip, signed_by
from casebook.errors import CaseError
from casebook.marks.csvfile import write_marks
from casebook.marks.marks import Marks
from casebook.marks.repeat import read_repeat
from casebook.widgets.repeat_desk import repeat_desk, repeat_marker

POINTS = ("elbow_r", "wrist_r")
N = 20


def film(path, n_frames=N):
    """Each picture a noise of its own."""
    rng = np.random.default_rng(1)
    with av.open(str(path), "w") as box:
        stream = box.add_stream("libx264", rate=Fraction(60))
        stream.width, stream.height, stream.pix_fmt = 64, 48, "yuv420p"
        for _ in range(n_frames):
            box.mux(stream.encode(av.VideoFrame.from_ndarray(rng.integers(0, 256, (48, 64, 3), np.uint8), "rgb24")))
        box.mux(stream.encode())
    return path


@pytest.fixture
def desk(tmp_path):
    """A case with all frames marked by "ab", the last five by another."""
    folder = tmp_path / "case"
    new_case(folder, film(tmp_path / "pool.mp4"), ClipAnswers(), alias="sam", coach="ab")
    opened = Case.open(folder)
    xy = np.arange(N * 4, dtype=float).reshape(N, 2, 2) % 47
    signed = np.full((N, 2), "ab", object)
    signed[15:] = "cd"
    shot = opened.shots[0]
    write_marks(
        folder / "marks" / f"{shot}.csv",
        Marks.from_arrays(POINTS, np.arange(N), xy),
        opened.shot(shot).clip.times,
        signed,
    )
    return opened.desk(shot)


def test_a_study_is_drawn_once_from_this_coachs_own_marks(desk):
    plan = repeat_study(desk, POINTS, 8, seed=1)
    assert plan.frames.max() < 15
    assert plan.coaches == ("ab",)
    assert signed_by(desk, "cd").n_marked == 10
    again = repeat_study(desk, ("elbow_r",), 3, seed=2)
    np.testing.assert_array_equal(again.frames, plan.frames)
    assert again.points == plan.points


def test_the_blind_clip_shows_the_frames_in_the_rounds_order_pixel_by_pixel(desk):
    plan = repeat_study(desk, POINTS, 8)
    clip, store = repeat_desk(desk, plan)
    shown = plan.frames[plan.order("ab", 2)]
    assert clip.n_frames == 8
    assert store.marks.n_marked == 0
    for i, frame in enumerate(shown):
        np.testing.assert_array_equal(clip.frame(i), desk.shot.clip.frame(int(frame)))


def test_every_mark_is_in_the_studys_file_at_once_under_its_true_frame(desk):
    plan = repeat_study(desk, POINTS, 8)
    _, store = repeat_desk(desk, plan)
    row = int(plan.order("ab", 2)[3])
    store.put(3, "wrist_r", 12.5, 30.25)
    store.hide(4, "elbow_r")
    done = read_repeat(repeat_file(desk)).round("ab", 2)
    assert done.xy[row, 1].tolist() == [12.5, 30.25]
    assert done.hidden.sum() == 1
    assert np.isfinite(done.xy).sum() == 2
    store.undo()
    store.erase(3, "wrist_r")
    assert [r.key for r in read_repeat(repeat_file(desk)).rounds] == [("ab", 1)]
    assert desk.marks.n_marked == 2 * N


def test_a_round_is_gone_on_with_where_it_was_left(desk):
    plan = repeat_study(desk, POINTS, 8)
    _, store = repeat_desk(desk, plan)
    store.put(3, "wrist_r", 12.5, 30.25)
    again = repeat_desk(desk, read_repeat(repeat_file(desk)))[1]
    assert (again.at(3)["wrist_r"].x_px, again.at(3)["wrist_r"].y_px) == (12.5, 30.25)
    other = repeat_desk(desk, read_repeat(repeat_file(desk)), by="cd")[1]
    assert other.marks.n_marked == 0
    other.put(0, "elbow_r", 1, 2)
    keys = [r.key for r in read_repeat(repeat_file(desk)).rounds]
    assert keys == [("ab", 1), ("ab", 2), ("cd", 1)]


def test_the_frame_marker_of_a_round_shows_no_earlier_mark_and_no_frame_number(desk):
    plan = repeat_study(desk, POINTS, 8)
    tool = repeat_marker(desk, plan)
    assert tool.marked == []
    assert (tool.start, tool.stop, list(tool.points)) == (0, 8, list(POINTS))
    assert "round_2: 0 marks" in repr(tool)


def test_the_blind_clip_is_gone_with_its_store(desk):
    clip, store = repeat_desk(desk, repeat_study(desk, POINTS, 8))
    folder = clip.path.parent
    assert folder.parent == desk.case.folder
    clip.close()
    del clip, store
    gc.collect()
    assert not folder.exists()


def test_another_film_under_the_same_name_is_no_second_reading(desk, tmp_path):
    other = tmp_path / "other"
    new_case(other, film(tmp_path / "pool2.mp4", 12), ClipAnswers(), alias="sam")
    with pytest.raises(CaseError):
        same_clip(desk.case, Case.open(other), desk.shot.id)
    same_clip(desk.case, desk.case, desk.shot.id)
