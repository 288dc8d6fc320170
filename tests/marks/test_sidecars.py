"""Lines, events and known lengths beside the marks: round trips, and errors told by place."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from casebook.errors import MarksError
from casebook.marks.events import EVENTS, EventMark, read_events, write_events
from casebook.marks.lines import LineMark, read_lines, write_lines
from casebook.marks.marks import Origin
from casebook.marks.points import LINES
from casebook.marks.scales import LengthMark, read_scales, write_scales
from casebook.marks.table import FORMULA
from casebook.words import STROKE_CLASSES

px = st.floats(-1e5, 1e5, width=64)
sigmas = st.floats(0, 100)
origins = st.sampled_from([o for o in Origin if o])
words = st.text(st.characters(categories=("L", "N", "P", "S", "Zs"), exclude_characters="\xa0"), max_size=12).filter(
    lambda w: w.isprintable() and w[:1] not in FORMULA
)


def apart(ends):
    return ends[:2] != ends[2:]


lines = st.builds(
    lambda frame, line, ends, sigma, origin, by: LineMark(frame, line, *ends, sigma, origin, by),
    st.integers(0, 10**6),
    st.sampled_from(list(LINES)),
    st.tuples(px, px, px, px).filter(apart),
    sigmas,
    origins,
    words,
)
events = st.one_of(
    st.builds(
        EventMark,
        st.sampled_from([e for e in EVENTS if e != "stroke_class"]),
        st.sampled_from(("", "l", "r")),
        st.floats(0, 1e6),
        words,
        origins,
        words,
    ),
    st.builds(
        EventMark, st.just("stroke_class"), st.sampled_from("lr"), px.map(abs), st.sampled_from([*STROKE_CLASSES])
    ),
)
lengths = st.builds(
    lambda frame, ends, length, rest, what, ratio: LengthMark(frame, *ends, length, *rest, what, *ratio),
    st.integers(0, 10**6),
    st.tuples(px, px, px, px).filter(apart),
    st.floats(1e-3, 100),
    st.tuples(sigmas, sigmas),
    st.text(max_size=12),
    st.tuples(st.floats(0.1, 10), st.floats(0, 1)),
)


@settings(max_examples=60, deadline=None)
@given(st.lists(lines, max_size=5), st.lists(events, max_size=5), st.lists(lengths, max_size=4))
def test_lines_events_and_lengths_read_back_as_they_were(tmp_path_factory, some_lines, some_events, some_lengths):
    folder = tmp_path_factory.mktemp("marks")
    write_lines(folder / "a.lines.csv", some_lines)
    write_events(folder / "a.events.csv", some_events)
    write_scales(folder / "a.scales.toml", some_lengths)
    assert read_lines(folder / "a.lines.csv") == some_lines
    assert read_events(folder / "a.events.csv") == some_events
    assert read_scales(folder / "a.scales.toml") == some_lengths


def test_the_files_are_the_documented_tables(tmp_path):
    write_lines(tmp_path / "a.lines.csv", [LineMark(3, "water", 0.0, 101.5, 959.0, 99.0, 1.0, Origin.hand, "JS")])
    write_events(tmp_path / "a.events.csv", [EventMark("stroke_class", "r", 12, "breath_r", by="JS")])
    write_scales(tmp_path / "a.scales.toml", [LengthMark(3, 10, 20, 510, 20, 5.0, 0.02, what="red floats")])
    assert (tmp_path / "a.lines.csv").read_text() == (
        "# schema = 1\nframe,line,x0_px,y0_px,x1_px,y1_px,sigma_px,origin,by\n"
        "3,water,0.0,101.5,959.0,99.0,1.0,hand,JS\n"
    )
    assert (tmp_path / "a.events.csv").read_text() == (
        "# schema = 1\nevent,side,frame,value,origin,by\nstroke_class,r,12,breath_r,hand,JS\n"
    )
    assert (tmp_path / "a.scales.toml").read_text() == (
        "schema = 1\n\n[[length]]\nframe = 3\nx0_px = 10\ny0_px = 20\nx1_px = 510\ny1_px = 20\nlength_m = 5.0\n"
        'sigma_m = 0.02\nsigma_px = 2.0\nwhat = "red floats"\ndistance_ratio = 1.0\ndistance_sigma = 0.0\n'
    )


LINE = "# schema = 1\nframe,line,x0_px,y0_px,x1_px,y1_px,sigma_px,origin,by\n3,water,0,100,959,99,1,hand,JS\n"
EVENT = "# schema = 1\nevent,side,frame,value,origin,by\nentry,r,12.5,,hand,JS\nstroke_class,r,12,none,hand,JS\n"


@pytest.mark.parametrize(
    ("read", "text", "old", "new", "place"),
    [
        (read_lines, LINE, "water", "watre", 'line 3, column line: "watre" is not known here. Perhaps "water"'),
        (read_lines, LINE, "959,99", "0,100", "line 3, column x1_px: The water line on frame 3 starts and ends"),
        (read_lines, LINE, "959", "", "line 3, column x1_px: a number is missing"),
        (read_lines, LINE, "959", "nan", "line 3, column x1_px"),
        (read_lines, LINE, ",1,hand", ",-1,hand", "line 3, column sigma_px"),
        (read_lines, LINE, "3,water", "-3,water", "line 3, column frame"),
        (read_lines, LINE, "= 1", "= 2", "line 1: the file was written by a newer casebook"),
        (read_lines, LINE, "hand,JS\n", "ha", "line 3, column origin: the file breaks off here"),
        (read_events, EVENT, "entry", "entyr", "line 3, column event"),
        (read_events, EVENT, "entry,r", "entry,right", 'line 3, column side: "right" is not known here'),
        (read_events, EVENT, "12.5", "twelve", 'line 3, column frame: "twelve" is not a number'),
        (read_events, EVENT, "12.5", "-12.5", "line 3, column frame: The event entry stands at frame -12.5"),
        (read_events, EVENT, "none", "no", 'line 4, column value: "no" is not a class of stroke'),
    ],
)
def test_a_mistake_in_a_table_is_named_by_line_and_column(tmp_path, read, text, old, new, place):
    path = tmp_path / "a.csv"
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(MarksError) as caught:
        read(path)
    assert place in str(caught.value)
    assert path.read_text(encoding="utf-8") == text.replace(old, new, 1)


SCALE = (
    "schema = 1\n[[length]]\n"
    "frame = 3\nx0_px = 10\ny0_px = 20\nx1_px = 510.5\ny1_px = 20\nlength_m = 5\nsigma_m = 0.02\n"
)


def test_a_scale_written_by_hand_takes_the_usual_for_what_it_leaves_out(tmp_path):
    (tmp_path / "a.scales.toml").write_text(SCALE)
    assert read_scales(tmp_path / "a.scales.toml") == [LengthMark(3, 10, 20, 510.5, 20, 5.0, 0.02, 2.0, "", 1.0, 0.0)]


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("length_m = 5", "length_m = 0", "length 1: .*length_m = 0.0"),
        ("length_m = 5", "length_m = -5", "length 1: .*length_m"),
        ("length_m = 5", "length_m = nan", "length 1: .*length_m"),
        ("length_m = 5", 'length_m = "5"', "length 1: length_m = '5' does not fit"),
        ("length_m = 5", "length_m = true", "length 1: length_m = True does not fit"),
        ("length_m = 5", "", "length 1 lacks length_m"),
        ("length_m = 5", "length_m = 5\nmetres = 5", "length 1 has the unknown key metres"),
        ("x1_px = 510.5", "x1_px = 10", "length 1: .*starts and ends in the same place"),
        ("frame = 3", "frame = 3.5", "length 1: frame = 3.5 does not fit"),
        ("[[length]]", "[length]", "in a form not known here"),
        ("[[length]]", "[[size]]", "holds size in a form not known here"),
        ("schema = 1", "schema = 9", "newer casebook"),
        ("length_m = 5", "length_m =", "cannot be read.*line 8"),
    ],
)
def test_a_mistake_in_the_scales_is_named_by_entry_and_key(tmp_path, old, new, says):
    path = tmp_path / "a.scales.toml"
    text = SCALE.replace(old, new, 1)
    path.write_text(text)
    with pytest.raises(MarksError, match=rf"(?s)a\.scales\.toml.*{says}"):
        read_scales(path)
    assert path.read_text() == text


@pytest.mark.parametrize("read", [read_lines, read_events, read_scales])
def test_a_missing_file_is_said_in_a_sentence(tmp_path, read):
    with pytest.raises(MarksError, match="There is no file"):
        read(tmp_path / "none.csv")


@pytest.mark.parametrize(
    "change",
    [
        {"length_m": math.inf},
        {"sigma_m": -1.0},
        {"sigma_px": math.nan},
        {"distance_ratio": 0.0},
        {"distance_sigma": -0.1},
        {"frame": -1},
    ],
)
def test_a_length_that_cannot_be_is_not_made(change):
    with pytest.raises(MarksError):
        replace(LengthMark(3, 10, 20, 510, 20, 5.0, 0.02), **change)
