"""Reels of a clip on their way to the browser, where they are made in one thread and sent from another."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from casebook.clip.clip import Clip
    from casebook.clip.reel import Reel

Send = Callable[[dict[str, Any], list[bytes]], None]


@dataclass(eq=False, slots=True)
class Film:
    """Sends reels of a clip as they are made; ``send(message, buffers)`` is called where wishes arrive."""

    clip: Clip
    send: Send
    _loop: asyncio.AbstractEventLoop | None = None

    def want(self, numbers: Sequence[int]) -> None:
        """Ask for reels, the most wanted first, instead of those asked for before."""
        try:
            self._loop = asyncio.get_running_loop()
        except RuntimeError:
            self._loop = None
        self.clip.proxy.want(self._made, numbers)

    def _made(self, reel: Reel) -> None:
        # The kernel's channels belong to the thread of its loop; reels are made in another one.
        if self._loop is None:
            self._send(reel)
        elif not self._loop.is_closed():
            self._loop.call_soon_threadsafe(self._send, reel)

    def _send(self, reel: Reel) -> None:
        about = {"number": reel.number, "frames": reel.frames, "ends": reel.ends, "keys": reel.keys}
        self.send({"kind": "film", **about, "codec": reel.codec}, [reel.data])
