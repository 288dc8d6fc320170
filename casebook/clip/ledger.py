"""Which decoded pictures can be trusted: numbering them, noticing gaps, and following damage to what is built on it."""

from __future__ import annotations

from bisect import bisect_right, insort
from collections import deque
from dataclasses import dataclass
from typing import Any

import numpy as np

from casebook.clip.packets import Packets


@dataclass(frozen=True, slots=True)
class Decoded:
    """One picture out of the decoder; ``frame`` is None where it did not come out, ``sound`` False if it is damaged."""

    number: int
    frame: Any
    sound: bool


class Ledger:
    """Books of one run of the decoder, from a place where decoding can start.

    A picture is let out once every packet stored before it has come out or is known to be missing: only then is it
    known whether what it is built on was whole. Damage reaches every later picture up to the next key picture.
    """

    def __init__(self, packets: Packets, start: int) -> None:
        self._packets = packets
        self._start = start
        self._first = self.next_number = self._first_number()
        self._settled_to = start
        self._settled: set[int] = set()
        self._waiting: deque[tuple[int, int, Any, bool]] = deque()
        self._trouble: list[int] = []
        self._unused: set[int] = set()
        self.uncertain: list[int] = []

    @property
    def next_released(self) -> int:
        """Number of the picture that will be let out next."""
        return self._waiting[0][0] if self._waiting else self.next_number

    def sent(self, place: int, built_on: bool) -> None:
        """A packet goes into the decoder; ``built_on``: later pictures may use it."""
        if not built_on:
            self._unused.add(place)
        if self._packets.corrupt[place]:
            self.failed(place)

    def failed(self, place: int) -> None:
        """The packet at this place is damaged."""
        if place not in self._trouble:
            insort(self._trouble, place)

    def came(self, place: int, frame: Any, corrupt: bool) -> None:
        """A picture came out of the decoder."""
        number = self._numbered(place)
        if number < self.next_number:
            return
        self._missing(number)
        if corrupt:
            self.failed(place)
        self._waiting.append((number, place, frame, not corrupt))
        self._settle(place)
        self.next_number = number + 1

    def ended(self) -> None:
        """Nothing more will come out."""
        self._missing(len(self._packets.shown))
        self._settled_to = len(self._packets.pts)

    def released(self) -> list[Decoded]:
        """Pictures that can be let out now, in the order of their numbers."""
        out = []
        while self._waiting and self._waiting[0][1] < self._settled_to:
            number, place, frame, whole = self._waiting.popleft()
            out.append(Decoded(number, frame, whole and frame is not None and not self._touched(place)))
        return out

    def _first_number(self) -> int:
        packets = self._packets
        if packets.by_order:
            return self._start
        times = packets.pts[packets.shown]
        return int(np.searchsorted(times, packets.pts[self._start])) if self._start in packets.starts else 0

    def _numbered(self, place: int) -> int:
        if not self._packets.by_order:
            return int(self._packets.number[place])
        starts = self._packets.starts
        section = int(starts[max(0, bisect_right(starts, place) - 1)]) if len(starts) else 0
        if section > self.next_number:
            # Too few pictures came out of the section before, so none of its numbers is certain.
            self.uncertain.extend(range(self._section_before(section), section))
            return section
        return self.next_number

    def _section_before(self, section: int) -> int:
        before = self._packets.starts[self._packets.starts < section]
        return int(before[-1]) if len(before) else 0

    def _missing(self, until: int) -> None:
        for number in range(self.next_number, until):
            place = int(self._packets.shown[number])
            if place >= self._start:
                self.failed(place)
                self._waiting.append((number, place, None, False))
                self._settle(place)

    def _settle(self, place: int) -> None:
        self._settled.add(place)
        number, pts, at = self._packets.number, self._packets.pts, self._settled_to
        while at < len(pts) and (at in self._settled or number[at] < self._first):
            self._settled.discard(at)
            at += 1
        self._settled_to = at

    def _touched(self, place: int) -> bool:
        at = bisect_right(self._trouble, place) - 1
        if at < 0:
            return False
        clean_from = self._packets.start_for(place)
        while at >= 0 and self._trouble[at] >= clean_from:
            if self._trouble[at] == place or self._trouble[at] not in self._unused:
                return True
            at -= 1
        return False
