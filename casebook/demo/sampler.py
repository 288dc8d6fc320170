"""Many set-ups of random swimmers before random cameras, with their truth: for studies of error and intervals."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from casebook.demo.camera import Camera
from casebook.demo.events import positions
from casebook.demo.plane_truth import INSTANTS, QUANTITIES, CatchTruth, catch_truth
from casebook.demo.space_truth import OUT, SPACE, space_truth
from casebook.demo.swimmer import Swimmer

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

ARM = ("shoulder", "elbow", "wrist", "fingertip", "knuckle", "hip")
#: Time kept before full reach is left and after the hand is under the shoulder. [s]
LEAD_S, TAIL_S = 0.16, 0.10
#: Strokes that each random swimmer gives with each arm.
STROKES = 8


@dataclass(frozen=True, slots=True, eq=False)
class SampledSetUps:
    """S set-ups. Rows of up to F frames; those after a set-up's end are NaN.

    Attributes
    ----------
    xy : (S, F, 6, 2) float array
        Exact pixels of ``ARM``. [px]
    times : (S, F) float array [s]
    end_of_extension_s : (S,) float array [s]
    key_rows : (S, 3) int array
        Rows of the key stills: last before tipping, nearest to halfway, first straight down.
    side, camera : (S,) str array
    sign : (S,) int array
        +1 swims to the right of the picture, -1 to the left.
    size : (S, 2) int array [px]
    fps : (S,) float array
    px_per_m : (S,) float array
        At the arm's own distance.
    tilt_deg : (S,) float array
        Direction of the water line in the picture, x right and y down: positive sinks to the right.
    water_px : (S, 2) float array
        A point of the water line as the arm's own plane shows it. [px]
    arm_length_m : (S,) float array [m]
    values, instants : dict
        Plane truth: ``QUANTITIES`` and ``INSTANTS``, (S,) each.
    group : (S,) int array
        Set-ups of one swimmer and arm share a number.
    space : dict
        ``space_truth.SPACE`` and ``OUT``, (S,) each: joint angles as the skeleton has them.
    distance_m : (S,) float array
        From the lens to the arm's own plane, along the optical axis. [m]
    behind_port : (S,) bool array
        The lens looks through a flat window into water.
    """

    xy: NDArray[np.float64]
    times: NDArray[np.float64]
    end_of_extension_s: NDArray[np.float64]
    key_rows: NDArray[np.int64]
    side: NDArray[np.str_]
    camera: NDArray[np.str_]
    sign: NDArray[np.int64]
    size: NDArray[np.int64]
    fps: NDArray[np.float64]
    px_per_m: NDArray[np.float64]
    tilt_deg: NDArray[np.float64]
    water_px: NDArray[np.float64]
    arm_length_m: NDArray[np.float64]
    values: dict[str, NDArray[np.float64]]
    instants: dict[str, NDArray[np.float64]]
    group: NDArray[np.int64]
    space: dict[str, NDArray[np.float64]]
    distance_m: NDArray[np.float64]
    behind_port: NDArray[np.bool_]

    def __len__(self) -> int:
        return len(self.sign)


@dataclass(frozen=True, slots=True, eq=False)
class _Passes:
    """One camera, put before each stroke anew: lens moved along the lane by ``shift`` (K,) [m]."""

    camera: Camera
    shift: NDArray[np.float64]

    def pose(self, times: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        eye, axes = self.camera.pose(times)
        eye = eye.copy()
        eye[..., 0] += self.shift.reshape(-1, *[1] * (eye.ndim - 2))
        return eye, axes

    def project(self, points: NDArray[np.float64], times: NDArray[np.float64]) -> NDArray[np.float64]:
        moved = points.copy()
        moved[..., 0] -= self.shift.reshape(-1, *[1] * (points.ndim - 2))
        return self.camera.project(moved, times)[0]


def sample_setups(
    n: int,
    seed: int,
    *,
    fps: Sequence[float] = (25.0, 30.0, 50.0, 60.0, 120.0),
    largest_tilt_deg: float = 3.0,
    bank_deg: tuple[float, float] = (0.0, 0.0),
    off_square_deg: float = 0.0,
    behind_port: float = 0.0,
) -> SampledSetUps:
    """Random set-ups with exact marks and plane truth.

    Parameters
    ----------
    n : int
    seed : int
        The same for the same set-ups.
    fps : sequence of float
        Frame rates to choose from.
    largest_tilt_deg : float
        Cameras are turned about their axis by up to so much.
    bank_deg : (float, float)
        Range of ``Swimmer.arm_bank``.
    off_square_deg : float
        Standard deviation of how far cameras look off square to the lane, sideways and up or down alike.
    behind_port : float
        Share of cameras that look through a flat window.
    """
    rng = np.random.default_rng(seed)
    parts: list[SampledSetUps] = []
    while sum(map(len, parts)) < n:
        swimmer, side = random_swimmer(rng), str(rng.choice(["l", "r"]))
        rate = float(rng.choice(fps))
        camera = random_camera(rng, swimmer, largest_tilt_deg)
        if bank_deg != (0.0, 0.0):
            swimmer = replace(swimmer, arm_bank=float(rng.uniform(*bank_deg)))
        if off_square_deg or behind_port:
            camera = _disturbed(rng, camera, off_square_deg, behind_port)
        parts.append(_one(rng, swimmer, side, rate, camera, len(parts)))
    return _joined(parts, n)


def random_swimmer(rng: np.random.Generator) -> Swimmer:
    """A plausible swimmer: any stature, rate and style, most with one fault or none."""
    faults: dict[str, Any] = {}
    if rng.random() < 0.6:
        name = str(rng.choice(["dropped_elbow", "straight_arm", "late_hand", "late_catch", "crossover", "wide_entry"]))
        faults[name] = float(rng.uniform(0.2, 1.0))
    return Swimmer(
        stature_m=float(rng.uniform(1.5, 1.98)),
        rate=float(rng.uniform(36, 58)),
        speed=float(rng.uniform(1.0, 1.8)),
        roll=float(rng.uniform(25, 48)),
        hip_roll=float(rng.uniform(12, 32)),
        pitch=float(rng.uniform(2, 9)),
        offset=float(rng.uniform(0.46, 0.54)),
        breathing=str(rng.choice(["l", "r", "both", "none"])),
        early_forearm=float(rng.uniform(0.4, 1.15)),
        variation=float(rng.uniform(0.5, 1.5)),
        start=float(rng.uniform(0, 1)),
        seed=int(rng.integers(1 << 30)),
        **faults,
    )


def random_camera(rng: np.random.Generator, swimmer: Swimmer, largest_tilt_deg: float) -> Camera:
    """A side camera square to the lane, far enough for the whole swimmer, on either side, following or still."""
    width, height = ((1280, 720), (1920, 1080), (3840, 2160))[int(rng.integers(3))]
    distance, deep = float(rng.uniform(2.6, 5.0)), float(rng.uniform(-0.9, -0.25))
    from_left = bool(rng.random() < 0.5)
    y = distance if from_left else -distance
    filled = float(rng.uniform(0.55, 0.85))
    focal = filled * width * distance / (1.45 * swimmer.stature_m)
    return Camera(
        "side_under",
        (0.0, y, deep),
        (0.0, 0.0, deep),
        focal,
        (width, height),
        "still" if rng.random() < 0.5 else "following",
        swimmer.speed,
        roll_deg=float(rng.uniform(-largest_tilt_deg, largest_tilt_deg)),
    )


def _disturbed(rng: np.random.Generator, camera: Camera, off_square_deg: float, behind_port: float) -> Camera:
    """The camera looking off square, and perhaps through a flat window, which enlarges: it is zoomed out for that."""
    aside, up = np.radians(rng.normal(0.0, off_square_deg, 2))
    port = bool(rng.random() < behind_port)
    x, y, z = camera.position
    return replace(
        camera,
        target=(x + abs(y) * float(np.tan(aside)), 0.0, z),
        tilt_deg=float(np.degrees(up)),
        focal_px=camera.focal_px / (camera.water_index if port else 1.0),
        refraction="port" if port else "none",
    )


def _one(
    rng: np.random.Generator, swimmer: Swimmer, side: str, fps: float, camera: Camera, group: int
) -> SampledSetUps:
    numbers = np.arange(2, 2 + STROKES)
    middle = (numbers + 0.33 - swimmer.start - (swimmer.offset if side == "r" else 0.0)) * swimmer.period_s
    # Still: the lens is where the shoulder passes around the middle of the set-up; following: it stays beside the body.
    off = rng.uniform(-0.35, 0.35, STROKES) if camera.mode == "still" else np.full(STROKES, rng.uniform(-0.2, 0.3))
    passes = _Passes(camera, 0.5 + off + (swimmer.speed * middle if camera.mode == "still" else 0.0))
    truth = catch_truth(swimmer, side, numbers, passes)  # type: ignore[arg-type]
    begin = truth.events["end_of_extension"] - LEAD_S - rng.uniform(0, 1 / fps, STROKES)
    frames = int(np.ceil((np.max(truth.instants["under_shoulder"] - begin) + TAIL_S) * fps)) + 1
    times = begin[:, None] + np.arange(frames) / fps
    times = np.where(times > (truth.instants["under_shoulder"] + TAIL_S + 1 / fps)[:, None], np.nan, times)
    arm = positions(swimmer, side, np.nan_to_num(times))
    world = np.stack([arm[name] for name in ARM], -2)
    xy = np.where(np.isfinite(times)[..., None, None], passes.project(world, np.nan_to_num(times)), np.nan)
    many = np.full(STROKES, 1.0)
    # Along the axis, where it meets the arm's own plane.
    depth = abs(truth.plane_y_m - camera.position[1]) / abs(float(camera.pose(0.0)[1][2, 1]))
    port = camera.refraction == "port"
    return SampledSetUps(
        xy,
        times,
        truth.events["end_of_extension"],
        _key_rows(times, truth),
        np.full(STROKES, side),
        np.full(STROKES, camera.mode, dtype="<U9"),
        np.full(STROKES, 1 if camera.direction == "right" else -1),
        np.tile(np.array(camera.size), (STROKES, 1)),
        fps * many,
        camera.focal_px * (camera.water_index if port else 1.0) / depth * many,
        -camera.roll_deg * many,
        np.tile(_water_px(camera, truth.plane_y_m), (STROKES, 1)),
        swimmer.arm_length_m * many,
        truth.values,
        truth.instants,
        np.full(STROKES, group),
        space_truth(swimmer, side, truth.instants),
        depth * many,
        np.full(STROKES, port),
    )


def _key_rows(times: NDArray[np.float64], truth: CatchTruth) -> NDArray[np.int64]:
    filled = np.where(np.isnan(times), np.inf, times)
    reach = (filled <= truth.events["end_of_extension"][:, None]).sum(1) - 1
    halfway = np.argmin(np.abs(filled - truth.instants["forearm_45"][:, None]), 1)
    down = (filled < truth.instants["forearm_90"][:, None]).sum(1)
    return np.stack([reach, halfway, down], 1)


def _water_px(camera: Camera, plane_y: float) -> NDArray[np.float64]:
    """Where the surface stands right before the lens, on the arm's own plane. (2,) [px]"""
    return camera.project(np.array([camera.position[0], plane_y, -1e-9]), 0.0)[0]


def _joined(parts: list[SampledSetUps], n: int) -> SampledSetUps:
    frames = max(part.times.shape[1] for part in parts)

    def padded(a: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.pad(a, [(0, 0), (0, frames - a.shape[1])] + [(0, 0)] * (a.ndim - 2), constant_values=np.nan)

    joined: dict[str, object] = {}
    names_of = {"values": QUANTITIES, "instants": INSTANTS, "space": (*SPACE, *OUT)}
    for field in fields(SampledSetUps):
        each = [getattr(part, field.name) for part in parts]
        if field.name in names_of:
            names = names_of[field.name]
            joined[field.name] = {name: np.concatenate([one[name] for one in each])[:n] for name in names}
        elif field.name in ("xy", "times"):
            joined[field.name] = np.concatenate([padded(one) for one in each])[:n]
        else:
            joined[field.name] = np.concatenate(each)[:n]
    return SampledSetUps(**joined)  # type: ignore[arg-type]
