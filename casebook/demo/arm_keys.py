"""The key values of the arm's path through one stroke, and how each fault bends them.

Directions are those of ``turning.direction``: below the horizontal as seen from the side, and outward. The forearm goes
from about 8 degrees at full reach to straight down without turning back, the upper arm follows later: by how much is
what a coach sees as an early forearm. Values are our own, shaped after what coaches look for (common practice, no
source).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from casebook.demo.swimmer import Swimmer

COLUMNS = (
    "upper_down", "upper_out", "fore_down", "fore_out", "hand_flex", "hand_out", "palm_x", "palm_out", "palm_z",
    "reach",
)  # fmt: skip
#: What each column gains in a cycle: the upper arm goes once round, the forearm swings and comes back.
WINDING = np.array([360.0, 0, 0, 0, 0, 0, 0, 0, 0, 0])
#: phase, then the columns; reach is the shoulder blade's slide forward at a stature of 1.78 m [m].
KEYS = np.array([
    [0.00,  -12.0,  5.0,  13.5,   1.0,   2.0, 0.0, -0.25,  0.05, -1.0,  0.020],
    [0.09,   -0.5,  0.0,   8.5,   0.0,   1.0, 0.0, -0.20,  0.00, -1.0,  0.050],
    [0.16,    0.3,  3.0,   9.2,   0.0,   1.5, 0.0, -0.30,  0.00, -1.0,  0.052],
    [0.22,    5.5,  8.0,  18.0,   2.0,   4.5, 0.0, -0.45,  0.00, -0.9,  0.050],
    [0.285,  14.0, 15.0,  38.0,   3.0,   6.0, 0.0, -0.75,  0.00, -0.6,  0.040],
    [0.35,   24.0, 22.0,  63.0,   1.0,   4.0, 0.0, -0.95,  0.00, -0.3,  0.025],
    [0.43,   41.5, 30.0,  90.0,  -6.0,   0.0, 0.0, -1.00, -0.05,  0.0,  0.010],
    [0.50,   72.0, 41.0, 109.0, -15.0,  -4.0, 0.0, -1.00, -0.10,  0.1,  0.000],
    [0.565, 111.0, 33.0, 132.0, -12.0, -12.0, 0.0, -0.90, -0.20,  0.2, -0.015],
    [0.63,  150.0, 16.0, 160.0,   1.0, -26.0, 0.0, -0.70, -0.45,  0.2, -0.020],
    [0.69,  185.0, 22.0, 174.0,  14.0, -16.0, 4.0, -0.30, -0.90,  0.1, -0.020],
    [0.76,  231.0, 37.0, 152.0,  43.0,  -2.0, 4.0, -0.20, -0.90, -0.1, -0.010],
    [0.83,  276.0, 35.0,  86.0,  63.0,   0.0, 3.0, -0.45, -0.40, -0.6,  0.000],
    [0.90,  313.0, 23.0,  24.0,  37.0,   1.0, 1.0, -0.40, -0.05, -1.0,  0.008],
    [0.95,  334.0, 12.0,  13.0,  13.0,   2.0, 0.0, -0.35,  0.00, -1.0,  0.014],
])  # fmt: skip
#: Keys of the way from full reach to the hand under the shoulder.
SET_UP, PULL = slice(2, 7), slice(7, 9)


def arm_keys(swimmer: Swimmer) -> NDArray[np.float64]:
    """Keys of this swimmer's arm, phase first, (K, 1 + columns)."""
    keys = KEYS.copy()
    _early_forearm(keys, swimmer.early_forearm)
    _late_hand(keys, swimmer.late_hand)
    _dropped_elbow(keys, swimmer.dropped_elbow)
    _straight_arm(keys, swimmer.straight_arm)
    _entry_line(keys, swimmer.wide_entry - swimmer.crossover)
    _late_catch(keys, swimmer.late_catch)
    return keys


def _mix(keys: NDArray[np.float64], rows: slice, name: str, toward: NDArray[np.float64], share: float) -> None:
    column = 1 + COLUMNS.index(name)
    keys[rows, column] += share * (toward - keys[rows, column])


def _early_forearm(keys: NDArray[np.float64], amount: float) -> None:
    """1 leaves the keys; less lets the upper arm sink with the forearm, more keeps it up longer."""
    lag = KEYS[SET_UP, 3] - KEYS[SET_UP, 1]
    keys[SET_UP, 1] += (1.0 - amount) * np.array([0.0, 0.1, 0.3, 0.5, 0.6]) * lag


def _late_hand(keys: NDArray[np.float64], fault: float) -> None:
    """The elbow holds at first, then sinks before the forearm is straight down."""
    keys[SET_UP, 1] += fault * np.array([0.0, 0.0, 2.0, 10.0, 17.0])
    keys[PULL, 1] += fault * np.array([13.0, 8.0])


def _dropped_elbow(keys: NDArray[np.float64], fault: float) -> None:
    """The upper arm leads: it is steeper than the forearm until the forearm is nearly straight down."""
    _mix(keys, SET_UP, "upper_down", np.array([8.0, 32.0, 57.0, 74.0, 86.0]), fault)
    _mix(keys, SET_UP, "upper_out", np.array([3.0, 7.0, 12.0, 20.0, 28.0]), fault)
    _mix(keys, PULL, "upper_down", np.array([99.0, 123.0]), fault)


def _straight_arm(keys: NDArray[np.float64], fault: float) -> None:
    """Upper arm and forearm turn as one, nearly straight, from full reach through the pull."""
    rows = slice(SET_UP.start, PULL.stop)
    _mix(keys, rows, "upper_down", KEYS[rows, 3] - np.array([1.0, 1.5, 2.0, 2.0, 2.0, 2.0, 1.0]), fault)
    for name, out in (
        ("upper_out", [3.0, 5.0, 7.0, 9.0, 10.0, 10.0, 10.0]),
        ("fore_out", [0.0, 2.0, 3.0, 4.0, 4.0, 3.0, 0.0]),
    ):
        _mix(keys, rows, name, np.array(out), fault)


def _entry_line(keys: NDArray[np.float64], outward: float) -> None:
    """The whole arm enters and reaches further out (positive) or across the middle (negative)."""
    rows = np.array([0, 1, 2, 3, 14])
    share = np.array([1.0, 1.0, 0.85, 0.35, 0.8])
    keys[rows, 1 + COLUMNS.index("upper_out")] += 18.0 * outward * share
    keys[rows, 1 + COLUMNS.index("fore_out")] += 23.0 * outward * share


def _late_catch(keys: NDArray[np.float64], fault: float) -> None:
    """The arm stays out in front longer and makes up the time in the pull."""
    keys[2:9, 0] += fault * np.array([0.050, 0.085, 0.090, 0.085, 0.078, 0.055, 0.025])
