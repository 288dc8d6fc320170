"""A pool seen by an ideal side camera, and a shot of it."""

from __future__ import annotations

from collections.abc import Callable
from types import SimpleNamespace

import numpy as np

from casebook.clip.shot import Shot

SIZE = (1920, 1080)


def swim_shot(direction: str = "right", view: str = "side_under", camera: str = "following") -> Shot:
    """A shot of a clip that need not exist: a plane asks for its size alone."""
    clip = SimpleNamespace(n_frames=300, times=np.arange(300) / 60, size=SIZE)
    return Shot("pass", clip, view, direction, 0, 300, camera=camera)


def side_camera(distance_m: float, focal_px: float) -> Callable[..., np.ndarray]:
    """A camera square to the lane: pool (x, z) [m] at some distance to pixels."""

    def project(xz: list[list[float]], distance_m: float = distance_m) -> np.ndarray:
        p = np.asarray(xz, float) * focal_px / distance_m
        return np.stack([960 + p[:, 0], 300 - p[:, 1]], -1)

    return project
