"""The parametric front-crawl swimmer: a pose for every instant, known exactly.

World frame: x along the swim direction, y to the swimmer's left, z up from still water, metres, seconds. The swimmer is
invented; nothing of it is measured on a person.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from casebook.demo import proportions, rhythm
from casebook.demo.arm_keys import WINDING, arm_keys
from casebook.demo.arms import arm_joints, arm_pose
from casebook.demo.curve import CycleCurve
from casebook.demo.events import TrueStroke, true_strokes
from casebook.demo.legs import hip_joint, leg_pose
from casebook.demo.trunk import head_pose, trunk_inclination_deg, trunk_pose
from casebook.demo.turning import about
from casebook.errors import CasebookError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

Joints: TypeAlias = "dict[str, NDArray[np.float64]]"
Bones: TypeAlias = "dict[str, tuple[NDArray[np.float64], NDArray[np.float64]]]"

FAULTS = (
    "dropped_elbow", "straight_arm", "late_hand", "late_catch", "crossover", "wide_entry", "scissor", "head_lift",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Swimmer:
    """Parameters of one invented swimmer. Every fault runs from 0 (none) to 1 (plain to see).

    Attributes
    ----------
    stature_m : float [m]
    rate : float
        Stroke cycles a minute; a cycle has two arm strokes.
    speed : float [m/s]
    roll, hip_roll : float
        To each side. [deg]
    breath_roll : float
        More roll to the breathing side. [deg]
    pitch : float
        Trunk inclination, head-up. [deg]
    depth : float
        Middle of the hips below still water. [m]
    offset : float
        The right arm's lead on the left, in cycles; 0.5 is even.
    breathing : str
        ``l``, ``r``, ``both`` (every third arm stroke) or ``none``.
    breath_every : int
        Cycles from breath to breath on one side.
    beats : int
        Kicks in a cycle, both legs together: 6 is a six-beat kick.
    knee : float
        Deepest bend of the knee. [deg]
    early_forearm : float
        1 is a clear early forearm; less lets the upper arm sink along.
    dropped_elbow, straight_arm, late_hand, late_catch, crossover, wide_entry, scissor, head_lift : float
        Faults.
    arm_bank : float
        The arms turned inward under the body about the line of swimming, through the shoulder, as a trunk that rolls
        over the reaching arm would carry them along; negative: outward. Seen from the side they look shorter. [deg]
    variation : float
        How much one stroke differs from the next; 0 makes all alike, 1 is plain but small.
    start : float
        Phase of the left arm at time 0, in cycles.
    seed : int
        Of the variation.

    Raises
    ------
    CasebookError
        A parameter is outside what a body can do.
    """

    stature_m: float = 1.78
    rate: float = 45.0
    speed: float = 1.40
    roll: float = 40.0
    hip_roll: float = 24.0
    breath_roll: float = 6.0
    pitch: float = 5.5
    depth: float = 0.15
    offset: float = 0.5
    breathing: str = "r"
    breath_every: int = 1
    beats: int = 6
    knee: float = 32.0
    early_forearm: float = 1.0
    dropped_elbow: float = 0.0
    straight_arm: float = 0.0
    late_hand: float = 0.0
    late_catch: float = 0.0
    crossover: float = 0.0
    wide_entry: float = 0.0
    scissor: float = 0.0
    head_lift: float = 0.0
    arm_bank: float = 0.0
    variation: float = 0.0
    start: float = 0.0
    seed: int = 0

    def __post_init__(self) -> None:
        for name in FAULTS:
            if not 0.0 <= getattr(self, name) <= 1.0:
                raise CasebookError(f"Fault {name} of the demo swimmer is {getattr(self, name)}.", "Use 0 to 1.")
        if self.breathing not in ("l", "r", "both", "none") or self.breath_every < 1:
            raise CasebookError(
                f'The demo swimmer cannot breathe "{self.breathing}" every {self.breath_every} cycles.',
                "Use l, r, both or none, and 1 or more cycles.",
            )
        if min(self.stature_m, self.rate) <= 0 or not 0.0 <= self.early_forearm <= 1.3:
            raise CasebookError("Stature and rate of the demo swimmer must be positive, early_forearm 0 to 1.3.")

    @property
    def period_s(self) -> float:
        """Time of a stroke cycle. [s]"""
        return 60.0 / self.rate

    @property
    def arm_length_m(self) -> float:
        """Upper arm, forearm, and wrist to middle fingertip. [m]"""
        return proportions.arm_length_m(self.stature_m)

    @property
    def arm_curve(self) -> CycleCurve:
        """The path of either arm over its phase."""
        return _arm_curve(self)

    def joints(self, times: ArrayLike) -> Joints:
        """Every point at every instant: name -> (T, 3) [m].

        The 27 points that a coach can mark, and ``nose``, ``head`` (its pivot), ``hips`` and ``mid`` (of the trunk).
        """
        return self._pose(times)[0]

    def bones(self, times: ArrayLike) -> Bones:
        """Bone frames: name -> rotation (T, 3, 3) and origin (T, 3) [m]; for a single time (3, 3) and (3,)."""
        one = np.ndim(times) == 0
        return {n: (r[0], o[0]) if one else (r, o) for n, (r, o) in self._pose(times)[1].items()}

    def measures(self, times: ArrayLike) -> Joints:
        """Stated angles and states: name -> (T,).

        elbow_angle, wrist_angle, forearm_inclination, knee_angle (each ``_l``, ``_r``), roll, hip_roll and trunk
        inclination [deg]; breath_l and breath_r 0 to 1; phase_l and phase_r in cycles.
        """
        return self._pose(times)[2]

    def arm(self, times: ArrayLike, side: str) -> Joints:
        """Shoulder, elbow, wrist, knuckle, fingertip, hip of one side, without the side in their names. (T, 3) [m]"""
        trunk = trunk_pose(self, np.atleast_1d(np.asarray(times, float)))
        return arm_joints(self, side, trunk) | {"hip": hip_joint(self, trunk, side)}

    def events(self, start_s: float, stop_s: float) -> tuple[TrueStroke, ...]:
        """Strokes of both arms that enter in [start, stop), with their events, solved from the pose."""
        return true_strokes(self, start_s, stop_s)

    def _pose(self, times: ArrayLike) -> tuple[Joints, Bones, Joints]:
        trunk = trunk_pose(self, np.atleast_1d(np.asarray(times, float)))
        joints, bones = head_pose(self, trunk)
        measures: Joints = {
            "roll": rhythm.roll_deg(self, trunk.left),
            "hip_roll": rhythm.hip_roll_deg(self, trunk.left),
            "trunk_inclination": np.full(trunk.left.shape, trunk_inclination_deg(self)),
        }
        for side, _ in rhythm.SIDES:
            for part in (arm_pose, leg_pose):
                xyz, frames, angles = part(self, side, trunk)
                joints |= xyz
                bones |= frames
                measures |= angles
            measures[f"breath_{side}"] = rhythm.breath(self, trunk.left, side)
            measures[f"phase_{side}"] = trunk.left + rhythm.lead(self, side)
        return joints, bones, measures


@lru_cache(maxsize=64)
def _arm_curve(swimmer: Swimmer) -> CycleCurve:
    keys = arm_keys(swimmer)
    return CycleCurve.through(keys[:, 0], keys[:, 1:], WINDING)


def rest_bones(stature_m: float) -> Bones:
    """Bone frames at rest: arms out sideways, palms down, legs a little apart. Rotation (3, 3), origin (3,) [m]."""
    eye, zero = np.eye(3), np.zeros(3)
    mid = proportions.place(proportions.MID_FROM_HIPS, stature_m)
    neck = mid + proportions.place(proportions.NECK_FROM_MID, stature_m)
    head = neck + proportions.place(proportions.HEAD_FROM_NECK, stature_m)
    bones: Bones = {"pelvis": (eye, zero), "thorax": (eye, mid), "neck": (eye, neck), "head": (eye, head)}
    for side, s in rhythm.SIDES:
        at = mid + proportions.place(proportions.SHOULDER_FROM_MID, stature_m, s)
        bones[f"clav_{side}"] = (eye, mid)
        for name in ("upper", "fore", "hand"):
            bones[f"{name}_{side}"] = (eye, at)
            at = at + np.array([0.0, s, 0.0]) * proportions.length_m(name, stature_m)
        leg = about("z", -9.0 * s)
        at = proportions.place(proportions.HIP_FROM_HIPS, stature_m, s)
        for name in ("thigh", "shank", "foot"):
            bones[f"{name}_{side}"] = (leg, at)
            at = at - leg[:, 0] * proportions.SEGMENTS.get(name, 0.0) * stature_m
    return bones
