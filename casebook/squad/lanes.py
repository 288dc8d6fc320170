"""A plan of lanes by fault: who has the same first thing to do swims together, as far as lanes and sizes allow.

The rule: one group a fault; a group too large for a lane is split by level; while there are more groups than lanes,
the two that are nearest are put together (the same fault, the same checkpoint, the same concern, and few enough that
lanes come out even; then the same levels); if no two fit, the smallest group is spread over the lanes with room.
Everyone swims in exactly one lane.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise
from pathlib import Path
from typing import TYPE_CHECKING

from casebook.checkpoints.advice import CONCERNS, Fault
from casebook.errors import SquadError
from casebook.squad.rows import read_rows, whole, write_rows
from casebook.words import LEVELS

if TYPE_CHECKING:
    from casebook.squad.first import Looked

COLUMNS = ("lane", "number", "alias", "first")
REMARKS = (
    "Who swims in which lane. Change the column lane as you like; alias and first are there for the eye only.",
    "Then: casebook squad page FOLDER. Delete this file to have the plan made anew.",
)


@dataclass(frozen=True, slots=True)
class Lane:
    """One lane: its number from 1, and who swims there."""

    number: int
    rows: tuple[Looked, ...]

    @property
    def faults(self) -> tuple[Fault, ...]:
        """First faults in this lane, the most frequent first."""
        counted = Counter(r.first.key for r in self.rows if r.first is not None)
        by_key = {r.first.key: r.first for r in self.rows if r.first is not None}
        return tuple(sorted(by_key.values(), key=lambda f: (-counted[f.key], list(CONCERNS).index(f.concern), f.key)))


def plan_lanes(rows: Sequence[Looked], lanes: int, size: int) -> tuple[Lane, ...]:
    """A plan of at most ``lanes`` lanes of at most ``size`` swimmers; SquadError if they are too many for that."""
    if len(rows) > lanes * size:
        raise SquadError(
            f"{len(rows)} swimmers do not fit into {lanes} lanes of {size}.", "Set lanes and lane_size in squad.toml."
        )
    groups = _by_fault(rows, size)
    while len(groups) > lanes:
        pair = _nearest_that_fit(groups, size)
        if pair is None:
            _spread(groups, size)
        else:
            groups[pair[0]] += groups.pop(pair[1])
    ordered = sorted((g for g in groups if g), key=_place)
    return tuple(Lane(k, tuple(sorted(group, key=_by_level))) for k, group in enumerate(ordered, 1))


def read_lanes(path: Path, rows: Sequence[Looked], lanes: int, size: int) -> tuple[Lane, ...]:
    """The coach's own plan.

    Raises
    ------
    SquadError
        Someone is missing, named twice or not known, or a lane is over its size or not there.
    """
    by_number = {r.member.number: r for r in rows}
    held: dict[int, list[Looked]] = {}
    seen: set[int] = set()
    for row in read_rows(path, COLUMNS, needed=COLUMNS[:2]):
        lane, number = whole(path, row, "lane"), whole(path, row, "number")
        where = f"{path.name}, line {row.line}"
        if not 1 <= lane <= lanes:
            raise SquadError(f"{where}: there is no lane {lane}.", f"Use 1 to {lanes}, or set lanes in squad.toml.")
        if number in seen or number not in by_number:
            what = "stands there twice" if number in seen else "is not among those who may be filmed"
            raise SquadError(f"{where}: number {number} {what}.", "Mend that line.")
        seen.add(number)
        held.setdefault(lane, []).append(by_number[number])
    left = sorted(set(by_number) - seen)
    if left:
        raise SquadError(f"{path.name} has no lane for {', '.join(map(str, left))}.", "Add a line, or delete the file.")
    full = [n for n, group in held.items() if len(group) > size]
    if full:
        raise SquadError(f"{path.name}: lane {full[0]} holds more than {size}.", "Move some, or raise lane_size.")
    return tuple(Lane(n, tuple(held[n])) for n in sorted(held))


def lanes_text(lanes: Sequence[Lane]) -> str:
    """The plan as lines."""
    lines = []
    for lane in lanes:
        title = lane.faults[0].change if lane.faults else "nothing to change now: swim well"
        lines.append(f"Lane {lane.number}: {title}")
        for r in lane.rows:
            lines.append(f"  {r.member.called}: {r.first.seen if r.first else 'nothing to change now'}")
    return "\n".join(lines)


def write_lanes(path: Path, lanes: Sequence[Lane]) -> None:
    """Keep a plan where the coach can change it."""
    rows = [
        (lane.number, r.member.number, r.member.alias, r.first.seen if r.first else "nothing to change now")
        for lane in lanes
        for r in lane.rows
    ]
    write_rows(path, COLUMNS, rows, REMARKS)


def _by_fault(rows: Sequence[Looked], size: int) -> list[list[Looked]]:
    groups: dict[str, list[Looked]] = {}
    for row in sorted(rows, key=_by_level):
        groups.setdefault(row.first.key if row.first else "", []).append(row)
    return [part for group in groups.values() for part in _halved(group, size)]


def _halved(group: list[Looked], size: int) -> list[list[Looked]]:
    """A group in as few parts as fit, of even sizes, in the order of level."""
    parts = -(-len(group) // size)
    edges = [round(k * len(group) / parts) for k in range(parts + 1)]
    return [group[a:b] for a, b in pairwise(edges)]


def _nearest_that_fit(groups: list[list[Looked]], size: int) -> tuple[int, int] | None:
    fitting = [(a, b) for a, b in combinations(range(len(groups)), 2) if len(groups[a]) + len(groups[b]) <= size]
    return min(fitting, key=lambda ab: _apart(groups[ab[0]], groups[ab[1]], size), default=None)


def _apart(a: list[Looked], b: list[Looked], size: int) -> tuple[float, int]:
    """How little two groups have in common, and how full their lane would be; then how unlike their levels are."""
    things = sum(_unlike(x.first, y.first) for x in a for y in b) / (len(a) * len(b))
    levels = len({x.member.level for x in a} ^ {y.member.level for y in b})
    return things + (len(a) + len(b)) / size, levels


def _unlike(a: Fault | None, b: Fault | None) -> int:
    if a is None or b is None:
        return 0 if a is b else 4
    if a.key == b.key:
        return 0
    if a.checkpoint == b.checkpoint or a.key in b.upstream or b.key in a.upstream:
        return 1
    return 2 if a.concern == b.concern else 3


def _spread(groups: list[list[Looked]], size: int) -> None:
    """Give the members of the smallest group to the lanes with room, each to the one nearest to him."""
    smallest = min(range(len(groups)), key=lambda k: len(groups[k]))
    for row in groups.pop(smallest):
        room = [g for g in groups if len(g) < size]
        min(room, key=lambda g: _apart([row], g, size)).append(row)


def _place(group: Sequence[Looked]) -> tuple[int, int]:
    """Lanes go from what comes first to teach to what comes last; those with nothing to change swim in the last."""
    concerns = [list(CONCERNS).index(r.first.concern) for r in group if r.first is not None]
    return (min(concerns, default=len(CONCERNS)), min(_by_level(r)[0] for r in group))


def _by_level(row: Looked) -> tuple[int, int]:
    return list(LEVELS).index(row.member.level), row.member.number
