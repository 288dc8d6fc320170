"""The table of lengths as counted: read, written, imported, and every mistake named by its cell."""

from __future__ import annotations

import pytest

from casebook.case.case import Case
from casebook.case.observations import counted, import_lengths, of_swim, read_lengths, write_lengths
from casebook.demo.case import build_demo_case
from casebook.errors import CasebookError, MarksError
from casebook.stroke.lengths import Length

HEAD = "swim,length_no,distance,unit,seconds,strokes,note\n"
ROWS = [
    Length("easy", 1, 25.0, "m", 21.4, 18, "dive"),
    Length("easy", 2, 25.0, "m", None, 19),
    Length("b", 1, 25.0, "yd", 14.0),
]


def file(tmp_path, text, name="t.csv"):
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    return path


def test_what_is_written_reads_back_the_same(tmp_path):
    path = tmp_path / "observations.csv"
    write_lengths(path, ROWS)
    assert read_lengths(path) == tuple(ROWS)
    assert [n.number for n in of_swim(ROWS[::-1], "easy")] == [1, 2]


def test_a_sheet_with_decimal_commas_is_read(tmp_path):
    path = file(tmp_path, HEAD.replace(",", ";") + "easy;1;25;m;21,4;18;\n")
    assert read_lengths(path)[0].seconds == 21.4


@pytest.mark.parametrize("text", ["=1+1", "+SUM(A1)", "-2", "@x", "'quoted"])
def test_no_cell_becomes_a_formula(tmp_path, text):
    path = tmp_path / "o.csv"
    write_lengths(path, [Length("a", 1, 25.0, "m", 20.0, None, text)])
    cell = path.read_text("utf-8").splitlines()[2].split(",")[-1]
    assert cell.startswith("'")
    assert read_lengths(path)[0].note == text


def test_a_note_of_two_lines_is_refused(tmp_path):
    with pytest.raises(CasebookError, match="one cell"):
        write_lengths(tmp_path / "o.csv", [Length("a", 1, 25.0, "m", 20.0, None, "two\nlines")])


@pytest.mark.parametrize(
    ("row", "column", "words"),
    [
        ("easy,0,25,m,20,18,", "length_no", "counted from 1"),
        ("easy,1,-25,m,20,18,", "distance", "no distance"),
        ("easy,1,25,feet,20,18,", "unit", "not known"),
        ("easy,1,25,m,0,18,", "seconds", "no time"),
        ("easy,1,25,m,1:02,18,", "seconds", "not a number"),
        ("easy,1,25,m,20,18.5,", "strokes", "no count"),
        ("easy,1,25,m,,,", "seconds", "neither"),
        ("easy,1,25,m,20,18,\neasy,1,25,m,21,18,", "length_no", "stands in line"),
    ],
)
def test_every_mistake_names_its_cell(tmp_path, row, column, words):
    with pytest.raises(MarksError, match=words) as error:
        read_lengths(file(tmp_path, HEAD + row + "\n"))
    assert error.value.facts["column"] == column
    assert "line" in str(error.value)


def test_importing_replaces_what_is_there_and_keeps_the_rest(tmp_path):
    write_lengths(tmp_path / "observations.csv", ROWS)
    sheet = file(tmp_path, HEAD + "easy,2,25,m,20.9,19,\neasy,3,25,m,21.0,20,\n")
    got = import_lengths(tmp_path, sheet)
    assert read_lengths(tmp_path / "observations.csv") == got
    assert [(n.swim, n.number, n.seconds) for n in got] == [
        ("b", 1, 14.0),
        ("easy", 1, 21.4),
        ("easy", 2, 20.9),
        ("easy", 3, 21.0),
    ]


def test_a_case_without_a_table_has_no_lengths(tmp_path):
    assert counted(tmp_path, "easy") == ()
    write_lengths(tmp_path / "observations.csv", ROWS)
    assert [n.number for n in counted(tmp_path, "easy")] == [1, 2]


def test_a_sheet_with_a_mistake_changes_nothing(tmp_path):
    write_lengths(tmp_path / "observations.csv", ROWS)
    before = (tmp_path / "observations.csv").read_bytes()
    with pytest.raises(MarksError):
        import_lengths(tmp_path, file(tmp_path, HEAD + "easy,2,25,m,fast,19,\n"))
    assert (tmp_path / "observations.csv").read_bytes() == before


def test_a_part_of_a_length_says_where_the_watch_was_started_and_whole_ones_need_not(tmp_path):
    part = Length("easy", 3, 10.0, "m", 7.6, 11, "flags to middle", 10.0)
    write_lengths(tmp_path / "o.csv", [*ROWS, part])
    assert read_lengths(tmp_path / "o.csv") == (*ROWS, part)
    sheet = file(tmp_path, HEAD.replace("note", "from_wall,note") + "easy,1,10,m,7,9,-2,\n")
    with pytest.raises(MarksError, match="behind the wall"):
        read_lengths(sheet)


def test_a_length_typed_in_a_cell_is_kept_numbered_and_replaced(tmp_path):
    case = Case.open(build_demo_case(tmp_path / "demo"))
    desk = case.desk("rowan_side_under")
    before = len(desk.counted)
    kept = desk.count_length(18.3, 21)
    assert (kept.number, kept.distance, kept.unit, kept.swim) == (before + 1, 25.0, "m", desk.shot.swim.id)
    desk.count_length(18.4, 20, number=kept.number)
    assert [n.seconds for n in desk.counted][-1] == 18.4
    assert len(case.lengths) == 8
    # What the coach typed is a finding at once; the timed part of a length is no length.
    strokes = desk.measure("rate", alone=True).get("strokes_per_length", "")
    assert [s.value for s in strokes.strokes] == [20, 21, 20]


def test_the_command_takes_a_table_in_and_tells_what_follows(tmp_path, capsys):
    from casebook.cli import main

    folder = build_demo_case(tmp_path / "demo", "heron")
    assert main(["count", str(folder)]) == 0
    assert "swim,length_no" in capsys.readouterr().out.replace(", ", ",")
    sheet = file(tmp_path, HEAD.replace(",", ";") + "easy;1;25;yd;17,4;18;\neasy;2;25;yd;17,6;18;\n")
    assert main(["count", str(folder), str(sheet)]) == 0
    assert "2 lengths of 25 yd: 17.5 s, 18 strokes" in capsys.readouterr().out
    assert main(["count", str(folder), str(file(tmp_path, HEAD + "easy,1,25,m,fast,18,\n", "bad.csv"))]) == 2
    assert "line 2, column seconds" in capsys.readouterr().err
