"""The kick: hip, knee and ankle as sinusoids that follow one another down the leg, and the scissor on a breath."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from casebook.demo import rhythm
from casebook.demo.proportions import HEEL_FROM_ANKLE, HIP_FROM_HIPS, TOE_FROM_ANKLE, length_m, place
from casebook.demo.turning import about, moved

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from casebook.demo.swimmer import Bones, Joints, Swimmer
    from casebook.demo.trunk import Trunk

#: Mean and amplitude of the hip's bend, and of the ankle's. [deg]
HIP_MEAN_DEG, HIP_SWING_DEG = 10.0, 7.5
ANKLE_MEAN_DEG, ANKLE_SWING_DEG = 6.0, 14.0
#: How far the knee and the ankle lag behind the hip, as an angle of the kick's cycle. [rad]
KNEE_LEADS, ANKLE_LEADS = 1.31, 2.60
#: Kick against arm: where in its beat the left leg is as the left hand enters. [rad]
KICK_AT_ENTRY = 0.6
#: Opening of the legs sideways and half length of the scissor, in cycles of the breathing arm.
SCISSOR_AT, SCISSOR_HALF = 0.80, 0.12
#: How far each leg then goes to its side. [deg]
SCISSOR_APART_DEG = 22.0


def leg_pose(swimmer: Swimmer, side: str, trunk: Trunk) -> tuple[Joints, Bones, Joints]:
    """Joints, bone frames and stated knee angle of one leg."""
    s = dict(rhythm.SIDES)[side]
    beat = np.pi * swimmer.beats * trunk.left + (0.0 if side == "l" else np.pi) + KICK_AT_ENTRY
    open_legs, upper_leg = _scissor(swimmer, side, trunk.left)
    calm = 1.0 - 0.6 * open_legs
    hip_bend = (HIP_MEAN_DEG + HIP_SWING_DEG * np.sin(beat)) * calm + open_legs * np.where(upper_leg, 24.0, -2.0)
    knee_bend = 0.5 * swimmer.knee * (1.0 + np.sin(beat + KNEE_LEADS)) * calm + open_legs * np.where(
        upper_leg, 28.0, 22.0
    )
    apart = 2.0 + 1.5 * np.sin(beat + 1.0) + SCISSOR_APART_DEG * open_legs
    m = swimmer.stature_m
    hip = hip_joint(swimmer, trunk, side)
    turn_in = about("x", -7.0 * s)
    thigh = trunk.pelvis @ about("z", -s * apart) @ about("y", -hip_bend) @ turn_in
    knee = hip - length_m("thigh", m) * thigh[..., 0]
    shank = thigh @ about("y", knee_bend)
    ankle = knee - length_m("shank", m) * shank[..., 0]
    foot = shank @ about("y", ANKLE_MEAN_DEG + ANKLE_SWING_DEG * np.sin(beat + ANKLE_LEADS)) @ about("x", -14.0 * s)
    joints = {
        "hip": hip,
        "knee": knee,
        "ankle": ankle,
        "heel": ankle + moved(foot, place(HEEL_FROM_ANKLE, m, s)),
        "toe": ankle + moved(foot, place(TOE_FROM_ANKLE, m, s)),
    }
    bones = {f"thigh_{side}": (thigh, hip), f"shank_{side}": (shank, knee), f"foot_{side}": (foot, ankle)}
    return {f"{n}_{side}": xyz for n, xyz in joints.items()}, bones, {f"knee_angle_{side}": 180.0 - knee_bend}


def hip_joint(swimmer: Swimmer, trunk: Trunk, side: str) -> NDArray[np.float64]:
    """Centre of a hip joint. (T, 3) [m]"""
    return trunk.hips + moved(trunk.pelvis, place(HIP_FROM_HIPS, swimmer.stature_m, dict(rhythm.SIDES)[side]))


def _scissor(swimmer: Swimmer, side: str, left: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """How far the legs fly open (0 to 1), and whether this leg is the one that swings forward."""
    opened = {}
    for breathing, _ in rhythm.SIDES:
        past = left + (rhythm.lead(swimmer, breathing) - SCISSOR_AT)
        lag = past - np.floor(past + 0.5)
        # A cycle's breath is told while the legs are closed, so that nothing jumps.
        opened[breathing] = np.exp(-((lag / SCISSOR_HALF) ** 4)) * rhythm.breathes(swimmer, past, breathing)
    forward = opened[side] >= opened["r" if side == "l" else "l"]
    return swimmer.scissor * (opened["l"] + opened["r"]), forward
