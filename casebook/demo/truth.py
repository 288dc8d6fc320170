"""The truth of one demo clip: in space, on the plane, in the picture."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from casebook.demo import rhythm
from casebook.demo.events import TrueStroke, stroke_numbers
from casebook.demo.occlusion import hidden
from casebook.demo.plane_truth import INSTANTS, QUANTITIES, WAYS, CatchTruth, catch_truth
from casebook.marks.points import POINTS

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from casebook.demo.camera import Camera
    from casebook.demo.swimmer import Swimmer

VISIBLE = ("visible", "occluded", "above_water", "out_of_frame")
#: Per-frame measures of the angles file, in its order.
_PAIRED = ("elbow_angle", "wrist_angle", "forearm_inclination", "knee_angle")
ANGLES = (
    *(f"{name}_{side}" for name in _PAIRED for side in "lr"),
    *("roll", "hip_roll", "trunk_inclination", "breath_l", "breath_r", "phase_l", "phase_r"),
)


@dataclass(frozen=True, slots=True, eq=False)
class ClipTruth:
    """Everything known about a clip.

    Attributes
    ----------
    name : str
        Of the clip's file, without its ending.
    swimmer : Swimmer
    camera : Camera
    times : (N,) float array
        Of each frame. [s]
    points : tuple of str, length P
    world : (N, P, 3) float array [m]
    xy : (N, P, 2) float array [px]
    visible : (N, P) array of words
        One of ``VISIBLE``.
    angles : dict
        ``ANGLES`` -> (N,).
    strokes : tuple of TrueStroke
        Those that enter during the clip or less than a cycle before.
    catches : tuple of CatchTruth
        Plane truth of each side; empty for views that are no side view.
    """

    name: str
    swimmer: Swimmer
    camera: Camera
    times: NDArray[np.float64]
    points: tuple[str, ...]
    world: NDArray[np.float64]
    xy: NDArray[np.float64]
    visible: NDArray[np.str_]
    angles: dict[str, NDArray[np.float64]]
    strokes: tuple[TrueStroke, ...]
    catches: tuple[CatchTruth, ...]

    @property
    def seen(self) -> NDArray[np.bool_]:
        """(N, P) points that the picture shows."""
        return np.asarray(self.visible == "visible")

    def index(self, point: str) -> int:
        """Column of a point."""
        return self.points.index(point)


def make_truth(name: str, swimmer: Swimmer, camera: Camera, times: ArrayLike) -> ClipTruth:
    """The truth of a clip whose frames are taken at ``times`` (N,) [s]."""
    t = np.asarray(times, float)
    joints, measures = swimmer.joints(t), swimmer.measures(t)
    world = np.stack([joints[p] for p in POINTS], 1)
    xy, _ = camera.project(world, t)
    eye = camera.pose(t)[0]
    shut = hidden(joints, POINTS, eye, swimmer.stature_m)
    first, last = float(t[0]), float(t[-1])
    strokes = swimmer.events(first - swimmer.period_s, last)
    catches: tuple[CatchTruth, ...] = ()
    if camera.view.startswith("side"):
        catches = tuple(in_clip(swimmer, camera, side, first, last) for side, _ in rhythm.SIDES)
    return ClipTruth(
        name,
        swimmer,
        camera,
        t,
        POINTS,
        world,
        xy,
        _visible(camera, world, xy, shut),
        {n: measures[n] for n in ANGLES},
        strokes,
        catches,
    )


def in_clip(
    swimmer: Swimmer, camera: Camera | None, side: str, first_s: float, last_s: float, way: str = "plane"
) -> CatchTruth:
    """Catch truth of one arm's strokes that go from the end of extension to under the shoulder in [first, last]."""
    every = catch_truth(swimmer, side, stroke_numbers(swimmer, first_s - swimmer.period_s, last_s, side), camera, way)
    inside = (every.events["end_of_extension"] >= first_s) & (every.instants["under_shoulder"] <= last_s)
    return catch_truth(swimmer, side, every.numbers[inside], camera, way) if inside.any() else _none_of(every)


def _none_of(every: CatchTruth) -> CatchTruth:
    empty = np.empty(0)
    return CatchTruth(
        every.side, every.way, every.numbers[:0], every.classes[:0], np.nan,
        dict.fromkeys(every.events, empty), dict.fromkeys(INSTANTS, empty), dict.fromkeys(QUANTITIES, empty),
    )  # fmt: skip


def _visible(
    camera: Camera, world: NDArray[np.float64], xy: NDArray[np.float64], shut: NDArray[np.bool_]
) -> NDArray[np.str_]:
    inside = np.isfinite(xy).all(-1) & (xy >= -0.5).all(-1) & (xy < np.array(camera.size) - 0.5).all(-1)
    out = np.where(shut, "occluded", "visible").astype("<U12")
    if camera.view.endswith("under"):
        out[world[..., 2] > 0] = "above_water"
    out[~inside] = "out_of_frame"
    return out


def truth_table(swimmer: Swimmer, camera: Camera, side: str, first_s: float, last_s: float) -> str:
    """The catch read three ways, stroke by stroke, as plain text: how far a side view is from the skeleton."""
    read = {way: in_clip(swimmer, camera, side, first_s, last_s, way) for way in WAYS}
    lines = [f"{'quantity':<24}{'stroke':>7}" + "".join(f"{way:>10}" for way in WAYS) + f"{'plane - space':>16}"]
    for name in QUANTITIES:
        digits = 3 if name.endswith("_m") else 1
        for k, number in enumerate(read["plane"].numbers):
            row = [read[way].values[name][k] for way in WAYS]
            cells = "".join(f"{value:>10.{digits}f}" for value in row)
            lines.append(f"{name:<24}{number:>7}{cells}{row[0] - row[2]:>16.{digits}f}")
    return "\n".join(lines)
