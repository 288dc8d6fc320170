"""The true values of the catch, read from the continuous pose in three ways.

``plane``: what an ideal side view at the arm's own distance shows: every joint is carried along its line of sight from
the lens onto one vertical plane along the swim direction. ``square``: seen from infinitely far, the joint's x and z as
they are. ``space``: joint angles and distances as the skeleton has them; what only a view can define (when the forearm
points straight down) is taken from ``square``.

This module shares nothing with the code that measures a clip.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from casebook.demo.events import Arm, Pose, around, crossing, positions, solve
from casebook.demo.trunk import trunk_inclination_deg

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from casebook.demo.camera import Camera
    from casebook.demo.swimmer import Swimmer

    Array: TypeAlias = NDArray[np.float64]

WAYS = ("plane", "square", "space")
QUANTITIES = (
    "hand_ahead_pct", "hand_ahead_m", "elbow_height_pct", "elbow_height_m", "elbow_angle_45_deg",
    "elbow_angle_under_deg", "upper_arm_turn_deg", "wrist_angle_45_deg",
)  # fmt: skip
INSTANTS = ("forearm_45", "forearm_60", "forearm_90", "under_shoulder", "forearm_turned_40")
#: The shoulder-fingertip line says nothing where it is steeper than this; with a wrist bent by more than the second the
#: knuckle takes the fingertip's place (definitions). [deg]
STEEPEST_DEG, BENT_WRIST_DEG = 60.0, 20.0
TURN_DEG = 40.0
_ARM = ("shoulder", "elbow", "wrist", "fingertip")


@dataclass(frozen=True, slots=True, eq=False)
class CatchTruth:
    """The catch of K strokes of one arm.

    Attributes
    ----------
    side : str
    way : str
        ``plane``, ``square`` or ``space``.
    numbers : (K,) int array
    classes : (K,) str array
    plane_y_m : float
        Where the plane stands, to the swimmer's left; NaN but for ``plane``. [m]
    events, instants, values : dict
        Name -> (K,): ``events.EVENTS`` and ``INSTANTS`` [s], ``QUANTITIES`` in their units. For ``plane``, the events
        between entry and exit are those that the plane shows.
    """

    side: str
    way: str
    numbers: NDArray[np.int64]
    classes: NDArray[np.str_]
    plane_y_m: float
    events: dict[str, Array]
    instants: dict[str, Array]
    values: dict[str, Array]


def catch_truth(
    swimmer: Swimmer, side: str, numbers: NDArray[np.int64], camera: Camera | None = None, way: str = "plane"
) -> CatchTruth:
    """True catch of the numbered strokes of one arm; ``plane`` needs the camera."""
    pose: Pose = partial(_square, swimmer, side)
    plane_y = np.nan
    if way == "plane":
        if camera is None:
            raise ValueError("plane truth needs a camera")
        plane_y = arm_plane_y(swimmer, side, numbers)
        pose = partial(_on_plane, swimmer, side, camera, plane_y)
    events, classes = solve(swimmer, side, numbers, pose)
    instants = _instants(swimmer, side, numbers, pose, events)
    values = _in_space(swimmer, side, instants, events) if way == "space" else in_view(pose, instants, events)
    for name in ("hand_ahead", "elbow_height"):
        values[f"{name}_pct"] = 100.0 * values[f"{name}_m"] / swimmer.arm_length_m
    return CatchTruth(side, way, numbers, classes, float(plane_y), events, instants, values)


def arm_plane_y(swimmer: Swimmer, side: str, numbers: NDArray[np.int64]) -> float:
    """The arm's own distance: mean y of shoulder, elbow, wrist and fingertip with the forearm halfway down. [m]"""
    pose = partial(positions, swimmer, side)
    grid = around(swimmer, side, numbers, 0.05, 0.60)
    halfway = crossing(
        partial(_square, swimmer, side), _steeper_than(45.0), grid, "first", _square(swimmer, side, grid)
    )
    arm = pose(halfway)
    return float(np.nanmean([arm[name][..., 1] for name in _ARM]))


def onto_plane(points: Array, eye: Array, plane_y: float) -> Array:
    """World points (..., 3) carried along their line of sight from the lens onto the plane y: (..., 2) x and z. [m]"""
    share = (plane_y - eye[..., 1]) / (points[..., 1] - eye[..., 1])
    return (eye + share[..., None] * (points - eye))[..., [0, 2]]


def _square(swimmer: Swimmer, side: str, times: Array) -> Arm:
    return {name: xyz[..., [0, 2]] for name, xyz in positions(swimmer, side, times).items()}


def _on_plane(swimmer: Swimmer, side: str, camera: Camera, plane_y: float, times: Array) -> Arm:
    eye = camera.pose(times)[0]
    return {name: onto_plane(xyz, eye, plane_y) for name, xyz in positions(swimmer, side, times).items()}


def _steeper_than(degrees: float) -> Callable[[Arm], Array]:
    a = np.radians(degrees)

    def steeper(arm: Arm) -> Array:
        d = arm["wrist"] - arm["elbow"]
        return -np.sin(a) * d[..., 0] - np.cos(a) * d[..., 1]

    return steeper


def _under_shoulder(arm: Arm) -> Array:
    return arm["shoulder"][..., 0] - arm["wrist"][..., 0]


def _instants(
    swimmer: Swimmer, side: str, numbers: NDArray[np.int64], pose: Pose, events: dict[str, Array]
) -> dict[str, Array]:
    grid = around(swimmer, side, numbers, 0.05, 0.70)
    arm = pose(grid)
    out = {f"forearm_{a}": crossing(pose, _steeper_than(float(a)), grid, "first", arm) for a in (45, 60, 90)}
    out["under_shoulder"] = crossing(pose, _under_shoulder, grid, "first", arm)
    goal = slope_deg(pose(events["end_of_extension"]), "elbow", "wrist") + TURN_DEG

    def turned(at: Arm) -> Array:
        return slope_deg(at, "elbow", "wrist") - goal[:, None]

    before = grid < events["end_of_extension"][:, None]
    out["forearm_turned_40"] = crossing(pose, turned, grid, "first", arm, before)
    return out


def slope_deg(arm: Arm, a: str, b: str) -> Array:
    """Direction a -> b below the horizontal, -90 to 270, of points (..., 2) x and z. [deg]"""
    d = arm[b] - arm[a]
    return (np.degrees(np.arctan2(-d[..., 1], d[..., 0])) + 90.0) % 360.0 - 90.0


def _bend_deg(arm: Arm, a: str, joint: str, b: str) -> Array:
    """Angle at a joint by the difference of two directions; 180 straight. [deg]"""
    turn = (slope_deg(arm, a, joint) - slope_deg(arm, joint, b) + 180.0) % 360.0 - 180.0
    return 180.0 - np.abs(turn)


def in_view(pose: Pose, instants: dict[str, Array], events: dict[str, Array]) -> dict[str, Array]:
    """Catch quantities (K,), without the percentages, of an arm whose points are (..., 2) x and z at given times."""
    down, half, under = (pose(instants[name]) for name in ("forearm_90", "forearm_45", "under_shoulder"))
    wrist = _bend_deg(half, "elbow", "wrist", "fingertip")
    bent = 180.0 - wrist > BENT_WRIST_DEG
    end = np.where(bent[..., None], half["knuckle"], half["fingertip"])
    line, elbow = end - half["shoulder"], half["elbow"] - half["shoulder"]
    height = (elbow[..., 1] * line[..., 0] - elbow[..., 0] * line[..., 1]) / np.hypot(line[..., 0], line[..., 1])
    height = np.where(line[..., 0] < 0, -height, height)
    steep = np.degrees(np.arctan2(np.abs(line[..., 1]), np.abs(line[..., 0]))) > STEEPEST_DEG
    first, then = pose(events["end_of_extension"]), pose(instants["forearm_turned_40"])
    turn = [slope_deg(arm, "shoulder", "elbow") - slope_deg(arm, "hip", "shoulder") for arm in (first, then)]
    return {
        "hand_ahead_m": down["fingertip"][..., 0] - down["shoulder"][..., 0],
        "elbow_height_m": np.where(steep, np.nan, height),
        "elbow_angle_45_deg": _bend_deg(half, "shoulder", "elbow", "wrist"),
        "elbow_angle_under_deg": _bend_deg(under, "shoulder", "elbow", "wrist"),
        "upper_arm_turn_deg": (turn[1] - turn[0] + 180.0) % 360.0 - 180.0,
        "wrist_angle_45_deg": wrist,
    }


def _in_space(swimmer: Swimmer, side: str, instants: dict[str, Array], events: dict[str, Array]) -> dict[str, Array]:
    pose = partial(positions, swimmer, side)
    down, half, under = (pose(instants[name]) for name in ("forearm_90", "forearm_45", "under_shoulder"))
    line = half["fingertip"] - half["shoulder"]
    line = line / np.linalg.norm(line, axis=-1, keepdims=True)
    elbow = half["elbow"] - half["shoulder"]
    off = elbow - np.sum(elbow * line, -1, keepdims=True) * line
    above = np.sign(off[..., 2])
    tilt = np.radians(trunk_inclination_deg(swimmer))
    ahead, up = np.array([np.cos(tilt), 0.0, np.sin(tilt)]), np.array([-np.sin(tilt), 0.0, np.cos(tilt)])
    arms = [pose(t) for t in (events["end_of_extension"], instants["forearm_turned_40"])]
    upper = [arm["elbow"] - arm["shoulder"] for arm in arms]
    sunk = [np.degrees(np.arctan2(-(u @ up), u @ ahead)) for u in upper]
    return {
        "hand_ahead_m": down["fingertip"][..., 0] - down["shoulder"][..., 0],
        "elbow_height_m": above * np.linalg.norm(off, axis=-1),
        "elbow_angle_45_deg": _space_angle(half, "shoulder", "elbow", "wrist"),
        "elbow_angle_under_deg": _space_angle(under, "shoulder", "elbow", "wrist"),
        "upper_arm_turn_deg": sunk[1] - sunk[0],
        "wrist_angle_45_deg": _space_angle(half, "elbow", "wrist", "fingertip"),
    }


def _space_angle(arm: Arm, a: str, joint: str, b: str) -> Array:
    u, v = arm[a] - arm[joint], arm[b] - arm[joint]
    return np.degrees(np.arctan2(np.linalg.norm(np.cross(u, v), axis=-1), np.sum(u * v, -1)))
