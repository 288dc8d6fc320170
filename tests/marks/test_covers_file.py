"""Covers on disk: what is written reads back, and what was torn is never taken for a clip without covers."""

from __future__ import annotations

import pytest

from casebook.clip.cover import Cover, Key, box_corners
from casebook.errors import MarksError
from casebook.marks.covers import read_covers, with_box, write_covers

BOX = (1.0, 2.0, 30.5, 40.0)


def two() -> list[Cover]:
    covers = with_box([], "bystander", 5, BOX, 0, 90)
    covers = with_box(covers, "bystander", 50, (10.0, 2.0, 40.0, 40.0), 0, 90, "bystander 1")
    return with_box(covers, "tattoo", 7, BOX, 3, 20)


def test_covers_read_back_as_they_were_written(tmp_path):
    write_covers(tmp_path / "a.covers.csv", two())
    assert read_covers(tmp_path / "a.covers.csv") == two()
    assert [c.name for c in two()] == ["bystander 1", "tattoo 1"]
    assert [k.frame for k in two()[0].keys] == [5, 50]


def test_no_file_means_no_covers(tmp_path):
    assert read_covers(tmp_path / "a.covers.csv") == []


def test_rows_in_another_order_and_a_spreadsheets_semicolons_are_read(tmp_path):
    path = tmp_path / "a.covers.csv"
    write_covers(path, two())
    head, names, *rows = path.read_text("utf-8").splitlines()
    shuffled = [head, names, *rows[::-1]]
    path.write_text("\n".join(line.replace(",", ";") for line in shuffled), "utf-8")
    assert {c.name: c for c in read_covers(path)} == {c.name: c for c in two()}


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda t: t[: len(t) * 2 // 3], "line"),
        (lambda t: t.replace("tattoo 1,tattoo,3,20,7,2", "tattoo 1,tattoo,3,20,7,1"), "already"),
        (lambda t: t.replace("tattoo 1,tattoo,3,20,7,3", "tattoo 1,tattoo,3,21,7,3"), "another kind, start or stop"),
        (lambda t: t.replace(",tattoo,", ",face,"), "face"),
        (lambda t: t.replace("tattoo 1,tattoo,3,20,7,1", "tattoo 1,tattoo,3,20,7,9"), "corner is missing"),
        (lambda t: t.replace("schema = 1", "schema = 2"), "newer"),
    ],
)
def test_a_file_in_disorder_is_refused_and_stays(tmp_path, change, words):
    path = tmp_path / "a.covers.csv"
    write_covers(path, two())
    path.write_text(change(path.read_text("utf-8")), "utf-8")
    before = path.read_bytes()
    with pytest.raises(MarksError, match=words):
        read_covers(path)
    assert path.read_bytes() == before


def test_two_covers_of_one_name_are_not_written(tmp_path):
    with pytest.raises(MarksError, match="Two covers"):
        write_covers(tmp_path / "a.csv", [two()[0], two()[0]])
    assert not list(tmp_path.iterdir())


def test_a_box_for_a_cover_of_another_kind_is_refused():
    with pytest.raises(MarksError, match="kind bystander"):
        with_box(two(), "cap", 9, BOX, 0, 90, "bystander 1")


def test_one_more_key_frame_widens_the_frames_of_a_cover():
    cover = Cover("a", "suit", 10, 20, (Key(12, box_corners(BOX)),))
    (wider,) = with_box([cover], "suit", 25, BOX, 10, 30, "a")
    assert (wider.start, wider.stop, len(wider.keys)) == (10, 30, 2)
