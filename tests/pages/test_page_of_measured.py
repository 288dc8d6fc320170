"""From marks on three stills, really measured, to a page: what a coach has after his first minutes."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from invented_catch import ARM, arm_at, figure_to_aim_for, invented_desk
from page_maker import catch_cells, write_notebook

from casebook.checkpoints.bands import load_bands
from casebook.checkpoints.catch import CatchResult, measure_catch
from casebook.checkpoints.finding import Finding
from casebook.marks.marks import Marks
from casebook.pages import show
from casebook.pages.page import render_page
from casebook.plane.make import plane_of

STILLS = (8, 20, 31)


@pytest.fixture(scope="module")
def measured(tmp_path_factory: pytest.TempPathFactory) -> tuple[object, CatchResult, Path]:
    folder = tmp_path_factory.mktemp("case")
    desk = invented_desk(folder)
    desk.marks = Marks.from_arrays(ARM, STILLS, np.array([arm_at(i) for i in STILLS]))
    catch = measure_catch(desk.shot, desk.marks, plane_of(desk.shot, [], []), bands=load_bands("distance"))
    return desk, catch, folder


def test_three_marked_stills_make_a_whole_page(measured: tuple) -> None:
    desk, catch, folder = measured
    notebook = write_notebook(folder / "n.ipynb", catch_cells(desk, catch))
    html = render_page([notebook], desk.out / "media", folder / "p.html", title="t").read_text("utf-8")
    assert html.count("<figure") >= 7 and "seen once" in html


def test_the_number_on_the_still_is_the_number_in_the_row(measured: tuple) -> None:
    desk, catch, _ = measured
    hand = catch.get("hand_ahead_pct", "r")
    assert isinstance(hand, Finding)
    told = f"{hand.value:.0f} %"
    (row,) = [r for r in show.measures(desk, catch).data["measures"] if r["quantity"] == "hand_ahead_pct"]
    labels = [
        label["text"]
        for picture in show.stills(desk, catch).data["pictures"]
        for label in picture["drawing"].get("labels", [])
    ]
    assert row["value_text"].startswith(told)
    assert any(told in words for words in labels)


def test_only_marked_pictures_of_the_loop_carry_lines(measured: tuple) -> None:
    desk, catch, _ = measured
    data = show.loop(desk, catch).data
    first = STILLS[-1] - data["start"]
    drawn = [first + k for k, lines in enumerate(data["lines"]) if lines]
    assert drawn == [f for f in STILLS if first <= f < first + len(data["lines"])]
    assert [m["at"] + first for m in data["moments"]] == list(STILLS)


def test_a_curve_from_three_marks_keeps_to_them(measured: tuple) -> None:
    desk, catch, _ = measured
    block = show.curve(desk, catch, "hand_ahead_pct")
    assert block.words and all(len(line["points"]) <= len(STILLS) for line in block.data["lines"])


@pytest.mark.parametrize("quantity", ["hand_ahead_pct", "elbow_height_pct", "elbow_angle_deg"])
def test_every_curve_that_is_measured_can_be_shown(measured: tuple, quantity: str) -> None:
    desk, catch, _ = measured
    assert quantity in {c.quantity for c in catch.curves}
    assert show.curve(desk, catch, quantity).words


def test_the_aim_can_be_shown_at_every_moment(measured: tuple) -> None:
    desk, catch, _ = measured
    for moment in ("reach", "halfway", "straight_down"):
        block = show.pair(desk, catch, figure_to_aim_for(), moment)
        assert block.data["you"]["file"] == f"rowan_side-you_{moment}-1.jpg"
