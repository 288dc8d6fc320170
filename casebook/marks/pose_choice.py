"""The choice among several bodies per frame: the likeliest way through the shot, with gaps where none is plausible."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from casebook.marks.pose_body import JOINTS, step

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

#: What a frame without a body costs. A body is taken where its oddness and its steps come to less.
MISSING = 1.1
#: How far back a way may lead over frames without a body. [frames]
REACH = 12
#: What it costs to start anew, not led by any body before. As dear as a few missing frames.
FRESH = 2.0
#: Weight of what the other bodies of the frame say.
AGREEMENT = 0.5


def choose(
    bodies: Sequence[NDArray[np.float64]], odd: Sequence[NDArray[np.float64]], times: NDArray[np.float64], size: float
) -> NDArray[np.int64]:
    """Which body to take on each frame.

    A dynamic programme over frames: each body costs its oddness, its distance to the middle of the frame's other
    bodies, and the step from the body before it on the way; each frame left out costs ``MISSING``.

    Parameters
    ----------
    bodies : F arrays (K, 33, 2) [px]
        K may differ between frames and be 0.
    odd : F arrays (K,)
        What each body costs by itself, as ``pose_body.oddness`` and ``doubt``; infinite where it is not believed.
    times : (F,) float array [s]
    size : float
        Stature in the picture. [px]

    Returns
    -------
    (F,) int array
        Index of the body; -1 where none is plausible.
    """
    n = len(bodies)
    best = [np.full(len(b), np.inf) for b in bodies]
    come: list[list[tuple[int, int]]] = [[(-1, -1)] * len(b) for b in bodies]
    for row in range(n):
        if not len(bodies[row]):
            continue
        own = odd[row] + AGREEMENT * apart(bodies[row], size)
        best[row] = own + MISSING * row + (FRESH if row else 0.0)
        for back in range(1, min(REACH, row) + 1):
            before = row - back
            if not len(bodies[before]):
                continue
            steps = step(bodies[before][:, None], bodies[row][None], abs(times[row] - times[before]), size)
            cost = best[before][:, None] + steps + MISSING * (back - 1) + own
            arrive = cost.min(0)
            for k in np.flatnonzero(arrive < best[row]).tolist():
                best[row][k] = arrive[k]
                come[row][k] = (before, int(cost[:, k].argmin()))
    return _trace(best, come, n)


def _trace(best: list[NDArray[np.float64]], come: list[list[tuple[int, int]]], n: int) -> NDArray[np.int64]:
    """From the cheapest end back to the start."""
    chosen = np.full(n, -1)
    ends = [(cost + MISSING * (n - 1 - row), row, k) for row in range(n) for k, cost in enumerate(best[row].tolist())]
    least = min(ends, default=(np.inf, -1, -1))
    row, k = (least[1], least[2]) if least[0] < MISSING * n else (-1, -1)
    while row >= 0:
        chosen[row] = k
        row, k = come[row][k]
    return chosen


def apart(bodies: NDArray[np.float64], size: float) -> NDArray[np.float64]:
    """How far each of K bodies lies from the middle of all, (K,); 0 where fewer than three can be compared.

    Mean over pairs of joints, whichever of a pair is called left; in tenths of a stature, at most 2.
    """
    if len(bodies) < 3:
        return np.zeros(len(bodies))
    total = np.zeros(len(bodies))
    for left in JOINTS[::2]:
        pair = bodies[:, [left, left + 1]]
        straight = np.linalg.norm(pair[:, None] - pair[None], axis=-1).mean(-1)
        crossed = np.linalg.norm(pair[:, None] - pair[None, :, ::-1], axis=-1).mean(-1)
        total += np.median(np.minimum(np.minimum(straight, crossed) / (0.1 * size), 2.0), axis=1)
    return total / (len(JOINTS) / 2)
