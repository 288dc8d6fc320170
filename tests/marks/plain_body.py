"""A plain body of 33 landmarks, as the pose model would place them: built from proportions, moved by hand."""

from __future__ import annotations

import numpy as np

#: Landmark -> place along the body from the shoulders (positive is headward), and to its belly, in statures.
_ALONG = {
    **dict.fromkeys((0,), (0.10, 0.05)),
    **dict.fromkeys(range(1, 7), (0.11, 0.04)),
    **dict.fromkeys((7, 8), (0.10, 0.0)),
    **dict.fromkeys((9, 10), (0.08, 0.05)),
    **dict.fromkeys((11, 12), (0.0, 0.0)),
    **dict.fromkeys((23, 24), (-0.288, 0.0)),
    **dict.fromkeys((25, 26), (-0.533, 0.0)),
    **dict.fromkeys((27, 28), (-0.779, 0.0)),
    **dict.fromkeys((29, 30), (-0.80, -0.02)),
    **dict.fromkeys((31, 32), (-0.88, 0.03)),
}


def body(
    sign: int = 1,
    size: float = 400.0,
    at: tuple[float, float] = (480.0, 270.0),
    arms: tuple[float, float] = (0.0, np.pi),
) -> np.ndarray:
    """Landmarks (33, 2) of a swimmer on the front, seen from the side, straight arms at these angles [px].

    ``arms`` are those of left and right: 0 straight ahead, pi/2 down, pi along the body, 3/2 pi up. The right side lies
    2 % of stature lower in the picture.
    """
    out = np.zeros((33, 2))
    for index, (along, down) in _ALONG.items():
        out[index] = sign * along, down
    for first, angle in zip((11, 12), arms, strict=True):
        way = np.array([sign * np.cos(angle), np.sin(angle)])
        for step, far in ((2, 0.186), (4, 0.332), (6, 0.40), (8, 0.40), (10, 0.37)):
            out[first + step] = out[first] + far * way
    right = [i for i in range(33) if i in (4, 5, 6, 8, 10) or (i > 10 and i % 2 == 0)]
    out[right, 1] += 0.02
    return out * size + np.asarray(at)


def seen(xy: np.ndarray, visibility: float = 1.0) -> np.ndarray:
    """Landmarks (..., 33, 3) with one visibility for all."""
    return np.concatenate([xy, np.full((*xy.shape[:-1], 1), visibility)], -1)
