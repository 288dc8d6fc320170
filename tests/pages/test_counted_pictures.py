"""Two efforts as a table, and the tally of strokes on the moving picture: in the notebook and on the page."""

from __future__ import annotations

import re
import shutil

import numpy as np
import pytest

from casebook.case.case import Case
from casebook.clip.clip import Clip
from casebook.demo.case import build_demo_case
from casebook.pages import show
from casebook.pages.counted_layout import efforts as laid_out
from casebook.pages.layout import LAYOUTS, Place
from casebook.pages.media import Media
from casebook.pages.show_counted import TALLY_WIDTH

PASS = "rowan_side_under_2"


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    return build_demo_case(tmp_path_factory.mktemp("counted") / "demo")


@pytest.fixture(scope="module")
def told(made):
    desk = Case.open(made).desk(PASS)
    return show.efforts(desk, desk.measure("rate"))


@pytest.fixture(scope="module")
def tallied(made):
    return show.tally(Case.open(made).desk(PASS))


def place(folder):
    return Place(3, Media(folder / "out" / "media"))


def test_seconds_and_strokes_stand_together_first_and_the_slower_effort_before_the_faster(told):
    assert told.data["names"] == ["easy", "race pace"]
    assert [r["title"].split(" ")[0] for r in told.data["rows"]][:2] == ["Seconds", "Strokes"]
    # Means of what the demo's coach counted: 20.6 and 20.9 s against 16.4 and 16.5 s, by hand.
    assert told.data["rows"][0]["values"][0].startswith("20.8") or told.data["rows"][0]["values"][0].startswith("20.7")
    assert told.data["rows"][0]["difference"].startswith("\N{MINUS SIGN}4.3")


def test_clean_swimming_stands_apart_and_speed_is_held_against_rate_times_length(told):
    clean, fit = told.data["notes"]
    assert "10 to 20 m from the wall: 1.32 m/s" in clean
    assert "the whole length, push-off and all, 1.39 m/s" in clean
    assert "no more than their errors explain" in fit


def test_the_coach_sees_the_stroke_index_and_the_swimmer_does_not(told, made):
    assert "Stroke index" in str(told)
    html = str(LAYOUTS["efforts"](told.data, place(made)))
    assert "<table" in html and "race pace" in html
    assert "Stroke index" not in html


def test_what_the_watch_cannot_tell_is_said_to_be_so(made, tmp_path):
    shutil.copytree(made, tmp_path / "demo")
    desk = Case.open(tmp_path / "demo").desk(PASS)
    desk.count_length(18.0, 20, swim="a")
    desk.count_length(18.1, 20, swim="b")
    got = show.efforts(desk, desk.measure("rate", alone=True), "a", "b")
    assert got.data["rows"][0]["difference"] == "can't tell"
    # The notes are of this shot's own swim, whose clean part was timed.
    assert any("Clean swimming" in note for note in got.data["notes"])
    assert "a, 1 length of 25 m" in str(got)


def test_a_pool_of_yards_is_told_in_yards_and_metres(made, tmp_path):
    shutil.copytree(made, tmp_path / "demo")
    (tmp_path / "demo" / "observations.csv").unlink()
    desk = Case.open(tmp_path / "demo").desk(PASS)
    desk.count_length(15.0, 16, swim="a", distance=25, unit="yd")
    # 10 m after a turn to 5 m before the next, of 25 m: Int J Environ Res Public Health 2020, 17(17):6257.
    assert "from 10 to 20 m from the wall" in str(show.efforts(desk, desk.measure("rate", alone=True)))
    rows = {r["title"]: r["values"][0] for r in show.efforts(desk, desk.measure("rate", alone=True)).data["rows"]}
    # 15 s for 25 yd are 60 s for 100 yd and 65.6 s for 100 m: a yard is 0.9144 m, exactly, since 1959.
    assert rows["Time for 100 yd like this, s"].startswith("60.0")
    assert rows["Time for 100 m like this, s"] == "65.6"


def test_nobody_has_counted_is_no_table_and_says_how(made, tmp_path):
    shutil.copytree(made, tmp_path / "demo")
    (tmp_path / "demo" / "observations.csv").unlink()
    desk = Case.open(tmp_path / "demo").desk(PASS)
    got = show.efforts(desk, desk.measure("rate", alone=True))
    assert "count_length" in str(got)
    assert not str(LAYOUTS["efforts"](got.data, place(made)))


@pytest.mark.parametrize("rows", [None, 3, ["x"], [{"title": 3, "values": "no"}], [{"values": [1, None, "<b>"]}]])
def test_a_block_that_is_not_what_it_should_be_breaks_no_page(rows, made):
    html = str(laid_out({"rows": rows, "names": ["<i>a"], "caption": 5}, place(made)))
    assert "<b>" not in html and "<i>" not in html


def test_the_tally_counts_the_hands_in_turn_and_the_number_stands_on_the_picture_as_the_hand_goes_in(made, tallied):
    block = tallied
    assert [m["title"] for m in block.data["moments"]] == ["1 right", "2 left", "3 right"]
    made_clip = Clip(made / "out" / "media" / block.data["file"])
    assert block.data["size"][0] == TALLY_WIDTH
    at = block.data["moments"][0]["at"]
    corner = {k: made_clip.frame(k)[:120, :180].astype(int) for k in (at - 2, at + 3)}
    # White figures in the corner after the entry, none before.
    white = {k: float(np.mean((c > 225).all(-1))) for k, c in corner.items()}
    assert white[at - 2] < 0.002 < 0.02 < white[at + 3]
    # The true entries of the demo clip lie within a picture of where the numbers come: 0.64 and 2.00 s, right hand.
    times = [float(block.data["times"][m["at"]]) for m in block.data["moments"] if m["title"].endswith("right")]
    assert times == pytest.approx([0.64, 2.00], abs=0.04)


def test_the_tally_is_a_loop_of_the_page_with_a_button_for_each_stroke(made, tallied):
    html = str(LAYOUTS["loop"](tallied.data, place(made)))
    assert len(re.findall(r'class="jump"', html)) == 3
    assert "The strokes counted" in html


def test_a_shot_without_an_entry_says_what_to_mark(made):
    path = made / "marks" / "rowan_side_under.csv"
    text = path.read_text("utf-8")
    path.write_text("\n".join(line for line in text.splitlines() if "fingertip" not in line) + "\n", "utf-8")
    (made / "marks" / "rowan_side_under.events.csv").unlink()
    assert "Mark the fingertips" in str(show.tally(Case.open(made).desk("rowan_side_under")))
