"""Blocks about the camera: how pixels become metres, what the camera fakes, where lens and window err."""

from __future__ import annotations

from typing import TYPE_CHECKING

from casebook.case.camera import check_camera
from casebook.checkpoints.clip_quality import quality_of
from casebook.pages.block import Block
from casebook.plane.propagate import Z95

if TYPE_CHECKING:
    from casebook.case.desk import Desk


def scale(desk: Desk) -> Block:
    """How long a pixel is and which way is level, each with its give or take, and how that is known."""
    plane = desk.plane
    items = [plane.how]
    if plane.has_scale:
        size = 1 / plane.m_per_px
        give = Z95 * plane.scale_sigma
        items.append(f"A metre is {size:.0f} pixels, give or take {100 * give:.0f} %.")
        items.append(f"So 10 cm are known to {max(1000 * 0.1 * give, 0.1):.1f} mm by the scale alone.")
    else:
        items.append("No length is known: angles and shares of the body are measured, centimetres are not.")
    items.append(f"Level is turned by {plane.tilt_deg:.1f} degrees, give or take {Z95 * plane.tilt_sigma_deg:.1f}.")
    items += plane.limits
    return Block("prose", "\n".join(items), {"title": "Scale and level", "paragraphs": [], "items": items})


def quality(desk: Desk) -> Block:
    """What the pictures themselves allow: pictures a second, blur at the hand, size of the body, tilt, the rim."""
    items = quality_of(desk.shot, desk.marks, desk.plane).text().splitlines()
    return Block("prose", "\n".join(items), {"title": "What the pictures allow", "paragraphs": [], "items": items})


def camera(desk: Desk) -> Block:
    """What the camera's place fakes: each as a sentence, what is refused before what is corrected."""
    found = check_camera(desk)
    items = found.text().splitlines()
    return Block("prose", "\n".join(items), {"title": "What the camera fakes", "paragraphs": [], "items": items})


def lens_and_window(desk: Desk) -> Block:
    """Where lens and window would make lengths wrong, as a picture; in words where neither is known."""
    optics = desk.optics
    if optics is None:
        words = (
            "Neither lens nor window is known, so the picture is taken as it is. Measure near the middle, or mark what "
            "is straight in the pool: a lane line, a tile joint, an edge of the wall, three places or more on each."
        )
        return Block("prose", words, {"title": "Lens and window", "paragraphs": [words], "items": []})
    from casebook.pages.optics_map import optics_map_png
    from casebook.plane.error_map import error_map

    found = error_map(optics, desk.shot.clip.size)
    picture = optics_map_png(found, desk.shot.clip.frame(desk.shot.start))
    data = {"title": "Lens and window", "paragraphs": [found.sentence], "items": list(optics.limits)}
    return Block("prose", "\n".join([found.sentence, *optics.limits]), data, picture)
