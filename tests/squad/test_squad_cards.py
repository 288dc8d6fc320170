"""Cards, what is shared, the squad's page: from the grid, in the words of the knowledge, only where agreed to."""

from __future__ import annotations

import io
import re
from html import unescape

import numpy as np
import pytest
from PIL import Image
from squad_maker import member, squad_of

from casebook.checkpoints.advice import all_faults, load_advice
from casebook.pages.card_drawing import card_png
from casebook.squad.asking import FAULT, FINE, LOOK
from casebook.squad.card import STOP, card_of
from casebook.squad.cards import make_cards, rows_of
from casebook.squad.first import looked_at
from casebook.squad.grid import Cell, Grid, read_grid
from casebook.squad.shared import what_is_shared
from casebook.squad.squad import USUAL_CHECKPOINTS
from casebook.squad.squad_page import write_squad_page
from casebook.words import CHECKPOINTS

HOSTILE = [
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "=cmd()",
    "a\u202eb",
    "</style><script>",
    "&amp;",
]


def looked(cells, who=None):
    who = who or member(1)
    return looked_at([who], {(who.number, c): cell for c, cell in cells.items()}, tuple(CHECKPOINTS))[0]


@pytest.mark.parametrize("key", all_faults())
def test_every_fault_of_the_knowledge_makes_a_whole_card(key):
    fault = all_faults()[key]
    card = card_of(looked({fault.checkpoint: Cell(FAULT, key)}))
    assert card.title == fault.title and fault.change in card.sentence and not card.waits
    assert card.drill in load_advice(fault.checkpoint).drills_for(key)
    assert card.care[-1] == STOP and len(card.text().splitlines()) > 4


def test_a_cause_comes_before_what_it_causes():
    # The head that looks ahead is behind legs that sink: coach's practice, no source.
    row = looked(
        {"body_line": Cell(FAULT, "head_up"), "catch": Cell(FAULT, "dropped_elbow"), "entry": Cell(FAULT, "slaps")}
    )
    assert row.first.key == "head_up" and len(row.named) == 3


def test_nothing_to_change_is_a_proper_card_without_a_drill():
    card = card_of(looked({"catch": Cell(FINE), "kick": Cell(FINE)}))
    assert card.title == "Nothing to change now" and "catch and kick" in card.sentence and card.drill is None


def test_look_again_never_becomes_a_fault():
    card = card_of(looked({"catch": Cell(LOOK), "kick": Cell(FINE)}))
    assert card.title == "Nothing to change for now" and "catch" in card.sentence and card.drill is None


def test_a_fault_without_a_letter_waits_for_the_coach():
    assert "with its letter" in card_of(looked({"catch": Cell(FAULT)})).waits
    assert "nothing was seen" in card_of(looked({})).waits


def test_a_child_is_told_to_breathe_where_it_can_stand_and_an_adult_is_not():
    cells = {"breathing": Cell(FAULT, "breath_held")}
    child = card_of(looked(cells, member(1, minor=True, guardian=True)))
    assert any("can stand" in c for c in child.care)
    assert not any("Children" in c for c in card_of(looked(cells)).care)


@pytest.mark.parametrize(
    "key", [k for k, f in all_faults().items() if f.checkpoint in ("catch", "entry", "recovery", "pull")]
)
def test_what_loads_the_shoulder_carries_its_caution(key):
    care = " ".join(card_of(looked({all_faults()[key].checkpoint: Cell(FAULT, key)})).care)
    assert re.search("shoulder", care) and re.search("physiotherapist|treats it", care)


def test_a_card_picture_shows_the_whole_still_and_holds_no_metadata():
    still = Image.fromarray(np.full((540, 960, 3), 90, np.uint8))
    drawn = card_of(looked({"catch": Cell(FAULT, "straight_arm")})).to_draw(invented=True)
    assert drawn.title.startswith("The arm comes down nearly straight; ") and "invented" in drawn.who
    picture = Image.open(io.BytesIO(card_png(drawn, still)))
    tones = np.asarray(picture.convert("L")).astype(int)
    assert not picture.info and picture.height > picture.width
    # The still is all there: as wide as the card, and as high as its own shape asks.
    rows = np.flatnonzero((abs(tones - 90) < 6).mean(1) > 0.98)
    assert len(rows) == pytest.approx(picture.width * 540 / 960, abs=3)
    assert (tones[rows[-1] + 20 :] < 80).mean() > 0.01, "and words below it"


@pytest.fixture
def squad(tmp_path):
    squad = squad_of(
        tmp_path / "s", member(1), member(2, sharing=False), member(3), member(4, consent=False), member(5)
    )
    grid = Grid(squad.grid_file, "mk")
    for number in (1, 2, 4):
        grid.put(number, "kick", FAULT, "hooked_feet")
    grid.put(1, "catch", FAULT, "dropped_elbow")
    grid.put(3, "kick", FINE)
    grid.put(5, "kick", FAULT)
    return squad


def test_cards_are_made_for_those_who_agreed_to_sharing_and_no_one_else(squad):
    report = make_cards(squad, progress=False)
    assert [c.number for c in report.made] == [1, 3]
    assert [c.number for c in report.waiting] == [5] and "bird2" in report.held_back[0]
    assert sorted(p.parent.name for p in squad.folder.glob("swimmers/*/card.png")) == ["1", "3"]
    page = report.page.read_text("utf-8")
    assert page.count('class="card"') == 2 and "bird2" not in page


def test_a_card_is_taken_away_when_sharing_is_withdrawn(squad):
    make_cards(squad, progress=False)
    path = squad.folder / "roster.csv"
    path.write_text(path.read_text("utf-8").replace("2027-01-31,yes", "2027-01-31,no"), "utf-8")
    report = make_cards(type(squad).open(squad.folder), progress=False)
    assert (
        report.made == ()
        and not list(squad.folder.glob("swimmers/*/card.*"))
        and not (squad.out / "cards.html").exists()
    )


def test_what_is_shared_counts_only_those_who_may_be_filmed_and_were_seen(squad):
    shares = what_is_shared(rows_of(squad), read_grid(squad.grid_file), USUAL_CHECKPOINTS)
    assert [(s.fault.key, s.numbers, s.of) for s in shares] == [("hooked_feet", (1, 2), 4), ("dropped_elbow", (1,), 1)]


def test_the_squads_page_says_how_it_was_counted_and_carries_no_picture(squad):
    page = write_squad_page(squad).read_text("utf-8")
    assert "2 of 4" in page and "by one coach" in page and "<img" not in page and "bird4" not in page
    assert "second adult" in page and "Local safeguarding rules" in page


@pytest.mark.parametrize("alias", HOSTILE)
def test_no_cell_of_the_roster_becomes_markup(tmp_path, alias):
    squad = squad_of(tmp_path / "s", member(1, alias, lane=alias), member(2, alias, do_not_film=True), place=alias)
    Grid(squad.grid_file).put(1, "kick", FAULT, "hooked_feet")
    from casebook.squad.day import print_sheets

    pages = [*print_sheets(squad, alias=True), make_cards(squad, progress=False).page, write_squad_page(squad)]
    for path in pages:
        body = path.read_text("utf-8").partition("</style>")[2]
        assert not re.search(r"<script|<img(?! src=\"data:)|onerror=[^&]*\)\s*>|\u202e", body), path.name
        assert "default-src 'none'" in unescape(path.read_text("utf-8"))
    assert [p.name for p in (squad.folder / "swimmers").iterdir()] == ["1"]
