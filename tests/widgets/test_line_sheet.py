"""Drawing the water line and a known length: what is kept, what waits, and that nothing is lost."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from casebook.case.desk import Desk
from casebook.clip.clip import Clip
from casebook.errors import CasebookError, MarksError
from casebook.marks.lines import LineMark, read_lines, write_lines
from casebook.marks.scales import LengthMark, read_scales, write_scales
from casebook.widgets.frame_marker import FrameMarker
from casebook.widgets.line_sheet import LineSheet
from casebook.widgets.on_desk import DeskLines, marker

LEFT, RIGHT = (20.0, 40.0), (300.0, 44.5)


@pytest.fixture
def sheet(desk: Desk) -> LineSheet:
    return LineSheet(DeskLines(desk))


@pytest.fixture
def files(tmp_path: Path) -> tuple[Path, Path]:
    return tmp_path / "marks" / "heron_side.lines.csv", tmp_path / "marks" / "heron_side.scales.toml"


def wish(tool: FrameMarker, do: str, **more: Any) -> dict[str, Any]:
    """Send a wish as the browser does; the last answer."""
    heard: list[dict[str, Any]] = []
    tool.send = lambda content, buffers=None: heard.append(content)
    tool._handle_custom_msg({"do": do, "view": "v", "seq": 1, **more}, [])
    return heard[-1]


# ---- the water line


def test_a_water_line_is_kept_with_its_second_end(sheet: LineSheet, desk: Desk, files: tuple[Path, Path]) -> None:
    sheet.set_ends(3, "water", [LEFT])
    assert not files[0].exists() and sheet.told(3)["water"]["kept"] is False
    sheet.set_ends(3, "water", [LEFT, RIGHT])
    (line,) = read_lines(files[0])
    assert (line.frame, line.line, line.ends, line.by) == (3, "water", (*LEFT, *RIGHT), "ab")
    assert sheet.told(3)["water"]["kept"] is True
    assert desk.plane.has_water and not desk.plane.has_scale


def test_ends_keep_the_order_in_which_they_were_drawn(sheet: LineSheet) -> None:
    sheet.set_ends(3, "water", [RIGHT, LEFT])
    assert sheet.told(3)["water"]["ends"] == [list(RIGHT), list(LEFT)], "else the end at hand would change"


@pytest.mark.parametrize(
    ("ends", "says"),
    [(((50, 50), (60, 51)), "too close"), (((50, 10), (52, 170)), "upright")],
    ids=["too close", "upright"],
)
def test_a_line_that_says_nothing_is_refused_and_stays_to_be_mended(
    sheet: LineSheet, files: tuple[Path, Path], ends: Any, says: str
) -> None:
    sheet.set_ends(3, "water", [LEFT, RIGHT])
    before = files[0].read_bytes()
    with pytest.raises(CasebookError, match=says):
        sheet.set_ends(3, "water", ends)
    assert files[0].read_bytes() == before
    assert sheet.told(3)["water"] == {
        "ends": [list(e) for e in ends], "kept": False, "metres": "", "give": "", "what": ""
    }  # fmt: skip
    sheet.set_ends(3, "water", [LEFT, (200.0, 41.0)])
    assert read_lines(files[0])[0].ends == (*LEFT, 200.0, 41.0)


def test_lines_of_other_kinds_and_frames_are_left_alone(sheet: LineSheet, files: tuple[Path, Path]) -> None:
    others = [LineMark(3, "plumb", 50, 10, 52, 170), LineMark(9, "water", 0, 30, 319, 30)]
    write_lines(files[0], others)
    sheet.set_ends(3, "water", [LEFT, RIGHT])
    sheet.erase(3, "water")
    assert read_lines(files[0]) == others


def test_a_kept_line_is_fixed_on_other_frames_and_open_on_its_own(sheet: LineSheet) -> None:
    sheet.set_ends(3, "water", [LEFT, RIGHT])
    assert sheet.elsewhere(3) == [] and list(sheet.told(3)) == ["water"]
    assert [m.frame for m in sheet.elsewhere(4)] == [3] and sheet.told(4) == {}
    assert sheet.frames() == {"water": [3], "length": [], "lane": [], "plumb": []}


def test_lane_and_plumb_lines_are_kept_beside_the_water_line(sheet: LineSheet, desk: Desk) -> None:
    sheet.set_ends(3, "water", [LEFT, RIGHT])
    sheet.set_ends(3, "lane", [(10, 100), (310, 104)])
    sheet.set_ends(4, "plumb", [(50, 10), (52, 170)])
    assert [(m.frame, m.line) for m in desk.lines] == [(3, "water"), (3, "lane"), (4, "plumb")]
    assert [len(sheet.drawing(n, (320, 180)).reference) for n in (3, 4)] == [2, 1]
    sheet.erase(3, "lane")
    assert sheet.undo() == (3, "lane")
    assert {m.line for m in desk.lines} == {"water", "lane", "plumb"}


@pytest.mark.parametrize(("name", "ends"), [("plumb", ((50, 50), (250, 52))), ("lane", ((50, 10), (52, 170)))])
def test_a_line_that_would_leave_the_shot_without_a_plane_is_refused(
    sheet: LineSheet, desk: Desk, name: str, ends: Any
) -> None:
    with pytest.raises(CasebookError):
        sheet.set_ends(3, name, ends)
    assert desk.lines == [] and desk.plane is not None


# ---- the known length


def test_a_length_is_kept_once_its_metres_are_given(sheet: LineSheet, desk: Desk, files: tuple[Path, Path]) -> None:
    sheet.set_ends(5, "length", [(10, 150), (210, 150)])
    assert not files[1].exists()
    sheet.set_words(5, "2", "0,02", " lane rope ")
    (length,) = read_scales(files[1])
    assert (length.frame, length.ends, length.length_m, length.sigma_m) == (5, (10, 150, 210, 150), 2.0, 0.01)
    assert length.what == "lane rope"
    assert desk.plane.has_scale
    assert desk.plane.m_per_px == pytest.approx(0.01)  # by hand: 2 m over 200 px


def test_metres_may_come_before_the_ends(sheet: LineSheet, files: tuple[Path, Path]) -> None:
    sheet.set_words(5, "2", "", "")
    assert not files[1].exists()
    sheet.set_ends(5, "length", [(10, 150), (210, 150)])
    assert read_scales(files[1])[0].length_m == 2.0


def test_an_unstated_give_or_take_is_not_taken_for_none_and_is_shown(sheet: LineSheet) -> None:
    sheet.set_ends(5, "length", [(10, 150), (210, 150)])
    sheet.set_words(5, "2", "", "")
    assert sheet.told(5)["length"]["give"] == "0.04"


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("two", "", ""), '"two" is not a number'),
        (("nan", "", ""), "not a number"),
        (("-2", "", ""), "cannot be"),
        (("0", "", ""), "cannot be"),
        (("2", "a bit", ""), '"a bit" is not a number'),
        (("2", "-1", ""), "cannot be"),
        (("", "0.1", "rope"), "stays as it was kept"),
    ],
)
def test_words_that_are_no_length_are_refused_and_stay(
    sheet: LineSheet, files: tuple[Path, Path], words: tuple[str, str, str], says: str
) -> None:
    sheet.set_ends(5, "length", [(10, 150), (210, 150)])
    sheet.set_words(5, "2.5", "0.01", "rope")
    before = files[1].read_bytes()
    with pytest.raises(MarksError, match=says):
        sheet.set_words(5, *words)
    assert files[1].read_bytes() == before
    told = sheet.told(5)["length"]
    assert (told["metres"], told["give"], told["what"]) == words
    assert told["kept"] is False


def test_a_moved_or_renamed_length_keeps_all_else(sheet: LineSheet, files: tuple[Path, Path]) -> None:
    old = LengthMark(5, 10, 150, 210, 150, 2.123456, 0.0125, what="rope", distance_ratio=0.8, distance_sigma=0.05)
    write_scales(files[1], [old])
    sheet.set_ends(5, "length", [(10, 150), (230, 150)])
    sheet.set_words(5, "2.123456", "0.0125", "red floats")
    (new,) = read_scales(files[1])
    assert (new.x1_px, new.length_m, new.sigma_m, new.what) == (230, 2.123456, 0.00625, "red floats")
    assert (new.distance_ratio, new.distance_sigma) == (0.8, 0.05)


# ---- taking back


def test_lines_are_undone_and_redone_step_by_step(sheet: LineSheet, files: tuple[Path, Path]) -> None:
    sheet.set_ends(3, "water", [LEFT])
    sheet.set_ends(3, "water", [LEFT, RIGHT])
    sheet.set_ends(5, "length", [(10, 150), (210, 150)])
    sheet.set_words(5, "2", "0.02", "rope")
    sheet.erase(5, "length")
    assert read_scales(files[1]) == []
    assert sheet.undo() == (5, "length")
    assert [(m.length_m, m.what) for m in read_scales(files[1])] == [(2.0, "rope")]
    sheet.undo()
    assert read_scales(files[1]) == [] and len(sheet.told(5)["length"]["ends"]) == 2
    sheet.undo()
    assert sheet.undo() == (3, "water")
    assert read_lines(files[0]) == [] and sheet.told(3)["water"]["ends"] == [list(LEFT)]
    assert sheet.redo() == (3, "water")
    assert read_lines(files[0])[0].ends == (*LEFT, *RIGHT)
    sheet.undo()
    sheet.undo()
    assert sheet.undo() is None and sheet.told(3) == {}


def test_erasing_what_is_not_there_is_no_step(sheet: LineSheet) -> None:
    sheet.erase(3, "water")
    assert sheet.undo() is None


# ---- in the tool


def test_the_value_line_and_the_desk_follow_a_drawn_line(desk: Desk) -> None:
    tool = marker(desk, side="r")
    desk.store.put(3, "elbow_r", 100, 100)
    desk.store.put(3, "wrist_r", 200, 100)
    # Level is the picture's own here, which may be off by some degrees.
    level = wish(tool, "state", frame=3)["state"]["live"]
    assert level == "forearm 0° below the horizontal, give or take 7"
    # By hand: water that sinks 100 px over 100 px to the right makes a forearm level in the picture point 45 deg up.
    low = [[100, 20], [190, 100]]
    slope = np.degrees(np.arctan2(80, 90))
    told = wish(tool, "line", frame=3, line="water", ends=low)
    assert told["state"]["live"] == f"forearm {slope:.0f}° above the horizontal, give or take 4"
    assert told["state"]["age"] > 0 and tool.drawn["water"] == [3]
    assert tool.trouble == "" and desk.plane.has_water
    assert wish(tool, "state", frame=9)["state"]["extras"]["reference"], "shown on every frame"
    wish(tool, "erase_line", frame=3, line="water")
    assert wish(tool, "state", frame=3)["state"]["live"] == level
    assert desk.lines == []


def test_a_refused_line_says_so_until_it_is_mended(desk: Desk) -> None:
    tool = marker(desk)
    told = wish(tool, "line", frame=3, line="water", ends=[[50, 50], [55, 50]])
    assert "too close" in tool.trouble
    assert told["state"]["lines"]["water"]["ends"] == [[50, 50], [55, 50]]
    wish(tool, "line", frame=3, line="water", ends=[[50, 50], [255, 50]])
    assert tool.trouble == "" and desk.plane.has_water


def test_undoing_a_line_goes_to_its_frame_and_chooses_it(desk: Desk) -> None:
    tool = marker(desk)
    wish(tool, "line", frame=3, line="water", ends=[LEFT, RIGHT])
    tool.frame = 20
    told = wish(tool, "undo_line", frame=20)
    assert (tool.frame, told["frame"], told["chosen"]) == (3, 3, "water")
    assert desk.lines == []


@pytest.mark.parametrize(
    "bad",
    [
        {"frame": 99, "line": "water", "ends": [LEFT, RIGHT]},
        {"frame": 3, "line": "rope", "ends": [LEFT, RIGHT]},
        {"frame": 3, "line": "water", "ends": [LEFT, (float("nan"), 3.0)]},
    ],
    ids=["a frame outside", "no such line", "no place"],
)
def test_what_is_no_line_is_refused(desk: Desk, bad: dict[str, Any]) -> None:
    tool = marker(desk)
    wish(tool, "line", **bad)
    assert tool.trouble and desk.lines == []


def test_without_a_line_desk_no_lines_are_offered(heron: Clip, desk: Desk) -> None:
    tool = FrameMarker(heron, desk.store, points=("elbow_r",))
    assert tool.line_names == {}
    wish(tool, "line", frame=3, line="water", ends=[LEFT, RIGHT])
    assert tool.trouble


def test_a_file_damaged_meanwhile_does_not_stop_the_marking(desk: Desk, files: tuple[Path, Path]) -> None:
    tool = marker(desk, side="r")
    wish(tool, "line", frame=3, line="water", ends=[LEFT, RIGHT])
    files[0].write_text("not a table of lines\n", encoding="utf-8")
    wish(tool, "put", frame=3, point="elbow_r", x=10, y=10)
    assert desk.marks.at(3) == {"elbow_r": (10.0, 10.0)}
    wish(tool, "line", frame=4, line="water", ends=[LEFT, RIGHT])
    assert "heron_side.lines.csv" in tool.trouble
    assert files[0].read_text("utf-8") == "not a table of lines\n"


def test_a_line_drawn_by_other_means_shows_on_the_next_look(desk: Desk) -> None:
    tool = marker(desk)
    desk.draw_water(7, LEFT, RIGHT)
    assert list(wish(tool, "state", frame=7)["state"]["lines"]) == ["water"]
    tool.refresh()
    assert tool.drawn["water"] == [7]
