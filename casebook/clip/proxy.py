"""Reels of a clip, made beside the kernel's work where they are wanted and held in memory.

Nothing of it goes to disk: pictures of swimmers lie in the case and nowhere else, and a case that is deleted is gone.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from casebook.clip.cache import LatestCache
from casebook.clip.decoder import Decoder
from casebook.clip.packets import Packets
from casebook.clip.picture import Shape
from casebook.clip.reel import FRAMES, Reader, Reel, encode_reel, reel_size

if TYPE_CHECKING:
    from casebook.clip.reel import Retouch

_HELD_BYTES = 96 * 2**20
Listener = Callable[[Reel], None]


class Proxy:
    """Small copies of a clip in reels of ``FRAMES`` frames, never of more than is asked for.

    One thread makes them, and ends when there is nothing to make. It reads the file through a decoder of its own, so
    that asking for a frame of the clip never waits for it. ``retouch`` changes each picture before it is made small.
    """

    def __init__(self, path: Path, packets: Packets, shape: Shape, retouch: Retouch | None = None) -> None:
        self.size = reel_size(shape.shown)
        self.n_frames = len(packets.shown)
        self._shape = shape
        self._retouch = retouch
        self._reader = Reader(Decoder(path, packets), packets)
        self._held: LatestCache[Reel] = LatestCache(_HELD_BYTES)
        self._wants: dict[Listener, list[int]] = {}  # the last to ask comes last, and is served first
        self._lock = threading.Lock()
        self._thread: threading.Thread | None = None

    @property
    def n_reels(self) -> int:
        return -(-self.n_frames // FRAMES)

    def want(self, listener: Listener, numbers: Sequence[int]) -> None:
        """Ask for reels, the most wanted first. This replaces what the same listener asked for before.

        Reels that are there are handed over at once; the others one by one from another thread. A reel of which nothing
        could be made has no frames.
        """
        numbers = [n for n in dict.fromkeys(numbers) if 0 <= n < self.n_reels]
        with self._lock:
            there = [reel for n in numbers if (reel := self._held.get(n)) is not None]
            missing = [n for n in numbers if n not in self._held]
            self._wants.pop(listener, None)
            if missing:
                self._wants[listener] = missing
                self._start()
        for reel in there:
            listener(reel)

    def close(self) -> None:
        """Forget what was wanted and held, and let go of the file."""
        with self._lock:
            self._wants.clear()
            thread = self._thread
        if thread is not None and thread is not threading.current_thread():
            thread.join()
        with self._lock:
            self._held.clear()
            self._reader.close()

    def _start(self) -> None:
        if self._thread is None:
            self._thread = threading.Thread(target=self._work, name="casebook reels")
            self._thread.start()

    def _work(self) -> None:
        while (number := self._next()) is not None:
            reel = self._made(number)
            if reel is None:
                continue
            with self._lock:
                self._held.put(number, reel, len(reel.data))
                told = [listener for listener, wanted in self._wants.items() if number in wanted]
                for listener in told:
                    self._wants[listener].remove(number)
            for listener in told:
                listener(reel)

    def _next(self) -> int | None:
        """The reel to make next; None ends the thread."""
        with self._lock:
            wanted = next((numbers for numbers in reversed(self._wants.values()) if numbers), None)
            if wanted is None or not threading.main_thread().is_alive():
                self._wants.clear()
                self._thread = None
                return None
            return wanted[0]

    def _is_wanted(self, number: int) -> bool:
        with self._lock:
            return threading.main_thread().is_alive() and any(number in wanted for wanted in self._wants.values())

    def _made(self, number: int) -> Reel | None:
        first, stop = number * FRAMES, min(self.n_frames, (number + 1) * FRAMES)
        try:
            pictures = self._reader.run(first, stop)
            return encode_reel(
                number, pictures, self._shape, is_wanted=lambda: self._is_wanted(number), retouch=self._retouch
            )
        except Exception:
            # Whatever is wrong, each frame can still be asked for itself, and says then what it is.
            self._reader.close()
            return Reel(number, (), b"", (), (), "", self.size)
