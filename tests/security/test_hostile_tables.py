"""Tables that others wrote, and tables for others to open: no cell becomes a formula, none leaves its place."""

from __future__ import annotations

import csv
import io

import numpy as np
import pytest
from hostile import TABLE
from hypothesis import given
from hypothesis import strategies as st

from casebook.case.observations import read_lengths, write_lengths
from casebook.errors import CasebookError, MarksError
from casebook.marks.csvfile import read_marks, write_marks
from casebook.marks.events import EventMark
from casebook.marks.fixed import EdgeMark, FixedMark
from casebook.marks.lines import LineMark
from casebook.marks.marks import Marks, Origin
from casebook.marks.table import FORMULA, check_initials, check_name
from casebook.pages.tables import csv_text
from casebook.squad.rows import read_rows, write_rows
from casebook.stroke.lengths import Length

TIMES = np.arange(4) / 25
HEAD = "# schema = 1\nframe,time_s,point,x_px,y_px,sigma_px,origin,by\n"
#: Tables that are none, or not of marks.
BROKEN = {
    "nothing": b"",
    "a null": HEAD.encode() + b"0,0,elbow_r,1\x00,2,2,hand,a\n",
    "no letters": HEAD.encode() + b"0,0,elbow_r,1,2,2,hand,\xff\xfe\n",
    "a quote that never ends": HEAD.encode() + b'0,0,elbow_r,1,2,2,hand,"a\n',
    "an endless cell": HEAD.encode() + b"0,0,elbow_r,1,2,2,hand," + b"a" * 200_000 + b"\n",
    "an endless number": HEAD.encode() + b"0,0,elbow_r," + b"9" * 10_000 + b",2,2,hand,a\n",
    "a huge number": HEAD.encode() + b"0,0,elbow_r,1e999,2,2,hand,a\n",
    "no number": HEAD.encode() + b"0,0,elbow_r,nan,2,2,hand,a\n",
    "a frame of nowhere": HEAD.encode() + b"99999999999999999999,0,elbow_r,1,2,2,hand,a\n",
    "a frame below nothing": HEAD.encode() + b"-1,0,elbow_r,1,2,2,hand,a\n",
    "an unknown point": HEAD.encode() + b"0,0,../../x,1,2,2,hand,a\n",
    "a formula for a point": HEAD.encode() + b"0,0,=1+1,1,2,2,hand,a\n",
    "a formula for a place": HEAD.encode() + b"0,0,elbow_r,=1+1,2,2,hand,a\n",
    "a formula for initials": HEAD.encode() + b"0,0,elbow_r,1,2,2,hand,=1+1\n",
    "a command for initials": HEAD.encode() + b"0,0,elbow_r,1,2,2,hand,@SUM(1)\n",
    "an escape for initials": HEAD.encode() + b"0,0,elbow_r,1,2,2,hand,a\x1b[2J\n",
    "more columns": HEAD.encode() + b"0,0,elbow_r,1,2,2,hand,a,b,c\n",
    "the same twice": HEAD.encode() + b"0,0,elbow_r,1,2,2,hand,a\n0,0,elbow_r,1,2,2,hand,a\n",
    "a page": b"<!doctype html><script>x</script>",
    "a schema of the future": b"# schema = 99999999999999999999\n" + HEAD.split("\n")[1].encode() + b"\n",
}


@pytest.mark.parametrize("raw", BROKEN.values(), ids=BROKEN.keys())
def test_a_table_that_is_none_is_refused_with_line_and_column(tmp_path, raw):
    path = tmp_path / "s.csv"
    path.write_bytes(raw)
    with pytest.raises(MarksError) as told:
        read_marks(path, TIMES)
    assert len(str(told.value)) < 1500 and str(told.value).replace("\n", "").isprintable()
    assert path.read_bytes() == raw


@pytest.mark.parametrize("words", TABLE.values(), ids=TABLE.keys())
def test_words_of_others_do_not_come_into_the_tables_of_marks_as_formulas(tmp_path, words):
    marks = Marks.empty(["elbow_r"], [0])
    marks.xy[:], marks.sigma_px[:], marks.origin[:] = 1.0, 2.0, int(Origin.hand)
    makers = (
        lambda: write_marks(tmp_path / "s.csv", marks, TIMES, words),
        lambda: EventMark("entry", "r", 0, by=words),
        lambda: EventMark("entry", "r", 0, value=words),
        lambda: LineMark(0, "water", 0, 0, 1, 1, by=words),
        lambda: FixedMark(0, words, 1, 1),
        lambda: FixedMark(0, "tile", 1, 1, by=words),
        lambda: EdgeMark(0, words, 1, 1),
    )
    refused = words[:1] in FORMULA or not words.isprintable()
    for make in makers:
        if refused:
            with pytest.raises(MarksError):
                make()
        else:
            make()
    assert (tmp_path / "s.csv").exists() != refused


@pytest.mark.parametrize("words", TABLE.values(), ids=TABLE.keys())
def test_words_in_the_tables_that_are_handed_over_stay_in_their_cell(words):
    rows = list(csv.reader(io.StringIO(csv_text(("a", "b"), [(words, 1.5), (-2.5, words)]))))
    assert len(rows) == 3 and {len(row) for row in rows} == {3}
    for cell in (rows[1][1], rows[2][2]):
        assert cell[:1] not in FORMULA and words.replace("\x00", "")[-4:] in cell.replace("\x00", "")
    assert float(rows[2][1]) == -2.5, "a number below nothing stays a number"


@pytest.mark.parametrize("words", TABLE.values(), ids=TABLE.keys())
def test_words_in_the_tables_that_a_coach_keeps_come_back_and_are_no_formulas(tmp_path, words):
    """Counted lengths and a squad's lists: both are opened in spreadsheets, and both hold free words."""
    words = words.replace("\x00", "")
    flat = " ".join(words.split())
    write_lengths(tmp_path / "lengths.csv", [Length(flat, 1, 25, seconds=20.0, note=flat)])
    write_rows(tmp_path / "rows.csv", ("a", "b"), [(flat, "end")])
    for name in ("lengths.csv", "rows.csv"):
        lines = [line for line in (tmp_path / name).read_text("utf-8").splitlines() if not line.startswith("# schema")]
        cells = [cell for row in csv.reader(lines[1:]) for cell in row]
        assert not [cell for cell in cells if cell[:1] in FORMULA]
    assert read_lengths(tmp_path / "lengths.csv")[0].note == flat
    assert read_rows(tmp_path / "rows.csv", ("a", "b"))[0]["a"] == flat


@given(st.text(max_size=60))
def test_whatever_is_accepted_as_initials_or_a_name_is_one_harmless_cell(words):
    for check in (check_initials, lambda w: check_name("A place", w)):
        try:
            kept = check(words)
        except CasebookError:
            continue
        out = io.StringIO(newline="")
        csv.writer(out, lineterminator="\n").writerow([kept, "end"])
        assert list(csv.reader(io.StringIO(out.getvalue()))) == [[words, "end"]]
        assert out.getvalue().count("\n") == 1 and words[:1] not in FORMULA


@given(st.lists(st.tuples(st.text(max_size=30), st.floats(allow_nan=False, allow_infinity=False)), max_size=5))
def test_tables_that_are_handed_over_hold_as_many_cells_as_were_put_in(rows):
    read = list(csv.reader(io.StringIO(csv_text(("a", "b"), rows))))
    assert [len(row) for row in read] == [3] * (len(rows) + 1)
    assert all(row[1][:1] not in FORMULA for row in read[1:])
