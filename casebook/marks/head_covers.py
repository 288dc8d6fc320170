"""Covers over the swimmer's head, and over its image in the surface where the camera is under water."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from casebook.clip.cover import Cover, Key
from casebook.errors import CasebookError
from casebook.marks.faces import ROOM, ROOM_OF_MINOR, HeadRegions, head_regions, split_by_origin

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from casebook.clip.shot import Shot
    from casebook.marks.lines import LineMark
    from casebook.marks.marks import Marks
    from casebook.marks.progress import Tell

    Floats = NDArray[np.float64]

#: Names of the covers made here; made anew, they replace those of before.
HEAD, IMAGE = "head found", "image found"
#: Waves shift and stretch the image: its region is larger than the head's by this factor. own judgement
IMAGE_ROOM = 1.2
#: Frames before and after those in doubt that are drafted with them.
BESIDE = 6


@dataclass(frozen=True, slots=True, eq=False)
class HeadCovers:
    """Covers of the head over a shot, and what the coach should look at.

    ``bare``: frames on which nothing tells where the head is; they are left out of whatever is shown to others.
    ``weak``: frames whose region rests on shoulders, on the pose model, or on marks far away. ``told``: in a sentence.
    """

    covers: tuple[Cover, ...]
    bare: tuple[int, ...]
    weak: tuple[int, ...]
    told: str


def head_covers(
    shot: Shot,
    marks: Marks,
    water: Sequence[LineMark] = (),
    drafts: Marks | None = None,
    *,
    minor: bool = False,
) -> HeadCovers:
    """Covers of the whole head on every frame on which something tells where it is.

    Parameters
    ----------
    shot : Shot
    marks : Marks
    water : sequence of LineMark
        The shot's lines; from the side under water the image of the head is found by the water line among them. Where
        there is none, and head-on, everything straight above the head is covered.
    drafts : Marks, optional
        From the pose model; see ``drafts_for``.
    minor : bool
        A child's head is larger for its stature.
    """
    found = head_regions(shot, marks, drafts, room=ROOM_OF_MINOR if minor else ROOM)
    covers = _covers(HEAD, "head", found.frames, found.outline)
    if shot.view.endswith("under") or shot.view == "side_split":
        image = image_outlines(shot, found, [line for line in water if line.line == "water"])
        covers += _covers(IMAGE, "image", found.frames, image)
    bare = tuple(found.bare.tolist())
    weak = tuple(found.frames[found.weak].tolist())
    told = f"The head is covered on {len(found.frames) - len(bare)} of {len(found.frames)} frames."
    if bare:
        told += f" {len(bare)} frames tell nothing of it and are left out of whatever is shown to others."
    return HeadCovers(tuple(covers), bare, weak, told)


def image_outlines(shot: Shot, found: HeadRegions, water: Sequence[LineMark]) -> Floats:
    """Outlines (F, 12, 2) of the head's image in the surface. [px]"""
    out = np.full(found.outline.shape, np.nan)
    for row in np.flatnonzero(np.isfinite(found.outline[:, 0, 0])).tolist():
        outline = found.outline[row]
        line = min(water, key=lambda m: abs(m.frame - int(found.frames[row])), default=None)
        if line is not None and shot.view in ("side_under", "side_split"):
            image = mirrored_up(outline, np.reshape(line.ends, (2, 2)))
            out[row] = image.mean(0) + IMAGE_ROOM * (image - image.mean(0))
        else:
            out[row] = up_to_top(outline)
    return out


def mirrored_up(outline: Floats, water: Floats) -> Floats:
    """The image of an outline (K, 2) in the surface, seen level from under water: as far above as it lies below.

    ``water`` (2, 2): two places on the water line. [px]
    """
    along = (water[1] - water[0]) / np.linalg.norm(water[1] - water[0])
    normal = np.array([along[1], -along[0]])
    return np.asarray(outline - 2 * ((outline - water[0]) @ normal)[:, None] * normal)


def up_to_top(outline: Floats) -> Floats:
    """An outline (K, 2) drawn out to the top of the picture: its image in the surface is straight above. [px]"""
    middle = (outline[:, 1].min() + outline[:, 1].max()) / 2
    drawn = outline.copy()
    drawn[drawn[:, 1] <= middle, 1] = min(-1.0, float(outline[:, 1].min()))
    return drawn


def drafts_for(
    shot: Shot, marks: Marks, water: Sequence[LineMark] = (), tell: Tell | None = None
) -> tuple[Marks | None, str]:
    """Drafts by the pose model of those frames that marks of the head do not reach well, and why there are none.

    Without the model, and in views in which it is of no help, marks alone have to do.
    """
    from casebook.marks.draft import draft

    own, _ = split_by_origin(marks)
    weak = head_regions(shot, own).weak
    if not weak.any():
        return None, ""
    # A few frames more on both sides: the model is believed where its answers agree over time.
    wanted = np.unique(np.flatnonzero(weak)[:, None] + np.arange(-BESIDE, BESIDE + 1)).clip(0, len(weak) - 1)
    try:
        return draft(shot, shot.frames[wanted], tell=tell, water=water, hand=own), ""
    except CasebookError as error:
        return None, f"{error.problem} Heads are covered from marks alone."


def _covers(name: str, kind: str, frames: NDArray[np.int64], outline: Floats) -> list[Cover]:
    """One cover for each unbroken run of frames with an outline (F, K, 2)."""
    rows = np.flatnonzero(np.isfinite(outline[:, 0, 0]))
    runs = [run for run in np.split(rows, np.flatnonzero(np.diff(rows) > 1) + 1) if len(run)]
    covers = []
    for number, run in enumerate(runs, 1):
        keys = tuple(
            Key(int(frames[row]), tuple((round(float(x), 1), round(float(y), 1)) for x, y in outline[row]))
            for row in run.tolist()
        )
        called = name if len(runs) == 1 else f"{name} {number}"
        covers.append(Cover(called, kind, keys[0].frame, keys[-1].frame + 1, keys))
    return covers
