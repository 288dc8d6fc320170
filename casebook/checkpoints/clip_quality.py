"""The measured facts of a shot's clip, from whatever is marked on it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from casebook.checkpoints.answers import near_side
from casebook.clip.quality import ClipQuality, clip_quality

if TYPE_CHECKING:
    from casebook.clip.shot import Shot
    from casebook.marks.marks import Marks
    from casebook.plane.plane import Plane

_ARM = ("shoulder", "elbow", "wrist", "fingertip")


def quality_of(shot: Shot, marks: Marks, plane: Plane, exposure_s: float | None = None) -> ClipQuality:
    """What this clip can serve for, before or after marking.

    Parameters
    ----------
    shot : Shot
    marks : Marks
        Of this shot; the nearer arm tells blur and size, all points tell whether the swimmer leaves the picture.
    plane : Plane
        Tells the tilt; not where level is the picture's own.
    exposure_s : float, optional
        Exposure of one picture, where the camera states it. [s]
    """
    inside = marks.frames[(marks.frames >= shot.start) & (marks.frames < shot.stop)]
    side = near_side(shot) or "r"
    every = marks.pick(marks.points, inside)
    hand = np.full((shot.stop - shot.start, 2), np.nan)
    arm_px = float("nan")
    names = [f"{name}_{side}" for name in _ARM]
    if len(inside) and set(names) <= set(marks.points):
        arm = marks.pick(names, inside).xy
        hand[inside - shot.start] = arm[:, -1]
        lengths = np.linalg.norm(np.diff(arm, axis=1), axis=-1).sum(-1)
        known = lengths[np.isfinite(lengths)]
        # Most frames show the arm foreshortened or bent: near its longest, not the longest, which is noise.
        arm_px = float(np.quantile(known, 0.9)) if len(known) else arm_px
    return clip_quality(
        shot.times[shot.start : shot.stop],
        shot.clip.size,
        hand_px=hand,
        marked_px=every.xy,
        frames=tuple(int(f) for f in inside),
        arm_px=arm_px,
        tilt_deg=plane.tilt_deg if plane.covariance[1, 1] < np.radians(2.0) ** 2 else float("nan"),
        exposure_s=exposure_s,
    )
