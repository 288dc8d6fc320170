"""The squad's page for the coach: what was seen of whom, what the squad shares, and a plan of lanes by fault.

It is passed around on deck, so it carries no pictures and no names.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from casebook.checkpoints.advice import Drill, Fault, load_advice
from casebook.pages.markup import Html, el, join, text
from casebook.squad.asking import FAULT, FINE, short_title
from casebook.squad.cards import rows_of
from casebook.squad.checking import DEFERS, GUARD
from casebook.squad.grid import Cell, Place, read_grid
from casebook.squad.lanes import Lane, plan_lanes, read_lanes, write_lanes
from casebook.squad.shared import CAVEAT, Share, what_is_shared
from casebook.squad.sheet import kicker, write_sheet
from casebook.words import LEVELS

if TYPE_CHECKING:
    from casebook.squad.first import Looked
    from casebook.squad.squad import Squad

_DOT, _STEP = 10, 16


def write_squad_page(squad: Squad) -> Path:
    """Make ``out/squad.html`` from roster, grid and lanes as they stand; the lanes are planned if no plan is kept."""
    cells, rows = read_grid(squad.grid_file), rows_of(squad)
    shares = what_is_shared(rows, cells, squad.checkpoints)
    lanes = lanes_of(squad, rows)
    seen = [r for r in rows if r.seen]
    return write_sheet(
        squad.out / "squad.html",
        "The squad, looked at",
        kicker(squad.place, squad.day.isoformat(), "an invented squad" if squad.invented else ""),
        el("h1", _headline(shares, len(seen))),
        el("p", _lead(squad, rows), cls="lead"),
        el("h2", "What the squad shares"),
        _shared(shares),
        el("p", CAVEAT, cls="small"),
        el("h2", "Lanes"),
        el("div", join(_lane(lane) for lane in lanes), cls="lanes"),
        el("h2", "What was seen"),
        el("div", _table(squad, rows, cells), cls="wide"),
        el(
            "aside",
            el("h3", "Take care"),
            *(el("p", s) for s in _care(rows)),
            cls="note caution",
            aria_label="Take care",
        ),
        kind="squad-page",
    )


def lanes_of(squad: Squad, rows: Sequence[Looked]) -> tuple[Lane, ...]:
    """The coach's plan if there is one, else a new one, which is then kept."""
    seen = [r for r in rows if r.seen]
    if squad.lanes_file.is_file():
        return read_lanes(squad.lanes_file, seen, squad.lanes, squad.lane_size)
    lanes = plan_lanes(seen, squad.lanes, squad.lane_size)
    write_lanes(squad.lanes_file, lanes)
    return lanes


def lane_drill(fault: Fault) -> Drill | None:
    """The drill for a fault, the first of its checkpoint."""
    return next(iter(load_advice(fault.checkpoint).drills_for(fault.key)), None)


def _headline(shares: Sequence[Share], seen: int) -> str:
    if not seen:
        return "Nothing has been seen yet"
    if not shares:
        return "The squad has nothing that must change now"
    top = shares[0]
    return f"{top.fault.title}: {len(top.numbers)} of {top.of}"


def _lead(squad: Squad, rows: Sequence[Looked]) -> str:
    seen = [r for r in rows if r.seen]
    nothing = sum(r.first is None and not r.unnamed and not r.again for r in seen)
    parts = [f"{len(seen)} of {len(squad.roster.members)} swimmers were looked at"]
    if nothing:
        parts.append(f"{nothing} of them {'has' if nothing == 1 else 'have'} nothing to change now")
    return ", and ".join(parts) + "."


def _shared(shares: Sequence[Share]) -> Html:
    if not shares:
        return el("p", "No fault was named.")
    many, single = [s for s in shares if len(s.numbers) > 1], [s for s in shares if len(s.numbers) == 1]
    items = [
        el("li", el("span", el("b", f"{len(s.numbers)} of {s.of}"), f" {s.fault.seen}"), _dots(s)) for s in many
    ]  # fmt: skip
    alone = "; ".join(f"{s.fault.seen} ({s.numbers[0]})" for s in single)
    return join(
        [
            el("ul", join(items), cls="shared") if items else "",
            el("p", f"In one swimmer each, by number: {alone}.") if alone else "",
        ]
    )


def _dots(share: Share) -> Html:
    """One dot a swimmer looked at, filled for those who show it."""
    dots = [
        el(
            "circle", cx=_STEP * k + _DOT, cy=12, r=_DOT / 2, cls="on" if k < len(share.numbers) else "off"
        )
        for k in range(share.of)
    ]  # fmt: skip
    who = f"Numbers {', '.join(map(str, share.numbers))}"
    return el("svg", join(dots), viewbox=f"0 0 {_STEP * 30} 24", preserveAspectRatio="xMinYMid", role="img",
              aria_label=who, cls="many")  # fmt: skip


def _lane(lane: Lane) -> Html:
    """A lane's heading, who swims there, and its drill; a second one where the second thing needs another."""
    drills: dict[str, tuple[Drill, list[Fault]]] = {}
    for fault in lane.faults:
        drill = lane_drill(fault)
        if drill is not None:
            drills.setdefault(drill.key, (drill, []))[1].append(fault)
    parts: list[object] = []
    for k, (drill, faults) in enumerate(list(drills.values())[:2]):
        whose = "" if k == 0 else f"{_numbers(lane, faults)} instead: "
        name = f"{whose}{drill.name}. "
        parts.append(el("p", el("b", name[0].upper() + name[1:]), f"{drill.how} {drill.dose}.", cls="small"))
        parts.append(el("p", f"“{drill.cue}”", cls="cue"))
        parts.append(el("p", drill.safety, cls="small") if drill.safety else "")
    title = lane.faults[0].change if lane.faults else "nothing to change now: swim well"
    who = join(
        el("li", el("b", str(r.member.number)), f" {r.member.alias}, {LEVELS[r.member.level]}", _own(r, lane))
        for r in lane.rows
    )
    return el("div", el("h3", f"Lane {lane.number}: {title}"), el("ul", who, cls="who"), join(parts), cls="lane")


def _own(row: Looked, lane: Lane) -> Html:
    """His own first thing, where it is not the lane's."""
    if row.first is None:
        return text("" if not lane.faults else ": nothing to change now")
    return text("" if row.first.key == lane.faults[0].key else f": {row.first.seen}")


def _numbers(lane: Lane, faults: Sequence[Fault]) -> str:
    return ", ".join(str(r.member.number) for r in lane.rows if r.first is not None and r.first in faults)


def _table(squad: Squad, rows: Sequence[Looked], cells: Mapping[Place, Cell]) -> Html:
    heads = join(el("th", short_title(c), scope="col") for c in squad.checkpoints)
    body = join(
        el(
            "tr",
            el("th", r.member.called, scope="row"),
            join(el("td", _mark(c, cells.get((r.member.number, c)))) for c in squad.checkpoints),
        )
        for r in rows
    )
    return el("table", el("thead", el("tr", el("th", "Swimmer", scope="col"), heads)), el("tbody", body), cls="saw")


def _mark(checkpoint: str, cell: Cell | None) -> Html:
    if cell is None:
        return el("span", "not seen", cls="clear")
    kind = {FINE: "fine", FAULT: "fault"}.get(cell.answer, "look")
    seen = load_advice(checkpoint).fault(cell.fault).seen if cell.fault else ""
    return join([el("span", cell.answer, cls=f"mark {kind}"), el("small", seen) if seen else ""])


def _care(rows: Sequence[Looked]) -> list[str]:
    """Cautions of the checkpoints that lanes work on, once each; then what always holds."""
    checkpoints = dict.fromkeys(r.first.checkpoint for r in rows if r.first is not None)
    minors = any(r.member.is_minor for r in rows)
    words = [w for c in checkpoints for w in load_advice(c).cautions_when(*(["minor"] if minors else []))]
    return [*dict.fromkeys(words), GUARD, DEFERS]
