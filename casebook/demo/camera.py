"""The demo camera: an exact pinhole that stands still, moves along or turns with the swimmer.

Picture: x right, y down, pixel centres at integers, so the axis of a picture of width W meets it at x = (W - 1) / 2.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from casebook.demo.surface import WATER_INDEX, crossing_point, port_stretch
from casebook.errors import CasebookError
from casebook.words import CAMERAS, VIEWS

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray


@dataclass(frozen=True, slots=True)
class Camera:
    """Where the camera is, where it looks, and how it draws.

    Attributes
    ----------
    view : str
        Key of ``words.VIEWS``.
    position, target : tuple of 3 float
        Of the lens and of the point that it looks at, at time ``at_s``. World. [m]
    focal_px : float
    size : (int, int)
        Width and height of the picture. [px]
    mode : str
        ``still``; ``following``: lens and target move along x with ``speed``; ``panning``: the target does.
    speed : float
        Of the swimmer, for the two moving modes. [m/s]
    at_s : float
        When lens and target are at the places given. [s]
    roll_deg, tilt_deg : float
        The camera turned clockwise about its axis (the picture's content turns the other way), and tilted up, after
        it was aimed at its target. [deg]
    refraction : str
        ``none``; ``surface``: points on the other side of the still surface are seen where their light comes from;
        ``port``: a lens at the water line, its lower half behind a flat window: points under water are drawn larger.
    """

    view: str
    position: tuple[float, float, float]
    target: tuple[float, float, float]
    focal_px: float
    size: tuple[int, int] = (1280, 720)
    mode: str = "still"
    speed: float = 0.0
    at_s: float = 0.0
    roll_deg: float = 0.0
    tilt_deg: float = 0.0
    refraction: str = "none"
    water_index: float = WATER_INDEX

    def __post_init__(self) -> None:
        for what, value, allowed in (
            ("view", self.view, tuple(VIEWS)),
            ("camera", self.mode, tuple(CAMERAS)),
            ("refraction", self.refraction, ("none", "surface", "port")),
        ):
            if value not in allowed:
                raise CasebookError(f'The demo camera knows no {what} "{value}".', f"Use one of: {', '.join(allowed)}.")

    @property
    def direction(self) -> str:
        """Where the swimmer goes in the picture: left, right, toward or away."""
        right, _, forward = self.pose(self.at_s)[1]
        if abs(forward[0]) > abs(right[0]):
            return "toward" if forward[0] < 0 else "away"
        return "right" if right[0] > 0 else "left"

    @property
    def centre_px(self) -> NDArray[np.float64]:
        """Where the optical axis meets the picture. (2,) [px]"""
        return np.array([(self.size[0] - 1) / 2.0, (self.size[1] - 1) / 2.0])

    def pose(self, times: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Lens and axes: position (..., 3) [m] and matrix (..., 3, 3) whose rows are right, down and forward."""
        t = np.asarray(times, float)
        moved = (self.speed * (t - self.at_s))[..., None] * np.array([1.0, 0.0, 0.0])
        eye = np.array(self.position) + (moved if self.mode == "following" else 0.0 * moved)
        look = np.array(self.target) + (moved if self.mode != "still" else 0.0 * moved)
        forward = look - eye
        forward = forward / np.linalg.norm(forward, axis=-1, keepdims=True)
        right = np.cross(forward, [0.0, 0.0, 1.0])
        right = right / np.linalg.norm(right, axis=-1, keepdims=True)
        down = np.cross(forward, right)
        up, turn = np.radians(self.tilt_deg), np.radians(self.roll_deg)
        forward, down = np.cos(up) * forward - np.sin(up) * down, np.cos(up) * down + np.sin(up) * forward
        right, down = np.cos(turn) * right + np.sin(turn) * down, np.cos(turn) * down - np.sin(turn) * right
        return eye, np.stack([right, down, forward], -2)

    def project(self, points: ArrayLike, times: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Pixels of world points and how far they lie before the lens.

        Parameters
        ----------
        points : (T, ..., 3) float array [m]
            World points at each instant; (..., 3) for a single time.
        times : (T,) float array or float [s]

        Returns
        -------
        xy : (T, ..., 2) float array [px]
            NaN for points behind the lens.
        depth : (T, ...) float array
            Along the optical axis, of the true point, not of where it appears. [m]
        """
        points = np.asarray(points, float)
        eye, axes = self.pose(times)
        between = (1,) * (points.ndim - eye.ndim)
        eye = eye.reshape(*eye.shape[:-1], *between, 3)
        axes = axes.reshape(*axes.shape[:-2], *between, 3, 3)
        seen = crossing_point(eye, points, self.water_index) if self.refraction == "surface" else points
        depth = np.einsum("...j,...j->...", axes[..., 2, :], points - eye)
        toward = np.einsum("...ij,...j->...i", axes, seen - eye)
        if self.refraction == "port":
            toward = np.where(points[..., 2:] < 0, port_stretch(toward, self.water_index), toward)
        with np.errstate(invalid="ignore", divide="ignore"):
            xy = self.focal_px * toward[..., :2] / toward[..., 2:] + self.centre_px
        return np.where(toward[..., 2:] > 0, xy, np.nan), depth

    def rays(self, xy_px: ArrayLike, time_s: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """The lens (3,) and unit directions (..., 3) in the world in which pixels look, before any refraction."""
        eye, axes = self.pose(time_s)
        xy = (np.asarray(xy_px, float) - self.centre_px) / self.focal_px
        toward = np.concatenate([xy, np.ones((*xy.shape[:-1], 1))], -1) @ axes
        return eye, toward / np.linalg.norm(toward, axis=-1, keepdims=True)
