"""Is this a swimmer's body? Limb lengths, head before feet, the right way up, and how far joints can have moved.

All of it looks at places in the picture alone, so that it can be tested without a model. Landmarks count as the pose
model counts them: 33 of a body, each with x, y and how likely it is in sight.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

NOSE, EARS, SHOULDERS, HIPS, ANKLES = 0, (7, 8), (11, 12), (23, 24), (27, 28)
#: Joints that are compared from frame to frame: shoulders, elbows, wrists, hips, knees, ankles, left before right.
JOINTS = (11, 12, 13, 14, 15, 16, 23, 24, 25, 26, 27, 28)
#: Limbs by their two landmarks on the left, and their length as a share of stature (Drillis and Contini 1966, as
#: handbooks print it; from memory).
LIMBS = ((11, 13, 0.186), (13, 15, 0.146), (23, 25, 0.245), (25, 27, 0.246))
TRUNK, SHOULDER_TO_ANKLE = 0.818 - 0.530, 0.818 - 0.039
#: Between the shoulder joints, which lie inside the shoulder breadth of 0.259. Our own, by eye.
SHOULDER_TO_SHOULDER = 0.21

#: Cost of a body at which it is no longer believed; a plain body costs less than 0.3.
MOST_COST = 1.0
#: Weight of the model's own doubt. Of all that is known of a body it goes closest with its error.
DOUBT = 1.0
#: A hand moves at most about this much, a shoulder or hip about that much, against the camera. Statures per second: an
#: arm of 0.44 statures at a turn a second, half as much again for the recovery. common practice, no source
HAND_SPEED, TRUNK_SPEED = 4.0, 1.5
#: How far a landmark jumps about a joint at rest, in statures.
JITTER = 0.03


@dataclass(frozen=True, slots=True)
class Seen:
    """What is known of a shot before its swimmer is found.

    Attributes
    ----------
    sign : int
        +1 swims to the right, -1 to the left, 0 head-on.
    head_on : bool
        Seen from before or behind.
    prone_down : bool
        Seen from the side, where a swimmer on the front has the face below the ears.
    under : bool
        Filmed under water.
    """

    sign: int
    head_on: bool
    prone_down: bool
    under: bool


def stature(xy: NDArray[np.float64], seen: Seen) -> float:
    """Stature in the picture over bodies (..., 33, 2): a length that holds over a shot; NaN without a body. [px]

    Along the swim direction from shoulders to ankles; head-on, where the body is foreshortened, from the width of the
    shoulders, which roll makes smaller and never larger: its upper fifth.
    """
    if seen.head_on:
        width = np.linalg.norm(xy[..., 11, :] - xy[..., 12, :], axis=-1).ravel()
        width = width[np.isfinite(width)]
        return float(np.quantile(width, 0.8) / SHOULDER_TO_SHOULDER) if len(width) else np.nan
    long = np.linalg.norm(middle(xy, SHOULDERS) - middle(xy, ANKLES), axis=-1).ravel() / SHOULDER_TO_ANKLE
    long = long[np.isfinite(long)]
    return float(np.median(long)) if len(long) else np.nan


def middle(xy: NDArray[np.float64], pair: tuple[int, int]) -> NDArray[np.float64]:
    """Middle between two landmarks of (..., 33, 2)."""
    return (xy[..., pair[0], :] + xy[..., pair[1], :]) / 2


def oddness(
    xy: NDArray[np.float64], size: float, seen: Seen, above: NDArray[np.bool_] | None = None
) -> NDArray[np.float64]:
    """How unlike a swimmer bodies are; over ``MOST_COST`` they are not believed.

    Parameters
    ----------
    xy : (..., 33, 2) float array [px]
    size : float
        Stature in the picture. [px]
    seen : Seen
    above : (..., 33) bool array, optional
        Which landmarks lie above the water line.

    Returns
    -------
    (...) float array
        NaN where there is no body.
    """
    trunk = middle(xy, SHOULDERS) - middle(xy, HIPS)
    legs = middle(xy, HIPS) - middle(xy, ANKLES)
    cost = _limbs(xy, size, seen)
    if seen.head_on:
        cost = cost + _over(np.linalg.norm(trunk, axis=-1) / (TRUNK * size), 1.5)
    else:
        ahead = trunk[..., 0] * seen.sign / (TRUNK * size)
        cost = cost + 2 * _under(ahead, 0.75) + 2 * _over(ahead, 1.3)
        cost = cost + 2 * _under(legs[..., 0] * seen.sign / (0.491 * size), 0.75)
        slope = np.abs(trunk[..., 1]) / (TRUNK * size)
        cost = cost + _over(slope, 0.6)
    if seen.prone_down:
        face = (xy[..., NOSE, 1] - middle(xy, EARS)[..., 1]) / size
        cost = cost + np.clip(-(face + 0.01) * 10, 0, 0.5)
    if above is not None and seen.under and not seen.head_on:
        dry = np.stack([above[..., i] for i in (*SHOULDERS, *HIPS)], -1).mean(-1)
        cost = cost + np.where(dry >= 0.75, 2 * MOST_COST, 0.0)
    return np.where(np.isfinite(xy[..., 0, 0]), cost, np.nan)


def doubt(bodies: NDArray[np.float64]) -> NDArray[np.float64]:
    """What it costs bodies (..., 33, 3) that the model does not see their joints, (...): 0 to ``DOUBT``."""
    return DOUBT * (1.0 - bodies[..., JOINTS, 2].mean(-1))


def _limbs(xy: NDArray[np.float64], size: float, seen: Seen) -> NDArray[np.float64]:
    """No limb is longer in the picture than it is; from the side, legs are not much shorter either."""
    most = 1.8 if seen.head_on else 1.3
    cost = np.zeros(xy.shape[:-2])
    for a, b, share in LIMBS:
        for right in (0, 1):
            long = np.linalg.norm(xy[..., a + right, :] - xy[..., b + right, :], axis=-1) / (share * size)
            cost = cost + _over(long, most)
            if not seen.head_on and a == HIPS[0]:
                cost = cost + _under(long, 0.6)
    return cost


def step(
    before: NDArray[np.float64], after: NDArray[np.float64], seconds: NDArray[np.float64] | float, size: float
) -> NDArray[np.float64]:
    """How implausible the way from one body to another is, whichever of a pair is called left.

    Parameters
    ----------
    before, after : (..., 33, 2) float arrays [px]
        Broadcast against each other.
    seconds : float or array
        Between them. [s]
    size : float
        Stature in the picture. [px]

    Returns
    -------
    (...) float array
        About 0.1 for an even swim, 1 where joints jump as far as they can just about move.
    """
    where = [
        middle(b[..., [*SHOULDERS, *HIPS], :], (0, 1)) + middle(b[..., [*SHOULDERS, *HIPS], :], (2, 3))
        for b in (before, after)
    ]
    drift = (where[1] - where[0]) / 2
    reach = JITTER + HAND_SPEED * np.asarray(seconds)
    total = (np.linalg.norm(drift, axis=-1) / size / (JITTER + TRUNK_SPEED * np.asarray(seconds))) ** 2
    total = 2 * np.minimum(total, 4.0)
    for left in JOINTS[::2]:
        a, b = before[..., [left, left + 1], :] + drift[..., None, :], after[..., [left, left + 1], :]
        straight = _hop(a, b, size, reach)
        crossed = _hop(a, b[..., ::-1, :], size, reach)
        total = total + np.minimum(straight, crossed)
    return total / (2 + len(JOINTS) / 2)


def _hop(
    a: NDArray[np.float64], b: NDArray[np.float64], size: float, reach: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Mean over a pair of squared jumps against what is in reach, each at most 4."""
    far = np.linalg.norm(b - a, axis=-1) / size / reach[..., None]
    return np.minimum(far**2, 4.0).mean(-1)


def _over(value: NDArray[np.float64], most: float) -> NDArray[np.float64]:
    return np.clip(value / most - 1, 0, 1)


def _under(value: NDArray[np.float64], least: float) -> NDArray[np.float64]:
    return np.clip(1 - value / least, 0, 1)
