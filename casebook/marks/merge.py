"""Joining marks of several makers by rank."""

from __future__ import annotations

import numpy as np

from casebook.marks.marks import Marks
from casebook.marks.points import POINTS


def merge(a: Marks, b: Marks) -> Marks:
    """Every mark of ``a`` and ``b``; where both hold one, that of higher rank, and ``b``'s if they are equal.

    Returns
    -------
    Marks
        Over the frames of either and the points of either, points in the order of ``points.POINTS``.
    """
    points = [p for p in POINTS if p in a.points or p in b.points]
    out = Marks.empty(points, np.union1d(a.frames, b.frames))
    for part in (a, b):
        row = np.searchsorted(out.frames, part.frames)[:, None]
        column = np.array([points.index(p) for p in part.points], int)[None, :]
        wins = (part.origin > 0) & (part.origin >= out.origin[row, column])
        r, c = np.broadcast_to(row, wins.shape)[wins], np.broadcast_to(column, wins.shape)[wins]
        out.xy[r, c], out.sigma_px[r, c] = part.xy[wins], part.sigma_px[wins]
        out.origin[r, c], out.hidden[r, c] = part.origin[wins], part.hidden[wins]
    return out
