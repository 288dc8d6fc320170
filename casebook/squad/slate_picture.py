"""The slate card as a picture, as it comes out of the printer."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from casebook.squad.slate import CARD_MM, CELLS, FIGURE_MM, LARGE_MM, SMALL_MM, marker_cells

if TYPE_CHECKING:
    from numpy.typing import NDArray


#: Width of two bold figures, in heights of their type.
_EM_OF_TWO = 1.42


def slate_picture(number: int, width: int = 840) -> NDArray[np.uint8]:
    """The card of a number, (H, W, 3) uint8 RGB, ``width`` pixels wide, without the alias."""
    from PIL import Image, ImageDraw

    from casebook.pages.picture import font

    scale = width / CARD_MM[0]
    card = Image.new("L", (width, round(CARD_MM[1] * scale)), 255)
    for left, top, side in (LARGE_MM, SMALL_MM):
        cells = Image.fromarray(np.where(marker_cells(number), 255, 0).astype(np.uint8))
        large = cells.resize((round(side * scale) // CELLS * CELLS,) * 2, Image.Resampling.NEAREST)
        card.paste(large, (round(left * scale), round(top * scale)))
    left, top, wide, high = (v * scale for v in FIGURE_MM)
    pen, face = ImageDraw.Draw(card), font(wide / _EM_OF_TWO)
    pen.text((left + wide / 2, top + high / 2), str(number), font=face, fill=0, anchor="mm")
    return np.repeat(np.asarray(card)[..., None], 3, axis=2)
