"""The pose of one arm at many instants: from directions of its parts to joints and bone frames."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeVar

import numpy as np

from casebook.demo import rhythm
from casebook.demo.arm_keys import COLUMNS
from casebook.demo.proportions import KNUCKLE, REFERENCE_M, SHOULDER_FROM_MID, length_m, place
from casebook.demo.turning import about, across, angle_between_deg, direction, frame, moved, unit

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from casebook.demo.swimmer import Bones, Joints, Swimmer
    from casebook.demo.trunk import Trunk

T = TypeVar("T")
#: Standard deviation of the wander of each column at a variation of 1, by column name. [deg, or m for reach]
WANDER = {"upper_down": 1.4, "upper_out": 1.5, "fore_down": 1.8, "fore_out": 1.6, "hand_flex": 1.5, "reach": 0.003}
#: How far the forearm's cross-section follows the turn of the hand.
PRONATION = 0.5


def arm_pose(swimmer: Swimmer, side: str, trunk: Trunk) -> tuple[Joints, Bones, Joints]:
    """Joints, bone frames and stated angles of one arm.

    Parameters
    ----------
    swimmer : Swimmer
    side : str
        ``l`` or ``r``.
    trunk : Trunk
        Its pose at T instants.
    """
    s = dict(rhythm.SIDES)[side]
    v = _values(swimmer, side, trunk)
    bank = about("x", -s * swimmer.arm_bank)
    upper, fore, hand = _directions(v, s, bank)
    joints, slide = _joints(swimmer, v, (upper, fore, hand), s, trunk)
    palm = unit(np.stack([v["palm_x"], s * v["palm_out"], v["palm_z"]], -1)) @ bank.T
    turned = _frames(s, upper, fore, hand, palm)
    bones = {
        name: (turned[name], joints[at]) for name, at in (("upper", "shoulder"), ("fore", "elbow"), ("hand", "wrist"))
    }
    # The shoulder girdle's skin follows the blade a part of the way.
    bones["clav"] = (trunk.thorax, trunk.mid + 0.6 * slide)
    measures = {
        "elbow_angle": 180.0 - angle_between_deg(upper, fore),
        "wrist_angle": 180.0 - angle_between_deg(fore, hand),
        "forearm_inclination": _seen_down(v["fore_down"], fore) if swimmer.arm_bank else v["fore_down"],
    }
    return _named(joints, side), _named(bones, side), _named(measures, side)


def arm_joints(swimmer: Swimmer, side: str, trunk: Trunk) -> Joints:
    """Joints of one arm alone, without the side in their names. (T, 3) each [m]"""
    s = dict(rhythm.SIDES)[side]
    v = _values(swimmer, side, trunk)
    return _joints(swimmer, v, _directions(v, s, about("x", -s * swimmer.arm_bank)), s, trunk)[0]


def _named(what: dict[str, T], side: str) -> dict[str, T]:
    return {f"{name}_{side}": value for name, value in what.items()}


def _directions(v: Joints, s: int, bank: NDArray[np.float64]) -> tuple[NDArray[np.float64], ...]:
    upper = direction(v["upper_down"], v["upper_out"], s)
    fore = direction(v["fore_down"], v["fore_out"], s)
    hand = direction(v["fore_down"] + v["hand_flex"], v["fore_out"] + v["hand_out"], s)
    return upper @ bank.T, fore @ bank.T, hand @ bank.T


def _seen_down(keyed_deg: NDArray[np.float64], fore: NDArray[np.float64]) -> NDArray[np.float64]:
    """Inclination of a banked forearm as seen from the side, on the same turn as its key value. [deg]"""
    seen = np.degrees(np.arctan2(-fore[..., 2], fore[..., 0]))
    return keyed_deg + (seen - keyed_deg + 180.0) % 360.0 - 180.0


def _joints(
    swimmer: Swimmer, v: Joints, limbs: tuple[NDArray[np.float64], ...], s: int, trunk: Trunk
) -> tuple[Joints, NDArray[np.float64]]:
    upper, fore, hand = limbs
    slide = v["reach"][:, None] * (swimmer.stature_m / REFERENCE_M) * trunk.tilt[..., 0]
    shoulder = trunk.mid + moved(trunk.thorax, place(SHOULDER_FROM_MID, swimmer.stature_m, s)) + slide
    elbow = shoulder + length_m("upper", swimmer.stature_m) * upper
    wrist = elbow + length_m("fore", swimmer.stature_m) * fore
    tip = length_m("hand", swimmer.stature_m) * hand
    joints = {
        "shoulder": shoulder,
        "elbow": elbow,
        "wrist": wrist,
        "knuckle": wrist + KNUCKLE * tip,
        "fingertip": wrist + tip,
    }
    return joints, slide


def _values(swimmer: Swimmer, side: str, trunk: Trunk) -> Joints:
    own = trunk.left + rhythm.lead(swimmer, side)
    out = dict(zip(COLUMNS, np.moveaxis(swimmer.arm_curve(own), -1, 0), strict=True))
    if swimmer.variation:
        first = 10 if side == "l" else 20
        off = rhythm.wander(swimmer, own, tuple(range(first, first + len(WANDER))))
        for k, (name, size) in enumerate(WANDER.items()):
            out[name] = out[name] + swimmer.variation * size * off[..., k]
    return out


def _frames(
    s: int, upper: NDArray[np.float64], fore: NDArray[np.float64], hand: NDArray[np.float64], palm: NDArray[np.float64]
) -> dict[str, NDArray[np.float64]]:
    """Bone frames (T, 3, 3); at rest the arm points sideways and the palm and the elbow's hollow face down."""
    rest = frame(np.array([0.0, s, 0.0]), np.array([0.0, 0.0, -1.0])).T
    # The hollow of the elbow looks to where the forearm bends; near a straight arm the palm tells it.
    bend = fore - upper * np.sum(upper * fore, -1, keepdims=True)
    hollow = across(bend + 0.05 * palm, upper)
    hinge = np.cross(upper, hollow)
    inside = across(np.cross(hinge, fore), fore)
    face = across(palm, hand)
    turned = across(palm, fore)
    angle = np.arctan2(np.sum(np.cross(inside, turned) * fore, -1), np.sum(inside * turned, -1)) * PRONATION
    middle = inside * np.cos(angle)[:, None] + np.cross(fore, inside) * np.sin(angle)[:, None]
    return {
        "upper": frame(upper, hollow) @ rest,
        "fore": frame(fore, across(middle, fore)) @ rest,
        "hand": frame(hand, face) @ rest,
    }
