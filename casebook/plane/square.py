"""Where a camera that stands still looks square at the swimmer, from scale and place in the picture."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from casebook.errors import CasebookError
from casebook.plane.limits import SQUARE_ON_DEG

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from casebook.plane.plane import Plane

    Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class SquareWindow:
    """Frames on which the camera looks at the swimmer within some degrees of square.

    Attributes
    ----------
    frames : (K,) int array
        Those looked at.
    off_deg : (K,) float array
        How far off square, positive ahead of the camera along the swim. [deg]
    inside : (K,) bool array
    within_deg : float
    sentence : str
    """

    frames: NDArray[np.int64]
    off_deg: Array
    inside: NDArray[np.bool_]
    within_deg: float
    sentence: str

    @property
    def span(self) -> tuple[int, int] | None:
        """First and last frame inside, for a band along the frames; None where there is none."""
        rows = np.flatnonzero(self.inside)
        return (int(self.frames[rows[0]]), int(self.frames[rows[-1]])) if len(rows) else None


def square_window(
    plane: Plane,
    body_px: ArrayLike,
    frames: ArrayLike,
    size: tuple[int, int],
    *,
    distance_m: float | None = None,
    focal_px: float | None = None,
    within_deg: float = SQUARE_ON_DEG,
) -> SquareWindow:
    """Where a still camera, set up square to the lane, looks square enough at the swimmer.

    Parameters
    ----------
    plane : Plane
    body_px : (K, 2) float array
        A point of the trunk (hip or shoulder) on each frame; NaN where not marked. [px]
    frames : (K,) int array
    size : (width, height) of the picture [px]
    distance_m : float, optional
        Camera to the swimmer's line; with the plane's scale it tells the angle.
    focal_px : float, optional
        Focal length in the medium filmed in, if known: then no distance is needed. [px]
    within_deg : float

    Raises
    ------
    CasebookError
        Neither focal length nor both scale and distance are known.
    """
    if focal_px is None:
        if distance_m is None or not plane.has_scale:
            raise CasebookError(
                "How far off square the camera looks cannot be told.",
                "Give the camera's distance from the swimmer's line and mark a known length, or give the focal length.",
            )
        focal_px = distance_m / plane.m_per_px
    middle = plane.level((np.asarray(size, float) - 1) / 2)[0]
    off = np.degrees(np.arctan((plane.level(body_px)[..., 0] - middle) / focal_px))
    inside = np.abs(off) <= within_deg
    held = np.asarray(frames, np.int64)
    window = SquareWindow(held, off, inside, within_deg, "")
    return SquareWindow(held, off, inside, within_deg, _sentence(window, off))


def _sentence(window: SquareWindow, off: Array) -> str:
    shorter = 100 * (1 - math.cos(math.radians(window.within_deg)))
    if window.span is None:
        return (
            f"On no frame looked at is the camera within {window.within_deg:.0f} degrees of square to the swimmer: "
            f"what is measured along the lane is shortened by more than {shorter:.0f} %."
        )
    first, last = window.span
    worst = np.nanmax(np.abs(off))
    return (
        f"The camera looks within {window.within_deg:.0f} degrees of square at the swimmer from frame {first} to "
        f"{last}; measure there. At the rim of what is marked it is {worst:.0f} degrees off."
    )
