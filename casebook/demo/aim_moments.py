"""When the figure to aim for is at a moment of its stroke."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from casebook.demo.events import TrueStroke
    from casebook.demo.swimmer import Swimmer

#: Moments -> what they mean, for the arm or leg of one side.
MOMENTS: dict[str, str] = {
    "entry": "the fingertips pass the water line",
    "in_front": "the hand halfway from its entry to the end of its reach",
    "reach": "the fingertips farthest ahead of the shoulder",
    "long": "about the reach, with the leg of that side at its highest",
    "halfway": "the forearm 45 degrees down",
    "straight_down": "the forearm straight down",
    "mid_pull": "the wrist under the shoulder",
    "hand_deepest": "the fingertips at their deepest",
    "exit": "the wrist comes out of the water",
    "other_enters": "the other hand goes in",
    "breath": "the face turned out farthest",
    "knee_bent": "the knee most bent",
    "foot_lowest": "the ankle at its lowest",
    "foot_down": "the ankle on its way down, fastest",
    "feet_widest": "the ankles farthest apart, seen along the swimmer, while the hips lie level",
}
_FOREARM = {"halfway": 45.0, "straight_down": 90.0}
#: The hips count as level while they roll by less than this. [deg]
LEVEL_DEG = 5.0
_STEPS = 2001


def moment_s(swimmer: Swimmer, moment: str, side: str) -> float:
    """When the arm or leg of a side is at this moment, in the first stroke that enters after 0. [s]"""
    strokes = swimmer.events(0.0, 3.0 * swimmer.period_s)
    own = next(s for s in strokes if s.side == side)
    entry = own.times["entry"]
    if moment in ("entry", "exit", "mid_pull"):
        return float(own.times["shoulder" if moment == "mid_pull" else moment])
    if moment == "in_front":
        return float(0.5 * (entry + own.times["end_of_extension"]))
    if moment == "other_enters":
        return float(next(s.times["entry"] for s in strokes if s.side != side and s.times["entry"] > entry))
    if moment == "long":
        times = _of_set_up(swimmer, "reach", side, entry) + swimmer.period_s * np.linspace(-0.1, 0.1, 201)
        return float(times[swimmer.joints(times)[f"heel_{side}"][:, 2].argmax()])
    if moment in ("reach", *_FOREARM):
        return _of_set_up(swimmer, moment, side, entry)
    return _of_cycle(swimmer, moment, side, own)


def _of_set_up(swimmer: Swimmer, moment: str, side: str, entry: float) -> float:
    times = entry + np.linspace(0.0, 0.55 * swimmer.period_s, _STEPS)
    if moment == "reach":
        arm = swimmer.arm(times, side)
        return float(times[(arm["fingertip"] - arm["shoulder"])[:, 0].argmax()])
    down = swimmer.measures(times)[f"forearm_inclination_{side}"]
    # From the last lift at full reach on, the forearm only sinks.
    start = int(down[: len(times) // 2].argmin())
    return float(np.interp(_FOREARM[moment], np.maximum.accumulate(down[start:]), times[start:]))


def _of_cycle(swimmer: Swimmer, moment: str, side: str, own: TrueStroke) -> float:
    """The least of something over one cycle from an entry on."""
    times: NDArray[np.float64] = own.times["entry"] + np.linspace(0.0, swimmer.period_s, _STEPS)
    joints, measures = swimmer.joints(times), swimmer.measures(times)
    ankle = joints[f"ankle_{side}"][:, 2] - joints["hips"][:, 2]
    least = {
        "hand_deepest": joints[f"fingertip_{side}"][:, 2],
        "breath": -measures[f"breath_{side}"],
        "knee_bent": measures[f"knee_angle_{side}"],
        "foot_lowest": ankle,
        "foot_down": np.gradient(ankle, times),
        "feet_widest": np.where(
            np.abs(measures["hip_roll"]) < LEVEL_DEG,
            -np.linalg.norm((joints["ankle_l"] - joints["ankle_r"])[:, 1:], axis=1),
            0.0,
        ),
    }[moment]
    return float(times[int(np.argmin(least))])
