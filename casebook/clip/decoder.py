"""Decoding from any place of a file, one packet at a time."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from casebook.clip.ledger import Decoded, Ledger
from casebook.clip.nal import is_built_on
from casebook.clip.opening import open_video
from casebook.clip.packets import NO_TIME, Packets

_MOST_THREADS = 4  # Each holds pictures of its own.
_MOST_UNKNOWN = 200  # Packets read after a jump before giving up on where it landed.


def tag(packet: Any, place: int) -> None:
    """Let the packet carry its place as its time, which every decoder hands on to the picture made from it."""
    packet.pts = packet.dts = place


class Decoder:
    """A running decoder. ``start`` puts it at a place, ``step`` decodes one packet more."""

    def __init__(self, path: Path, packets: Packets) -> None:
        self._path = path
        self._packets = packets
        self._box: Any = None
        self._stream: Any = None
        self._context: Any = None
        self._reader: Iterator[Any] = iter(())
        self._read: tuple[int, Any] | None = None
        self._fed_to = -1
        self.ledger = Ledger(packets, 0)
        self.finished = True

    @property
    def place(self) -> int:
        """Place of the packet decoded last."""
        return self._fed_to

    @property
    def context(self) -> Any:
        return self._context

    def start(self, place: int) -> None:
        """Get ready to decode the packet at ``place`` next."""
        if self._box is None:
            self._open()
        if place == 0 or not self._jump(place):
            self._rewind()
        self._fed_to = place - 1
        self.ledger = Ledger(self._packets, place)
        self.finished = False

    def step(self) -> list[Decoded]:
        """Decode one packet; the pictures that it lets out, oldest first. ``finished`` is set after the last."""
        import av

        place, packet = self._next_packet()
        if packet is not None:
            tag(packet, place)
            self.ledger.sent(place, is_built_on(self._codec, memoryview(packet)) and not packet.is_disposable)
            self._fed_to = place
        try:
            for frame in self._context.decode(packet):
                if frame.pts is not None:
                    self.ledger.came(frame.pts, frame, bool(frame.is_corrupt))
        except (av.error.FFmpegError, OSError, ValueError):
            # What did not come out is noticed as a gap.
            pass
        if packet is None:
            self.ledger.ended()
            self.finished = True
        return self.ledger.released()

    def close(self) -> None:
        if self._box is not None:
            self._box.close()
        self._box = self._stream = self._context = self._read = None
        self._reader = iter(())
        self.finished = True

    def _open(self) -> None:
        self._box, self._stream = open_video(self._path)
        self._context = self._stream.codec_context
        self._codec = str(self._context.codec.canonical_name)
        # Not whole pictures in parallel: what is then noticed of damage depends on chance.
        self._context.thread_type = "SLICE"
        self._context.thread_count = min(_MOST_THREADS, os.cpu_count() or 1)

    def _rewind(self) -> None:
        self.close()
        self._open()
        self._reader = self._box.demux(self._stream)
        self._read = None
        self._at = -1

    def _jump(self, place: int) -> bool:
        """Seek to ``place`` or shortly before it; False if the file cannot be searched."""
        import av

        packets = self._packets
        for back in range(3):
            goal = packets.start_for(place, back)
            time = packets.dts[goal] if packets.dts[goal] != NO_TIME else packets.pts[goal]
            if goal == 0 or time == NO_TIME:
                return False
            try:
                self._box.seek(int(time), stream=self._stream, backward=True)
            except (av.error.FFmpegError, OSError):
                return False
            self._reader = self._box.demux(self._stream)
            self._at = -1
            self._read = self._recognised()
            if self._read is not None and self._read[0] <= place:
                return True
        return False

    def _recognised(self) -> tuple[int, Any] | None:
        for _ in range(_MOST_UNKNOWN):
            packet = self._demuxed()
            if packet is None:
                return None
            place = self._packets.place_of(packet, -1)
            if place >= 0:
                self._at = place
                return place, packet
        return None

    def _next_packet(self) -> tuple[int, Any]:
        """The next packet to decode, and its place; None after the last one."""
        while True:
            if self._read is not None:
                (place, packet), self._read = self._read, None
            else:
                packet = self._demuxed()
                if packet is None:
                    return -1, None
                place = self._packets.place_of(packet, self._at + 1)
                if place < 0:
                    continue
            self._at = place
            if place > self._fed_to:
                return place, packet

    def _demuxed(self) -> Any:
        """The next packet that holds anything; None at the end or where reading fails."""
        import av

        try:
            return next((p for p in self._reader if p.size), None)
        except (av.error.FFmpegError, OSError):
            return None
