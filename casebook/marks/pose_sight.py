"""Which landmarks are in sight: no point is drawn on a limb that cannot be seen."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np

from casebook.marks.pose_body import Seen

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from casebook.marks.lines import LineMark

#: Landmarks that the model itself holds for less likely in sight than this are left out. common practice, no source
LEAST_VISIBILITY = 0.4
#: Under water an arm is left out as a whole, from elbow to hand, where elbow and wrist are not held for at least this
#: likely: the model invents the arm that recovers above the surface. On rendered swimmers this keeps about five of six
#: arms in sight.
LEAST_ARM = 0.5
#: Over this long an arm must be held for likely, half of the time: invented arms come and go. [s]
ARM_SPAN_S = 0.08
ARMS = ((13, 15, (13, 15, 17, 19, 21)), (14, 16, (14, 16, 18, 20, 22)))


def in_sight(bodies: NDArray[np.float64], times: NDArray[np.float64], seen: Seen) -> NDArray[np.bool_]:
    """Which landmarks of bodies (F, 33, 3), taken at times (F,) [s], may be drawn, (F, 33)."""
    sight = np.nan_to_num(bodies[..., 2]) >= LEAST_VISIBILITY
    if not seen.under:
        return sight
    near = np.abs(times[:, None] - times) <= ARM_SPAN_S / 2 + 1e-9
    for elbow, wrist, arm in ARMS:
        sure = np.nan_to_num(bodies[:, [elbow, wrist], 2].min(1))
        lasting = np.array([np.median(sure[row]) for row in near])
        sight[:, arm] &= (np.minimum(sure, lasting) >= LEAST_ARM)[:, None]
    return sight


def water_above(
    lines: Sequence[LineMark], seen: Seen
) -> Callable[[NDArray[np.float64], int], NDArray[np.bool_] | None]:
    """Which places (..., 2) on a frame lie above the water, by the line drawn nearest in time; None: not known.

    Only from the side under water: head-on one line cannot serve hands and feet, and elsewhere what is above is seen.
    """

    def above(xy: NDArray[np.float64], frame: int) -> NDArray[np.bool_] | None:
        if not lines or not seen.under or seen.head_on:
            return None
        line = min(lines, key=lambda mark: abs(mark.frame - frame))
        x0, y0, x1, y1 = line.ends
        return xy[..., 1] < y0 + (xy[..., 0] - x0) * (y1 - y0) / (x1 - x0)

    return above
