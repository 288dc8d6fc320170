"""The marks file: what is written reads back as it was, and what cannot be read is told by line and column."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from casebook.errors import MarksError
from casebook.marks.csvfile import COLUMNS, read_marks, read_signed, write_marks
from casebook.marks.marks import Marks, Origin
from casebook.marks.points import POINTS
from casebook.marks.table import FORMULA

# 1001/30000 s a frame, a common rate whose times have no short decimal form.
TIMES = np.arange(400) * 1001 / 30000
HEAD = "# schema = 1\n" + ",".join(COLUMNS) + "\n"
ROWS = (
    "12,0.400400,elbow_l,512.25,300.5,2.0,hand,JS\n"
    "12,0.400400,wrist_l,,,,hand,JS\n"
    "13,0.433767,elbow_l,515.0,301.0,3.5,tracked,\n"
)


def written(folder: Path, text: str | bytes) -> Path:
    path = folder / "front.csv"
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return path


def refusal(folder: Path, text: str | bytes) -> MarksError:
    """The error of reading this text; the file must be the same afterwards, with nothing beside it."""
    path = written(folder, text)
    before = path.read_bytes()
    with pytest.raises(MarksError) as caught:
        read_marks(path, TIMES)
    assert path.read_bytes() == before
    assert [p.name for p in folder.iterdir()] == ["front.csv"]
    assert caught.value.remedy
    return caught.value


def same(a: Marks, b: Marks) -> None:
    assert a.points == b.points
    for name in ("frames", "xy", "sigma_px", "origin", "hidden"):
        np.testing.assert_array_equal(getattr(a, name), getattr(b, name), err_msg=name)


places = st.floats(-1e6, 1e6, allow_nan=False, width=64)
initials = st.text(st.characters(categories=("L", "N", "P", "S")), max_size=5).filter(lambda w: w[:1] not in FORMULA)


@st.composite
def cells(draw):
    """Unmarked, hidden or placed, with origin, error and initials."""
    kind = draw(st.sampled_from(("unmarked", "hidden", "placed", "placed")))
    if kind == "unmarked":
        return None
    origin = draw(st.sampled_from([o for o in Origin if o]))
    xy = (np.nan, np.nan) if kind == "hidden" else (draw(places), draw(places))
    sigma = np.nan if kind == "hidden" else draw(st.floats(0, 1e3, width=64))
    return (*xy, sigma, int(origin), kind == "hidden", draw(initials))


@st.composite
def signed_marks(draw):
    """Marks in which every frame and point holds something, as a file keeps them, with their initials."""
    names = draw(st.lists(st.sampled_from(POINTS), min_size=1, max_size=4, unique=True))
    points = tuple(sorted(names, key=POINTS.index))
    frames = sorted(draw(st.lists(st.integers(0, len(TIMES) - 1), min_size=1, max_size=4, unique=True)))
    marks = Marks.empty(points, frames)
    by = np.full(marks.origin.shape, "", object)
    for i in range(len(frames)):
        for j in range(len(points)):
            cell = draw(cells())
            if cell is not None:
                marks.xy[i, j], marks.sigma_px[i, j] = cell[:2], cell[2]
                marks.origin[i, j], marks.hidden[i, j], by[i, j] = cell[3:]
    rows, columns = (marks.origin > 0).any(1), (marks.origin > 0).any(0)
    held = marks.pick([p for p, keep in zip(points, columns, strict=True) if keep], marks.frames[rows])
    return held, by[rows][:, columns]


@settings(max_examples=150, deadline=None)
@given(signed_marks())
def test_marks_and_initials_read_back_as_the_very_same_numbers(tmp_path_factory, marks_by):
    marks, by = marks_by
    path = tmp_path_factory.mktemp("marks") / "front.csv"
    write_marks(path, marks, TIMES, by)
    back, signed = read_signed(path, TIMES)
    same(back, marks)
    np.testing.assert_array_equal(signed, by)
    first = path.read_bytes()
    write_marks(path, back, TIMES, signed)
    assert path.read_bytes() == first


def test_the_file_is_the_documented_table(tmp_path):
    marks = Marks.from_arrays(("elbow_l", "wrist_l"), [12], np.array([[[512.25, 300.5], [np.nan, np.nan]]]))
    marks.hidden[0, 1], marks.origin[0, 1] = True, Origin.hand
    write_marks(tmp_path / "front.csv", marks, TIMES, "JS")
    assert (tmp_path / "front.csv").read_bytes().decode() == HEAD + "".join(ROWS.splitlines(True)[:2])


def test_hidden_and_unmarked_stay_two_things(tmp_path):
    marks = read_marks(written(tmp_path, HEAD + ROWS), TIMES)
    assert marks.points == ("elbow_l", "wrist_l")
    np.testing.assert_array_equal(marks.hidden, [[False, True], [False, False]])
    np.testing.assert_array_equal(marks.origin, [[4, 4], [2, 0]])
    np.testing.assert_array_equal(marks.sigma_px, [[2.0, np.nan], [3.5, np.nan]])
    assert marks.at(12) == {"elbow_l": (512.25, 300.5)}


def test_no_rows_are_no_marks(tmp_path):
    marks = read_marks(written(tmp_path, HEAD), TIMES)
    assert marks.points == () and len(marks.frames) == 0


@pytest.mark.parametrize(
    "spoil",
    [
        pytest.param(lambda t: "\ufeff" + t, id="byte order mark"),
        pytest.param(lambda t: t.replace("\n", "\r\n"), id="windows line ends"),
        pytest.param(lambda t: t.replace("\n", "\r"), id="lone carriage returns"),
        pytest.param(lambda t: t.replace("# schema = 1", '"# schema = 1",,,,,,,'), id="first line padded"),
        pytest.param(lambda t: t.replace("# schema = 1", "#schema=1"), id="first line without spaces"),
        pytest.param(lambda t: t.replace(",", ";").replace(".", ","), id="semicolons and decimal commas"),
        pytest.param(lambda t: t.replace(",", "\t").replace(".", ","), id="tabs and decimal commas"),
        pytest.param(lambda t: t.replace(",", ";"), id="semicolons and decimal points"),
        pytest.param(lambda t: t.replace("\n", ",,\n"), id="empty columns added"),
        pytest.param(lambda t: t + "\n,,,,,,,\n", id="empty rows added"),
        pytest.param(lambda t: t.removesuffix("\n"), id="no line end at the end"),
        pytest.param(lambda t: t.replace("elbow_l", '"elbow_l"'), id="quoted words"),
        pytest.param(lambda t: t.replace("elbow_l", " elbow_l "), id="spaces round words"),
        pytest.param(lambda t: t.replace("0.400400", "0.4004").replace("0.433767", "4.33767E-1"), id="other digits"),
        pytest.param(lambda t: t.replace("0.400400", "").replace("0.433767", ""), id="times emptied"),
        pytest.param(lambda t: HEAD + "".join(reversed(ROWS.splitlines(True))), id="rows sorted otherwise"),
        pytest.param(
            lambda t: "# schema = 1\n" + "".join(",".join(r.split(",")[::-1]) + "\n" for r in t.split("\n")[1:-1]),
            id="columns in another order",
        ),
    ],
)
def test_what_spreadsheets_do_is_read(tmp_path, spoil):
    expected = read_signed(written(tmp_path, HEAD + ROWS), TIMES)
    marks, by = read_signed(written(tmp_path, spoil(HEAD + ROWS)), TIMES)
    same(marks, expected[0])
    np.testing.assert_array_equal(by, expected[1])


@pytest.mark.parametrize(
    ("old", "new", "line", "column", "says"),
    [
        ("512.25", "abc", 3, "x_px", '"abc" is not a number'),
        ("512.25", "5_12", 3, "x_px", "not a number"),
        ("512.25", "nan", 3, "x_px", "not marked has no row"),
        ("512.25", "inf", 3, "x_px", "not a place"),
        ("512.25", "1e999", 3, "x_px", "not a place"),
        ("512.25", "٥١٢", 3, "x_px", "not a number"),
        ("512.25", "", 3, "x_px", "one coordinate of two is missing"),
        ("300.5", "", 3, "y_px", "one coordinate of two is missing"),
        ("300.5,2.0", "300.5,", 3, "sigma_px", "needs its error"),
        ("300.5,2.0", "300.5,-2.0", 3, "sigma_px", "zero or more"),
        ("13,0.433767", "13,0.4333", None, None, None),
        ("13,0.433767", "13,0.4343", 5, "time_s", "0.4343 s is not the time of frame 13"),
        ("13,0.433767", "13,433767", 5, "time_s", "not the time of frame 13"),
        ("13,0.433767", "900,30.03", 5, "frame", "no frame 900"),
        ("13,0.433767", "-1,0.433767", 5, "frame", "no frame -1"),
        ("13,0.433767", "13.5,0.433767", 5, "frame", "not a whole number"),
        ("13,0.433767", ",0.433767", 5, "frame", "a whole number is missing"),
        ("13,0.433767", "12,0.400400", 5, "point", "elbow_l on frame 12 stands in line 3 already"),
        ("wrist_l", "wirst_l", 4, "point", '"wirst_l" is not known here. Perhaps "wrist_l" was meant'),
        ("tracked", "guessed", 5, "origin", "not known here"),
        ("tracked", "unmarked", 5, "origin", "not known here"),
        ("hand,JS", "hand,JS,more", 3, "by", "the row has 9 columns and the head 8"),
        ("300.5,2.0,hand,JS", "300.5,2.0", 3, "sigma_px", "the row has 6 columns and the head 8"),
        ("elbow_l,512.25", 'elbow_l,"512.25', 3, "", "quotes do not match"),
    ],
)
def test_a_hand_edited_mistake_is_named_by_line_and_column(tmp_path, old, new, line, column, says):
    text = (HEAD + ROWS).replace(old, new, 1)
    assert text != HEAD + ROWS
    if line is None:
        read_marks(written(tmp_path, text), TIMES)
        return
    error = refusal(tmp_path, text)
    place = f"front.csv, line {line}" + (f", column {column}" if column else "")
    assert error.problem.startswith(place), error.problem
    assert says in str(error)
    assert error.facts["line"] == line


@pytest.mark.parametrize("cut", [20, 36, 43])
def test_a_torn_last_line_is_named(tmp_path, cut):
    text = HEAD + ROWS
    error = refusal(tmp_path, text[: -len(ROWS.splitlines()[-1]) - 1 + cut - 10])
    assert "front.csv, line 5" in error.problem
    assert "breaks off here" in error.problem


def test_a_decimal_comma_between_commas_is_refused_and_not_guessed(tmp_path):
    assert "columns" in refusal(tmp_path, (HEAD + ROWS).replace("512.25", "512,25")).problem


def test_a_thousands_point_is_refused_and_not_guessed(tmp_path):
    text = (HEAD + ROWS).replace(",", ";").replace(".", ",").replace("512,25", "1.512,25")
    assert '"1.512,25" is not a number' in refusal(tmp_path, text).problem


def test_a_missing_column_is_named(tmp_path):
    error = refusal(tmp_path, (HEAD + ROWS).replace("sigma_px", "error"))
    assert "line 2" in error.problem and "missing: sigma_px" in error.problem and "not known: error" in error.problem


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "line 1: the file is empty"),
        ("\n\n", "line 1: the file is empty"),
        ("# schema = one\n", "does not say which schema"),
        ("# marks of the front crawl\n", "does not say which schema"),
        ((HEAD + ROWS).replace("# schema = 1", "# schema = 2"), "newer casebook (schema 2, this one knows 1)"),
        ((HEAD + ROWS).replace("JS", "JÖ").encode("latin-1"), "line 3: the text is not UTF-8"),
        ((HEAD + ROWS).encode("utf-16"), "not UTF-8"),
        (b"\x00\x00\x00\x00", "front.csv"),
        (b"# schema = 1\n" + bytes(range(256)) * 4, "front.csv"),
    ],
)
def test_other_files_are_refused_with_a_sentence(tmp_path, text, says):
    assert says in str(refusal(tmp_path, text))


@settings(max_examples=200, deadline=None)
@given(st.data())
def test_no_damage_raises_anything_but_a_marks_error(tmp_path_factory, data):
    folder = tmp_path_factory.mktemp("damage")
    raw = bytearray((HEAD + ROWS).encode())
    for _ in range(data.draw(st.integers(1, 3))):
        place = data.draw(st.integers(0, len(raw) - 1))
        raw[place : place + data.draw(st.integers(0, 4))] = data.draw(st.binary(max_size=3))
        if not raw:
            break
    path = written(folder, bytes(raw))
    try:
        read_marks(path, TIMES)
    except MarksError as error:
        assert "front.csv" in error.problem
    assert path.read_bytes() == bytes(raw)


def test_no_file_is_said_in_a_sentence(tmp_path):
    with pytest.raises(MarksError, match='There is no file "front'):
        read_marks(tmp_path / "front.csv", TIMES)


def test_a_folder_is_not_a_marks_file(tmp_path):
    with pytest.raises(MarksError, match="cannot be read"):
        read_marks(tmp_path, TIMES)


def test_an_older_file_is_read_and_the_first_write_keeps_a_copy(tmp_path):
    older = (HEAD + ROWS).removeprefix("# schema = 1\n")
    path = written(tmp_path, older)
    marks, by = read_signed(path, TIMES)
    assert marks.n_marked == 2
    assert [p.name for p in tmp_path.iterdir()] == ["front.csv"]
    for _ in range(2):
        write_marks(path, marks, TIMES, by)
        assert path.read_text() == HEAD + ROWS
        assert (tmp_path / "front.csv.schema0").read_text() == older


def test_a_newer_file_is_never_replaced(tmp_path):
    path = written(tmp_path, (HEAD + ROWS).replace("# schema = 1", "# schema = 7"))
    before = path.read_bytes()
    with pytest.raises(MarksError, match="newer casebook"):
        write_marks(path, Marks.empty((), []), TIMES)
    assert path.read_bytes() == before


def one_mark(**change) -> Marks:
    marks = Marks.from_arrays(("elbow_l",), [12], np.array([[[1.0, 2.0]]]))
    for name, value in change.items():
        getattr(marks, name)[...] = value
    return marks


@pytest.mark.parametrize(
    "marks",
    [
        one_mark(xy=[1.0, np.nan]),
        one_mark(xy=[1.0, np.inf]),
        one_mark(origin=0),
        one_mark(sigma_px=np.nan),
        one_mark(sigma_px=-1.0),
        one_mark(hidden=True),
        Marks.from_arrays(("elbow_l",), [400], np.ones((1, 1, 2))),
        Marks.from_arrays(("elbow",), [12], np.ones((1, 1, 2))),
        Marks.from_arrays(("elbow_l", "elbow_l"), [12], np.ones((1, 2, 2))),
    ],
)
def test_marks_that_could_not_be_read_back_are_not_written(tmp_path, marks):
    path = written(tmp_path, HEAD + ROWS)
    with pytest.raises(MarksError):
        write_marks(path, marks, TIMES)
    assert path.read_text() == HEAD + ROWS


def test_initials_that_break_a_line_are_not_written(tmp_path):
    with pytest.raises(MarksError, match="Initials"):
        write_marks(tmp_path / "front.csv", one_mark(), TIMES, "J\nS")
    assert not list(tmp_path.iterdir())
