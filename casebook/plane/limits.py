"""What a picture plane cannot see or takes for granted: said in words, so that no number looks better than it is."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from casebook.clip.shot import Shot

#: How far off square a camera may look before lengths and angles along the lane are shortened by more than 4 %. [deg]
#: computed: 1 - cos(15 deg) = 3.4 %
SQUARE_ON_DEG = 15.0
#: Distance of the example in the sentence about the square-on window. [m] common practice, no source
EXAMPLE_DISTANCE_M = 3.0

_BY_VIEW: dict[str, str] = {
    "side_under": "Lengths and angles are as seen from the side: what points toward the camera or away looks shorter.",
    "side_above": "The camera looks down on the water: a near hand is drawn lower and a far one higher than it is. "
    "Nothing is measured through the surface, which bends what lies under it.",
    "side_split": "Water enlarges by about a third: what lies under the marked water line is drawn back to size, and "
    "what lies at the line itself is unsure.",
    "front_under": "Seen head-on: what is nearer is drawn larger; compare left and right at one distance only.",
    "front_above": "Seen head-on: what is nearer is drawn larger; compare left and right at one distance only.",
    "rear_under": "Seen from behind: what is nearer is drawn larger; compare left and right at one distance only.",
    "rear_above": "Seen from behind: what is nearer is drawn larger; compare left and right at one distance only.",
    "bottom": "Seen from below: heights and depths cannot be seen; the second coordinate runs up the picture.",
    "top": "Seen from above: heights and depths cannot be seen; the second coordinate runs up the picture.",
}


def square_on_m(distance_m: float, within_deg: float = SQUARE_ON_DEG) -> float:
    """How far a swimmer travels past a still camera that looks square-on to within some degrees. [m]

    >>> round(square_on_m(3.0), 1)
    1.6
    """
    return 2 * distance_m * math.tan(math.radians(within_deg))


def limits_of(shot: Shot, has_level: bool, has_water: bool, has_scale: bool, has_path: bool = False) -> tuple[str, ...]:
    """Sentences for this view, camera and what was marked."""
    out = [_BY_VIEW[shot.view]]
    side = shot.view.startswith("side")
    if side and not shot.sign:
        out.append("The swimmer does not cross this picture: what is ahead and what behind cannot be told apart.")
    if shot.camera == "still" and side:
        out.append(
            f"The camera stands still: it is square to the swimmer only near the middle of the picture (at "
            f"{EXAMPLE_DISTANCE_M:g} m for about {square_on_m(EXAMPLE_DISTANCE_M):.1f} m of swimming). Measure there."
        )
    if shot.camera == "panning" and has_path:
        out.append(
            "The camera turns: all is taken into the picture of one frame, which must look square at the lane. What "
            "points toward the camera or away still looks shorter, the more so the farther the camera has turned."
        )
    elif shot.camera == "panning":
        out.append("The camera turns: it is square to the swimmer only straight in front. Measure there.")
    if not has_level:
        out.append("No water line, plumb line or lane line is marked: the picture's own upright is taken for upright.")
    if not has_water and shot.view not in ("bottom", "top"):
        out.append("No water line is marked: depths and heights above the water cannot be given.")
    if not has_scale:
        out.append("No known length is marked: angles and shares of the arm's length serve, metres cannot be given.")
    else:
        out.append(
            "The known length is taken to run along the picture; one that points 20 degrees toward or away from the "
            f"camera makes everything {100 * (1 / math.cos(math.radians(20)) - 1):.0f} % too long."
        )
    return tuple(out)
