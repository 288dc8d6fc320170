"""What comes first for each swimmer, from the grid and by the same rule as for a case."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from casebook.checkpoints.advice import Fault, load_advice
from casebook.checkpoints.finding import Observed
from casebook.checkpoints.priority import plan
from casebook.checkpoints.seen import SeenFault
from casebook.squad.asking import FAULT, FINE, LOOK

if TYPE_CHECKING:
    from casebook.squad.grid import Cell, Place
    from casebook.squad.roster import Member


@dataclass(frozen=True, slots=True)
class Looked:
    """One swimmer's row of the grid.

    ``first`` is the fault that comes first, None if none was named; ``named`` all faults named; ``fine``, ``again`` and
    ``unnamed`` are checkpoints: fine, to be looked at again, and with a fault that has no letter yet.
    """

    member: Member
    first: Fault | None = None
    named: tuple[Fault, ...] = ()
    fine: tuple[str, ...] = ()
    again: tuple[str, ...] = ()
    unnamed: tuple[str, ...] = ()

    @property
    def seen(self) -> bool:
        """Whether anything at all was seen."""
        return bool(self.named or self.fine or self.again or self.unnamed)


def looked_at(members: Sequence[Member], cells: Mapping[Place, Cell], checkpoints: Sequence[str]) -> tuple[Looked, ...]:
    """The rows of these swimmers, with what comes first in each: causes before what they cause."""
    return tuple(_row(m, {c: cells[m.number, c] for c in checkpoints if (m.number, c) in cells}) for m in members)


def _row(member: Member, cells: Mapping[str, Cell]) -> Looked:
    named = tuple(load_advice(c).fault(cell.fault) for c, cell in cells.items() if cell.fault)
    seen = [SeenFault(f, (), (Observed(f.checkpoint, cells[f.checkpoint].by, -1, f.seen),)) for f in named]
    chosen = plan(seen, level=member.level).first

    def those(answer: str) -> tuple[str, ...]:
        return tuple(c for c, cell in cells.items() if cell.answer == answer and not cell.fault)

    return Looked(member, chosen.fault if chosen else None, named, those(FINE), those(LOOK), those(FAULT))
