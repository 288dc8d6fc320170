"""What is drawn on a frame while marking, from hand-worked cases."""

from __future__ import annotations

import pytest

from casebook.checkpoints.drawing import Drawing, Label
from casebook.marks.lines import LineMark
from casebook.marks.marks import Origin
from casebook.widgets.scene import across, drawn_marks, reference_lines, spoken, together

SIZE = (200, 100)


def line(frame: int, name: str, *ends: float) -> LineMark:
    return LineMark(frame, name, *ends, 2.0, Origin.hand, "")


def test_points_are_named_as_a_coach_says_them() -> None:
    assert [spoken(p) for p in ("fingertip_r", "goggle_l", "neck")] == ["right fingertip", "left goggle", "neck"]


def test_a_water_line_runs_on_to_the_pictures_outer_edges() -> None:
    (ends,) = reference_lines([line(0, "water", 50, 40, 150, 50)], 7, SIZE)
    # A rise of 1 in 10 through (50, 40): at x = -0.5 it is 5.05 higher, at x = 199.5 14.95 lower.
    assert ends[0] == pytest.approx((-0.5, 34.95))
    assert ends[1] == pytest.approx((199.5, 54.95))


def test_a_plumb_line_hangs_where_it_was_drawn() -> None:
    assert reference_lines([line(3, "plumb", 20, 10, 20, 60)], 3, SIZE) == (((20, 10), (20, 60)),)


def test_of_several_frames_the_nearest_line_holds() -> None:
    lines = [line(0, "water", 0, 10, 199, 10), line(100, "water", 0, 30, 199, 30)]
    assert reference_lines(lines, 20, SIZE)[0][0][1] == 10
    assert reference_lines(lines, 80, SIZE)[0][0][1] == 30


def test_two_lines_of_one_name_on_one_frame_both_show() -> None:
    lines = [line(0, "lane", 0, 10, 199, 10), line(0, "lane", 0, 30, 199, 30)]
    assert len(reference_lines(lines, 5, SIZE)) == 2


@pytest.mark.parametrize(
    ("a", "b"),
    [((0, -20), (199, -10)), ((5, 300), (6, 300)), ((-30, 0), (-30, 50)), ((20, 20), (20, 20))],
    ids=["above", "below", "left", "no length"],
)
def test_a_line_that_misses_the_picture_is_left_out(a: tuple[float, float], b: tuple[float, float]) -> None:
    assert across(a, b, SIZE) is None


def test_an_upright_line_reaches_from_top_to_bottom() -> None:
    assert across((30, 10), (30, 20), SIZE) == ((30, -0.5), (30, 99.5))


def test_the_body_is_drawn_between_marks_and_lone_marks_stay() -> None:
    marks = {"shoulder_r": (1.0, 2.0), "elbow_r": (3.0, 4.0), "crown": (9.0, 9.0)}
    drawing = drawn_marks(marks, [("shoulder_r", "elbow_r"), ("elbow_r", "wrist_r")], [("shoulder_r", "fingertip_r")])
    assert drawing.body == (((1.0, 2.0), (3.0, 4.0)), ((9.0, 9.0),))
    assert drawing.reference == ()


def test_a_span_is_a_reference_line() -> None:
    marks = {"shoulder_r": (1.0, 2.0), "fingertip_r": (8.0, 4.0)}
    assert drawn_marks(marks, [], [("shoulder_r", "fingertip_r")]).reference == (((1.0, 2.0), (8.0, 4.0)),)


def test_drawings_add_up_kind_by_kind() -> None:
    a = Drawing(body=(((0, 0), (1, 1)),), labels=(Label((0, 0), "a"),))
    b = Drawing(body=(((2, 2),),), measure=(((0, 0), (1, 0)),))
    both = together(a, b)
    assert (len(both.body), len(both.measure), len(both.labels), len(both.reference)) == (2, 1, 1, 0)
