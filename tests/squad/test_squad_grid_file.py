"""The grid's file: every key on disk at once, undone and redone, shared with another program, refused when torn."""

from __future__ import annotations

import pytest
from squad_maker import member, squad_of

from casebook.checkpoints.advice import load_advice
from casebook.errors import SquadError
from casebook.squad.asking import ANSWERS, fault_letters, fault_words, short_title
from casebook.squad.grid import Cell, Grid, read_grid
from casebook.squad.grid_widget import SquadGrid
from casebook.squad.squad import USUAL_CHECKPOINTS
from casebook.words import CHECKPOINTS


@pytest.fixture
def grid(tmp_path):
    return Grid(tmp_path / "grid.csv", "mk")


def test_a_change_is_on_disk_before_the_call_returns(grid):
    grid.put(3, "catch", "fault", "dropped_elbow")
    assert read_grid(grid.path) == {(3, "catch"): Cell("fault", "dropped_elbow", "mk")}
    grid.put(3, "catch", "")
    assert read_grid(grid.path) == {}


def test_undo_and_redo_walk_back_and_forth_over_the_file(grid):
    grid.put(1, "catch", "fine")
    grid.put(1, "catch", "fault", "late_catch")
    grid.put(2, "kick", "look again")
    assert grid.undo() == (2, "kick") and grid.undo() == (1, "catch")
    assert read_grid(grid.path) == {(1, "catch"): Cell("fine", "", "mk")}
    assert grid.redo() == (1, "catch")
    assert read_grid(grid.path)[1, "catch"].fault == "late_catch"
    assert [grid.undo(), grid.undo(), grid.undo()] == [(1, "catch"), (1, "catch"), None]
    assert read_grid(grid.path) == {}


def test_the_same_key_twice_is_one_change(grid):
    grid.put(1, "catch", "fine")
    grid.put(1, "catch", "fine")
    grid.undo()
    assert read_grid(grid.path) == {}


def test_two_programs_in_turn_lose_nothing(grid):
    other = Grid(grid.path, "zz")
    grid.put(1, "catch", "fine")
    other.put(2, "kick", "fine")
    grid.put(3, "entry", "fine")
    assert {n for n, _ in read_grid(grid.path)} == {1, 2, 3}


def test_what_another_program_changed_is_not_undone(grid):
    grid.put(1, "catch", "fine")
    Grid(grid.path, "zz").put(1, "catch", "look again")
    with pytest.raises(SquadError, match="changed elsewhere"):
        grid.undo()
    assert read_grid(grid.path)[1, "catch"].answer == "look again"


@pytest.mark.parametrize(
    ("checkpoint", "answer", "fault"),
    [("dive", "fine", ""), ("catch", "awful", ""), ("catch", "fault", "scissor"), ("catch", "fine", "dropped_elbow")],
)
def test_what_cannot_be_is_refused_and_the_file_stays(grid, checkpoint, answer, fault):
    grid.put(1, "kick", "fine")
    before = grid.path.read_bytes()
    with pytest.raises(SquadError):
        grid.put(1, checkpoint, answer, fault)
    assert grid.path.read_bytes() == before


@pytest.mark.parametrize(
    "row", ["1,catch,awful,,", "1,catch,fault,scissor,", "x,catch,fine,,", "1,catch,fine,,\n1,catch,fine,,"]
)
def test_a_grid_edited_into_disorder_names_its_line(grid, row):
    grid.path.write_text(f"number,checkpoint,answer,fault,by\n{row}\n", "utf-8")
    with pytest.raises(SquadError, match=r"line 2|line 3"):
        read_grid(grid.path)


@pytest.mark.parametrize("checkpoint", CHECKPOINTS)
def test_every_fault_has_a_letter_and_no_letter_is_a_key_of_the_grid(checkpoint):
    letters = fault_letters(checkpoint)
    assert list(letters.values()) == [f.key for f in load_advice(checkpoint).faults]
    assert not set(letters) & {"s", "z", "y", *ANSWERS, "0", " ", ",", "."}
    assert list(fault_words(checkpoint)) == list(letters) and short_title(checkpoint)


def hear(widget, **wish):
    widget._heard(widget, wish, [])


def test_the_widget_saves_a_wish_and_refuses_what_is_not_in_it(tmp_path):
    squad = squad_of(tmp_path / "s", member(1), member(2, do_not_film=True))
    widget = SquadGrid(squad)
    assert [m["number"] for m in widget.members] == [1], "whoever may not be filmed has no row"
    hear(widget, do="put", number=1, checkpoint="catch", answer="fault", fault="late_catch")
    assert widget.cells == {"1 catch": ["fault", "late_catch"]} and widget.trouble == ""
    hear(widget, do="put", number=2, checkpoint="catch", answer="fine")
    assert "not in this grid" in widget.trouble and (2, "catch") not in read_grid(squad.grid_file)
    hear(widget, do="undo")
    assert widget.cells == {} and widget.trouble == ""


def test_a_torn_file_is_said_in_the_widget_and_left_alone(tmp_path):
    squad = squad_of(tmp_path / "s", member(1))
    widget = SquadGrid(squad)
    squad.grid_file.write_text("nonsense\n", "utf-8")
    hear(widget, do="put", number=1, checkpoint="catch", answer="fine")
    assert "columns do not fit" in widget.trouble and squad.grid_file.read_text("utf-8") == "nonsense\n"


def test_the_table_for_where_no_widget_is_shown_escapes_the_alias(tmp_path):
    squad = squad_of(tmp_path / "s", member(1, "<img src=x onerror=alert(1)>"))
    table = SquadGrid(squad).table()
    assert "<img" not in table and "&lt;img" in table and table.count("not seen") == len(USUAL_CHECKPOINTS)
