"""The pose of trunk, neck and head at many instants."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from casebook.demo import rhythm
from casebook.demo.proportions import (
    HEAD_FROM_NECK,
    HEAD_PAIRS,
    HEAD_POINTS,
    MID_FROM_HIPS,
    NECK_FROM_MID,
    REFERENCE_M,
    place,
)
from casebook.demo.turning import about, moved

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from casebook.demo.swimmer import Bones, Joints, Swimmer

#: Face turned fully to the side, and the neck bent up with it: the mouth comes to the trough beside the head. [deg]
FACE_TURN_DEG, NECK_BEND_DEG = 110.0, 24.0
#: Hips sink and the trunk tilts with a lifted head, at a fault of 1. [m], [deg]
HIPS_SINK_M, TRUNK_TILT_DEG = 0.06, 7.0
#: Crown below the line of the trunk with a quiet head, and how far a lifted head turns up. [deg]
HEAD_DOWN_DEG, HEAD_LIFT_DEG = 8.0, 36.0


@dataclass(frozen=True, slots=True, eq=False)
class Trunk:
    """Frames (T, 3, 3) and origins (T, 3) of the trunk, and the phase ``left`` (T,) of the left arm that it keeps to.

    ``tilt`` is the trunk's inclination alone, ``pelvis`` and ``thorax`` roll on top of it; ``hips`` is the middle
    between the hip joints, ``mid`` the middle of the trunk.
    """

    left: NDArray[np.float64]
    tilt: NDArray[np.float64]
    pelvis: NDArray[np.float64]
    thorax: NDArray[np.float64]
    hips: NDArray[np.float64]
    mid: NDArray[np.float64]


def trunk_pose(swimmer: Swimmer, times: NDArray[np.float64]) -> Trunk:
    """Where the trunk is: it advances evenly, surges and bobs twice a cycle, sways once, and rolls."""
    left = rhythm.phase(swimmer, times, "l")
    scale = swimmer.stature_m / REFERENCE_M
    tilt = about("y", np.broadcast_to(-trunk_inclination_deg(swimmer), left.shape))
    forward = swimmer.speed * times + 0.010 * scale * np.sin(4 * np.pi * left)
    sway = 0.010 * scale * np.sin(2 * np.pi * (left - 0.1))
    bob = 0.008 * scale * np.sin(4 * np.pi * left + 1.0)
    hips = np.stack([forward, sway, bob - swimmer.depth - HIPS_SINK_M * swimmer.head_lift], -1)
    pelvis = tilt @ about("x", rhythm.hip_roll_deg(swimmer, left))
    thorax = tilt @ about("x", rhythm.roll_deg(swimmer, left))
    return Trunk(left, tilt, pelvis, thorax, hips, hips + moved(tilt, place(MID_FROM_HIPS, swimmer.stature_m)))


def trunk_inclination_deg(swimmer: Swimmer) -> float:
    """Inclination of the trunk, positive head-up. [deg]"""
    return swimmer.pitch + TRUNK_TILT_DEG * swimmer.head_lift


def head_pose(swimmer: Swimmer, trunk: Trunk) -> tuple[Joints, Bones]:
    """Points of the head and bone frames of neck, head and trunk."""
    turn = rhythm.breath_turn(swimmer, trunk.left)
    out = np.abs(turn)
    face = FACE_TURN_DEG * turn
    lift = -(HEAD_DOWN_DEG - 14.0) - HEAD_LIFT_DEG * swimmer.head_lift * (0.45 + 0.55 * out)
    roll = rhythm.roll_deg(swimmer, trunk.left)
    bend = trunk.tilt @ about("y", -NECK_BEND_DEG * out)
    neck_frame = bend @ about("x", 0.5 * roll + 0.3 * face) @ about("y", 0.5 * lift)
    level = about("y", np.broadcast_to(-0.4 * trunk_inclination_deg(swimmer), turn.shape))
    head_frame = level @ about("x", face) @ about("y", lift)
    neck = trunk.mid + moved(trunk.thorax, place(NECK_FROM_MID, swimmer.stature_m))
    head = neck + moved(neck_frame, place(HEAD_FROM_NECK, swimmer.stature_m))
    joints = {"neck": neck, "hips": trunk.hips, "mid": trunk.mid, "head": head}
    for name, local in HEAD_POINTS.items():
        joints[name] = head + moved(head_frame, place(local, swimmer.stature_m))
    for name, local in HEAD_PAIRS.items():
        for side, s in rhythm.SIDES:
            joints[f"{name}_{side}"] = head + moved(head_frame, place(local, swimmer.stature_m, s))
    bones = {
        "pelvis": (trunk.pelvis, trunk.hips),
        "thorax": (trunk.thorax, trunk.mid),
        "neck": (neck_frame, neck),
        "head": (head_frame, head),
    }
    return joints, bones
