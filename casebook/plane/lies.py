"""What a camera's place fakes about a swimmer: each computed, said in a sentence, and corrected or refused.

Every function here is plain geometry of a pinhole; where a bound is chosen, it says so.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from casebook.errors import CasebookError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Array = NDArray[np.float64]

#: From this look-down angle on, heights over the water are by eye only. [deg] common practice, no source
MOST_LOOK_DOWN_DEG = 10.0
#: How far to the side of the elbow a recovering hand may be without the coach knowing. [m] common practice, no source
HAND_WIDE_M = 0.25
#: A cross-over that a coach looks for is about so large. [m] own judgement, no source
CROSS_OVER_M = 0.10
#: Sizes of the same thing on two limbs that differ by less than this are compared. own judgement, no source
LIKE_SIZES = 0.05

CORRECTED, REFUSED, SHOWN = "corrected", "refused", "shown"


@dataclass(frozen=True, slots=True)
class CameraLie:
    """One thing the camera's place fakes.

    Attributes
    ----------
    key : str
        ``looks_down``, ``off_line``, ``nearer_larger``, ``roll_tilts``.
    size : float
        Of the false effect, in ``unit``.
    unit : str
    outcome : str
        ``corrected`` (numbers take it into account), ``refused`` (no number is given) or ``shown`` (too small to
        matter).
    sentence : str
    """

    key: str
    size: float
    unit: str
    outcome: str
    sentence: str

    def refuse(self, what: str) -> None:
        """Raise CasebookError if this lie forbids measuring ``what``."""
        if self.outcome == REFUSED:
            raise CasebookError(f"{what} cannot be measured in this view. {self.sentence}")


def look_down_deg(height_m: float, distance_m: float) -> float:
    """How far down a camera looks, ``height_m`` over the water and ``distance_m`` from the swimmer's line. [deg]

    >>> round(look_down_deg(1.6, 4.0))
    22
    """
    if not (distance_m > 0 and height_m >= 0):
        raise CasebookError(
            f"A camera cannot stand {height_m} m over the water and {distance_m} m from the swimmer.",
            "Give the lens's height over the water and its level distance from the swimmer's line, in metres.",
        )
    return math.degrees(math.atan2(height_m, distance_m))


def look_down_by_rows_deg(row_px: float, horizon_row_px: float, middle_row_px: float, focal_px: float) -> float:
    """The same from the picture: the angle between the rays through the swimmer's water line and through the horizon.

    The horizon is the row where lines along and across the pool would meet in the distance; ``middle_row_px`` is that
    of the optical axis, ``focal_px`` is in air. [deg]
    """
    down = math.atan2(row_px - middle_row_px, focal_px) - math.atan2(horizon_row_px - middle_row_px, focal_px)
    return math.degrees(down)


def look_down_by_ropes_deg(near_row_px: float, far_row_px: float, m_per_px: float, lane_m: float = 2.5) -> float:
    """The same from the two ropes beside the swimmer: how far apart they are drawn, against how far apart they float.

    ``m_per_px`` is that of the swimmer between them; to first order in lane width over distance. [deg]

    Raises
    ------
    CasebookError
        They are drawn farther apart than they can be.
    """
    sine = (near_row_px - far_row_px) * m_per_px / lane_m
    if not 0 <= sine <= 1:
        raise CasebookError(
            "The two ropes are drawn farther apart than a lane is wide, or the near one above the far one.",
            "Check the scale, and which rope is nearer.",
        )
    return math.degrees(math.asin(sine))


def looks_down(angle_deg: float, hand_wide_m: float = HAND_WIDE_M) -> CameraLie:
    """What looking down does to the height of a recovering arm.

    A hand ``w`` to the side of the elbow is drawn ``w sin(angle)`` lower on the near side, and higher on the far side.
    """
    shift = hand_wide_m * math.sin(math.radians(abs(angle_deg)))
    outcome = REFUSED if abs(angle_deg) > MOST_LOOK_DOWN_DEG else CORRECTED
    ending = (
        "heights over the water are by eye only. Film from the height of the water."
        if outcome == REFUSED
        else "heights are stretched back and their give or take holds this."
    )
    sentence = (
        f"The camera looks down by {abs(angle_deg):.0f} degrees: a hand {100 * hand_wide_m:.0f} cm wide of the elbow "
        f"is drawn {100 * shift:.0f} cm too low on the near side and too high on the far side, {200 * shift:.0f} cm "
        f"between left and right of a swimmer who does both alike; {ending}"
    )
    return CameraLie("looks_down", shift, "m", outcome, sentence)


def height_from_deck(
    seen_m: ArrayLike, angle_deg: float, angle_sigma_deg: float = 2.0, hand_wide_m: float = HAND_WIDE_M
) -> tuple[Array, Array]:
    """Heights over the swimmer's plane as the picture shows them, put right for a camera that looks down a little.

    Parameters
    ----------
    seen_m : (...) float array
        Heights as drawn, in the swimmer's scale. [m]
    angle_deg, angle_sigma_deg : float
    hand_wide_m : float
        Standard deviation of how far out of the swimmer's plane the place is. [m]

    Returns
    -------
    height, sigma : (...) float arrays
        The sigma holds the angle's error and the unknown place to the side. [m]

    Raises
    ------
    CasebookError
        The camera looks down by more than ``MOST_LOOK_DOWN_DEG``.
    """
    looks_down(angle_deg, hand_wide_m).refuse("Height over the water")
    seen, a = np.asarray(seen_m, float), math.radians(angle_deg)
    height = seen / math.cos(a)
    by_angle = np.abs(height) * math.tan(abs(a)) * math.radians(angle_sigma_deg)
    # At a level camera an unknown place to the side matters only through the angle's own error.
    aside = hand_wide_m * math.hypot(math.tan(a), math.radians(angle_sigma_deg))
    return height, np.hypot(by_angle, aside)


def off_line(off_deg: float, ahead_m: float = 0.6) -> CameraLie:
    """What a head-on camera that looks ``off_deg`` off the line of swimming does to a hand ``ahead_m`` ahead."""
    shift = ahead_m * math.sin(math.radians(abs(off_deg)))
    outcome = REFUSED if shift > CROSS_OVER_M / 2 else SHOWN
    sentence = (
        f"The camera looks {abs(off_deg):.0f} degrees off the line of swimming: a hand {100 * ahead_m:.0f} cm ahead is "
        f"drawn {100 * shift:.0f} cm to one side"
    )
    sentence += (
        ", as much as the cross-over looked for. Judge both hands against the swimmer's own line (nose, breastbone, "
        "between the hips), at one distance; where both err to the same side, it is the camera."
        if outcome == REFUSED
        else "."
    )
    return CameraLie("off_line", shift, "m", outcome, sentence)


def camera_part(left_m: ArrayLike, right_m: ArrayLike) -> tuple[Array, Array, Array]:
    """Which part of both hands' sideways places is the camera's.

    Parameters
    ----------
    left_m, right_m : (K,) float arrays
        Where each hand enters to the swimmer's left of his own line (negative to its right). [m]

    Returns
    -------
    camera, left, right : (K,) float arrays
        What both do to the same side, half their sum, and what is left of each hand: the two mirror each other. A
        swimmer who truly crosses with one hand only cannot be told from a camera off the line by this alone. [m]
    """
    left, right = np.asarray(left_m, float), np.asarray(right_m, float)
    both = (left + right) / 2
    return both, left - both, right - both


def nearer_larger(distance_m: float, nearer_m: float) -> CameraLie:
    """How much larger a limb is drawn that is nearer to the camera than the body by ``nearer_m``."""
    if not 0 <= nearer_m < distance_m:
        raise CasebookError(
            f"A limb cannot be nearer by {nearer_m} m to a camera {distance_m} m away.",
            "Give the camera's distance from the body, and how far before it the limb is.",
        )
    larger = distance_m / (distance_m - nearer_m) - 1
    outcome = SHOWN if larger < LIKE_SIZES else REFUSED
    sentence = (
        f"At {distance_m:g} m a limb {100 * nearer_m:.0f} cm nearer than the body is drawn {100 * larger:.0f} % larger"
    )
    sentence += (
        ": never compare the near with the far limb by size; compare each at one distance, or film from both sides."
        if outcome == REFUSED
        else "."
    )
    return CameraLie("nearer_larger", larger, "", outcome, sentence)


def true_size(seen_m: ArrayLike, distance_m: float, nearer_m: ArrayLike, nearer_sigma_m: float) -> tuple[Array, Array]:
    """A length in the body's scale, put right for a limb that is nearer by a known amount, and its sigma. [m]"""
    seen, nearer = np.asarray(seen_m, float), np.asarray(nearer_m, float)
    return seen * (distance_m - nearer) / distance_m, np.abs(seen) * nearer_sigma_m / distance_m
