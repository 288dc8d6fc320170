"""A squad day in the order in which it goes: check, cut, look, hand out. What the commands and the notebook call."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from casebook.clip.clip import Clip
from casebook.errors import SquadError
from casebook.pages.palette import LIGHT, rgb
from casebook.pages.picture import jpeg
from casebook.squad.cards import FILE as CARD
from casebook.squad.cards import make_cards, rows_of
from casebook.squad.checking import check_text
from casebook.squad.cuts import name_cut, read_cuts, write_cuts
from casebook.squad.cutting import cut_recording, earlier_cuts, write_blanked
from casebook.squad.entry import still_of
from casebook.squad.find_slates import cuts_between, find_slates
from casebook.squad.grid import read_grid
from casebook.squad.grid_widget import squad_grid
from casebook.squad.lanes import lanes_text
from casebook.squad.printing import write_film_list, write_grid_sheet, write_slates
from casebook.squad.shared import CAVEAT, what_is_shared
from casebook.squad.squad_page import lanes_of, write_squad_page

if TYPE_CHECKING:
    from IPython.display import Image

    from casebook.squad.cuts import Cut
    from casebook.squad.squad import Squad

__all__ = [
    "card", "check", "cut", "it_was", "make_cards", "plan_text", "print_sheets", "shared_text", "squad_grid", "stills",
    "write_film_list", "write_grid_sheet", "write_slates", "write_squad_page",
]  # fmt: skip
#: Size of one still on the sheet of stills [px], and how many stand in a row.
STILL_SIZE, STILLS_ACROSS = (320, 180), 4
#: Width of a card as a notebook shows it. [px]
SHOWN_CARD = 640


def check(squad: Squad) -> str:
    """Who may be filmed and who may not, in sentences; and what lies in the folder though it no longer may."""
    lines = [check_text(squad.roster, squad.judged_on)]
    lines += [
        f"Number {n} lies in this folder and may not be kept: casebook squad forget FOLDER {n}"
        for n in earlier_cuts(squad)
    ]
    return "\n".join(lines)


def print_sheets(squad: Squad, *, alias: bool = False) -> tuple[Path, Path, Path]:
    """What is printed before the day: the do-not-film list, the slates, the empty grid."""
    return write_film_list(squad), write_slates(squad, alias), write_grid_sheet(squad)


def cut(squad: Squad, video: Path | str, *, anew: bool = False, blanked: bool = False, progress: bool = True) -> str:
    """Cut a recording by ``cuts.csv``, or by its slates where that is empty; returns what was done, in sentences.

    Parameters
    ----------
    anew : bool
        Look for the slates again; the cuts of before are kept as ``cuts.csv.before``.
    blanked : bool
        Also make ``out/recording_blanked.mp4``, in which only what was cut is left to be seen.
    """
    with Clip(video) as clip:
        cuts, how = _cuts(squad, clip, anew, progress)
        said = [how, cut_recording(squad, clip, cuts, progress).text(clip)]
        if blanked:
            copy = write_blanked(squad, clip, cuts, squad.out / "recording_blanked.mp4", progress)
            said.append(f"A copy with all else blanked out: {copy.name}, in the folder out.")
    said.append("The recording is as it was, and still shows everybody: keep it locked away, or delete it.")
    return "\n".join(said)


def it_was(squad: Squad, video: Path | str, at: str, number: int) -> str:
    """Say whose an unread stretch is, by a time in it; returns a sentence. The next cut takes it in."""
    with Clip(video) as clip:
        name_cut(squad.cuts_file, clip, at, number)
    return f"The stretch at {at} is number {number}'s."


def stills(squad: Squad) -> Image:
    """The stills that go on the cards, side by side in the order of the roster, each with its number."""
    import io

    from PIL import Image as Pictures
    from PIL import ImageDraw

    from casebook.pages.picture import font

    held = [(m.number, raw) for m in squad.filmable if (raw := still_of(squad, m.number, STILL_SIZE[0])) is not None]
    rows = max(1, -(-len(held) // STILLS_ACROSS))
    sheet = Pictures.new("RGB", (STILLS_ACROSS * STILL_SIZE[0], rows * STILL_SIZE[1]), rgb(LIGHT.paper))
    pen = ImageDraw.Draw(sheet)
    for k, (number, raw) in enumerate(held):
        left, top = k % STILLS_ACROSS * STILL_SIZE[0], k // STILLS_ACROSS * STILL_SIZE[1]
        picture = Pictures.open(io.BytesIO(raw))
        picture.thumbnail((STILL_SIZE[0] - 6, STILL_SIZE[1] - 6))
        sheet.paste(picture, (left, top))
        pen.text((left + 10, top + 8), str(number), font=font(28), fill="white", stroke_width=2, stroke_fill="black")
    return _shown(jpeg(sheet), "Stills of the squad, each with its number")


def card(squad: Squad, number: int) -> Image:
    """A swimmer's card as it was made, somewhat smaller."""
    path = squad.entry(number) / CARD
    if not path.is_file():
        raise SquadError(f"There is no card for number {number}.", "See why with make_cards, or what its report says.")
    import io

    from PIL import Image as Pictures

    picture = Pictures.open(io.BytesIO(path.read_bytes()))
    picture.thumbnail((SHOWN_CARD, 4 * SHOWN_CARD))
    return _shown(jpeg(picture), f"The card of swimmer {number}")


def shared_text(squad: Squad) -> str:
    """What the squad shares, as lines, with how it was counted."""
    found = what_is_shared(rows_of(squad), read_grid(squad.grid_file), squad.checkpoints)
    return "\n".join([*(share.text() for share in found), CAVEAT])


def plan_text(squad: Squad) -> str:
    """The lanes as they stand, planned if no plan is kept."""
    return lanes_text(lanes_of(squad, rows_of(squad)))


def _shown(raw: bytes, alt: str) -> Image:
    from IPython.display import Image

    return Image(raw, alt=alt)


def _cuts(squad: Squad, clip: Clip, anew: bool, progress: bool) -> tuple[tuple[Cut, ...], str]:
    kept = () if anew else read_cuts(squad.cuts_file, clip)
    if kept:
        return kept, f"Cut by time, as {squad.cuts_file.name} says."
    if squad.cuts_file.is_file():
        squad.cuts_file.replace(squad.cuts_file.with_name(f"{squad.cuts_file.name}.before"))
    cuts = cuts_between(squad, clip, find_slates(clip, progress))
    write_cuts(squad.cuts_file, cuts, clip)
    return cuts, f"{len(cuts)} stretches found by their slates; {squad.cuts_file.name} holds them, for you to mend."
