"""Moments of a stroke set by the coach: kept on disk, moved within a stroke, taken back, and before found ones."""

from __future__ import annotations

import pytest

from casebook.case.desk import Desk
from casebook.errors import MarksError
from casebook.marks.events import EVENTS, EventMark, read_events, write_events
from casebook.widgets.desk_files import DeskMoments
from casebook.widgets.moment_sheet import MOMENT_WORDS, Found, MomentSheet


@pytest.fixture
def sheet(desk: Desk) -> MomentSheet:
    # Ten frames a second, so that thirty frames hold two strokes of an arm.
    return MomentSheet(DeskMoments(desk), desk.shot.times * 3, "ab")


def kept(desk: Desk) -> list[tuple[str, str, float]]:
    return [(e.event, e.side, e.frame) for e in desk.events]


def test_the_moments_are_those_of_the_events_file() -> None:
    assert set(MOMENT_WORDS) <= set(EVENTS)


def test_a_moment_is_on_disk_when_it_is_set_and_carries_initials(sheet: MomentSheet, desk: Desk) -> None:
    sheet.put(12, "catch", "r")
    (event,) = read_events(desk.store.path.with_suffix(".events.csv"))
    assert event == EventMark("catch", "r", 12.0, by="ab")


def test_set_again_in_the_same_stroke_it_moves_and_in_another_it_is_another(sheet: MomentSheet, desk: Desk) -> None:
    sheet.put(12, "catch", "r")
    sheet.put(15, "catch", "r")  # 0.3 s on
    assert kept(desk) == [("catch", "r", 15.0)]
    sheet.put(28, "catch", "r")  # 1.3 s on
    sheet.put(14, "catch", "l")
    sheet.put(13, "entry", "r")
    assert kept(desk) == [("entry", "r", 13.0), ("catch", "l", 14.0), ("catch", "r", 15.0), ("catch", "r", 28.0)]


def test_the_kind_of_a_stroke_has_a_value(sheet: MomentSheet, desk: Desk) -> None:
    sheet.put(12, "stroke_class", "r", "breath_l")
    sheet.put(13, "stroke_class", "r", "sighting")
    assert [(e.value, e.frame) for e in desk.events] == [("sighting", 13.0)]
    assert sheet.told(0, 30) == [[13.0, "stroke_class", "r", True, "looking ahead"]]
    with pytest.raises(MarksError, match="class of stroke"):
        sheet.put(13, "stroke_class", "r", "doggy")


def test_moments_are_undone_and_redone_step_by_step(sheet: MomentSheet, desk: Desk) -> None:
    sheet.put(12, "catch", "r")
    sheet.put(15, "catch", "r")
    assert sheet.erase(16, "catch", "r") == 15.0
    assert kept(desk) == []
    back = [sheet.undo() for _ in range(4)]
    assert [e and e.frame for e in back] == [15.0, 12.0, 12.0, None]
    assert kept(desk) == []
    assert sheet.redo() == EventMark("catch", "r", 12.0, by="ab")
    sheet.redo()
    assert kept(desk) == [("catch", "r", 15.0)]
    sheet.put(20, "exit", "r")
    assert sheet.redo() is None, "a new change ends what could be made again"


def test_taking_back_leaves_what_someone_else_set_meanwhile(sheet: MomentSheet, desk: Desk) -> None:
    sheet.put(12, "catch", "r")
    path = desk.store.path.with_suffix(".events.csv")
    write_events(path, [*desk.events, EventMark("exit", "l", 20)])
    sheet.undo()
    assert kept(desk) == [("exit", "l", 20.0)]


def test_nothing_set_is_nothing_to_erase(sheet: MomentSheet) -> None:
    assert sheet.erase(12, "catch", "r") is None and sheet.undo() is None


def test_found_moments_stand_beside_the_coachs_own_and_give_way_to_them(sheet: MomentSheet) -> None:
    sheet.found = [Found("catch", "r", 11.4), Found("catch", "l", 11.4), Found("forearm_45", "r", 12.0)]
    assert [m[1:4] for m in sheet.told(0, 30)] == [["catch", "r", False], ["catch", "l", False]]
    sheet.put(13, "catch", "r")
    assert [m[:4] for m in sheet.told(0, 30)] == [[11.4, "catch", "l", False], [13.0, "catch", "r", True]]
    assert sheet.told(0, 12) == [[11.4, "catch", "l", False, ""]]


@pytest.mark.parametrize(
    "wrong", [(12, "dive", "r"), (12, "catch", "x"), (12, "catch", ""), (99, "catch", "r"), (-1, "catch", "r")]
)
def test_what_is_no_moment_is_refused(sheet: MomentSheet, desk: Desk, wrong: tuple[int, str, str]) -> None:
    with pytest.raises(MarksError):
        sheet.put(*wrong)
    assert desk.events == []


def test_a_disk_that_is_full_says_so_and_changes_nothing(
    sheet: MomentSheet, desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    sheet.put(12, "catch", "r")

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("casebook.widgets.desk_files.write_events", full)
    with pytest.raises(MarksError, match="No space left"):
        sheet.put(15, "catch", "r")
    monkeypatch.undo()
    assert kept(desk) == [("catch", "r", 12.0)]
    sheet.undo()
    assert kept(desk) == []
