"""Which frames are marked: counted once, then kept up to date by what changed."""

from __future__ import annotations

from bisect import bisect_left, insort
from collections.abc import Mapping, Sequence

import numpy as np


class Ticks:
    """Marked frames in order, each with its number of marks.

    Attributes
    ----------
    frames : list of int
        Frames with at least one mark, rising.
    total : int
        Marks on all of them.
    """

    def __init__(self, counts: Mapping[int, int]) -> None:
        self._counts = {frame: count for frame, count in counts.items() if count}
        self.frames = sorted(self._counts)
        self.total = sum(self._counts.values())

    def put(self, frame: int, count: int) -> None:
        """Say how many marks a frame has now."""
        before = self._counts.pop(frame, 0)
        self.total += count - before
        if count:
            self._counts[frame] = count
        if count and not before:
            insort(self.frames, frame)
        elif before and not count:
            del self.frames[bisect_left(self.frames, frame)]

    def of(self, frames: Sequence[int]) -> list[list[int]]:
        """[frame, number of marks] of some frames, 0 where there are none."""
        return [[frame, self._counts.get(frame, 0)] for frame in frames]

    def packed(self) -> bytes:
        """All of them as little-endian 32-bit integers, frame and count in turn."""
        return np.array(self.of(self.frames), "<i4").reshape(-1, 2).tobytes()
