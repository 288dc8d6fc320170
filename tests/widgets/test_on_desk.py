"""The tool as a checkpoint hands it to the coach: its points, what it reads, its moments and what it proposes."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from casebook.case.desk import Desk
from casebook.errors import CasebookError
from casebook.marks.points import POINTS
from casebook.widgets.frame_marker import FrameMarker
from casebook.widgets.on_desk import POINTS_FOR, marker, points_for
from casebook.words import CHECKPOINTS


def wish(tool: FrameMarker, do: str, **more: Any) -> dict[str, Any]:
    heard: list[dict[str, Any]] = [{}]
    tool.send = lambda content, buffers=None: heard.append(content)
    tool._handle_custom_msg({"do": do, "view": "v", "seq": 1, **more}, [])
    return heard[-1]


# ---- points


def test_every_checkpoint_has_its_points_each_once() -> None:
    assert set(CHECKPOINTS) < set(POINTS_FOR)
    for checkpoint in POINTS_FOR:
        for side in "lr":
            points = points_for(checkpoint, side)
            assert points and len(set(points)) == len(points) and set(points) <= set(POINTS)


def test_the_nearer_side_comes_first_and_alone_where_it_will_do(desk: Desk) -> None:
    assert points_for("catch", "l")[0] == "shoulder_l" and not any(p.endswith("_r") for p in points_for("catch", "l"))
    assert points_for("roll", "r") == ["neck", "shoulder_r", "hip_r", "shoulder_l", "hip_l"]
    assert marker(desk, points=["knee_l"]).points == ["knee_l"]
    with pytest.raises(CasebookError, match="dive"):
        marker(desk, "dive")


@pytest.mark.parametrize("view", ["side_under", "front_under", "rear_above", "top"])
def test_every_checkpoint_opens_and_reads_in_every_kind_of_view(desk: Desk, view: str) -> None:
    toward = {"front_under": "toward", "rear_above": "away"}.get(view, "right")
    other = Desk(desk.case, replace(desk.shot, view=view, direction=toward))
    other.store.close()
    other.store = desk.store
    for checkpoint in POINTS_FOR:
        tool = marker(other, checkpoint)
        for i, point in enumerate(tool.points):
            desk.store.put(2, point, 40 + 11 * i, 60 + 7 * (i % 4))
        for ruler in tool.rulers:
            told = wish(tool, "ruler_alone", frame=2, key=ruler["key"])["state"]["live"]
            assert told and "No value" not in told, (checkpoint, ruler["key"], told)
        wish(tool, "look")
        assert tool.trouble == "" and tool.work["says"] == "", (checkpoint, tool.work)


# ---- reading


def test_the_catch_is_read_from_the_start_and_other_rulers_at_a_wish(desk: Desk) -> None:
    tool = marker(desk, "catch")
    assert [r["key"] for r in tool.rulers if r["on"]] == ["catch"]
    for point, xy in {"elbow_r": (100, 90), "wrist_r": (150, 140)}.items():
        wish(tool, "put", frame=3, point=point, x=xy[0], y=xy[1])
    assert wish(tool, "state", frame=3)["state"]["live"].startswith("forearm 45° below the horizontal, give or take")
    told = wish(tool, "ruler", frame=3, key="plumb", on=True)
    assert told["state"]["live"].splitlines()[1] == "plumb line: mark right shoulder, right fingertip"
    wish(tool, "lay", frame=3, key="plumb", slot=0, point="elbow_r")
    told = wish(tool, "lay", frame=3, key="plumb", slot=1, point="wrist_r")
    assert "right wrist 50 px ahead of the plumb line through the right elbow" in told["state"]["live"]
    assert told["state"]["extras"]["measure"] and told["state"]["age"] > 0
    assert wish(tool, "ruler_alone", frame=3, key="")["state"]["live"] == ""
    wish(tool, "ruler", frame=3, key="rope", on=True)
    assert "rope" in tool.trouble


def test_a_dragged_point_is_read_where_it_is(desk: Desk) -> None:
    tool = marker(desk, "catch")
    wish(tool, "put", frame=3, point="elbow_r", x=100, y=90)
    told = wish(tool, "preview", frame=3, point="wrist_r", x=200, y=90)
    assert told["preview"] and told["state"]["live"].startswith("forearm 0° below")


def test_a_lane_is_measured_from_the_middle_of_the_hips(desk: Desk) -> None:
    tool = marker(desk, "alignment")
    assert tool.ruler_points["hips"] == "middle of hips" and "ankles" in tool.ruler_points
    assert tool.rulers[-1]["usual"] == "100 %", "of shoulder breadth, for there is no scale"
    wish(tool, "line", frame=3, line="lane", ends=[[10, 100], [310, 100]])
    missing = wish(tool, "state", frame=3)["state"]["live"]
    assert missing.startswith("draw a known length, or mark both shoulders")
    for point, xy in {
        "hip_l": (100, 104),
        "hip_r": (120, 116),
        "shoulder_l": (200, 90),
        "shoulder_r": (200, 130),
    }.items():
        wish(tool, "put", frame=3, point=point, x=xy[0], y=xy[1])
    live = wish(tool, "state", frame=3)["state"]["live"]
    assert live.startswith("hips 10 px off the lane line") and live.endswith("corridor of one shoulder breadth")


# ---- moments


def test_moments_are_set_told_and_taken_back_in_the_tool(desk: Desk) -> None:
    tool = marker(desk, "catch")
    assert tool.moment_names["end_of_extension"] == "reach ends" and tool.side == "r"
    wish(tool, "moment", frame=7, event="catch", side="r")
    assert tool.moments == [[7.0, "catch", "r", True, ""]]
    assert [(e.event, e.frame, e.by) for e in desk.events] == [("catch", 7.0, "ab")]
    told = wish(tool, "undo_moment", frame=20)
    assert (tool.frame, told["chosen"], tool.moments, desk.events) == (7, "catch", [], [])
    wish(tool, "redo_moment", frame=7)
    assert len(desk.events) == 1
    wish(tool, "erase_moment", frame=9, event="catch", side="r")
    assert desk.events == [] and tool.trouble == ""
    wish(tool, "erase_moment", frame=9, event="catch", side="r")
    assert 'No "catch" of this arm' in tool.trouble


def test_a_damaged_file_of_moments_is_named_and_left_alone(desk: Desk) -> None:
    tool = marker(desk, "catch")
    path = desk.store.path.with_suffix(".events.csv")
    path.write_text("not a table\n", encoding="utf-8")
    wish(tool, "moment", frame=7, event="catch", side="r")
    assert path.name in tool.trouble and path.read_text("utf-8") == "not a table\n"
    wish(tool, "put", frame=3, point="elbow_r", x=10, y=10)
    assert desk.marks.n_marked == 1, "marking goes on"


def test_a_tool_that_opens_beside_a_damaged_file_still_opens(desk: Desk) -> None:
    desk.store.path.with_suffix(".events.csv").write_text("not a table\n", encoding="utf-8")
    tool = marker(desk, "catch")
    assert tool.moments == []
    wish(tool, "look")
    assert tool.moments == [] and tool.trouble


# ---- proposals


def test_one_marked_reach_brings_proposals_after_a_look(desk: Desk) -> None:
    tool = marker(desk, "catch")
    wish(tool, "look")
    assert tool.proposals == []
    for point, xy in {
        "shoulder_r": (100, 90),
        "elbow_r": (140, 92),
        "wrist_r": (180, 95),
        "fingertip_r": (200, 97),
    }.items():
        wish(tool, "put", frame=3, point=point, x=xy[0], y=xy[1])
    wish(tool, "look")
    assert [(title, done) for _, title, _, done in tool.proposals] == [
        ("full reach, stroke 1", True),
        ("forearm halfway down, stroke 1", False),
        ("forearm first straight down, stroke 1", False),
    ]
    assert all("reach that you marked" in why for _, _, why, _ in tool.proposals)


def test_other_checkpoints_propose_nothing(desk: Desk) -> None:
    tool = marker(desk, "kick")
    wish(tool, "look")
    assert tool.proposals == []
