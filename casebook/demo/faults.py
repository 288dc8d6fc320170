"""What each fault of the demo swimmer must move, may move, and must leave alone.

A signature is a set of quantities read from the pose. A fault at 1 changes it against the same swimmer without the
fault; the table says by how much at least, and every quantity that it does not name stays within its limit.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from casebook.demo.events import stroke_numbers
from casebook.demo.plane_truth import catch_truth

if TYPE_CHECKING:
    from casebook.demo.swimmer import Swimmer

#: Quantity -> how far a fault that does not name it may move it, in the quantity's unit.
LIMITS: dict[str, float] = {
    "hand_ahead_pct": 2.0,
    "elbow_height_pct": 1.5,
    "elbow_angle_45_deg": 4.0,
    "elbow_angle_under_deg": 5.0,
    "upper_arm_turn_deg": 4.0,
    "entry_to_catch_pct": 2.0,
    "hand_beside_midline_m": 0.03,
    "ankles_apart_m": 0.03,
    "knee_least_deg": 3.0,
    "crown_up_deg": 2.0,
    "hips_deep_m": 0.01,
    "heels_deep_m": 0.03,
    "trunk_deg": 1.0,
    "roll_range_deg": 2.0,
    "hip_roll_range_deg": 2.0,
    "recovery_hand_m": 0.02,
    "rate_per_min": 0.2,
}


@dataclass(frozen=True, slots=True)
class Effect:
    """What a fault of 1 does: least signed changes of what it must move, and what it may move freely."""

    must: dict[str, float]
    may: tuple[str, ...] = ()


_CATCH = ("hand_ahead_pct", "elbow_height_pct", "elbow_angle_45_deg", "elbow_angle_under_deg", "upper_arm_turn_deg")
EFFECTS: dict[str, Effect] = {
    "dropped_elbow": Effect(
        {"elbow_height_pct": -14.0, "hand_ahead_pct": -15.0, "upper_arm_turn_deg": 25.0},
        (*_CATCH, "entry_to_catch_pct"),
    ),
    "straight_arm": Effect(
        {"hand_ahead_pct": -18.0, "elbow_height_pct": -8.0, "elbow_angle_45_deg": 15.0, "elbow_angle_under_deg": 30.0},
        (*_CATCH, "entry_to_catch_pct"),
    ),
    "late_hand": Effect({"hand_ahead_pct": -6.0}, _CATCH),
    "late_catch": Effect({"entry_to_catch_pct": 6.0}, ("upper_arm_turn_deg",)),
    "crossover": Effect({"hand_beside_midline_m": -0.20}),
    "wide_entry": Effect({"hand_beside_midline_m": 0.20}),
    "scissor": Effect({"ankles_apart_m": 0.15}),
    "head_lift": Effect(
        {"crown_up_deg": 15.0, "hips_deep_m": 0.04, "heels_deep_m": 0.08, "trunk_deg": 5.0},
    ),
}


def signature(swimmer: Swimmer, side: str = "l") -> dict[str, float]:
    """The quantities of ``LIMITS``, means over two cycles of one arm as seen square from the side."""
    numbers = stroke_numbers(swimmer, 0.0, 2 * swimmer.period_s, side)
    catch = catch_truth(swimmer, side, numbers, way="square")
    out = {name: float(np.nanmean(catch.values[name])) for name in _CATCH}
    entry, catches = catch.events["entry"], catch.events["catch"]
    out["entry_to_catch_pct"] = float(100.0 * np.mean(catches - entry) / swimmer.period_s)
    out["rate_per_min"] = float(60.0 / np.mean(np.diff(entry)))
    s = 1.0 if side == "l" else -1.0
    # The hand on its way forward, halfway from entry to the end of extension.
    reach = swimmer.joints(0.5 * (entry + catch.events["end_of_extension"]))
    beside = s * (reach[f"fingertip_{side}"][:, 1] - reach["hips"][:, 1])
    out["hand_beside_midline_m"] = float(np.mean(beside))
    return out | _body(swimmer, side)


def _body(swimmer: Swimmer, side: str) -> dict[str, float]:
    times = np.linspace(0.0, 2 * swimmer.period_s, 481)[:-1]
    joints, measures = swimmer.joints(times), swimmer.measures(times)
    ears = 0.5 * (joints["ear_l"] + joints["ear_r"])
    crown = joints["crown"] - ears
    calm = measures["breath_l"] + measures["breath_r"] < 0.1
    up = np.degrees(np.arctan2(crown[:, 2], np.hypot(crown[:, 0], crown[:, 1])))
    return {
        "ankles_apart_m": float(np.max(np.linalg.norm(joints["ankle_l"] - joints["ankle_r"], axis=1))),
        "knee_least_deg": float(min(measures["knee_angle_l"].min(), measures["knee_angle_r"].min())),
        "crown_up_deg": float(up[calm].mean()),
        "hips_deep_m": float(-joints["hips"][:, 2].mean()),
        "heels_deep_m": float(-0.5 * (joints["heel_l"] + joints["heel_r"])[:, 2].mean()),
        "trunk_deg": float(measures["trunk_inclination"].mean()),
        "roll_range_deg": float(np.ptp(measures["roll"])),
        "hip_roll_range_deg": float(np.ptp(measures["hip_roll"])),
        "recovery_hand_m": float(joints[f"fingertip_{side}"][:, 2].max()),
    }


def changes(swimmer: Swimmer, fault: str, amount: float = 1.0) -> dict[str, float]:
    """Signature with a fault of this amount minus the signature without it."""
    none: dict[str, Any] = {fault: 0.0}
    some: dict[str, Any] = {fault: amount}
    plain = signature(replace(swimmer, **none))
    return {name: value - plain[name] for name, value in signature(replace(swimmer, **some)).items()}


def fault_table(swimmer: Swimmer) -> str:
    """Every fault against every quantity, as plain text."""
    lines = [f"{'quantity':<24}" + "".join(f"{name:>15}" for name in EFFECTS)]
    table = {fault: changes(swimmer, fault) for fault in EFFECTS}
    for name in LIMITS:
        digits = 3 if name.endswith("_m") else 1
        lines.append(f"{name:<24}" + "".join(f"{table[fault][name]:>15.{digits}f}" for fault in EFFECTS))
    return "\n".join(lines)
