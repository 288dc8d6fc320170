"""The value line of the marker: what it says while an arm is being marked."""

from __future__ import annotations

import pytest

from casebook.plane.plane import Plane
from casebook.widgets.on_desk import arm_words

PLANE = Plane.given(1)


def arm(*places: tuple[float, float]) -> dict[str, tuple[float, float]]:
    return dict(zip(("shoulder_r", "elbow_r", "wrist_r", "fingertip_r"), places, strict=False))


def test_nothing_is_said_before_elbow_and_wrist_are_marked():
    assert arm_words(PLANE, "r")(0, arm((0, 0), (100, 0))) == ""


def test_a_bent_arm_over_its_line_is_above():
    # Upper arm level, forearm 45 degrees down: shoulder to fingertip slopes by 22.5 degrees.
    said = arm_words(PLANE, "r")(0, arm((0, 0), (100, 0), (150, 50), (170.7, 70.7)))
    assert said == "forearm 45° below the horizontal, elbow 19 % of the arm above the straight line"


@pytest.mark.parametrize("tip", [(30, 200), (-30, 200)])
def test_where_the_line_is_steep_above_and_below_are_not_said(tip):
    said = arm_words(PLANE, "r")(0, arm((0, 0), (40, 60), (20, 150), tip))
    assert "too steep" in said and "straight line" not in said
