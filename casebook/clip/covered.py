"""A clip of which only covered pictures can be had."""

from __future__ import annotations

import hashlib
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

from casebook.clip.clip import Clip
from casebook.clip.cover import blank, covered, outlines_at
from casebook.clip.proxy import Proxy

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy as np
    from numpy.typing import NDArray

    from casebook.clip.cover import Cover


class CoveredClip(Clip):
    """A video file as a ``Clip`` whose every picture is covered: whatever is made of it cannot show what is hidden.

    Parameters
    ----------
    path : path
    covers : sequence of Cover
        Each counts for its own frames.
    name : str
        What the clip is called from here on, where the file's name must not be known; ``sha256`` is then that of name
        and covers, which leads nobody to the file.
    only_with : str
        Kind of cover without which nothing is shown: on frames where none of that kind applies, the whole picture is
        covered. Empty: such frames are shown as they are.

    Attributes
    ----------
    covers : tuple of Cover
    """

    covers: tuple[Cover, ...]

    def __init__(self, path: Path | str, covers: Sequence[Cover], name: str = "", only_with: str = "") -> None:
        super().__init__(path)
        self.covers = tuple(covers)
        self._only_with = only_with
        self._renamed = bool(name)
        self.name = name or self.name

    def __repr__(self) -> str:
        return f"CoveredClip({self.name!r}, {self.n_frames} frames, {len(self.covers)} covers)"

    def frame(self, i: int) -> NDArray[np.uint8]:
        """The covered picture of one number, (H, W, 3) uint8, read-only; errors as of ``Clip``."""
        return self._hide(i, super().frame(i))

    @cached_property
    def proxy(self) -> Proxy:
        """Small copies of stretches of the clip, covered as well."""
        return Proxy(self.path, self._packets, self._shape, self._hide)

    @cached_property
    def sha256(self) -> str:
        """SHA-256 of the file's bytes, hexadecimal; of name and covers if the clip was given a name."""
        if not self._renamed:
            with self.path.open("rb") as file:
                return hashlib.file_digest(file, "sha256").hexdigest()
        return hashlib.sha256(repr((self.name, self.covers)).encode()).hexdigest()

    @cached_property
    def withheld(self) -> frozenset[int]:
        """Frames of which nothing is shown; see ``only_with``."""
        told = [c for c in self.covers if c.kind == self._only_with]
        shown = {i for cover in told for i in range(cover.start, min(cover.stop, self.n_frames))}
        return frozenset(range(self.n_frames)) - shown if self._only_with else frozenset()

    def _hide(self, i: int, picture: NDArray[np.uint8]) -> NDArray[np.uint8]:
        if self._only_with and i in self.withheld:
            return blank(picture)
        return covered(picture, outlines_at(self.covers, i))


def open_clip(path: Path | str, covers: Sequence[Cover] = ()) -> Clip:
    """A clip, covered if there is anything to cover."""
    return CoveredClip(path, covers) if covers else Clip(path)
