"""What is printed before the day: the list for whoever films, the slates, and the empty grid."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from casebook.errors import SquadError
from casebook.pages.markup import Html, el, join
from casebook.squad.asking import fault_words, short_title
from casebook.squad.checking import DEFERS, GUARD, NEIGHBOURS
from casebook.squad.sheet import kicker, listed, write_sheet
from casebook.squad.slate import CARD_MM, CELLS, FIGURE_MM, LARGE_MM, SMALL_MM, marker_cells

if TYPE_CHECKING:
    from casebook.squad.roster import Member
    from casebook.squad.squad import Squad

#: Of a slate's number: height of its type for so many figures. [mm]
_TYPE_MM = {1: 122.0, 2: 92.0}
#: What whoever films does, in order. coach's practice, no source
FILMING = [
    "Two minutes each: one swims while the next is told the number. Film each alone, in the outside lane if you can.",
    "Before each swim: the slate held still and square to the camera for three seconds, a third of the picture high.",
    "Never film whoever stands above. If in doubt, stop the camera and ask the coach.",
    NEIGHBOURS,
    GUARD,
    DEFERS,
]


def write_film_list(squad: Squad) -> Path:
    """One page for whoever films: who must not be filmed, large and first; then the order of filming."""
    closed, free = squad.roster.not_to_film(squad.judged_on), squad.filmable
    names = join(el("li", el("b", str(m.number)), " ", m.alias, el("span", m.why_not(squad.judged_on))) for m in closed)
    order = sorted(free, key=lambda m: (m.lane, m.number))
    rows = join(el("li", el("b", str(m.number)), f" {m.alias}", el("span", _note(m))) for m in order)
    return write_sheet(
        squad.out / "film_list.html",
        "Do not film",
        kicker(squad.place, squad.day.isoformat()),
        el("h1", "Do not film"),
        el("ul", names, cls="closed") if closed else el("p", "Nobody is on this list today.", cls="lead"),
        el("h2", f"May be filmed: {len(free)}"),
        el("ul", rows, cls="free"),
        el("h2", "How"),
        listed(FILMING),
        kind="film-list",
    )


def write_slates(squad: Squad, alias: bool = False) -> Path:
    """The slates of all who may be filmed, one page each, to print at full size; with the alias if wanted."""
    if not squad.filmable:
        raise SquadError(
            "Nobody on the roster may be filmed, so there is no slate to print.", "See why: casebook squad check FOLDER"
        )
    cards = join(_card(m, alias) for m in squad.filmable)
    how = el(
        "section",
        el("h1", "Slates"),
        listed(
            [
                "Print on matt white A4, upright, at 100 %; laminate the sheets matt, or use clear matt sleeves.",
                "Hold the slate before each swim for three seconds, square to the camera, the white edge uncovered.",
                "Only those have a slate who may be filmed. Print this file anew when the roster changes.",
            ]
        ),
        cls="how",
    )
    return write_sheet(squad.out / "slates.html", "Slates", how, cards, kind="slates")


def write_grid_sheet(squad: Squad) -> Path:
    """The empty grid on paper, with the letters of the faults under it."""
    head = el(
        "tr", el("th", "Swimmer", scope="col"), join(el("th", short_title(c), scope="col") for c in squad.checkpoints)
    )
    empty = join(el("td", "") for _ in squad.checkpoints)
    rows = join(el("tr", el("th", m.called, scope="row"), empty) for m in squad.filmable)
    letters = join(
        el("p", el("b", f"{short_title(c)}: "), "; ".join(f"({k}) {words}" for k, words in fault_words(c).items()), ".")
        for c in squad.checkpoints
    )
    return write_sheet(
        squad.out / "grid_sheet.html",
        "Squad grid",
        kicker(squad.place, squad.day.isoformat(), "by eye"),
        el("h1", "What I see"),
        el("p", "1 fine, 2 look again, 3 a fault (with its letter); empty: not seen.", cls="lead"),
        el("table", el("thead", head), el("tbody", rows), cls="paper"),
        el("div", letters, cls="small letters"),
        kind="grid-sheet",
    )


def _note(member: Member) -> str:
    return ", ".join([f"lane {member.lane}"] * bool(member.lane) + ["minor"] * member.is_minor)


def _card(member: Member, alias: bool) -> Html:
    number = str(member.number)
    left, top, wide, high = FIGURE_MM
    size = _TYPE_MM[len(number)]
    figure = el(
        "text", number, x=left + wide / 2, y=top + high / 2 + 0.36 * size, font_size=size, text_anchor="middle",
        cls="figure",
    )  # fmt: skip
    small = el("text", member.alias, x=CARD_MM[0] / 2, y=CARD_MM[1] - 8, font_size=9, text_anchor="middle")
    body = join([_marker(member.number, LARGE_MM), _marker(member.number, SMALL_MM), figure, small if alias else ""])
    picture = el("svg", body, viewbox=f"0 0 {CARD_MM[0]:g} {CARD_MM[1]:g}", role="img", aria_label=f"Slate {number}")
    return el("section", picture, cls="slate")


def _marker(number: int, place: tuple[float, float, float]) -> Html:
    """The marker as one black path: its dark cells, row by row."""
    left, top, side = place
    cell = side / CELLS
    path = []
    for r, c in np.argwhere(~marker_cells(number)).tolist():
        # A hair wider than a cell, or white seams show between neighbours.
        path.append(
            f"M{left + c * cell:.3f} {top + r * cell:.3f}h{cell + 0.02:.3f}v{cell + 0.02:.3f}h-{cell + 0.02:.3f}z"
        )
    return el("path", d="".join(path))
