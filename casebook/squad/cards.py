"""All cards of a squad in one go: a picture in each swimmer's folder, and one file to print."""

from __future__ import annotations

import io
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from casebook.files import write_atomic
from casebook.pages.card_drawing import card_image
from casebook.pages.markup import Html, el, join
from casebook.pages.media import data_uri
from casebook.squad.card import Card, card_of, lowered
from casebook.squad.entry import still_of
from casebook.squad.first import looked_at
from casebook.squad.grid import read_grid
from casebook.squad.sheet import write_sheet

if TYPE_CHECKING:
    from casebook.squad.first import Looked
    from casebook.squad.squad import Squad

FILE = "card.png"


@dataclass(frozen=True, slots=True)
class CardReport:
    """Which cards were made, which wait and for what, and who gets none as sharing was not agreed to."""

    made: tuple[Card, ...]
    waiting: tuple[Card, ...]
    held_back: tuple[str, ...]
    page: Path | None

    def text(self) -> str:
        """The report as sentences."""
        lines = [f"Made {len(self.made)} card{'' if len(self.made) == 1 else 's'}."]
        lines += [f"Waits: {card.text()}" for card in self.waiting]
        lines += [f"No card for {who}: sharing is not agreed to." for who in self.held_back]
        lines += ["Before a card goes out: is anybody else in its picture? Take another still, or cover them first."]
        return "\n".join(lines)


def rows_of(squad: Squad) -> tuple[Looked, ...]:
    """The grid's rows of all who may be filmed, with what comes first in each."""
    return looked_at(squad.filmable, read_grid(squad.grid_file), squad.checkpoints)


def cards_of(squad: Squad) -> tuple[Card, ...]:
    """The cards in words, of all who may be filmed."""
    return tuple(card_of(row) for row in rows_of(squad))


def make_cards(squad: Squad, progress: bool = True) -> CardReport:
    """Make every card that is ready and may be handed over; a card of before that may not be is taken away."""
    from tqdm import tqdm

    cards = cards_of(squad)
    may = {m.number for m in squad.roster.members if m.may_have_card(squad.judged_on)}
    ready = [c for c in cards if not c.waits and c.number in may]
    _take_away(squad, {c.number for c in ready})
    sections = []
    for card in tqdm(ready, desc="Cards", unit="card", disable=not progress):
        still = still_of(squad, card.number)
        _write_card(squad, card, still)
        sections.append(_section(squad, card, still))
    page = None
    if ready:
        page = write_sheet(squad.out / "cards.html", "Cards", el("h1", "Cards"), join(sections), kind="cards")
    return CardReport(
        tuple(ready),
        tuple(c for c in cards if c.waits),
        tuple(m.called for m in squad.filmable if m.number not in may),
        page,
    )


def _write_card(squad: Squad, card: Card, still: bytes | None) -> None:
    """The card as a picture for a message."""
    from PIL import Image

    picture, out = None if still is None else Image.open(io.BytesIO(still)), io.BytesIO()
    # The last tenth of the size is not worth a second for each of twenty cards.
    card_image(card.to_draw(squad.invented), picture).save(out, "PNG", compress_level=3)
    write_atomic(squad.entry(card.number) / FILE, out.getvalue())


def _take_away(squad: Squad, keep: set[int]) -> None:
    for old in squad.folder.glob(f"swimmers/*/{FILE}"):
        if not (old.parent.name.isdigit() and int(old.parent.name) in keep):
            old.unlink()
    (squad.out / "cards.html").unlink(missing_ok=True)


def _kicker(squad: Squad) -> str:
    return squad.day.isoformat() + (" · invented swimmer" if squad.invented else "")


def _section(squad: Squad, card: Card, still: bytes | None) -> Html:
    drill = card.drill
    practice: object = ""
    if drill is not None:
        practice = join(
            [
                el("p", el("b", f"Drill: {drill.name}. "), f"{drill.how} {drill.dose}.", cls="drill"),
                el("p", f"“{drill.cue}”", cls="cue"),
                el("p", f"You see that it works: {lowered(drill.check)}"),
            ]
        )
    picture: object = ""
    if still is not None:
        picture = el("img", src=data_uri(still, "image/jpeg"), alt=f"A still of swimmer {card.number}.")
    return el(
        "article",
        el("p", f"{card.number} {card.alias} · {_kicker(squad)}", cls="kicker"),
        picture,
        el("h2", card.title),
        el("p", card.sentence, cls="lead"),
        el("p", card.why) if card.why else "",
        practice,
        el("p", card.good, cls="small") if card.good else "",
        el("div", join(el("p", c) for c in card.care), cls="care small"),
        cls="card",
    )
