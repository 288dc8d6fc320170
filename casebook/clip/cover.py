"""Covering people: outlines over frames, and pictures in which nothing is left of what they hold.

A cover is one flat colour, the same in every picture. Blur can be undone as far as its kernel is known, and the coarse
cells of a mosaic that moves over a face can be put together again from many pictures; a flat colour holds nothing.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from casebook.errors import ClipError

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import NDArray

Corners = tuple[tuple[float, float], ...]

KINDS: dict[str, str] = {
    "head": "the swimmer's head",
    "image": "the head's mirror image in the surface",
    "bystander": "somebody else in the picture",
    "cap": "the cap",
    "suit": "the suit",
    "tattoo": "a tattoo or another mark on the skin",
}
#: The one colour of a cover. [0-255]
FILL = (84, 92, 98)
#: From a pixel's middle to its corner. [px]
HALF_DIAGONAL = 0.7072
#: Before its first and after its last key frame an outline grows by this share of its longer side a frame, up to this
#: share to each side: whoever is under it has moved on. own judgement, no source
GROWTH, MOST_GROWTH = 0.01, 0.5


@dataclass(frozen=True, slots=True)
class Key:
    """The outline of a cover on one frame: its corners, x right, y down, pixel centres at integers. [px]"""

    frame: int
    corners: Corners


@dataclass(frozen=True, slots=True)
class Cover:
    """A region to hide on the frames ``start`` to ``stop`` (exclusive).

    Between its key frames every corner moves evenly in a straight line; before the first and after the last the
    outline is held and grows.

    Parameters
    ----------
    name : str
        Tells the covers of one shot apart.
    kind : str
        Key of ``KINDS``.
    start, stop : int
        In the clip's own frame numbers.
    keys : tuple of Key
        Rising frames, each with the same number of corners, three or more.

    Raises
    ------
    ClipError
        Anything of this does not hold.
    """

    name: str
    kind: str
    start: int
    stop: int
    keys: tuple[Key, ...]

    def __post_init__(self) -> None:
        what = f'The cover "{self.name}"'
        if not self.name.isprintable() or not 0 < len(self.name) <= 80:
            raise ClipError(f"A cover cannot be called {self.name!r}.", "Name it in up to 80 characters of one line.")
        if self.kind not in KINDS:
            raise ClipError(f'{what} is of the kind "{self.kind}".', f"Use one of: {', '.join(KINDS)}.")
        if not 0 <= self.start < self.stop:
            raise ClipError(f"{what} runs from frame {self.start} to {self.stop}.", "The first comes before the last.")
        frames = [key.frame for key in self.keys]
        if not frames or any(b <= a for a, b in pairwise(frames)):
            raise ClipError(f"{what} has key frames {frames}.", "It needs one or more, each once, in rising order.")
        counts = {len(key.corners) for key in self.keys}
        if len(counts) > 1 or min(counts) < 3:
            raise ClipError(f"{what} has outlines of {sorted(counts)} corners.", "Give each the same, 3 or more.")
        if not np.isfinite([xy for key in self.keys for xy in key.corners]).all():
            raise ClipError(f"{what} has a corner that is not a place in the picture.", "Draw it again.")

    def at(self, frame: int) -> NDArray[np.float64] | None:
        """The outline on a frame, (K, 2) [px]; None where the cover does not apply."""
        if not self.start <= frame < self.stop:
            return None
        frames = np.array([key.frame for key in self.keys])
        after = int(np.searchsorted(frames, frame))
        if after < len(frames) and frames[after] == frame:
            return np.array(self.keys[after].corners, float)
        if after in (0, len(frames)):
            key = self.keys[min(after, len(frames) - 1)]
            return _grown(np.array(key.corners, float), abs(frame - key.frame))
        low, high = self.keys[after - 1], self.keys[after]
        share = (frame - low.frame) / (high.frame - low.frame)
        return (1 - share) * np.array(low.corners, float) + share * np.array(high.corners, float)


def box_corners(box: Sequence[float]) -> Corners:
    """Corners of a box (left, top, right, bottom) [px]; raises ClipError if it holds nothing."""
    x0, y0, x1, y1 = (float(v) for v in box)
    if not (x1 > x0 and y1 > y0):
        raise ClipError(f"The box {tuple(box)} holds nothing.", "Give it as left, top, right, bottom.")
    return ((x0, y0), (x1, y0), (x1, y1), (x0, y1))


def outlines_at(covers: Iterable[Cover], frame: int) -> list[NDArray[np.float64]]:
    """Outlines of all covers that apply on a frame, each (K, 2) [px]."""
    return [outline for cover in covers if (outline := cover.at(frame)) is not None]


def mask_of(outlines: Iterable[NDArray[np.float64]], size: tuple[int, int]) -> NDArray[np.bool_]:
    """Pixels of which any part lies in outlines (K, 2) [px], (H, W), in a picture of ``size`` (width, height)."""
    mask = np.zeros((size[1], size[0]), bool)
    for outline in outlines:
        low = np.clip(np.floor(outline.min(0)) - 1, 0, size).astype(int)
        high = np.clip(np.ceil(outline.max(0)) + 2, 0, size).astype(int)
        if (high > low).all():
            part = mask[low[1] : high[1], low[0] : high[0]]
            part |= _touched(outline, *low.tolist(), *high.tolist())
    return mask


def _touched(outline: NDArray[np.float64], left: int, top: int, right: int, bottom: int) -> NDArray[np.bool_]:
    """Pixels of a part of the picture whose middle lies inside, or nearer to an edge than a pixel's corner does."""
    x, y = np.arange(left, right)[None, :].astype(float), np.arange(top, bottom)[:, None].astype(float)
    inside = np.zeros((bottom - top, right - left), bool)
    near = np.zeros_like(inside)
    for (x0, y0), (x1, y1) in zip(outline.tolist(), np.roll(outline, -1, 0).tolist(), strict=True):
        dx, dy = x1 - x0, y1 - y0
        if dy:
            inside ^= ((y0 > y) != (y1 > y)) & (x < x0 + (y - y0) * dx / dy)
        along = np.clip(((x - x0) * dx + (y - y0) * dy) / max(dx * dx + dy * dy, 1e-12), 0, 1)
        near |= (x - x0 - along * dx) ** 2 + (y - y0 - along * dy) ** 2 <= HALF_DIAGONAL**2
    return inside | near


def covered(rgb: NDArray[np.uint8], outlines: Iterable[NDArray[np.float64]]) -> NDArray[np.uint8]:
    """A copy of a picture (H, W, 3) in which nothing of what lies in the outlines (K, 2) [px] is left; read-only."""
    outlines = list(outlines)
    if not outlines:
        return rgb
    out = np.array(rgb)
    out[mask_of(outlines, (rgb.shape[1], rgb.shape[0]))] = FILL
    out.flags.writeable = False
    return out


def blank(rgb: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """A picture of the same size of which everything is covered; read-only."""
    out = np.empty_like(rgb)
    out[:] = FILL
    out.flags.writeable = False
    return out


def _grown(corners: NDArray[np.float64], frames: int) -> NDArray[np.float64]:
    """Corners moved outwards from their middle, by ``GROWTH`` of the longer side for every frame."""
    low, high = corners.min(0), corners.max(0)
    middle, half = (low + high) / 2, np.maximum((high - low) / 2, 1e-9)
    further = min(GROWTH * frames, MOST_GROWTH) * float((high - low).max())
    return np.asarray(middle + (corners - middle) * (1 + further / half))
