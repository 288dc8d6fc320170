"""Ways of showing the swimmer to the pose model: cut out, turned and stretched, and the way back.

The model knows standing people in proportion. A swimmer lies, and is often small and foreshortened; shown head up,
large and in a figure's proportions, he is found far more often, and nearer to where he is.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from casebook.clip.pixels import HALF, centre_from_edge

if TYPE_CHECKING:
    from numpy.typing import NDArray

#: Left, top, right and bottom of a part of the picture. [px]
Box: TypeAlias = tuple[float, float, float, float]

#: Side of the square picture that the model is shown. The model itself works with 224 and 256. [px]
SIZE = 384
#: Landmarks in pairs of left and right, by the model's own numbers.
LEFT = (1, 2, 3, 7, 9, 11, 13, 15, 17, 19, 21, 23, 25, 27, 29, 31)
RIGHT = (4, 5, 6, 8, 10, 12, 14, 16, 18, 20, 22, 24, 26, 28, 30, 32)


@dataclass(frozen=True, slots=True)
class Look:
    """One way of showing the swimmer.

    Attributes
    ----------
    turn : float
        Clockwise turn in the shown picture, beyond head up (from the side, below, above) or as filmed (head-on). [deg]
    across, along : float
        Stretch to the side and from head to feet.
    margin : float
        Room around the swimmer, as a share of his greater extent.
    flip : bool
        Shown as in a mirror; left and right are put right on the way back.
    """

    turn: float = 0.0
    across: float = 1.0
    along: float = 1.0
    margin: float = 0.3
    flip: bool = False


#: The first is tried on every frame, the others where it failed. Found by trying about forty ways on rendered swimmers
#: of one stature: a body seen flat gains most from a stretch across; one swimming toward the camera from standing on
#: his head.
SIDE = (
    Look(across=1.5, margin=0.25),
    Look(across=1.3, margin=0.6),
    Look(across=2.0, margin=0.6),
    Look(turn=15.0, across=1.5),
    Look(turn=-15.0, across=1.5),
    Look(across=1.5, margin=0.25, flip=True),
    Look(across=1.6, margin=1.2),
)
ABOVE = (
    Look(across=2.0, margin=0.2),
    Look(across=2.5, margin=0.2),
    Look(across=1.6, margin=0.2),
    Look(across=2.0, margin=0.6),
    Look(across=2.0, margin=0.2, flip=True),
    Look(turn=12.0, across=2.0, margin=0.3),
    Look(turn=-12.0, across=2.0, margin=0.3),
)
HEAD_ON = (
    Look(turn=180.0, along=1.3, margin=0.2),
    Look(turn=180.0, across=0.75, margin=0.2),
    Look(turn=180.0, along=1.7, margin=0.8),
    Look(turn=210.0, margin=0.2),
    Look(turn=150.0, across=0.75, margin=0.2),
    Look(turn=180.0, along=1.3, margin=0.2, flip=True),
    Look(margin=0.2),
)
HEAD_ON_ABOVE = (
    Look(margin=0.6),
    Look(turn=180.0, margin=1.2),
    Look(turn=180.0, across=0.75, margin=0.6),
    Look(turn=180.0, along=1.3, margin=0.2),
    Look(margin=0.6, flip=True),
    Look(across=0.75, margin=0.6),
    Look(turn=90.0, margin=0.3),
)
FLAT = (Look(), Look(margin=0.8), Look(turn=15.0), Look(turn=-15.0), Look(across=1.3), Look(flip=True))


def looks_for(view: str) -> tuple[Look, ...]:
    """The ways worth trying for a view of ``words.VIEWS``, the best first."""
    if view in ("bottom", "top"):
        return FLAT
    if view.startswith(("front", "rear")):
        return HEAD_ON_ABOVE if view.endswith("above") else HEAD_ON
    return ABOVE if view == "side_above" else SIDE


def matrix(box: Box, look: Look, sign: int, size: int = SIZE) -> NDArray[np.float64]:
    """From places in the picture to places in the shown one; pixel centres at integers in both.

    Parameters
    ----------
    box : Box
        Around the swimmer. [px]
    sign : int
        As of the shot: +1 to the right, -1 to the left, 0 head-on.

    Returns
    -------
    (2, 3) float array
        Linear part and offset.
    """
    middle = np.array([box[0] + box[2], box[1] + box[3]]) / 2
    half = max(box[2] - box[0], box[3] - box[1], 1.0) / 2 * (1 + look.margin)
    angle = math.radians(look.turn - 90.0 * sign)
    turn = np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])
    linear = np.diag([-look.across if look.flip else look.across, look.along]) @ turn * size / (2 * half)
    return np.column_stack([linear, (size - 1) / 2 - linear @ middle])


def shown(picture: NDArray[np.uint8], way: NDArray[np.float64], size: int = SIZE) -> NDArray[np.uint8]:
    """The picture (H, W, 3) as the model is shown it, (size, size, 3); beyond its edge the edge goes on."""
    import cv2

    shrink = math.sqrt(abs(np.linalg.det(way[:, :2])))
    if shrink < 0.5:
        # By areas first, so that fine texture does not flicker in the shown picture.
        full = np.array([picture.shape[1], picture.shape[0]])
        small = np.maximum(np.rint(full * shrink), 1).astype(int)
        picture = np.asarray(cv2.resize(picture, small.tolist(), interpolation=cv2.INTER_AREA), np.uint8)
        factor = small / full
        way = np.column_stack([way[:, :2] / factor, way[:, 2] + way[:, :2] @ (HALF / factor - HALF)])
    warped = cv2.warpAffine(picture, way, (size, size), flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(warped, np.uint8)


def places(landmarks: NDArray[np.float64], way: NDArray[np.float64], size: int = SIZE) -> NDArray[np.float64]:
    """Landmarks (33, 3) of the shown picture (shares from its edge, visibility) as places in the picture. (33, 3) [px]

    A way that mirrors exchanges left and right.
    """
    linear, offset = way[:, :2], way[:, 2]
    out = landmarks.copy()
    out[:, :2] = (centre_from_edge(landmarks[:, :2] * size) - offset) @ np.linalg.inv(linear).T
    if np.linalg.det(linear) < 0:
        out[LEFT + RIGHT, :] = out[RIGHT + LEFT, :]
    return out


def around(xy: NDArray[np.float64]) -> Box:
    """The box around places (..., 2). [px]"""
    flat = xy.reshape(-1, 2)
    low, high = np.nanmin(flat, 0), np.nanmax(flat, 0)
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])


def tiles(size: tuple[int, int]) -> list[Box]:
    """Parts of a picture (width, height) to look for a swimmer in: all of it, then squares that overlap by half."""
    width, height = size
    found: list[Box] = [(0.0, 0.0, float(width), float(height))]
    for side in (min(size), min(size) / 2):
        columns, rows = (max(1, math.ceil(2 * n / side) - 1) for n in size)
        for y in np.linspace(0, height - side, rows):
            found += [
                (float(x), float(y), float(x + side), float(y + side)) for x in np.linspace(0, width - side, columns)
            ]
    return found
