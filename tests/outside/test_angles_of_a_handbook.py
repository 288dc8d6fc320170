"""Angles of marked points against the walking trial of a handbook."""

from __future__ import annotations

import numpy as np
import pytest
from source_tables import numbers

from casebook.plane.geometry import inclination_deg, joint_angle_deg

# Winter (2009), Table A.1: head of the file.
ROWS = {int(r["frame"]): r for r in numbers("winter_2009_table_a1.csv")}
ANGLES = numbers("winter_2009_angles.csv")


def point(frame: int, name: str) -> np.ndarray:
    return np.array([ROWS[frame][f"{name}_x"], ROWS[frame][f"{name}_y"]])


def from_forward(frame: int, a: str, b: str) -> float:
    """Direction a to b counter-clockwise from forward, as the handbook counts; ours counts downward."""
    return float(-inclination_deg(point(frame, a), point(frame, b)) % 360)


@pytest.mark.parametrize("row", ANGLES, ids=lambda r: f"frame {r['frame']:.0f}")
def test_segment_angles_match_winter_2009_table_a1(row):
    frame = int(row["frame"])
    leg, thigh = from_forward(frame, "ankle", "fibula"), from_forward(frame, "knee", "hip")
    # Half a digit of the expected angle, and half a digit more for a difference of two.
    assert leg == pytest.approx(row["leg"], abs=0.0051)
    assert thigh == pytest.approx(row["thigh"], abs=0.0051)
    assert thigh - leg == pytest.approx(row["knee_flexion"], abs=0.0101)


@pytest.mark.parametrize("row", ANGLES, ids=lambda r: f"frame {r['frame']:.0f}")
def test_joint_angle_matches_winter_2009_table_a1(row):
    frame = int(row["frame"])
    interior = joint_angle_deg(point(frame, "hip"), point(frame, "knee"), point(frame, "ankle"))
    assert interior == pytest.approx(row["interior_hka"], abs=0.0051)


def test_range_and_peak_speed_of_the_leg_match_the_text_of_winter_2009():
    # The text: the leg goes from about 30 degrees (frame 4) to about 116 (frame 94), fastest at frame 86 with 7.5
    # rad/s, where it is 19 m/s^2 of centripetal acceleration over a leg of 0.34 m. Half the last digit printed.
    assert from_forward(4, "ankle", "fibula") == pytest.approx(30, abs=0.5)
    assert from_forward(94, "ankle", "fibula") == pytest.approx(116, abs=0.55)
    turned = np.radians(from_forward(87, "ankle", "fibula") - from_forward(85, "ankle", "fibula"))
    # The time column is rounded to 1 ms; 69.95 pictures a second is the mean of the whole trial.
    speed = turned * 69.95 / 2
    assert speed == pytest.approx(7.5, abs=0.05)
    assert speed**2 * np.linalg.norm(point(86, "ankle") - point(86, "fibula")) / 100 == pytest.approx(19, abs=0.5)


def test_the_two_conventions_of_a_knee_angle_differ_by_the_marker():
    # Winter's flexion and 180 minus the interior angle are not the same number: 47.13 against 43.47 at frame 1.
    flexion = from_forward(1, "knee", "hip") - from_forward(1, "ankle", "fibula")
    interior = joint_angle_deg(point(1, "hip"), point(1, "knee"), point(1, "ankle"))
    assert flexion - (180 - interior) == pytest.approx(47.13 - 43.47, abs=0.02)
