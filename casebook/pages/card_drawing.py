"""Drawing the card: as a picture for a phone's messages, and as a page of paper with its words as text."""

from __future__ import annotations

import io
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from typing import TYPE_CHECKING, Any

from casebook.pages.card_picture import CardStill, still_picture
from casebook.pages.card_sheet import FACES, PAPER, PHONE, Setting, Sheet, set_card
from casebook.pages.palette import LIGHT, rgb
from casebook.pages.picture import png

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from PIL import Image

    from casebook.pages.card import Card

#: Fonts that come with the chart library, so that a card looks the same on every machine; the others fill in letters.
_FAMILIES = {"serif": ["STIXGeneral", "DejaVu Serif", "DejaVu Sans"], "sans": ["DejaVu Sans"]}
#: STIX letters are small for their size.
_LARGER = {"serif": 1.14, "sans": 1.0}
#: Dots of the picture on paper to an inch.
_PAPER_DPI = 220
_SETTINGS: Any = {"pdf.fonttype": 42, "text.parse_math": False, "text.hinting": "none"}


def card_png(card: Card, still: CardStill | Image.Image | None) -> bytes:
    """The card as PNG of ``PHONE``'s size, without metadata."""
    return png(card_image(card, still))


def card_image(card: Card, still: CardStill | Image.Image | None) -> Image.Image:
    """The card as a picture of ``PHONE``'s size, RGB."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from PIL import Image

    with _quiet():
        setting = set_card(card, PHONE, _width, with_picture=still is not None)
        figure = _figure(setting, _picture(setting, still, 1.0))
        canvas = FigureCanvasAgg(figure)
        canvas.draw()
        return Image.fromarray(bytes_of(canvas)).convert("RGB")


def card_pdf(card: Card, still: CardStill | Image.Image | None) -> bytes:
    """The card as one page of PDF, A5, its words as text; without author, program or date."""
    from matplotlib.backends.backend_pdf import FigureCanvasPdf

    with _quiet():
        setting = set_card(card, PAPER, _width, with_picture=still is not None)
        figure = _figure(setting, _picture(setting, still, _PAPER_DPI / 72))
        FigureCanvasPdf(figure)
        out = io.BytesIO()
        figure.savefig(out, format="pdf", metadata={"Creator": None, "Producer": None, "CreationDate": None})
    return out.getvalue()


def bytes_of(canvas: Any) -> Any:
    """What a canvas shows as an (H, W, 4) uint8 array."""
    import numpy as np

    return np.asarray(canvas.buffer_rgba())


def _picture(setting: Setting, still: CardStill | Image.Image | None, finer: float) -> Image.Image | None:
    if still is None or setting.picture is None:
        return None
    _, _, width, height = setting.picture
    size = (round(width * finer), max(1, round(height * finer)))
    return still_picture(still, size) if isinstance(still, CardStill) else whole_picture(still, size)


def whole_picture(picture: Image.Image, size: tuple[int, int]) -> Image.Image:
    """A picture without cut, as large as fits into ``size`` (width, height) [px], on paper."""
    from PIL import Image

    scale = min(size[0] / picture.width, size[1] / picture.height)
    fitted = picture.convert("RGB").resize(
        (max(1, round(picture.width * scale)), max(1, round(picture.height * scale))), Image.Resampling.LANCZOS
    )
    sheet = Image.new("RGB", size, rgb(LIGHT.paper))
    sheet.paste(fitted, ((size[0] - fitted.width) // 2, (size[1] - fitted.height) // 2))
    return sheet


def _figure(setting: Setting, picture: Image.Image | None) -> Figure:
    from matplotlib.figure import Figure

    sheet = setting.sheet
    figure = Figure(figsize=(sheet.width / 72, sheet.height / 72), dpi=72, facecolor=LIGHT.paper)
    if picture is not None and setting.picture is not None:
        _put(figure, sheet, picture, setting.picture)
    for line in setting.lines:
        figure.text(
            line.x / sheet.width, 1 - line.y / sheet.height, line.words, fontproperties=_face(line.kind, line.size),
            color=getattr(LIGHT, FACES[line.kind][2]), va="baseline", ha="left", parse_math=False,
        )  # fmt: skip
    return figure


def _put(figure: Figure, sheet: Sheet, picture: Image.Image, place: tuple[float, float, float, float]) -> None:
    import numpy as np

    x, y, width, height = place
    box = (x / sheet.width, 1 - (y + height) / sheet.height, width / sheet.width, height / sheet.height)
    axes = figure.add_axes(box)
    axes.axis("off")
    axes.imshow(np.asarray(picture), interpolation="none", aspect="auto")


def _face(kind: str, size: float) -> Any:
    from matplotlib.font_manager import FontProperties

    family, weight, _ = FACES[kind]
    return FontProperties(family=_FAMILIES[family], weight=weight, size=size * _LARGER[family])


def _width(words: str, kind: str, size: float) -> float:
    return _unit_width(words, kind) * size


@cache
def _unit_width(words: str, kind: str) -> float:
    """Width of a line whose letters have the size 1."""
    from matplotlib.textpath import text_to_path

    return float(text_to_path.get_text_width_height_descent(words, _face(kind, 100.0), ismath=False)[0]) / 100


@contextmanager
def _quiet() -> Iterator[None]:
    """Our own settings for one drawing, whatever this computer's are; no complaint about letters that no font holds."""
    import matplotlib

    with warnings.catch_warnings(), matplotlib.rc_context():
        warnings.simplefilter("ignore", UserWarning)
        matplotlib.rcdefaults()
        matplotlib.rcParams.update(_SETTINGS)
        yield
