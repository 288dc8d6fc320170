"""Shots of demo swimmers without pictures: marks from the truth, a plane that is known, and the joints in the pool."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace

import numpy as np

from casebook.clip.shot import Shot
from casebook.demo.cameras import camera_for
from casebook.demo.truth import make_truth
from casebook.demo.truth_marks import marks_from_truth
from casebook.plane.plane import Plane

SEEN = ("visible", "occluded")
EVERYTHING = ("visible", "occluded", "above_water", "out_of_frame")


def filmed(swimmer, view="side_under", *, seconds=6.0, fps=60.0, side="r", sigma=0.0, seed=0, marked=SEEN,
           distance_m=None, frames=None):  # fmt: skip
    """Shot, marks, plane and truth of a swimmer filmed by a camera that moves along, its scale and water line exact.

    The plane is that of the near shoulder in a side view, as it is on average.
    """
    camera = camera_for(view, speed=swimmer.speed, side=side, distance_m=distance_m)
    truth = make_truth("demo", swimmer, camera, np.arange(round(seconds * fps)) / fps)
    clip = SimpleNamespace(
        n_frames=len(truth.times), times=truth.times, size=camera.size, path=Path("demo.mp4"), times_are_nominal=False
    )
    shot = Shot("demo", clip, view, camera.direction, 0, len(truth.times), camera="following")
    marks = marks_from_truth(truth, frames=frames, sigma_px=sigma, seed=seed, marked=marked)
    if not view.startswith("side"):
        return shot, marks, Plane.given(1 if camera.direction == "toward" else -1), truth
    y = float(truth.world[:, truth.index(f"shoulder_{side}"), 1].mean())
    x = truth.world[0, :, 0].mean()
    ends, _ = camera.project(np.array([[[x - 1.0, y, 0.0], [x + 1.0, y, 0.0]]]), truth.times[:1])
    scale = 2.0 / float(np.linalg.norm(ends[0, 1] - ends[0, 0]))
    plane = Plane.given(shot.sign, m_per_px=scale, water_px=ends[0].mean(0))
    return shot, marks, plane, truth


def joint(truth, name):
    """Places of a joint in the pool. (N, 3) [m]"""
    return truth.world[:, truth.index(name)]


def down_through(z):
    """Fractional frames at which a height passes zero downward."""
    k = np.flatnonzero((z[:-1] > 0) & (z[1:] <= 0))
    return k + z[k] / (z[k] - z[k + 1])


def at_frames(values, frames):
    """(N, ...) values between frames."""
    values = np.asarray(values, float)
    low = np.clip(np.floor(frames).astype(int), 0, len(values) - 2)
    share = (np.asarray(frames) - low).reshape(-1, *[1] * (values.ndim - 1))
    return (1 - share) * values[low] + share * values[low + 1]
