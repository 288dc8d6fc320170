"""Which lens and which window a shot was filmed through, and what must not be put together."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from casebook.errors import CasebookError
from casebook.plane.lens import Lens
from casebook.plane.optics import Optics
from casebook.plane.port import FlatPort

if TYPE_CHECKING:
    from casebook.clip.shot import Shot

#: A lens and a window that look different focal lengths in air by more than this share were not of one camera.
#: own judgement, no source
APART = 0.15


def optics_of(shot: Shot, lens: Lens | None = None, port: FlatPort | None = None) -> Optics | None:
    """What to undo for this shot.

    Parameters
    ----------
    shot : Shot
        Its view says whether the camera looks through water.
    lens : Lens, optional
        From a calibration in air, or from straight edges of the clip itself (then its medium is that of the clip).
    port : FlatPort, optional
        The flat window of a camera under water.

    Returns
    -------
    Optics or None
        None where neither is given: the picture is taken as it is.

    Raises
    ------
    CasebookError
        A lens calibrated in air is to serve under water and no window is given, or a window is given for a picture
        taken in air, or for a lens whose calibration holds it already.
    """
    under = shot.view.endswith("under") or shot.view == "bottom"
    if shot.view == "side_split" and (lens is not None or port is not None):
        raise CasebookError(
            f'Shot "{shot.id}" is filmed half in air and half in water: no one correction serves both halves.',
            "Measure each half by a known length of its own, near the middle of the picture.",
        )
    if port is not None and not under:
        raise CasebookError(
            f'Shot "{shot.id}" is filmed from the air: there is no window before water to correct.',
            "Leave the window out. Nothing that lies under water can be measured through the surface.",
        )
    if lens is not None and under:
        _check_under(shot, lens, port)
    if lens is not None and not under and lens.medium == "water":
        raise CasebookError(
            f'The lens was calibrated under water, but shot "{shot.id}" is filmed in air.',
            "Mark straight edges in this clip, and find the lens from them.",
        )
    parts = tuple(part for part in (lens, port) if part is not None)
    return Optics(parts, _limits(lens, port)) if parts else None


def _check_under(shot: Shot, lens: Lens, port: FlatPort | None) -> None:
    if lens.medium == "water" and port is not None:
        raise CasebookError(
            "A lens found from edges filmed under water holds the window already; the window would be taken out twice.",
            "Leave the window out.",
        )
    if lens.medium == "air" and port is None:
        half = math.degrees(math.atan(float(np.hypot(*lens.centre_px)) / lens.focal_px))
        bare = FlatPort(lens.focal_px, lens.centre_px, 3.0)
        raise CasebookError(
            f'The lens was calibrated in air, but shot "{shot.id}" is filmed under water: behind a flat window water '
            f"enlarges the corners ({half:.0f} degrees off the axis) by another {bare.corner_pct():.0f} %.",
            "Say that the window is flat and how far off the swimmer is, so that water is corrected too; or mark "
            "straight edges in this clip, and find the lens from them.",
        )
    if port is not None and abs(math.log(port.focal_px / lens.focal_px)) > APART:
        raise CasebookError(
            f"The window's camera has a focal length of {port.focal_px:.0f} px, the lens {lens.focal_px:.0f} px.",
            "Both are of one camera in air: give the same.",
        )


def _limits(lens: Lens | None, port: FlatPort | None) -> tuple[str, ...]:
    out = []
    if port is not None:
        out.append("The window is taken to be flat and square to the lens; a dome port needs no such correction.")
    if lens is not None and lens.medium == "air" and port is not None:
        out.append("The lens was calibrated in air; water behind the flat window is corrected on top of it.")
    if lens is not None and lens.medium == "water":
        out.append("Lens and window are corrected together, as the straight edges of this clip show them.")
    return tuple(out)
