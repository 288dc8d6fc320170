"""The list of a file's packets, read without decoding: which picture is shown when, and where decoding can start."""

from __future__ import annotations

from array import array
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from casebook.clip.nal import starts_afresh

NO_TIME = -(2**63)
_REORDERED_WITHOUT_TIMES = ("h264", "hevc")
_FORMATS_WITHOUT_TIMES = ("avi", "h264", "hevc")


@dataclass(frozen=True, slots=True, eq=False)
class Packets:
    """Packets in the order of decoding ("place"), and the pictures they make in the order of showing ("number").

    ``pts``, ``dts``, ``pos``, ``size`` (P,) int64: time of showing and decoding in ticks (``NO_TIME``: none), byte
    position in the file, bytes. ``key``, ``corrupt`` (P,) bool. ``shown`` (N,) int64: place of each picture. ``number``
    (P,) int64: the picture of each place, -1 for none. ``starts`` (K,) int64: places where decoding can start.
    ``by_order``: the file tells no time of showing; pictures are numbered as they come out of the decoder.
    ``lost_start``: pictures at the start that are built on ones the file does not hold, and are not counted.
    ``broken_off``: reading stopped at an error before the end.
    """

    pts: NDArray[np.int64]
    dts: NDArray[np.int64]
    pos: NDArray[np.int64]
    size: NDArray[np.int64]
    key: NDArray[np.bool_]
    corrupt: NDArray[np.bool_]
    shown: NDArray[np.int64]
    number: NDArray[np.int64]
    starts: NDArray[np.int64]
    by_order: bool
    lost_start: int
    broken_off: bool

    def start_for(self, place: int, further_back: int = 0) -> int:
        """Last place to start decoding from so that the picture of ``place`` comes out whole.

        A picture shown before its key picture but stored after it (open group) needs the key picture before.
        ``further_back`` goes that many key pictures further.
        """
        before = self.starts[self.starts <= place]
        if not self.by_order:
            before = before[self.pts[before] <= self.pts[place]]
        return int(before[max(-len(before), -1 - further_back)]) if len(before) else 0

    def place_of(self, packet: Any, expected: int) -> int:
        """Place of a packet just read: the expected one if it fits, else the one that fits alone; -1 if none does."""
        pts = NO_TIME if packet.pts is None else packet.pts
        size = packet.size
        if 0 <= expected < len(self.pts) and self.pts[expected] == pts and self.size[expected] == size:
            return expected
        fitting = np.flatnonzero((self.pts == pts) & (self.size == size))
        if len(fitting) > 1 and packet.pos is not None:
            fitting = fitting[self.pos[fitting] == packet.pos]
        return int(fitting[0]) if len(fitting) == 1 else -1

    def numbered_by(self, made: NDArray[np.bool_]) -> Packets:
        """The same list where only the places of ``made`` (P,) bool make a picture."""
        shown = self.shown[made[self.shown]]
        return replace(self, shown=shown, number=_number(shown, len(self.pts)))

    def numbered_by_order(self) -> Packets:
        """The same list without trust in its times."""
        none = np.zeros(len(self.pts), np.bool_)
        return _arranged(self.pts, self.dts, self.pos, self.size, self.key, self.corrupt, none, None, self.broken_off)


def read_packets(box: Any, stream: Any) -> Packets:
    """Read the whole file's packet list. A read error ends the list; what came before it stands."""
    import av

    rows = {name: array("q") for name in ("pts", "dts", "pos", "size")}
    flags = {name: bytearray() for name in ("key", "corrupt", "discard", "fresh")}
    codec, broken_off = _codec(stream), False
    times_unknown = codec in _REORDERED_WITHOUT_TIMES and box.format.name in _FORMATS_WITHOUT_TIMES
    try:
        for packet in box.demux(stream):
            if packet.size == 0:
                continue
            rows["pts"].append(NO_TIME if packet.pts is None else packet.pts)
            rows["dts"].append(NO_TIME if packet.dts is None else packet.dts)
            rows["pos"].append(-1 if packet.pos is None else packet.pos)
            rows["size"].append(packet.size)
            flags["key"].append(packet.is_keyframe)
            flags["corrupt"].append(packet.is_corrupt)
            flags["discard"].append(packet.is_discard)
            flags["fresh"].append(times_unknown and packet.is_keyframe and starts_afresh(codec, memoryview(packet)))
    except (av.error.FFmpegError, OSError):
        broken_off = True
    pts, dts, pos, size = (np.frombuffer(rows[n], np.int64) if rows[n] else np.zeros(0, np.int64) for n in rows)
    key, corrupt, discard, fresh = (np.frombuffer(bytes(flags[n]), np.bool_) for n in flags)
    times_unknown = times_unknown or (len(pts) > 0 and bool((pts == NO_TIME).mean() > 0.6))
    return _arranged(pts, dts, pos, size, key, corrupt, fresh, None if times_unknown else ~discard, broken_off)


def _codec(stream: Any) -> str:
    return str(stream.codec_context.codec.canonical_name)


def _arranged(
    pts: NDArray[np.int64],
    dts: NDArray[np.int64],
    pos: NDArray[np.int64],
    size: NDArray[np.int64],
    key: NDArray[np.bool_],
    corrupt: NDArray[np.bool_],
    fresh: NDArray[np.bool_],
    timed: NDArray[np.bool_] | None,
    broken_off: bool,
) -> Packets:
    """``timed`` (P,) bool: places to be shown at their time; None: there are no times to go by."""
    lost = 0
    if timed is None:
        shown = np.arange(len(pts))
        starts = np.flatnonzero(fresh)
    else:
        shown = np.flatnonzero(timed & (pts != NO_TIME))
        starts = np.flatnonzero(key & (pts != NO_TIME))
        if len(starts):
            whole = (shown >= starts[0]) & (pts[shown] >= pts[starts[0]])
            lost, shown = int((~whole).sum()), shown[whole]
        shown = shown[np.argsort(pts[shown], kind="stable")]
    number = _number(shown, len(pts))
    by_order = timed is None
    return Packets(pts, dts, pos, size, key, corrupt, shown, number, starts, by_order, lost, broken_off)


def _number(shown: NDArray[np.int64], places: int) -> NDArray[np.int64]:
    number = np.full(places, -1)
    number[shown] = np.arange(len(shown))
    return number
