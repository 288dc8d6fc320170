"""The rope beside the lane: floating beads, drawn as shaded discs."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np

from casebook.demo.pool import ROPE_BLOCK_M
from casebook.demo.water import BLUE, surface_at, through

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from casebook.demo.camera import Camera

    Array: TypeAlias = NDArray[np.float64]

BEAD_M, RADIUS_M = 0.12, 0.050
RED, WHITE = np.array([0.80, 0.14, 0.12]), np.array([0.93, 0.94, 0.94])


def draw(picture: NDArray[Any], camera: Camera, time_s: float, across_m: float, murk: float, under: bool) -> None:
    """Draw the rope that lies along y = ``across_m`` [m] onto the picture (H, W, 3), the far beads first."""
    import cv2

    eye, _ = camera.pose(time_s)
    x = np.arange(np.floor((eye[0] - 9) / BEAD_M), np.ceil((eye[0] + 9) / BEAD_M)) * BEAD_M + BEAD_M / 2
    height, _, _ = surface_at(x, np.full_like(x, across_m), time_s)
    place = np.stack([x, np.full_like(x, across_m), 0.7 * height], 1)
    xy, depth = camera.project(place, time_s)
    for i in np.argsort(-depth, kind="stable"):
        radius = RADIUS_M * camera.focal_px / max(depth[i], 0.1)
        if depth[i] < 0.4 or not (-radius < xy[i, 0] < camera.size[0] + radius):
            continue
        colour = RED if int(np.floor(x[i] / ROPE_BLOCK_M)) % 2 else WHITE
        if under:
            colour = through(0.75 * colour, np.array(np.linalg.norm(place[i] - eye)), murk, BLUE)
        _bead(cv2, picture, xy[i], radius, colour)


def _bead(cv2: Any, picture: NDArray[Any], xy: Array, radius: float, colour: Array) -> None:
    x, y, r = (round(16 * float(v)) for v in (*xy, radius))  # Sixteenths of a pixel, as shift=4 below says.
    for lift, wide, high, light in ((0.0, 0.50, 1.0, 0.72), (0.30, 0.40, 0.55, 1.05)):
        centre, axes = (x, y - round(lift * r)), (round(wide * r), round(high * r))
        tone = np.minimum(light * colour, 1.0).tolist()
        cv2.ellipse(picture, centre, axes, 0, 0, 360, tone, -1, cv2.LINE_AA, 4)
