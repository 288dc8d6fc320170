"""A store of the latest pictures, bounded in bytes."""

from __future__ import annotations

from collections import OrderedDict
from typing import Generic, TypeVar

T = TypeVar("T")


class LatestCache(Generic[T]):
    """Keeps what was used last, up to ``limit`` bytes; the newest entry stays even if it alone is larger."""

    def __init__(self, limit: int) -> None:
        self.limit = limit
        self.held = 0
        self._entries: OrderedDict[int, tuple[T, int]] = OrderedDict()

    def __contains__(self, key: int) -> bool:
        return key in self._entries

    def get(self, key: int) -> T | None:
        """The entry, which then counts as just used; None if it is not there."""
        found = self._entries.get(key)
        if found is None:
            return None
        self._entries.move_to_end(key)
        return found[0]

    def put(self, key: int, value: T, size: int) -> None:
        """Add an entry of ``size`` bytes and drop the longest unused ones beyond the limit."""
        self._drop(key)
        self._entries[key] = (value, size)
        self.held += size
        while self.held > self.limit and len(self._entries) > 1:
            self._drop(next(iter(self._entries)))

    def clear(self) -> None:
        self._entries.clear()
        self.held = 0

    def _drop(self, key: int) -> None:
        entry = self._entries.pop(key, None)
        if entry is not None:
            self.held -= entry[1]
