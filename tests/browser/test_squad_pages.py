"""The squad's sheets in a real browser: slates as printed are read back, nothing is fetched, nothing is in the way."""

from __future__ import annotations

import io
import re
from datetime import date
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from axe_playwright_python.sync_playwright import Axe
from PIL import Image

from casebook.clip.clip import Clip
from casebook.clip.loop import encode_loop
from casebook.squad import day
from casebook.squad.cuts import Cut
from casebook.squad.cutting import cut_recording
from casebook.squad.grid import Grid
from casebook.squad.roster import Member
from casebook.squad.slate import slates_in
from casebook.squad.squad import Squad, new_squad

if TYPE_CHECKING:
    from pathlib import Path

pytestmark = pytest.mark.browser
NUMBERS = (1, 7, 42, 99)
SHEETS = ("film_list.html", "slates.html", "grid_sheet.html", "cards.html", "squad.html")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A squad's out folder with all its sheets."""
    place = tmp_path_factory.mktemp("squad") / "s"
    agreed = {"consent": True, "sharing": True, "minor": False, "do_not_film": False}
    members = [Member(n, f"bird{n}", "learner", until=date(2027, 1, 1), **agreed) for n in NUMBERS]
    new_squad(place, (*members, Member(3, "owl", "learner", do_not_film=True)), date="2026-05-02", invented=True)
    squad, grid = Squad.open(place), Grid(place / "grid.csv")
    for number, fault in ((1, "hooked_feet"), (7, "hooked_feet"), (42, "scissor")):
        grid.put(number, "kick", "fault", fault)
    grid.put(99, "catch", "fine")
    grid.put(99, "entry", "look again")
    path = place / "long.mp4"
    path.write_bytes(encode_loop([np.full((90, 160, 3), 90, np.uint8)] * 20, np.arange(20) / 10).mp4)
    with Clip(path) as clip:
        cut_recording(squad, clip, [Cut(0, 20, 1)], progress=False)
    day.print_sheets(squad, alias=True)
    day.make_cards(squad, progress=False)
    day.write_squad_page(squad)
    return squad.out


def test_the_printed_slates_are_read_as_their_numbers(folder: Path, new_page: Any) -> None:
    page = new_page(900, 1200)
    page.goto((folder / "slates.html").as_uri())
    slates = page.locator(".slate")
    read = [slates_in(np.asarray(Image.open(io.BytesIO(s.screenshot())).convert("RGB"))).numbers for s in slates.all()]
    assert read == [frozenset({n}) for n in NUMBERS]
    assert page.evaluate("[...document.querySelectorAll('.slate .figure')].every(t => t.getBBox().width < 132)")


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("sheet", SHEETS)
def test_a_sheet_asks_for_nothing_and_everybody_can_read_it(
    folder: Path, new_page: Any, sheet: str, scheme: str
) -> None:
    page = new_page(color_scheme=scheme)
    complaints: list[str] = []
    page.on("console", lambda message: complaints.append(message.text))
    page.goto((folder / sheet).as_uri())
    assert all(u == (folder / sheet).as_uri() or u.startswith("data:") for u in page.requested)
    assert complaints == []
    found = Axe().run(page).response["violations"]
    assert [(v["id"], [n["html"][:90] for n in v["nodes"]][:3]) for v in found] == []
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


def test_on_a_phone_nothing_runs_out_of_the_page(folder: Path, new_page: Any) -> None:
    page = new_page(390, 844)
    for sheet in SHEETS:
        page.goto((folder / sheet).as_uri())
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), sheet


def test_on_paper_the_film_list_is_one_page_and_each_slate_its_own(folder: Path, new_page: Any, tmp_path: Path) -> None:
    agreed = {"consent": True, "minor": False, "until": date(2027, 1, 1)}
    many = [Member(n, f"bird{n}", "learner", do_not_film=n % 6 == 0, lane=str(n % 4), **agreed) for n in range(1, 31)]
    squad = Squad.open(new_squad(tmp_path / "s", tuple(many), date="2026-05-02", invented=True))

    def pages_of(path: Path) -> int:
        page = new_page()
        page.goto(path.as_uri())
        return len(re.findall(rb"/Type\s*/Page\b", page.pdf(prefer_css_page_size=True)))

    assert pages_of(day.write_film_list(squad)) == 1
    assert pages_of(folder / "slates.html") == len(NUMBERS)
