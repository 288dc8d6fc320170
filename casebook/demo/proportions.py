"""How long the parts of the invented swimmer are, and where the points sit on them.

Segment lengths are fractions of stature after Drillis and Contini (1966), as handbooks of biomechanics print them: from
memory, not checked against the print. Joint half-widths and the places on head and feet are our own by eye. They make a
plausible adult and are no norm; every number that the casebook tests is taken from the pose, never from this table.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

#: Fractions of stature. [1] from memory
SEGMENTS: dict[str, float] = {"upper": 0.186, "fore": 0.146, "hand": 0.108, "thigh": 0.245, "shank": 0.246}

#: Stature at which the places below are given. [m]
REFERENCE_M = 1.78

#: Places in the frame of their bone, x headward, y to the left, z to the back of the body (up in crawl). [m]
MID_FROM_HIPS = np.array([0.260, 0.0, 0.0])
NECK_FROM_MID = np.array([0.285, 0.0, 0.020])
HEAD_FROM_NECK = np.array([0.085, 0.0, 0.0])
SHOULDER_FROM_MID = np.array([0.245, 0.188, 0.010])
HIP_FROM_HIPS = np.array([0.0, 0.088, 0.0])
HEEL_FROM_ANKLE = np.array([-0.030, 0.0, 0.045])
TOE_FROM_ANKLE = np.array([-0.190, 0.0, -0.055])
#: Head places: midline, then those of the left side.
HEAD_POINTS: dict[str, NDArray[np.float64]] = {
    "crown": np.array([0.206, 0.0, 0.010]),
    "mouth": np.array([0.030, 0.0, -0.112]),
    "nose": np.array([0.055, 0.0, -0.122]),
}
HEAD_PAIRS: dict[str, NDArray[np.float64]] = {
    "goggle": np.array([0.089, 0.033, -0.108]),
    "ear": np.array([0.072, 0.078, 0.004]),
}
#: Knuckle of the middle finger, as a share of the way from wrist to fingertip.
KNUCKLE = 0.50


def length_m(segment: str, stature_m: float) -> float:
    """Length of a segment. [m]"""
    return SEGMENTS[segment] * stature_m


def arm_length_m(stature_m: float) -> float:
    """Upper arm, forearm, and wrist to middle fingertip. [m]"""
    return sum(length_m(name, stature_m) for name in ("upper", "fore", "hand"))


def place(local: NDArray[np.float64], stature_m: float, side: int = 1) -> NDArray[np.float64]:
    """A place of the table for this stature; ``side`` -1 gives its mirror image on the right. (3,) [m]"""
    return local * np.array([1.0, side, 1.0]) * (stature_m / REFERENCE_M)
