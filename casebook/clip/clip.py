"""A video file as exact pictures: the same picture for the same number, whatever the order of access."""

from __future__ import annotations

import hashlib
import io
import threading
from collections.abc import Iterator
from functools import cached_property
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from casebook.clip.cache import LatestCache
from casebook.clip.decoder import Decoder
from casebook.clip.facts import ClipFacts
from casebook.clip.first_look import first_look
from casebook.clip.picture import rgb
from casebook.clip.proxy import Proxy
from casebook.errors import ClipError

if TYPE_CHECKING:
    from numpy.typing import NDArray

_HELD_BYTES = 192 * 2**20
_A_STEP_BACK = 10  # Frames; more is a jump.
_FURTHER_BACK = 1  # Key pictures to go back before a picture is called damaged.


class Clip:
    """A video file, never changed.

    Parameters
    ----------
    path : path
        The file.

    Attributes
    ----------
    n_frames : int
        Pictures that are shown, counted from 0 in the order of showing.
    times : (N,) float array, read-only
        The file's own time of each picture from the first [s].
    size : (int, int)
        Width and height as shown: upright, with square pixels [px].
    rotation : int
        Clockwise degrees by which stored pictures are turned to be upright: 0, 90, 180, 270.
    times_are_nominal : bool
        The file holds no trustworthy times; they follow from the stated rate.
    facts : ClipFacts

    Raises
    ------
    ClipError
        The file cannot be opened as a video; the sentence says why and what to do.
    """

    n_frames: int
    times: NDArray[np.float64]
    size: tuple[int, int]
    rotation: int
    times_are_nominal: bool
    facts: ClipFacts

    def __init__(self, path: Path | str) -> None:
        self.path = Path(path)
        self.name = self.path.name
        look = first_look(self.path)
        self._packets, self._shape = look.packets, look.shape
        self.times, self.facts = look.times, look.facts
        self.n_frames = len(self.times)
        self.size, self.rotation = self._shape.shown, self._shape.turn
        self.times_are_nominal = self._packets.by_order
        self._damaged = set(look.damaged)
        self._decoder = Decoder(self.path, self._packets)
        # Finished pictures and not the decoder's own: one of those would keep the decoder's whole memory alive.
        self._held: LatestCache[NDArray[np.uint8]] = LatestCache(_HELD_BYTES)
        self._asked = -1
        self._unsound: set[int] = set()
        self._lock = threading.RLock()

    def __repr__(self) -> str:
        return f"Clip({self.name!r}, {self.n_frames} frames of {self.size[0]} x {self.size[1]})"

    def __enter__(self) -> Clip:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the file and of all pictures held. A picture asked for later opens it again."""
        with self._lock:
            self._decoder.close()
            self._held.clear()
        if "proxy" in self.__dict__:
            self.proxy.close()

    @cached_property
    def proxy(self) -> Proxy:
        """Small copies of stretches of the clip, for looking at without lag."""
        return Proxy(self.path, self._packets, self._shape)

    @cached_property
    def sha256(self) -> str:
        """SHA-256 of the file's bytes, hexadecimal."""
        with self.path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()

    @property
    def damaged(self) -> tuple[int, ...]:
        """Frames known to be damaged so far: from the packet list, from frames asked for, and from ``check``."""
        return tuple(sorted(self._damaged))

    @property
    def key_frames(self) -> NDArray[np.int64]:
        """Frames that can be had without decoding any other, rising: the quickest way to leaf through a long file."""
        starts = self._packets.number[self._packets.starts]
        return np.unique(starts[starts >= 0])

    def nearest(self, time_s: float) -> int:
        """Number of the frame whose time is nearest; the earlier of two as near."""
        after = int(np.clip(np.searchsorted(self.times, time_s), 1, max(1, self.n_frames - 1)))
        if self.n_frames == 1:
            return 0
        return after - 1 if time_s - self.times[after - 1] <= self.times[after] - time_s else after

    def frame(self, i: int) -> NDArray[np.uint8]:
        """The picture of one number.

        Returns
        -------
        (H, W, 3) uint8 array, read-only
            RGB, upright, square pixels.

        Raises
        ------
        IndexError
            No such number; negative numbers do not count from the end.
        ClipError
            The frame is damaged, or the file can no longer be read.
        """
        i = self._checked(i)
        with self._lock:
            image = self._sound(i)
            self._asked = i
            if image is None:
                raise self._damage_error(i)
            return image

    def frames(self, start: int = 0, stop: int | None = None, step: int = 1) -> Iterator[NDArray[np.uint8]]:
        """Pictures ``start``, ``start + step``, ... before ``stop``, one by one, as ``range`` counts."""
        for i in range(start, self.n_frames if stop is None else stop, step):
            yield self.frame(i)

    def jpeg(self, i: int, width: int | None = None, quality: int = 85) -> bytes:
        """The picture as JPEG, scaled down to ``width`` [px] if that is smaller; quality 1 to 95."""
        from PIL import Image

        image = Image.fromarray(self.frame(i))
        if width is not None and width < image.width:
            image = image.resize((width, max(1, round(image.height * width / image.width))), Image.Resampling.BOX)
        out = io.BytesIO()
        image.save(out, "JPEG", quality=quality)
        return out.getvalue()

    def check(self, progress: bool = True) -> tuple[int, ...]:
        """Decode the whole clip once and list its damaged frames, now also in ``damaged``.

        What the decoder does not notice cannot be listed; ``facts`` says where that is likely.
        """
        from tqdm import tqdm

        found: set[int] = set()
        decoder = Decoder(self.path, self._packets)
        try:
            decoder.start(0)
            with tqdm(total=self.n_frames, desc=f"Checking {self.name}", unit=" frames", disable=not progress) as bar:
                while not decoder.finished:
                    pictures = decoder.step()
                    found.update(p.number for p in pictures if not p.sound)
                    bar.update(len(pictures))
            found.update(decoder.ledger.uncertain)
        finally:
            decoder.close()
        with self._lock:
            self._damaged |= found
        return self.damaged

    def _checked(self, i: int) -> int:
        if not 0 <= i < self.n_frames:
            raise IndexError(f'"{self.name}" has frames 0 to {self.n_frames - 1}; there is no frame {i}.')
        return int(i)

    def _sound(self, i: int) -> NDArray[np.uint8] | None:
        """Frame i; None if it is damaged."""
        if i in self._damaged:
            return None
        image = self._held.get(i)
        if image is None:
            image = self._decode(i)
        if image is None:
            self._damaged.add(i)
        return image

    def _decode(self, i: int) -> NDArray[np.uint8] | None:
        """Decode up to frame i, keeping what comes out on the way; None if it does not come out sound."""
        place = int(self._packets.shown[i])
        begin = self._packets.start_for(place)
        running = (
            not self._decoder.finished and self._decoder.ledger.next_released <= i and begin <= self._decoder.place
        )
        if running:
            image = self._run_to(i)
            if image is not None:
                return image
        own_group = begin
        for back in range(_FURTHER_BACK + 1):
            begin = self._packets.start_for(place, back)
            if back and begin == own_group:
                break
            self._decoder.start(begin)
            image = self._run_to(i)
            if image is not None:
                return image
        # The whole group was decoded in vain: its other damaged frames need not be tried again.
        self._damaged.update(n for n in self._unsound if self._packets.shown[n] >= own_group)
        return None

    def _run_to(self, i: int) -> NDArray[np.uint8] | None:
        """Decode on until frame i comes out. On a way back, the ones before it are held for the next steps."""
        decoder, reached, wanted, unsound = self._decoder, False, None, set()
        width, height = self.size
        going_back = 0 < self._asked - i <= _A_STEP_BACK
        keep_from = i - self._held.limit // (3 * width * height) + 1 if going_back else i
        while not (reached or decoder.finished):
            for picture in decoder.step():
                if picture.sound and picture.number >= keep_from:
                    image = rgb(picture.frame, self._shape)
                    self._held.put(picture.number, image, image.nbytes)
                    wanted = image if picture.number == i else wanted
                if not picture.sound:
                    unsound.add(picture.number)
                reached = reached or picture.number >= i
        self._damaged.update(decoder.ledger.uncertain)
        self._unsound = unsound
        return wanted

    def _damage_error(self, i: int) -> ClipError:
        near = self._nearest_sound(i)
        remedy = f"The nearest sound frame is {near}." if near is not None else "Ask for the original file."
        problem = f'Frame {i} of "{self.name}" is damaged in the file.'
        return ClipError(problem, remedy, path=self.path, frame=i, nearest=near)

    def _nearest_sound(self, i: int) -> int | None:
        """The nearest frame known or found to be sound, with a few tries to both sides."""
        keys = [int(n) for n in self._packets.number[self._packets.starts] if n > i]
        earlier = (n for n in range(i - 1, -1, -1) if n not in self._damaged)
        later = (n for n in [*range(i + 1, min(i + 2, self.n_frames)), *keys] if n not in self._damaged)
        sound = []
        for candidates in (earlier, later):
            found = next((n for n in islice(candidates, 2) if self._sound(n) is not None), None)
            if found is not None:
                sound.append(found)
        return min(sound, key=lambda n: abs(n - i), default=None)
