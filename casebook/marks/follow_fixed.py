"""Places fixed to the pool, followed through the pictures between the coach's own marks of them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from casebook.marks.fixed import FixedMark
from casebook.marks.marks import Marks, Origin
from casebook.marks.points import POINTS
from casebook.marks.track import track

if TYPE_CHECKING:
    from casebook.clip.shot import Shot


def follow_fixed(shot: Shot, fixed: Sequence[FixedMark]) -> list[FixedMark]:
    """Follow each place between the frames on which the coach marked it.

    Mark a place where it comes into the picture and where it leaves, and wherever something passes before it; what the
    tracker loses stays unmarked.

    Parameters
    ----------
    shot : Shot
    fixed : sequence of FixedMark
        Those by hand or confirmed are followed from; others are not looked at.

    Returns
    -------
    list of FixedMark
        Origin ``tracked``, on frames without a mark of the coach; to be kept beside his.

    Raises
    ------
    CasebookError
        OpenCV does not load.
    """
    own = [m for m in fixed if m.origin >= Origin.confirmed and shot.start <= m.frame < shot.stop]
    names = sorted({m.name for m in own})
    found = []
    for at in range(0, len(names), len(POINTS)):
        found += _followed(shot, own, names[at : at + len(POINTS)])
    return found


def _followed(shot: Shot, own: Sequence[FixedMark], names: Sequence[str]) -> list[FixedMark]:
    """At most as many names as there are points: the tracker knows columns, whatever they are called."""
    columns = dict(zip(names, range(len(names)), strict=True))
    mine = [m for m in own if m.name in columns]
    frames = np.unique([m.frame for m in mine])
    marks = Marks.empty(POINTS[: len(names)], frames)
    for m in mine:
        cell = int(np.searchsorted(frames, m.frame)), columns[m.name]
        marks.xy[cell], marks.sigma_px[cell] = (m.x_px, m.y_px), m.sigma_px
        marks.origin[cell] = int(m.origin)
    seen = track(shot, marks)
    of_name = {m.name: m for m in mine}
    out = []
    for row, column in np.argwhere(np.isfinite(seen.sigma_px)).tolist():
        like = of_name[names[POINTS.index(seen.points[column])]]
        x, y = seen.xy[row, column].tolist()
        out.append(
            FixedMark(
                int(seen.frames[row]),
                like.name,
                x,
                y,
                float(seen.sigma_px[row, column]),
                Origin.tracked,
                "",
                like.distance_ratio,
                like.distance_sigma,
            )
        )
    return out
