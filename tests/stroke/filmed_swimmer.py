"""The demo swimmer before a camera: shot, marks made from the truth, plane, and the true moments of each arm."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache, partial
from pathlib import Path
from types import SimpleNamespace

import numpy as np

from casebook.clip.shot import Shot
from casebook.demo.cameras import camera_for
from casebook.demo.events import solve, stroke_numbers
from casebook.demo.plane_truth import arm_plane_y, onto_plane, positions
from casebook.demo.swimmer import Swimmer
from casebook.demo.truth import make_truth
from casebook.demo.truth_marks import marks_from_truth
from casebook.plane.plane import Plane
from casebook.stroke.moment import Moment
from casebook.stroke.strokes import EVENTS, strokes_of

SEEN = ("visible",)
EVERYTHING = ("visible", "occluded", "above_water", "out_of_frame")
#: Rates that share no beat with the frame rates.
CAST = (
    Swimmer(variation=0.5, rate=44.3, seed=1),
    Swimmer(late_hand=1.0, early_forearm=0.4, rate=46.1),
    Swimmer(dropped_elbow=1.0, rate=43.7),
    Swimmer(straight_arm=1.0, rate=57.3, speed=1.7),
    Swimmer(late_catch=1.0, rate=36.9, speed=1.1),
)


@dataclass(frozen=True)
class Film:
    """One swimmer filmed for some seconds, marked with noise."""

    swimmer: Swimmer = CAST[0]
    view: str = "side_split"
    mode: str = "following"
    fps: float = 60.0
    seconds: float = 8.0
    side: str = "r"
    sigma_px: float = 2.0
    seed: int = 0
    marked: tuple[str, ...] = EVERYTHING
    #: Marks are carried along as if the camera stood still and saw the whole way.
    unrolled: bool = False

    @property
    def camera(self):
        side_view = self.view.startswith("side")
        return camera_for(
            self.view, speed=self.swimmer.speed, mode=self.mode, side=self.side,
            at_s=self.seconds / 2 if self.mode == "still" else 0.0, distance_m=4.0 if side_view else None,
        )  # fmt: skip

    @property
    def times(self):
        return np.arange(round(self.seconds * self.fps)) / self.fps

    @property
    def plane_y(self):
        return arm_plane_y(self.swimmer, self.side, np.arange(1, 4)) if self.view.startswith("side") else 0.0

    def make(self):
        """Truth, marks, shot, plane."""
        truth = make_truth("a", self.swimmer, self.camera, self.times)
        marks = marks_from_truth(truth, sigma_px=self.sigma_px, seed=self.seed, marked=self.marked)
        middle = float(self.times[len(self.times) // 2])
        place = np.array([[[self.swimmer.speed * middle, self.plane_y, 0.0]]])
        water, depth = truth.camera.project(place, np.array([middle]))
        plane = Plane.given(
            {"left": -1}.get(truth.camera.direction, 1),
            m_per_px=float(depth[0, 0]) / truth.camera.focal_px,
            water_px=water[0, 0],
        )
        clip = SimpleNamespace(
            n_frames=len(truth.times), times=truth.times, size=(1280, 720), path=Path("a.mp4"), times_are_nominal=False
        )
        camera = self.mode
        if self.unrolled:
            gone = plane.sign * self.swimmer.speed / plane.m_per_px * truth.times
            marks = replace(marks, xy=marks.xy + gone[:, None, None] * np.array([1.0, 0.0]))
            camera = "still"
        shot = Shot("a", clip, self.view, truth.camera.direction, 0, len(truth.times), camera=camera)
        return truth, marks, shot, plane

    def strokes(self, side=None):
        """Strokes of one arm as found."""
        return _strokes(self, side or self.side)

    def true_times(self, side=None):
        """Event -> times of all strokes, those between entry and exit as the arm's plane shows them. [s]"""
        return _true_times(self, side or self.side)

    def _solved(self, side):
        numbers = stroke_numbers(self.swimmer, -self.swimmer.period_s, self.seconds, side)
        seen = partial(self._on_plane, side) if self.view.startswith("side") else None
        return solve(self.swimmer, side, numbers, seen)[0]

    def _on_plane(self, side, times):
        eye = self.camera.pose(times)[0]
        return {name: onto_plane(xyz, eye, self.plane_y) for name, xyz in positions(self.swimmer, side, times).items()}


@lru_cache(maxsize=64)
def _strokes(film, side):
    _, marks, shot, plane = film.make()
    return strokes_of(shot, marks, plane, side)


@lru_cache(maxsize=64)
def _true_times(film, side):
    return film._solved(side)


def errors(film, event, side=None, edge_s=0.3):
    """Found minus true and the standard deviation, of every true moment away from the ends; NaN where none is found."""
    found = [m for s in film.strokes(side) if isinstance(m := s.moment(event), Moment)]
    true = film.true_times(side)[event]
    out = []
    for t in true[(true > edge_s) & (true < film.seconds - edge_s)]:
        near = min(found, key=lambda m: abs(m.time_s - t), default=None)
        out.append((near.time_s - t, near.sigma_s) if near and abs(near.time_s - t) < 0.3 else (np.nan, np.nan))
    return np.array(out).reshape(-1, 2)


def moments_of(strokes):
    """Event -> its times in all strokes, NaN where missing."""
    return {name: np.array([s.time_s(name) for s in strokes]) for name in EVENTS}
