"""What is read off a frame and how sure it is: values by hand, errors against many draws, gaps said in words."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from casebook.checkpoints.drawing import Drawing
from casebook.errors import MarksError
from casebook.marks.lines import LineMark
from casebook.marks.marks import Origin
from casebook.marks.store import MarkStore
from casebook.plane.geometry import angle_sigma_deg, inclination_sigma_deg
from casebook.plane.measured import Measured
from casebook.plane.plane import Plane
from casebook.plane.propagate import Z95
from casebook.widgets.ruler_board import RulerBoard, rulers_for
from casebook.widgets.rulers import (
    Shown,
    Sight,
    Spot,
    angle,
    body_axis,
    catch,
    lane,
    plumb,
    reach,
    told,
    under_water,
    with_error,
)

ARM = ("shoulder_r", "elbow_r", "wrist_r", "fingertip_r")
SIZE = (960, 540)
PLAIN = Plane.given(1)
#: Level, 1 cm a pixel, water at y = 50.
POOL = Plane.given(1, m_per_px=0.01, water_px=(0, 50))
#: The same, with everything about it in doubt.
DOUBTFUL = Plane.given(
    1, m_per_px=0.01, scale_sigma=0.03, tilt_sigma_deg=1.0, water_px=(0, 50), water_sigma_px=3.0
)  # fmt: skip


def spots(sigma: float = 2.0, **places: tuple[float, float]) -> dict[str, Spot]:
    return {name: (*xy, sigma) for name, xy in places.items()}


#: Upper arm level, forearm 45 degrees down, hand in line: shoulder to fingertip slopes by 22.5 degrees.
BENT = spots(shoulder_r=(0, 0), elbow_r=(100, 0), wrist_r=(150, 50), fingertip_r=(170.7, 70.7))


def look(
    how: Callable[[Sight], Shown], marks: dict[str, Spot], *chosen: str, plane: Plane = PLAIN, **more: Any
) -> Shown:
    return how(Sight(marks, chosen, plane, SIZE, **more))


# ---- values by hand


def test_nothing_is_said_before_its_points_are_marked() -> None:
    assert look(catch, spots(shoulder_r=(0, 0), elbow_r=(100, 0)), *ARM) == Shown()
    assert look(angle, spots(elbow_r=(100, 0)), "shoulder_r", "elbow_r", "wrist_r") == Shown()


def test_a_bent_arm_over_its_line_is_above() -> None:
    words = look(catch, BENT, *ARM).words
    assert words.startswith("forearm 45° below the horizontal, give or take ")
    assert "right elbow 19 % of the arm above the straight line, give or take " in words


@pytest.mark.parametrize("tip", [(30, 200), (-30, 200)])
def test_where_the_line_is_steep_above_and_below_are_not_said(tip: tuple[float, float]) -> None:
    steep = spots(shoulder_r=(0, 0), elbow_r=(40, 60), wrist_r=(20, 150), fingertip_r=tip)
    words = look(catch, steep, *ARM).words
    assert "too steep" in words and "straight line" not in words


def test_a_straight_arm_is_not_put_above_or_below_its_line() -> None:
    straight = spots(shoulder_r=(0, 0), elbow_r=(100, 1), wrist_r=(200, 0), fingertip_r=(270, 0))
    assert "it may be on it" in look(reach, straight, "shoulder_r", "fingertip_r", "elbow_r").words


def test_the_distance_off_a_line_is_square_to_it() -> None:
    # A line that falls 3 in 4; the elbow 10 px off it, beside the point (40, 30).
    marks = spots(shoulder_r=(0, 0), fingertip_r=(80, 60), elbow_r=(46, 22))
    shown = look(reach, marks, "shoulder_r", "fingertip_r", "elbow_r")
    ((elbow, foot),) = shown.drawing.measure
    assert elbow == (46.0, 22.0) and foot == pytest.approx((40.0, 30.0))
    assert "10 % of the line above" in shown.words  # 10 px of 100
    assert look(reach, marks, "shoulder_r", "fingertip_r", "elbow_r", plane=POOL).words.startswith("right elbow 10 cm")


def test_depth_is_counted_from_the_water_line() -> None:
    shown = look(under_water, spots(fingertip_r=(400, 90)), "fingertip_r", plane=POOL)
    assert shown.words.startswith("right fingertip 40 cm under the water line, give or take ")
    assert shown.drawing.measure == (((400.0, 90.0), pytest.approx((400.0, 50.0))),)
    above = look(under_water, spots(fingertip_r=(400, 40)), "fingertip_r", plane=POOL).words
    assert above.startswith("right fingertip 10 cm above the water line")
    assert "draw the water line" in look(under_water, spots(fingertip_r=(400, 90)), "fingertip_r").words


def test_a_plumb_line_hangs_square_to_level_and_tells_ahead_from_behind() -> None:
    marks = spots(shoulder_r=(300, 100), fingertip_r=(350, 300))
    shown = look(plumb, marks, "shoulder_r", "fingertip_r", plane=POOL)
    assert "50 cm ahead of the plumb line through the right shoulder" in shown.words
    assert shown.drawing.reference == (((300.0, -0.5), (300.0, 539.5)),)
    left = Plane.given(-1, m_per_px=0.01, water_px=(0, 50))
    assert "50 cm behind the plumb line" in look(plumb, marks, "shoulder_r", "fingertip_r", plane=left).words
    # In a picture where level sinks 45 degrees to the right, a plumb line runs down to the left.
    ((top, foot),) = look(plumb, marks, "shoulder_r", "", plane=Plane.given(1, tilt_deg=45)).drawing.reference
    assert (top[0] - foot[0]) / (foot[1] - top[1]) == pytest.approx(1.0)


@pytest.mark.parametrize(("sign", "shoulder"), [(1, (300, 80)), (-1, (100, 80))])
def test_the_body_axis_is_head_up_where_the_shoulder_is_higher(sign: int, shoulder: tuple[float, float]) -> None:
    marks = spots(shoulder_r=shoulder, hip_r=(200, 97.63))  # 10 degrees, by tangent
    words = look(body_axis, marks, "shoulder_r", "hip_r", plane=Plane.given(sign)).words
    assert words.startswith("body axis 10° head-up, give or take ")


def test_any_three_points_make_an_angle() -> None:
    marks = spots(hip_r=(0, 0), elbow_r=(100, 0), crown=(100, 100))
    shown = look(angle, marks, "hip_r", "elbow_r", "crown")
    assert shown.words.startswith("right elbow to right hip, crown 90°, give or take ")
    (arc,) = shown.drawing.measure
    assert {round(float(np.hypot(x - 100, y))) for x, y in arc} == {35}
    assert shown.drawing.labels[0].text == "90°"
    joint = look(angle, BENT, "shoulder_r", "elbow_r", "wrist_r").words
    assert joint.startswith("right elbow 135°, give or take "), "a joint needs no more words"


def test_the_lanes_corridor_is_as_wide_as_is_said() -> None:
    line = LineMark(0, "lane", 0, 200, 959, 200)
    marks = spots(hip_r=(400, 212), shoulder_l=(500, 180), shoulder_r=(500, 220))
    shown = look(lane, marks, "hip_r", plane=POOL, lanes=[line])
    assert shown.words == "right hip 12 cm off the lane line, give or take 5; inside the corridor of 30 cm"
    assert sorted(round(a[1]) for a, _ in shown.drawing.reference) == [185, 200, 215]
    narrow = look(lane, marks, "hip_r", plane=POOL, lanes=[line], width=20.0)
    assert "outside the corridor of 20 cm" in narrow.words
    # Without a scale it is one shoulder breadth, here 40 px.
    free = look(lane, marks, "hip_r", lanes=[line])
    assert "12 px off the lane line" in free.words and "inside the corridor of one shoulder breadth" in free.words
    assert sorted(round(a[1]) for a, _ in free.drawing.reference) == [180, 200, 220]
    assert "mark both shoulders" in look(lane, spots(hip_r=(1, 1)), "hip_r", lanes=[line]).words
    assert "draw a lane line" in look(lane, marks, "hip_r").words


def test_marks_in_one_place_break_nothing() -> None:
    same = spots(shoulder_r=(5, 5), elbow_r=(5, 5), wrist_r=(5, 5), fingertip_r=(5, 5), hip_r=(5, 5))
    board = [(r.look, tuple(p for _, p in r.slots)) for r in rulers_for([*ARM, "hip_r"], "side_under", "r")]
    assert len(board) == 7
    for how, chosen in board:
        try:
            look(how, same, *chosen, plane=POOL)
        except Exception as error:
            assert "makes no sense" in str(error), "said as words by the board"


# ---- errors


def test_the_error_of_marks_is_that_of_the_geometry() -> None:
    """Against the closed forms of plane.geometry."""
    a, b, c = ((0.0, 0.0, 1.5), (100.0, 0.0, 2.5), (150.0, 50.0, 4.0))
    from casebook.plane.geometry import inclination_deg, joint_angle_deg

    found = with_error(lambda p: joint_angle_deg(p[:, 0], p[:, 1], p[:, 2]), [a, b, c], PLAIN)
    assert found.sigma == pytest.approx(float(angle_sigma_deg(a[:2], b[:2], c[:2], 1.5, 2.5, 4.0)), rel=1e-4)
    found = with_error(lambda p: inclination_deg(p[:, 0], p[:, 1]), [b, c], PLAIN)
    assert found.sigma == pytest.approx(float(inclination_sigma_deg(b[:2], c[:2], 2.5, 4.0)), rel=1e-4)


@pytest.mark.parametrize("marks_err", [0.0, 2.0])
def test_the_error_of_the_plane_counts_as_far_as_the_value_hangs_on_it(marks_err: float) -> None:
    """Against the spread of 20,000 draws of marks and plane."""
    rng = np.random.default_rng(11)
    tip = (400.0, 450.0)
    found = with_error(lambda p: -p[:, 0, 1], [(*tip, marks_err)], DOUBTFUL, metres=True)
    shifts = rng.multivariate_normal(np.zeros(3), DOUBTFUL.covariance, 20_000)
    drawn = np.array(tip) + marks_err * rng.standard_normal((20_000, 2))
    depths = -DOUBTFUL.world(drawn, shifts)[:, 1]
    assert found.value == pytest.approx(4.0)
    assert found.sigma == pytest.approx(depths.std(), rel=0.03)


def test_an_angle_between_points_does_not_hang_on_scale_or_water() -> None:
    a = look(angle, BENT, "shoulder_r", "elbow_r", "wrist_r", plane=PLAIN).words
    assert look(angle, BENT, "shoulder_r", "elbow_r", "wrist_r", plane=DOUBTFUL).words == a


def test_a_give_or_take_is_that_of_19_in_20() -> None:
    assert told(Measured(-0.5, 0.02), " cm", "behind it", 100) == f"50 cm behind it, give or take {2 * Z95:.0f}"
    assert told(Measured(90, 0.1), "°") == "90°, give or take 1", "never nothing"


# ---- the board


@pytest.fixture
def board(store: MarkStore) -> RulerBoard:
    points = [*ARM, "hip_r"]
    return RulerBoard(rulers_for(points, "side_under", "r"), points, store, SIZE, lambda: POOL, lambda: ())


def test_rulers_are_chosen_one_by_one_or_alone(board: RulerBoard) -> None:
    keys = [r.key for r in board.rulers]
    assert keys == ["catch", "reach", "body", "water", "plumb", "angle", "lane"]
    board.turn("angle", True)
    board.turn("water", True)
    assert [r["key"] for r in board.told() if r["on"]] == ["water", "angle"]
    board.alone("plumb")
    assert board.on == ["plumb"]
    board.alone("")
    assert board.words(0, {}) == "" and board.drawing(0, {}) == Drawing()
    with pytest.raises(MarksError, match='no "depth"'):
        board.turn("depth", True)


def test_a_ruler_is_laid_on_other_points_and_says_what_it_lacks(board: RulerBoard) -> None:
    board.alone("angle")
    marks = {"hip_r": (0.0, 0.0), "shoulder_r": (100.0, 0.0), "wrist_r": (100.0, 100.0)}
    assert board.words(0, marks) == "angle: mark right shoulder, right elbow, right wrist"
    board.lay("angle", 0, "hip_r")
    board.lay("angle", 1, "shoulder_r")
    assert board.words(0, marks).startswith("right shoulder to right hip, right wrist 90°")
    board.lay("angle", 2, "hip_r")
    assert board.words(0, marks) == "angle: choose 3 different points"
    for wrong in ((0, "knee_r"), (3, "hip_r")):
        with pytest.raises(MarksError):
            board.lay("angle", *wrong)
    with pytest.raises(MarksError):
        board.lay("catch", 0, "hip_r")


def test_the_error_told_is_the_marks_own(board: RulerBoard, store: MarkStore) -> None:
    board.alone("angle")
    places = {"shoulder_r": (0.0, 0.0), "elbow_r": (100.0, 0.0), "wrist_r": (150.0, 50.0)}
    give = []
    for sigma in (2.0, 8.0):
        for point, xy in places.items():
            store.put(3, point, *xy, sigma_px=sigma, origin=Origin.hand)
        give.append(int(board.words(3, places).split()[-1]))
    assert give[1] == pytest.approx(4 * give[0], abs=2)
    # A point under the hand is not where its mark was: it errs as a hand does.
    moved = {**places, "wrist_r": (150.0, 50.5), "elbow_r": (100.0, 0.5), "shoulder_r": (0.0, 0.5)}
    assert int(board.words(3, moved).split()[-1]) == give[0]


def test_a_width_that_is_none_is_refused(board: RulerBoard) -> None:
    board.widen("20,5")
    assert board.told()[-1]["width"] == "20.5"
    for wrong in ("wide", "0", "-3", "inf"):
        with pytest.raises(MarksError, match="above zero"):
            board.widen(wrong)
    board.widen(" ")
    assert board.told()[-1]["width"] == ""


@pytest.mark.parametrize(
    ("view", "lacks"), [("front_under", {"catch", "reach", "body"}), ("bottom", {"catch", "reach", "body", "water"})]
)
def test_a_view_offers_what_it_can_show(view: str, lacks: set[str]) -> None:
    keys = {r.key for r in rulers_for([*ARM, "hip_r"], view, "r")}
    assert not keys & lacks and {"angle", "lane"} <= keys


def test_every_place_of_a_ruler_is_among_the_points(tmp_path: Path) -> None:
    for points in (["crown"], ["crown", "hip_l"], ["knee_l", "ankle_l", "hip_l"], ["elbow_l", "elbow_r", "wrist_l"]):
        for ruler in rulers_for(points, "side_under", "l"):
            assert {p for _, p in ruler.slots} <= set(points)
