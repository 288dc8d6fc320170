"""All that the camera of a shot fakes, from its view and from what the coach knows of where it stood."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from casebook.plane.lies import CROSS_OVER_M, REFUSED, CameraLie, look_down_deg, looks_down, nearer_larger, off_line
from casebook.plane.roll_tilt import HALF_SHOULDERS_M, roll_tilts

if TYPE_CHECKING:
    from casebook.clip.shot import Shot

#: A hand at full reach is about so far ahead of the body, seen head-on. [m] common practice, no source
HAND_AHEAD_M = 0.6


def lies_of(
    shot: Shot,
    *,
    height_m: float | None = None,
    distance_m: float | None = None,
    off_line_deg: float | None = None,
) -> tuple[CameraLie, ...]:
    """What this shot's camera fakes, worst first where one refuses.

    Parameters
    ----------
    shot : Shot
    height_m : float, optional
        Of the lens over the water, for a camera above it. [m]
    distance_m : float, optional
        Of the lens from the swimmer's line (side views), or from the body (head-on). [m]
    off_line_deg : float, optional
        How far a head-on camera looks off the line of swimming. [deg]

    Returns
    -------
    tuple of CameraLie
        What is not known and matters is refused, with what to state.
    """
    out = []
    if shot.view == "side_above":
        known = height_m is not None and distance_m is not None
        out.append(looks_down(look_down_deg(height_m, distance_m)) if known else _unknown_look_down())  # type: ignore[arg-type]
    if shot.view.startswith("side"):
        out.append(roll_tilts())
        if distance_m is not None:
            out.append(nearer_larger(distance_m, HALF_SHOULDERS_M))
    if shot.view.startswith(("front", "rear")):
        out.append(_unknown_line() if off_line_deg is None else off_line(off_line_deg, HAND_AHEAD_M))
        if distance_m is not None:
            out.append(nearer_larger(distance_m, HAND_AHEAD_M))
    return tuple(sorted(out, key=lambda lie: lie.outcome != REFUSED))


def _unknown_look_down() -> CameraLie:
    return CameraLie(
        "looks_down", math.nan, "m", REFUSED,
        "How far the camera looks down is not known, so heights over the water are by eye only. Give the lens's height "
        "over the water and its distance from the swimmer's line.",
    )  # fmt: skip


def _unknown_line() -> CameraLie:
    degrees = math.degrees(math.asin(CROSS_OVER_M / HAND_AHEAD_M))
    return CameraLie(
        "off_line", math.nan, "m", REFUSED,
        f"Whether the camera looks along the line of swimming is not known; {degrees:.0f} degrees off fake a cross-"
        f"over of {100 * CROSS_OVER_M:.0f} cm. Judge both hands against the swimmer's own line (nose, breastbone, "
        "between the hips); where both err to the same side, it is the camera.",
    )  # fmt: skip
