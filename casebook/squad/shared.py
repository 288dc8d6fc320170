"""What the squad shares: each fault with how many show it, of how many who were looked at there."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from casebook.checkpoints.advice import Fault, all_faults

if TYPE_CHECKING:
    from casebook.squad.first import Looked
    from casebook.squad.grid import Cell, Place

CAVEAT = (
    "Counted by eye, by one coach, from a pass or two: what many show is worth a set for all, what one shows may be "
    "the day's. Another coach would not count the same."
)


@dataclass(frozen=True, slots=True)
class Share:
    """A fault, who shows it (numbers), and how many were looked at for it."""

    fault: Fault
    numbers: tuple[int, ...]
    of: int

    def text(self) -> str:
        """The count as a sentence."""
        return f"{self.fault.seen}: {len(self.numbers)} of {self.of} seen"


def what_is_shared(
    rows: Sequence[Looked], cells: Mapping[Place, Cell], checkpoints: Sequence[str]
) -> tuple[Share, ...]:
    """The faults that show in the squad, the most frequent first; of two as frequent, the first in teaching order."""
    order = list(all_faults())
    numbers = {row.member.number for row in rows}
    seen_at = {c: sum(n in numbers for n, at in cells if at == c) for c in checkpoints}
    who: dict[str, list[int]] = {}
    for row in rows:
        for fault in row.named:
            who.setdefault(fault.key, []).append(row.member.number)
    faults = all_faults()
    shares = [Share(faults[key], tuple(own), seen_at[faults[key].checkpoint]) for key, own in who.items()]
    return tuple(sorted(shares, key=lambda s: (-len(s.numbers), order.index(s.fault.key))))
