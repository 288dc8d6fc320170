"""The events of every arm stroke, solved from the pose; none is read from the keys that the pose was made with.

What each event means:

- entry: the fingertip passes down through still water; exit: the wrist passes up through it.
- end_of_extension: after full reach, the fingertip starts to move down against the shoulder and goes on until the
  forearm is halfway down. Moving means faster than ``DOWNWARD_ARMS_PER_S``.
- past_body: the wrist turns backward against the shoulder and stays so; catch: the same against the water.
- shoulder: the wrist passes the vertical plane across the shoulder.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from casebook.demo import rhythm
from casebook.demo.roots import roots

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from casebook.demo.swimmer import Swimmer

    Array: TypeAlias = NDArray[np.float64]

#: Points of one arm, name -> (..., 3), or (..., 2) on a plane: x first and z last.
Arm: TypeAlias = "dict[str, Array]"
Pose: TypeAlias = "Callable[[Array], Arm]"
Measure: TypeAlias = "Callable[[Arm], Array]"

EVENTS = ("entry", "end_of_extension", "past_body", "catch", "shoulder", "exit")
#: The hand counts as moving down from this speed on, in arm lengths a second. own judgement, no source
DOWNWARD_ARMS_PER_S = 0.15
#: A stroke is one with a breath if the face is at least this far out at some time of its set-up.
BREATH_SEEN = 0.5
#: Half step of the velocities; acceleration is continuous, so their error is far under a millimetre a second. [s]
STEP_S = 2e-4
GRID = 96


@dataclass(frozen=True, slots=True)
class TrueStroke:
    """One stroke of one arm.

    Attributes
    ----------
    side : str
    number : int
        Counts the strokes of this arm; the same swimmer has the same numbers whatever stretch is asked for.
    stroke_class : str
        ``none``, ``breath_l`` or ``breath_r``: whether the face is out during this arm's set-up.
    times : dict
        Event name -> time [s]; NaN for one that the stroke does not have.
    """

    side: str
    number: int
    stroke_class: str
    times: dict[str, float]


def true_strokes(swimmer: Swimmer, start_s: float, stop_s: float) -> tuple[TrueStroke, ...]:
    """Strokes of both arms whose entry lies in [start, stop), in order of entry."""
    found: list[TrueStroke] = []
    for side, _ in rhythm.SIDES:
        numbers = stroke_numbers(swimmer, start_s, stop_s, side)
        times, classes = solve(swimmer, side, numbers)
        for k, number in enumerate(numbers):
            if start_s <= times["entry"][k] < stop_s:
                one = {name: float(times[name][k]) for name in EVENTS}
                found.append(TrueStroke(side, int(number), str(classes[k]), one))
    return tuple(sorted(found, key=lambda s: s.times["entry"]))


def stroke_numbers(swimmer: Swimmer, start_s: float, stop_s: float, side: str) -> NDArray[np.int64]:
    """Numbers of the strokes of one arm that may enter in a stretch of time; one more at each end."""
    first, last = rhythm.phase(swimmer, np.array([start_s, stop_s]), side)
    return np.arange(int(np.floor(first)), int(np.ceil(last)) + 1)


def around(
    swimmer: Swimmer, side: str, numbers: NDArray[np.int64], first: float, last: float, count: int = GRID
) -> Array:
    """Times from phase ``first`` to ``last`` of each stroke, evenly spaced. (K, count) [s]"""
    lead = swimmer.start + rhythm.lead(swimmer, side)
    return (numbers[:, None] + np.linspace(first, last, count) - lead) * swimmer.period_s


def solve(
    swimmer: Swimmer, side: str, numbers: NDArray[np.int64], seen: Pose | None = None
) -> tuple[dict[str, Array], NDArray[np.str_]]:
    """Events (K,) by name and class (K,) of the numbered strokes of one arm.

    Parameters
    ----------
    swimmer : Swimmer
    side : str
    numbers : (K,) int array
    seen : callable, optional
        Times -> points (..., 2), x and z, on some plane: the events between entry and exit are then those seen there.
        Entry and exit are always the water's own.
    """
    where: Pose = partial(positions, swimmer, side)
    seen = where if seen is None else seen
    how_fast = partial(velocities, seen)
    entering, leaving = around(swimmer, side, numbers, -0.22, 0.15), around(swimmer, side, numbers, 0.52, 0.92)
    times = {
        "entry": crossing(where, _into_water, entering, "last", where(entering)),
        "exit": crossing(where, _out_of_water, leaving, "first", where(leaving)),
    }
    pull = around(swimmer, side, numbers, 0.05, 0.70)
    at, speed = seen(pull), how_fast(pull)
    times["shoulder"] = crossing(seen, _behind_shoulder, pull, "first", at)
    halfway = crossing(seen, _halfway_down, pull, "first", at)
    ahead = np.where(pull < halfway[:, None], at["fingertip"][..., 0] - at["shoulder"][..., 0], -np.inf)
    reach = pull[np.arange(len(pull)), np.argmax(ahead, 1)]
    sinking = _sinking(DOWNWARD_ARMS_PER_S * swimmer.arm_length_m)
    for name, measure, begin, end in (
        ("end_of_extension", sinking, reach, halfway),
        ("past_body", _backward_of_shoulder, times["entry"], times["shoulder"]),
        ("catch", _backward, times["entry"], times["shoulder"]),
    ):
        outside = (pull < begin[:, None]) | (pull > end[:, None])
        times[name] = crossing(how_fast, measure, pull, "last", speed, outside)
    # A hand that already sinks at full reach starts there.
    times["end_of_extension"] = np.where(np.isnan(times["end_of_extension"]), reach, times["end_of_extension"])
    return times, _classes(swimmer, times)


def positions(swimmer: Swimmer, side: str, times: Array) -> Arm:
    """Points of one arm at times of any shape: name -> (..., 3) [m]."""
    flat = swimmer.arm(times.ravel(), side)
    return {name: xyz.reshape(*times.shape, 3) for name, xyz in flat.items()}


def velocities(pose: Pose, times: Array) -> Arm:
    """Velocities of a pose's points: name -> (..., 2 or 3) [m/s]."""
    before, after = pose(times - STEP_S), pose(times + STEP_S)
    return {name: (after[name] - xyz) / (2 * STEP_S) for name, xyz in before.items()}


def crossing(
    pose: Pose,
    measure: Measure,
    grid: Array,
    which: str,
    values: Arm,
    outside: NDArray[np.bool_] | None = None,
) -> Array:
    """Where a measure of the arm passes upward through zero in each row of the grid. (K,) [s]

    Parameters
    ----------
    pose : callable
        Times -> positions or velocities, as the measure wants them.
    measure : callable
    grid : (K, N) float array [s]
    which : str
        ``first`` or ``last``.
    values : dict
        The pose on the grid.
    outside : (K, N) bool array, optional
        Where nothing is looked for.
    """
    known = measure(values)
    if outside is not None:
        known = np.where(outside, np.nan, known)
    return roots(lambda t: measure(pose(t)), grid, known, which)


def _into_water(arm: Arm) -> Array:
    return -arm["fingertip"][..., -1]


def _out_of_water(arm: Arm) -> Array:
    return arm["wrist"][..., -1]


def _behind_shoulder(arm: Arm) -> Array:
    return arm["shoulder"][..., 0] - arm["wrist"][..., 0]


def _halfway_down(arm: Arm) -> Array:
    forearm = arm["wrist"] - arm["elbow"]
    return -forearm[..., 0] - forearm[..., -1]


def _backward(arm: Arm) -> Array:
    return -arm["wrist"][..., 0]


def _backward_of_shoulder(arm: Arm) -> Array:
    return arm["shoulder"][..., 0] - arm["wrist"][..., 0]


def _sinking(slow: float) -> Measure:
    return lambda arm: arm["shoulder"][..., -1] - arm["fingertip"][..., -1] - slow


def _classes(swimmer: Swimmer, times: dict[str, Array]) -> NDArray[np.str_]:
    span = np.linspace(times["end_of_extension"], times["catch"], 32, axis=1)
    out = np.full(len(span), "none", dtype="<U8")
    for side, _ in rhythm.SIDES:
        seen = rhythm.breath(swimmer, rhythm.phase(swimmer, span, "l"), side).max(1) >= BREATH_SEEN
        out[seen] = f"breath_{side}"
    return out
