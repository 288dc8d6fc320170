"""Scale from the swimmer's own height where nothing of known length is seen: a last resort, with a large error.

Shares of standing height are those of Drillis and Contini (1966), as Winter, Biomechanics and Motor Control of Human
Movement (4th ed. 2009, figure 4.1), prints them: from memory, not checked against the print. They are means of adults;
children, and long-armed swimmers, differ.
"""

from __future__ import annotations

import math

from casebook.errors import CasebookError
from casebook.marks.marks import HAND_SIGMA_PX
from casebook.marks.scales import LengthMark

#: Segment -> the two points that end it, and its share of standing height.
SEGMENTS: dict[str, tuple[str, str, float]] = {
    "upper arm": ("shoulder", "elbow", 0.186),
    "forearm": ("elbow", "wrist", 0.146),
    "hand": ("wrist", "fingertip", 0.108),
    "trunk": ("shoulder", "hip", 0.288),
    "thigh": ("hip", "knee", 0.245),
    "shank": ("knee", "ankle", 0.246),
}
#: How far one person's share lies from the mean. common practice, no source
SHARE_SIGMA = 0.05
#: How much shorter a segment may be drawn because it points a little toward the camera or away: 17 degrees.
#: common practice, no source
TURNED_SIGMA = 0.045
#: Begins the words of every such length.
BY_HEIGHT = "by body height"


def body_length(
    segment: str,
    height_m: float,
    frame: int,
    ends_px: tuple[float, float, float, float],
    *,
    height_sigma_m: float = 0.01,
    sigma_px: float = HAND_SIGMA_PX,
) -> LengthMark:
    """A known length from a segment of the swimmer's body.

    Parameters
    ----------
    segment : str
        Key of ``SEGMENTS``.
    height_m, height_sigma_m : float
        Standing height and its standard deviation. [m]
    frame : int
        One on which the segment lies along the picture.
    ends_px : (x0, y0, x1, y1) [px]

    Returns
    -------
    LengthMark
        With a standard deviation of about 7 %.

    Raises
    ------
    CasebookError
        An unknown segment, or a height that no person has.
    """
    if segment not in SEGMENTS:
        raise CasebookError(f'No share of body height is known for "{segment}".', f"Use one of: {', '.join(SEGMENTS)}.")
    if not 0.9 < height_m < 2.5:
        raise CasebookError(f"A swimmer is not {height_m} m tall.", "Give the standing height in metres.")
    length = SEGMENTS[segment][2] * height_m
    relative = math.hypot(SHARE_SIGMA, TURNED_SIGMA, height_sigma_m / height_m)
    return LengthMark(frame, *ends_px, length, relative * length, sigma_px, f"{BY_HEIGHT}: {segment}")
