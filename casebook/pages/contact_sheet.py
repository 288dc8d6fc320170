"""The contact sheet: covered pictures of a shot side by side, for the coach to look at before anybody else does.

Each picture stands whole, for what must not be seen may stand anywhere in it. Pictures of which nothing is shown stand
there as flat fields.
"""

from __future__ import annotations

import base64
import html
import math
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from casebook.case.covering import Check, covers_of, digest_of, for_others, keep_check, withheld
from casebook.errors import CaseError, ClipError
from casebook.files import write_atomic
from casebook.pages.block import media_name
from casebook.pages.palette import LIGHT, PICTURE, rgb
from casebook.pages.picture import font, jpeg

if TYPE_CHECKING:
    from collections.abc import Sequence

    from PIL import Image

    from casebook.case.desk import Desk
    from casebook.clip.clip import Clip

#: Width of one picture on the page and on the one picture of all. [px]
PAGE_WIDTH, SMALL_WIDTH = 480, 240
#: Pictures a row on the one picture of all.
A_ROW = 6
#: So many pictures at most are taken evenly from a shot; those in doubt are all taken.
EVENLY = 240


@dataclass(frozen=True, slots=True)
class ContactSheet:
    """Covered pictures of a shot, on a page and in one picture.

    ``frames``: those shown; ``doubtful``: those among them that need a closer look; ``withheld``: frames of the shot of
    which others see nothing. ``page``: where the page lies. A notebook shows the one picture.
    """

    page: Path
    frames: tuple[int, ...]
    doubtful: tuple[int, ...]
    withheld: tuple[int, ...]
    picture: bytes = field(repr=False)

    def __str__(self) -> str:
        words = f"{len(self.frames)} pictures to look at"
        words += f", {len(self.doubtful)} of them in doubt (marked)" if self.doubtful else ""
        return words + (f"; of {len(self.withheld)} frames nothing is shown" if self.withheld else "")

    def _repr_jpeg_(self) -> bytes:
        return self.picture


def contact_sheet(desk: Desk, doubtful: Sequence[int] = (), every: int = 0) -> ContactSheet:
    """Lay out the covered pictures of a shot.

    Parameters
    ----------
    desk : Desk
    doubtful : sequence of int
        Frames that are shown in any case and marked, such as ``HeadCovers.weak``.
    every : int
        Every so many frames; 0: every frame up to ``EVENLY`` of them, else as many evenly.
    """
    shot = for_others(desk.case.folder, desk.shot, name=desk.shot.id)
    clip = shot.clip
    every = every or math.ceil((shot.stop - shot.start) / EVENLY)
    marked = {f for f in doubtful if shot.start <= f < shot.stop}
    frames = sorted({*range(shot.start, shot.stop, every), shot.stop - 1, *marked})
    hidden = withheld(desk.case.folder, desk.shot)
    tiles = [_tile(clip, frame, PAGE_WIDTH) for frame in frames]
    page = _place(desk)
    write_atomic(page, _page(desk, frames, tiles, marked, hidden))
    whole = _together(frames, tiles, marked)
    return ContactSheet(page, tuple(frames), tuple(sorted(marked)), hidden, jpeg(whole, 80))


def looked_at(desk: Desk, by: str) -> Check:
    """Keep the coach's word that he looked at every picture of the sheet; counts until anything changes.

    Raises CaseError if there is no sheet of the covers as they are now, or no initials.
    """
    digest = digest_of(desk.case.folder, desk.shot)
    page = _place(desk)
    if not page.is_file() or _SEAL.format(digest=digest) not in page.read_text("utf-8"):
        raise CaseError(
            f'There is no sheet of the covered pictures of shot "{desk.shot.id}" as they are now.',
            "Make it with casebook cover FOLDER --sheet, and look at every picture.",
        )
    shown = desk.shot.stop - desk.shot.start - len(withheld(desk.case.folder, desk.shot))
    return keep_check(desk.case.folder, desk.shot, by, shown)


def _place(desk: Desk) -> Path:
    return desk.out / "check" / media_name(desk.shot.id, ending="html")


def _tile(clip: Clip, frame: int, width: int) -> Image.Image:
    from PIL import Image

    try:
        picture = clip.frame(frame)
    except ClipError:
        # Damaged in the file: nobody will see it either.
        picture = np.zeros((clip.size[1], clip.size[0], 3), np.uint8)
    height = max(1, round(clip.size[1] * width / clip.size[0]))
    return Image.fromarray(picture).resize((width, height), Image.Resampling.BOX)


def _together(frames: Sequence[int], tiles: Sequence[Image.Image], marked: set[int]) -> Image.Image:
    """All pictures on one, each with its number; those in doubt in a frame."""
    from PIL import Image, ImageDraw

    height = round(tiles[0].height * SMALL_WIDTH / tiles[0].width)
    cell = (SMALL_WIDTH + 6, height + 6)
    sheet = Image.new("RGB", (A_ROW * cell[0], math.ceil(len(tiles) / A_ROW) * cell[1]), rgb(LIGHT.paper))
    pen, face = ImageDraw.Draw(sheet), font(14)
    for n, (frame, tile) in enumerate(zip(frames, tiles, strict=True)):
        x, y = n % A_ROW * cell[0] + 3, n // A_ROW * cell[1] + 3
        sheet.paste(tile.resize((SMALL_WIDTH, height)), (x, y))
        if frame in marked:
            pen.rectangle((x, y, x + SMALL_WIDTH - 1, y + height - 1), outline=rgb(PICTURE.measure), width=3)
        pen.text(
            (x + 6, y + 4), str(frame), font=face, fill=rgb(PICTURE.line), stroke_width=2, stroke_fill=rgb(PICTURE.dark)
        )
    return sheet


def _page(
    desk: Desk, frames: Sequence[int], tiles: Sequence[Image.Image], marked: set[int], hidden: Sequence[int]
) -> str:
    cells = []
    for frame, tile in zip(frames, tiles, strict=True):
        source = base64.b64encode(jpeg(tile, 78)).decode("ascii")
        kind = ' class="doubt"' if frame in marked else ""
        words = f"frame {frame}" + (", look closely" if frame in marked else "")
        cells.append(
            f'<figure{kind}><img alt="Covered picture, {words}" width="{tile.width}" height="{tile.height}" '
            f'src="data:image/jpeg;base64,{source}"><figcaption>{words}</figcaption></figure>'
        )
    held = ", ".join(sorted({c.name for c in covers_of(desk.case.folder, desk.shot.id)})) or "none"
    told = f"{len(frames)} pictures. Covers: {held}."
    if hidden:
        told += f" Of {len(hidden)} frames nothing is shown to others."
    return _SHELL.format(
        seal=_SEAL.format(digest=digest_of(desk.case.folder, desk.shot)),
        title=html.escape(f"To be looked at: {desk.shot.id}"),
        told=html.escape(told),
        cells="\n".join(cells),
    )


_SEAL = '<meta name="covered-pictures" content="{digest}">'
_SHELL = """<!DOCTYPE html>
<html lang="en"><head><meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; img-src data:; style-src 'unsafe-inline'">
<meta name="viewport" content="width=device-width, initial-scale=1">{seal}<title>{title}</title>
<style>
body {{ font: 17px/1.5 system-ui, sans-serif; margin: 1.5rem; background: #f6f4ee; color: #20262b }}
p {{ max-width: 44rem }}
main {{ display: grid; grid-template-columns: repeat(auto-fill, minmax(20rem, 1fr)); gap: .75rem }}
figure {{ margin: 0 }} img {{ width: 100%; height: auto; display: block }}
figcaption {{ font-size: .9rem }} .doubt img {{ outline: 4px solid #b4510f; outline-offset: -4px }}
@media (prefers-color-scheme: dark) {{ body {{ background: #171b1e; color: #e8e6e0 }} }}
</style></head><body><h1>{title}</h1>
<p>Look at every picture. Is any face, mirror image of a face, name, or anybody else to be seen? Then cover it, make the
sheet again and look again. What is in doubt is framed. This page is for you alone.</p>
<p>{told}</p>
<main>
{cells}
</main></body></html>
"""
