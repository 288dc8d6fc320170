"""Shots, lines and lengths for plane tests, without a clip."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np

from casebook.clip.shot import Shot
from casebook.marks.lines import LineMark
from casebook.marks.scales import LengthMark

SIZE = (1280, 720)
CENTRE = np.array([639.5, 359.5])


def shot(direction: str = "right", view: str = "side_under", camera: str = "following") -> Shot:
    """A shot of a clip that need not exist: a plane asks for its size alone."""
    clip = SimpleNamespace(n_frames=300, times=np.arange(300) / 60, size=SIZE)
    return Shot("pass", clip, view, direction, 0, 300, camera=camera)


def line(ends: object, kind: str = "water", frame: int = 0, sigma: float = 2.0) -> LineMark:
    """A line through two picture points (2, 2)."""
    x0, y0, x1, y1 = np.asarray(ends, float).ravel()
    return LineMark(frame, kind, x0, y0, x1, y1, sigma_px=sigma)


def lifted(ends: np.ndarray, px: float) -> np.ndarray:
    """The same two points farther down the picture."""
    return ends + np.array([0, px])


def length(
    px: float,
    m: float,
    *,
    at: tuple[float, float] = (300.0, 400.0),
    turn_deg: float = 0.0,
    frame: int = 0,
    sigma_m: float = 0.0,
    sigma_px: float = 2.0,
    what: str = "",
    ratio: float = 1.0,
    ratio_sigma: float = 0.0,
) -> LengthMark:
    """A known length that covers ``px`` pixels."""
    x1, y1 = at[0] + px * math.cos(math.radians(turn_deg)), at[1] + px * math.sin(math.radians(turn_deg))
    return LengthMark(frame, *at, x1, y1, m, sigma_m, sigma_px, what, ratio, ratio_sigma)


def turned(xy: object, deg: float) -> np.ndarray:
    """Picture points turned clockwise on the screen about the picture's centre."""
    c, s = math.cos(math.radians(deg)), math.sin(math.radians(deg))
    d = np.asarray(xy, float) - CENTRE
    return CENTRE + np.stack([d[..., 0] * c - d[..., 1] * s, d[..., 0] * s + d[..., 1] * c], -1)


def flipped(xy: object) -> np.ndarray:
    """Picture points as a mirrored file shows them."""
    xy = np.asarray(xy, float)
    return np.stack([SIZE[0] - 1 - xy[..., 0], xy[..., 1]], -1)
