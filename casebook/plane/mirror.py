"""A limb and its mirror image at the surface: where the point midway between them serves as a mark of the water line.

Seen from under water the surface is a mirror. A limb at depth d has its image as high over the surface as it lies
under it, at the same distance. A camera that looks level draws heights at one distance to one scale, so the midpoint is
drawn exactly on the water above the limb. A camera that looks up or down does not.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from casebook.errors import CasebookError
from casebook.marks.lines import LineMark
from casebook.marks.marks import HAND_SIGMA_PX
from casebook.plane.refraction import critical_angle_deg, water_index

#: A midpoint that misses the water by more than this does not serve. [m] own judgement, no source
MOST_BIAS_M = 0.01


@dataclass(frozen=True, slots=True)
class MirrorMidpoint:
    """``bias_m``: how far the midpoint is drawn over the true water, in the limb's plane; ``serves`` as a mark; why."""

    bias_m: float
    serves: bool
    sentence: str


def mirror_midpoint(
    depth_m: float, camera_depth_m: float, distance_m: float, look_up_deg: float = 0.0
) -> MirrorMidpoint:
    """How far the midpoint between a limb and its mirror image misses the water line.

    Parameters
    ----------
    depth_m : float
        Of the limb under the surface. [m]
    camera_depth_m : float
        Of the lens; negative above the surface. [m]
    distance_m : float
        From lens to limb along the surface. [m]
    look_up_deg : float
        How far the camera looks up; negative down. [deg]

    Returns
    -------
    MirrorMidpoint
        Exact for still water and a limb straight ahead; waves add their own height.
    """
    if camera_depth_m <= 0:
        return MirrorMidpoint(
            math.nan, False,
            "From above the surface no mirror image of what lies under water is seen: mark the water itself.",
        )  # fmt: skip
    steep = math.degrees(math.atan2(distance_m, depth_m + camera_depth_m))
    critical = float(critical_angle_deg(water_index()))
    if steep < critical:
        return MirrorMidpoint(
            math.nan, False,
            f"The camera looks so steeply up ({steep:.0f} degrees from upright, less than {critical:.0f}) that it sees "
            "out of the water here; what mirrors is faint. Mark the water itself.",
        )  # fmt: skip
    bias = _bias(depth_m, camera_depth_m, distance_m, look_up_deg)
    if abs(bias) <= MOST_BIAS_M:
        how = f"misses the water by {abs(100 * bias):.1f} cm at most: it serves"
    else:
        how = (
            f"is drawn {abs(100 * bias):.0f} cm {'above' if bias > 0 else 'below'} the water, because the camera looks "
            f"{'up' if look_up_deg > 0 else 'down'} by {abs(look_up_deg):.0f} degrees: mark the water itself"
        )
    return MirrorMidpoint(
        bias, abs(bias) <= MOST_BIAS_M, f"The point midway between the limb and its mirror image {how}."
    )


def _bias(depth: float, camera: float, distance: float, up_deg: float) -> float:
    def drawn(height: float) -> float:
        return math.tan(math.atan2(height + camera, distance) - math.radians(up_deg))

    midway = (drawn(depth) + drawn(-depth)) / 2
    angle = math.atan(midway) + math.radians(up_deg)
    # The place in the limb's own plane that is drawn there.
    return distance * math.tan(angle) - camera


def water_from_mirrors(
    frame: int,
    limbs_px: Sequence[tuple[float, float]],
    images_px: Sequence[tuple[float, float]],
    view: str,
    *,
    sigma_px: float = HAND_SIGMA_PX,
    by: str = "",
) -> LineMark:
    """The water line through the midpoints of two limbs and their mirror images, at one distance from the camera.

    ``view`` is a key of ``words.VIEWS``; ``sigma_px`` of each mark. A midpoint is surer than its marks by root 2.

    Raises
    ------
    CasebookError
        Not seen level from the side under water, or not two limbs with an image each.
    """
    if view != "side_under":
        raise CasebookError(
            "Mirror images tell the water line only to a camera under water that looks level, from the side.",
            "Mark the water line itself.",
        )
    if len(limbs_px) != 2 or len(images_px) != 2:
        raise CasebookError(
            "A water line needs two limbs and the mirror image of each.", "Mark two, as far apart as can be."
        )
    ends = [((a[0] + b[0]) / 2, (a[1] + b[1]) / 2) for a, b in zip(limbs_px, images_px, strict=True)]
    return LineMark(frame, "water", *ends[0], *ends[1], sigma_px=sigma_px / math.sqrt(2), by=by)
