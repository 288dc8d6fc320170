"""Places fixed to the pool and straight edges on disk: there and back, and what is refused."""

from __future__ import annotations

import numpy as np
import pytest

from casebook.errors import MarksError
from casebook.marks.fixed import EdgeMark, FixedMark, edges_of, read_edges, read_fixed, write_edges, write_fixed
from casebook.marks.marks import Origin

FIXED = [
    FixedMark(0, "tile left of the ladder", 101.25, 202.5, 2.0, Origin.hand, "ab", 0.8, 0.02),
    FixedMark(0, "rope, red end", 700.1, 30.0),
    FixedMark(7, "rope, red end", 650.0, 31.0, 1.5, Origin.tracked, "", 0.75, 0.05),
]
EDGES = [EdgeMark(3, "lane line", x, 500 + 0.01 * x, 1.5, "ab") for x in (10.0, 600.0, 1200.0)]


def test_places_come_back_as_they_were(tmp_path):
    path = tmp_path / "pass.fixed.csv"
    write_fixed(path, FIXED)
    assert read_fixed(path) == FIXED
    assert path.read_text("utf-8").startswith("# schema = 1\nframe,name,x_px,y_px,sigma_px,origin,by,")
    write_fixed(path, [])
    assert read_fixed(path) == []


def test_edges_come_back_as_they_were_and_group_by_frame_and_name(tmp_path):
    path = tmp_path / "pass.edges.csv"
    other = [EdgeMark(4, "lane line", x, 90.0) for x in (10.0, 600.0, 1200.0, 1250.0)]
    write_edges(path, [*EDGES, *other])
    assert read_edges(path) == [*EDGES, *other]
    places, sigma = edges_of(read_edges(path))
    assert [len(p) for p in places] == [3, 4]
    np.testing.assert_allclose(sigma, [1.5, 2.0])


def test_edge_of_two_places_is_refused_by_name():
    with pytest.raises(MarksError, match='"lane line" on frame 3 has 2 of 3'):
        edges_of(EDGES[:2])


def test_place_twice_on_one_frame_is_refused_and_nothing_is_written(tmp_path):
    path = tmp_path / "pass.fixed.csv"
    write_fixed(path, FIXED)
    with pytest.raises(MarksError, match='"rope, red end" stands twice on frame 0'):
        write_fixed(path, [*FIXED, FIXED[1]])
    assert read_fixed(path) == FIXED
    text = path.read_text("utf-8")
    path.write_text(text + text.splitlines()[3] + "\n", "utf-8")
    with pytest.raises(MarksError, match=r"pass.fixed.csv, line 6, column name: .* stands in this file already"):
        read_fixed(path)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ((",2.0,hand", ",-2.0,hand"), "no place or error"),
        ((",hand,", ",hnad,"), 'Perhaps "hand"'),
        (("101.25", "here"), '"here" is not a number'),
        ((",0.8,", ",0,"), "distance ratio of 0.0"),
        (("\n0,tile", "\n-1,tile"), "Frames count from 0"),
    ],
)
def test_damaged_cell_is_named_with_its_line(tmp_path, change, words):
    path = tmp_path / "pass.fixed.csv"
    write_fixed(path, FIXED)
    path.write_text(path.read_text("utf-8").replace(*change, 1), "utf-8")
    with pytest.raises(MarksError, match=words) as caught:
        read_fixed(path)
    assert "line 3" in str(caught.value)


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: FixedMark(0, "", 1, 1), "no name"),
        (lambda: FixedMark(0, "a\nb", 1, 1), "no name"),
        (lambda: FixedMark(0, "tile", float("nan"), 1), "no place"),
        (lambda: FixedMark(0, "tile", 1, 1, origin=Origin.unmarked), "where it came from"),
        (lambda: EdgeMark(-1, "edge", 1, 1), "Frames count from 0"),
    ],
)
def test_place_that_makes_no_sense_is_refused(make, words):
    with pytest.raises(MarksError, match=words):
        make()
