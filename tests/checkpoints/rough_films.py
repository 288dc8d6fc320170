"""Whole swimmers filmed roughly: cameras that tilt, look off square or stand off the line, wrong scales and distances.

Truth is kept apart from measuring: from the side every joint is carried along its line of sight onto the plane that
stands in the near shoulder (lengths and angles as seen), and read there by plain arithmetic; joint angles in space, and
all that is seen in line with the swimmer, are those of the skeleton itself.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
from body_truth import true_kicks
from coverage_of import Value

from casebook.checkpoints.bands import load_bands
from casebook.checkpoints.finding import Finding
from casebook.checkpoints.measure import BodyFacts, measure
from casebook.clip.shot import Shot
from casebook.demo.cameras import camera_for
from casebook.demo.swimmer import Swimmer
from casebook.demo.truth import ClipTruth, make_truth
from casebook.demo.truth_marks import marks_from_truth
from casebook.marks.marks import Marks
from casebook.plane.measured import Measured
from casebook.plane.plane import Plane

BANDS = load_bands("triathlete")
#: How a careful coach films, standard deviations: camera turned and off square [deg], off the line of swimming [deg].
TURNED_DEG, OFF_SQUARE_DEG, OFF_LINE_DEG = 1.5, 3.0, 4.0
#: Relative error of a stated distance.
DISTANCE_SIGMA = 0.08
NEAR_S = 0.12


@dataclass(frozen=True)
class Film:
    """One swimmer before one camera: what a coach has, and what is true."""

    shot: Shot
    marks: Marks
    plane: Plane
    truth: ClipTruth
    swimmer: Swimmer
    side: str
    arm: Measured | None
    distance: Measured

    def space(self, name: str) -> np.ndarray:
        """A joint in the pool. (N, 3) [m]"""
        return self.truth.world[:, self.truth.index(name)]

    @cached_property
    def _seen(self) -> np.ndarray:
        truth = self.truth
        eye = truth.camera.pose(truth.times)[0][:, None]
        y = truth.world[:, truth.index(f"shoulder_{self.side}"), 1].mean()
        share = (y - eye[..., 1]) / (truth.world[..., 1] - eye[..., 1])
        return (eye + (truth.world - eye) * share[..., None])[..., [0, 2]]

    def seen(self, name: str) -> np.ndarray:
        """A joint of the near side as the plane shows it, forward and up. (N, 2) [m]"""
        name = name if name == "crown" else f"{name}_{self.side}"
        return self._seen[:, self.truth.index(name)]

    @cached_property
    def arm_m(self) -> float:
        """The near arm's length. [m]"""
        p = [self.space(f"{n}_{self.side}") for n in ("shoulder", "elbow", "wrist", "fingertip")]
        return float(np.mean(sum(np.linalg.norm(b - a, axis=1) for a, b in pairwise(p))))

    @cached_property
    def kicks(self) -> Any:
        """Kicks of the near leg."""
        return true_kicks(self.swimmer, self.side, float(self.truth.times[-1]) + 0.5)

    def events(self, name: str) -> np.ndarray:
        """When an event of the near arm is seen to happen. [s]"""
        catch = next(c for c in self.truth.catches if c.side == self.side)
        return np.asarray(catch.events[name])

    def at(self, series: np.ndarray, when: float) -> float:
        """A series between frames."""
        return float(np.interp(when, self.truth.times, series))

    def time(self, frames: tuple[int, ...]) -> float:
        """Mean time of some frames. [s]"""
        return float(self.truth.times[list(frames)].mean())


def swimmer(rng: np.random.Generator, seed: int) -> Swimmer:
    """Any swimmer, with faults or without."""
    fault = {name: float(rng.random() * (rng.random() < 0.4)) for name in ("crossover", "dropped_elbow", "scissor")}
    return Swimmer(
        stature_m=rng.uniform(1.55, 1.95), rate=rng.uniform(38, 58), speed=rng.uniform(1.0, 1.6),
        roll=rng.uniform(30, 55), hip_roll=rng.uniform(10, 30), pitch=rng.uniform(2, 10), depth=rng.uniform(0.1, 0.2),
        breathing="none", beats=int(rng.choice([2, 4, 6])), knee=rng.uniform(25, 50),
        early_forearm=rng.uniform(0.4, 1.2), variation=1.0, start=rng.random(), seed=seed, **fault,
    )  # fmt: skip


def film(seed: int, view: str, seconds: float = 6.0) -> Film:
    """One film, all of it drawn from its seed."""
    rng = np.random.default_rng(seed)
    body, side = swimmer(rng, seed), str(rng.choice(["l", "r"]))
    from_side = view.startswith("side")
    far = rng.uniform(3.2, 5.0) if from_side else rng.uniform(3.2, 4.5)
    camera = camera_for(
        view, speed=body.speed, side=side, distance_m=far, zoom=far / 4 if from_side else 1.0,
        roll_deg=rng.normal(0, TURNED_DEG), tilt_deg=rng.normal(0, TURNED_DEG),
    )  # fmt: skip
    where = list(camera.target if from_side else camera.position)
    where[0 if from_side else 1] += far * np.tan(
        np.radians(rng.normal(0, OFF_SQUARE_DEG if from_side else OFF_LINE_DEG))
    )
    camera = replace(camera, **{"target" if from_side else "position": tuple(where)})
    fps, noise = float(rng.choice([50, 60, 120])), rng.uniform(1, 4)
    truth = make_truth("rough", body, camera, np.arange(round(seconds * fps)) / fps)
    clip = SimpleNamespace(
        n_frames=len(truth.times), times=truth.times, size=camera.size, path=Path("rough.mp4"), times_are_nominal=False
    )
    shot = Shot("rough", clip, view, camera.direction, 0, len(truth.times), camera="following")
    marks = marks_from_truth(truth, sigma_px=noise, seed=seed, marked=("visible", "occluded"))
    arm_m = Film(shot, marks, Plane.given(1), truth, body, side, None, Measured(1, 0)).arm_m
    arm = Measured(arm_m * np.exp(rng.normal(0, 0.02)), 0.02 * arm_m) if seed % 2 else None
    distance = Measured(far * np.exp(rng.normal(0, DISTANCE_SIGMA)), DISTANCE_SIGMA * far)
    plane = _plane_from_the_side(rng, truth, side, shot) if from_side else _plane_in_line(rng, truth)
    return Film(shot, marks, plane, truth, body, side, arm, distance)


def _plane_from_the_side(rng: np.random.Generator, truth: ClipTruth, side: str, shot: Shot) -> Plane:
    """A known length and the water line in the near shoulder's plane, each wrong by its stated error."""
    camera, y = truth.camera, float(truth.world[:, truth.index(f"shoulder_{side}"), 1].mean())
    x = truth.world[0, :, 0].mean()
    ends = [camera.project(np.array([[[x - 1, y, z], [x + 1, y, z]]]), truth.times[:1])[0][0] for z in (0.0, -0.3)]
    scale, tilt, water = rng.uniform(0.01, 0.05), rng.uniform(0.2, 0.6), rng.uniform(1, 4)
    return Plane.given(
        shot.sign, m_per_px=2 / np.linalg.norm(ends[1][1] - ends[1][0]) * np.exp(rng.normal(0, scale)),
        scale_sigma=scale, tilt_deg=_tilt_deg(ends[0]) + rng.normal(0, tilt), tilt_sigma_deg=tilt,
        water_px=ends[0].mean(0) + np.array([0, rng.normal(0, water)]), water_sigma_px=water,
    )  # fmt: skip


def _plane_in_line(rng: np.random.Generator, truth: ClipTruth) -> Plane:
    """Level across the line of swimming, wrong by its stated error."""
    camera, tilt = truth.camera, rng.uniform(0.2, 0.6)
    x = float(truth.world[0, :, 0].max())
    ends = camera.project(np.array([[[x, -1.0, -0.3], [x, 1.0, -0.3]]]), truth.times[:1])[0][0]
    sign = 1 if camera.direction == "toward" else -1
    return Plane.given(sign, tilt_deg=_tilt_deg(ends) + rng.normal(0, tilt), tilt_sigma_deg=tilt)


def _tilt_deg(ends: np.ndarray) -> float:
    d = ends[1] - ends[0]
    d = d if d[0] > 0 else -d
    return float(np.degrees(np.arctan2(d[1], d[0])))


# ---- what is true ----------------------------------------------------------------------------------------------------

Truth = Callable[[Film, str, tuple[int, ...]], float]


def _slope(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    d = b - a
    return np.degrees(np.arctan2(-d[:, 1], d[:, 0]))


def _angle(u: np.ndarray, v: np.ndarray) -> np.ndarray:
    cos = (u * v).sum(-1) / np.linalg.norm(u, axis=-1) / np.linalg.norm(v, axis=-1)
    return np.degrees(np.arccos(np.clip(cos, -1, 1)))


def _nearest(instants: np.ndarray, when: float) -> float:
    """The instant of the stroke that was read; NaN where none is near."""
    instants = np.asarray(instants)[np.isfinite(instants)]
    if not len(instants):
        return np.nan
    best = instants[np.argmin(np.abs(instants - when))]
    return float(best) if abs(best - when) < NEAR_S else np.nan


def _at_reach(series: Callable[[Film], np.ndarray]) -> Truth:
    return lambda f, _, frames: f.at(series(f), _nearest(f.events("end_of_extension"), f.time(frames)))


def _exit(f: Film, _: str, frames: tuple[int, ...]) -> float:
    z, t = f.seen("wrist")[:, 1], f.truth.times
    k = np.flatnonzero((z[:-1] <= 0) & (z[1:] > 0))
    out = t[k] - z[k] * (t[k + 1] - t[k]) / (z[k + 1] - z[k])
    return f.at(100 * (f.seen("hip") - f.seen("wrist"))[:, 0] / f.arm_m, _nearest(out, f.time(frames)))


def _wait(f: Film, _: str, frames: tuple[int, ...]) -> float:
    end = _nearest(f.events("end_of_extension"), float(f.truth.times[frames[-1]]))
    z, t = f.seen("fingertip")[:, 1], f.truth.times
    k = np.flatnonzero((z[:-1] > 0) & (z[1:] <= 0))
    ins = (t[k] + z[k] * (t[k + 1] - t[k]) / (z[k] - z[k + 1]))[t[k] < end]
    return float(end - ins[-1]) if len(ins) else np.nan


def _pull_depth(f: Film, _: str, frames: tuple[int, ...]) -> float:
    near = np.abs(f.truth.times - f.time(frames)) < 0.25
    return float((100 * (f.seen("shoulder") - f.seen("fingertip"))[near, 1] / f.arm_m).max())


def _facing_back(f: Film, _: str, frames: tuple[int, ...]) -> float:
    slope = _slope(f.seen("elbow"), f.seen("wrist"))[frames[0] : frames[-1] + 1]
    return float(100 * ((slope >= 60) & (slope <= 120)).mean())


def _mean_of_cycle(series: Callable[[Film], np.ndarray]) -> Truth:
    return lambda f, _, frames: float(series(f)[frames[0] : frames[-1] + 1].mean())


def _trunk(f: Film, _: str, frames: tuple[int, ...]) -> float:
    d = (f.seen("shoulder") - f.seen("hip"))[frames[0] : frames[-1] + 1].mean(0)
    return float(np.degrees(np.arctan2(d[1], d[0])))


def _kick(which: int) -> Truth:
    def truth(f: Film, _: str, frames: tuple[int, ...]) -> float:
        bottoms, got = f.kicks.times[f.kicks.bottoms], []
        for when in f.truth.times[list(frames)]:
            # The knee bends most before the foot is lowest; all else is read there.
            k = int(np.searchsorted(bottoms, when) if which == 1 else np.argmin(np.abs(bottoms - when)))
            kick = f.kicks.kick(bottoms[k]) if k < len(bottoms) else None
            got.append(kick[which] if kick and (which == 1 or abs(bottoms[k] - when) < NEAR_S) else np.nan)
        return float(np.mean(got))

    return truth


def _across(f: Film) -> tuple[np.ndarray, np.ndarray]:
    """Height and sideways place of the shoulders' middle, and their distance apart. [m]"""
    left, right = f.space("shoulder_l"), f.space("shoulder_r")
    return (left + right) / 2, np.linalg.norm(left - right, axis=1)


def _beside(f: Film, side: str, frames: tuple[int, ...]) -> float:
    middle, breadth = _across(f)
    out = (f.space(f"fingertip_{side}") - middle)[:, 1] * (1 if side == "l" else -1)
    return float(100 * out[frames[0]] / breadth.mean())


def _roll(part: str) -> Truth:
    def truth(f: Film, _: str, frames: tuple[int, ...]) -> float:
        d = f.space(f"{part}_l") - f.space(f"{part}_r")
        tilt = np.degrees(np.arctan2(d[:, 2], d[:, 1]))
        near = tilt[max(0, frames[0] - 15) : frames[-1] + 16]
        return float(np.max(near * np.sign(tilt[frames[0]])))

    return truth


SIDE: dict[str, tuple[str, Truth]] = {
    "reach_depth_m": ("extension", _at_reach(lambda f: -f.seen("fingertip")[:, 1])),
    "reach_slope_deg": ("extension", _at_reach(lambda f: _slope(f.seen("shoulder"), f.seen("fingertip")))),
    "reach_hand_slope_deg": ("extension", _at_reach(lambda f: _slope(f.seen("wrist"), f.seen("fingertip")))),
    "reach_elbow_deg": ("extension", _at_reach(lambda f: _angle(
        f.space(f"shoulder_{f.side}") - f.space(f"elbow_{f.side}"),
        f.space(f"wrist_{f.side}") - f.space(f"elbow_{f.side}"),
    ))),
    "wait_s": ("extension", _wait),
    "pull_depth_pct": ("pull", _pull_depth),
    "forearm_back_pct": ("pull", _facing_back),
    "exit_past_hip_pct": ("recovery", _exit),
    "trunk_tilt_deg": ("body_line", _trunk),
    "hip_depth_m": ("body_line", _mean_of_cycle(lambda f: -f.seen("hip")[:, 1])),
    "heel_depth_m": ("body_line", _mean_of_cycle(lambda f: -f.seen("heel")[:, 1])),
    "knee_least_deg": ("kick", _kick(1)),
    "thigh_drop_deg": ("kick", _kick(2)),
    "ankle_off_deg": ("kick", _kick(3)),
    "kick_travel_m": ("kick", _kick(0)),
}  # fmt: skip
FRONT: dict[str, tuple[str, Truth]] = {
    "entry_from_midline_pct": ("entry", _beside),
    "front_from_midline_pct": ("entry", _beside),
    "pull_from_midline_pct": ("pull", _beside),
    "shoulder_roll_deg": ("roll", _roll("shoulder")),
    "hip_roll_deg": ("roll", _roll("hip")),
}
ALL = SIDE | FRONT


def films(count: int, seed: int, view: str) -> Iterator[Film]:
    """So many films, one after the other."""
    for k in range(count):
        yield film(seed + k, view)


def measured(table: dict[str, tuple[str, Truth]]) -> Callable[[Film], Iterator[Value]]:
    """A measuring function for ``coverage_of.simulate``."""
    checkpoints = dict.fromkeys(checkpoint for checkpoint, _ in table.values())

    def of(f: Film) -> Iterator[Value]:
        for checkpoint in checkpoints:
            facts = BodyFacts(arm_length=f.arm, distance=f.distance)
            result = measure(checkpoint, f.shot, f.marks, f.plane, bands=BANDS, facts=facts)
            for found in result.results:
                # From the side the far arm is another one, behind the body.
                sides = ("", f.side) if f.shot.view.startswith("side") else ("", "l", "r")
                if isinstance(found, Finding) and found.quantity in table and found.side in sides:
                    for s in found.strokes:
                        yield Value(found.quantity, (found.side, s.frames), s.value, s.sigma, s.common)

    return of


def true_value(f: Film, quantity: str, stroke: Any) -> float:
    """A truth function for ``coverage_of.simulate``."""
    side, frames = stroke
    return ALL[quantity][1](f, side, frames)
