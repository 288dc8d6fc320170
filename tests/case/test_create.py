"""Making a case from a video file, and adding to it."""

from __future__ import annotations

import hashlib

import pytest
from film import film

from casebook.case.case import Case
from casebook.case.create import ClipAnswers, add_clip, new_case
from casebook.errors import CasebookError


@pytest.fixture
def data_folder(tmp_path, monkeypatch):
    monkeypatch.setenv("CASEBOOK_DATA", str(tmp_path / "data"))
    return tmp_path


def test_a_new_case_opens_and_its_shot_is_the_whole_clip(data_folder):
    video = film(data_folder / "Jane Doe final.MP4")
    before = hashlib.sha256(video.read_bytes()).hexdigest()
    folder = new_case(
        data_folder / "cases" / "heron", video, ClipAnswers(direction="left", effort="sprint", kit="fins")
    )
    case = Case.open(folder)
    shot = case.shot()
    assert (case.alias, case.shots) == ("heron", ("heron_side_under",))
    assert (shot.start, shot.stop, shot.direction, shot.swim.effort, shot.swim.kit) == (0, 30, "left", "sprint", "fins")
    assert hashlib.sha256(video.read_bytes()).hexdigest() == before
    assert [p.name for p in (folder / "clips").iterdir()] == ["heron_side_under.mp4"]
    assert case.notebooks, "the templates came along"


def test_no_real_name_of_the_file_and_no_absolute_path_enters_the_case(data_folder):
    folder = new_case(data_folder / "heron", film(data_folder / "Jane Doe.mp4"), ClipAnswers())
    for path in folder.rglob("*"):
        assert "Jane" not in path.name
        if path.suffix in (".toml", ".ipynb", ".csv"):
            text = path.read_text("utf-8")
            assert "Jane" not in text and str(data_folder) not in text


def test_a_file_that_is_no_video_leaves_nothing_behind(data_folder):
    (data_folder / "note.mp4").write_text("not a video", "utf-8")
    with pytest.raises(CasebookError, match=r"note\.mp4"):
        new_case(data_folder / "heron", data_folder / "note.mp4", ClipAnswers())
    assert not (data_folder / "heron").exists()


def test_an_existing_case_is_never_overwritten(data_folder):
    video = film(data_folder / "a.mp4")
    folder = new_case(data_folder / "heron", video, ClipAnswers())
    (folder / "marks" / "heron_side_under.csv").write_text("mine", "utf-8")
    with pytest.raises(CasebookError, match="already holds a case"):
        new_case(folder, video, ClipAnswers())
    assert (folder / "marks" / "heron_side_under.csv").read_text("utf-8") == "mine"


def test_a_second_clip_gets_its_own_shot_and_the_same_file_is_not_taken_twice(data_folder):
    folder = new_case(data_folder / "heron", film(data_folder / "a.mp4"), ClipAnswers())
    assert add_clip(folder, film(data_folder / "b.mp4", shade=20), ClipAnswers()) == "heron_side_under_2"
    with pytest.raises(CasebookError, match='already in this case, as shot "heron_side_under"'):
        add_clip(folder, data_folder / "a.mp4", ClipAnswers())
    assert [s.id for s in Case.open(folder).swims] == ["steady"]


def test_slow_motion_is_undone_and_unknown_slow_motion_has_no_times(data_folder):
    folder = new_case(data_folder / "heron", film(data_folder / "a.mp4", fps=30), ClipAnswers(time_scale=8))
    assert Case.open(folder).shot().times[-1] == pytest.approx(29 / 240)
    add_clip(folder, film(data_folder / "b.mp4", shade=9), ClipAnswers(time_scale=0))
    times = Case.open(folder).shot("heron_side_under_2").times
    assert times[0] == 0 and all(t != t for t in times[1:])


def test_a_near_miss_of_a_shot_name_gets_a_suggestion(data_folder):
    folder = new_case(data_folder / "heron", film(data_folder / "a.mp4"), ClipAnswers())
    with pytest.raises(CasebookError, match='Did you mean "heron_side_under"'):
        Case.open(folder).shot("heron_side")
