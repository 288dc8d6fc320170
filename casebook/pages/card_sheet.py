"""Setting the card for a phone and for paper: words broken into lines, the picture given the room that they leave.

Sizes are in the sheet's own units: pixels of the phone picture, points of the paper. y runs down.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from casebook.pages.card import Card

Measure = Callable[[str, str, float], float]
#: Family, weight and tone of each kind of line.
FACES: dict[str, tuple[str, str, str]] = {
    "kicker": ("sans", "normal", "soft"),
    "title": ("serif", "bold", "ink"),
    "text": ("serif", "normal", "ink"),
    "label": ("sans", "bold", "sea"),
    "cue": ("serif", "bold", "warm"),
    "caption": ("sans", "normal", "soft"),
    "why": ("serif", "normal", "ink"),
    "small": ("sans", "normal", "soft"),
}
#: Size of each kind against that of the text, and its line's height against its own size.
SIZES = {
    "kicker": 0.72,
    "title": 1.5,
    "text": 1.0,
    "label": 0.72,
    "cue": 1.55,
    "caption": 0.66,
    "why": 1.0,
    "small": 0.66,
}
LEADING = {
    "kicker": 1.3,
    "title": 1.17,
    "text": 1.32,
    "label": 1.5,
    "cue": 1.2,
    "caption": 1.36,
    "why": 1.32,
    "small": 1.36,
}
#: Space over a part, in sizes of the text.
OVER = {"kicker": 0.0, "title": 0.35, "text": 0.0, "label": 0.62, "cue": 0.0, "caption": 0.0, "why": 0.3, "small": 0.7}


@dataclass(frozen=True, slots=True)
class Sheet:
    """Width, height, margin, and the largest and smallest text that may stand on it."""

    width: float
    height: float
    margin: float
    largest: float
    smallest: float


PHONE = Sheet(1080.0, 1920.0, 72.0, 44.0, 30.0)
#: DIN EN ISO 216, A5: 148 mm by 210 mm. [pt]
PAPER = Sheet(148 * 72 / 25.4, 210 * 72 / 25.4, 12 * 72 / 25.4, 11.5, 7.0)
#: The picture is at least so high and at most, as a share of its width.
LOWEST, HIGHEST = 0.62, 0.86


@dataclass(frozen=True, slots=True)
class Line:
    """One line of words: where its baseline begins, its kind and size."""

    x: float
    y: float
    words: str
    kind: str
    size: float


@dataclass(frozen=True, slots=True)
class Setting:
    """Lines, and the picture's place (x, y, width, height); no picture has no place."""

    sheet: Sheet
    lines: tuple[Line, ...]
    picture: tuple[float, float, float, float] | None


def set_card(card: Card, sheet: Sheet, measure: Measure, *, with_picture: bool = True) -> Setting:
    """Set a card on a sheet, its text as large as fits; all of it fits.

    Parameters
    ----------
    measure : (words, kind, size) -> width
        How wide a line of words is.
    """
    wide = sheet.width - 2 * sheet.margin
    least = LOWEST * sheet.width if with_picture else 0.0
    size = sheet.largest
    while True:
        top = _column(_head(card), wide, size, measure)
        rest = _column(_body(card), wide, size, measure)
        free = sheet.height - 2 * sheet.margin - _height(top, size) - _height(rest, size)
        free -= 1.05 * size if with_picture else 0.0
        # A picture gives way to words that are long, and then the words to the sheet.
        if free >= (least if size > sheet.smallest else 0.0):
            break
        size *= 0.97
    high = min(free, HIGHEST * sheet.width) if with_picture else 0.0
    lines, y = _placed(top, sheet.margin, sheet.margin, size)
    place = None
    if with_picture and high > 0:
        place = (0.0, y + 0.7 * size, sheet.width, high)
        y = place[1] + high + 0.35 * size
    below, _ = _placed(rest, sheet.margin, y, size)
    return Setting(sheet, (*lines, *below), place)


def broken(words: str, wide: float, measure: Callable[[str], float]) -> list[str]:
    """Words in lines no wider than ``wide``; a word that is wider by itself is broken too."""
    lines: list[str] = []
    for word in words.split():
        if lines and measure(f"{lines[-1]} {word}") <= wide:
            lines[-1] += f" {word}"
            continue
        lines.append(word)
        while len(lines[-1]) > 1 and measure(lines[-1]) > wide:
            long = lines.pop()
            fits = next(k for k in range(len(long) - 1, 0, -1) if k == 1 or measure(long[:k]) <= wide)
            lines += [long[:fits], long[fits:]]
    return lines


def balanced(words: str, wide: float, measure: Callable[[str], float]) -> list[str]:
    """The same in as few lines, which are as even as that allows: no last word stands alone."""
    lines = broken(words, wide, measure)
    for share in (0.55, 0.65, 0.75, 0.85, 0.95):
        narrower = broken(words, share * wide, measure)
        if len(narrower) == len(lines):
            return narrower
    return lines


def _line_width(words: str, kind: str, size: float, measure: Measure) -> float:
    return measure(words, kind, size)


def _head(card: Card) -> list[tuple[str, str]]:
    return [("kicker", f"{card.who} · freestyle, looked at closely"), ("title", card.title)]


def _body(card: Card) -> list[tuple[str, str]]:
    """What stands under the picture, part by part: a label and its words."""
    good = ("What is good", "text", " ".join(card.goods))
    if not card.cue:
        told = [good, ("And then", "text", card.check)]
    else:
        told = [("Think of this", "cue", card.cue), ("Practise this", "text", card.drill), ("", "text", card.dose)]
        told += [("You see that it works", "text", card.check), good]
    parts: list[tuple[str, str]] = [("caption", card.seen)] * bool(card.seen) + [("why", card.why)]
    for label, kind, words in told:
        if words:
            parts += [("label", label)] * bool(label) + [(kind, words)]
    return parts + [("small", " ".join(card.care))] * bool(card.care)


def _column(
    parts: Sequence[tuple[str, str]], wide: float, size: float, measure: Measure
) -> list[tuple[str, str, bool]]:
    """Parts in lines: kind, words, and whether the line begins its part."""
    out: list[tuple[str, str, bool]] = []
    for kind, words in parts:
        width = partial(_line_width, kind=kind, size=SIZES[kind] * size, measure=measure)
        lines = balanced(words, wide, width) if kind == "title" else broken(words, wide, width)
        out += [(kind, line, i == 0) for i, line in enumerate(lines)]
    return out


def _height(column: Sequence[tuple[str, str, bool]], size: float) -> float:
    return sum(size * (SIZES[kind] * LEADING[kind] + OVER[kind] * first) for kind, _, first in column)


def _placed(column: Sequence[tuple[str, str, bool]], x: float, y: float, size: float) -> tuple[list[Line], float]:
    lines = []
    for kind, words, first in column:
        own = SIZES[kind] * size
        y += OVER[kind] * size * first + own * LEADING[kind]
        lines.append(Line(x, y - own * (LEADING[kind] - 0.8) / 1.6, words, kind, own))
    return lines, y
