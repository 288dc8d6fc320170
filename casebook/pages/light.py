"""Pages that fit: a light copy for a phone message, and a full page that a mail still takes. Words and numbers stay."""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from casebook.pages import plain
from casebook.pages.block import MIME
from casebook.pages.media import Media
from casebook.pages.page import Document, page_html
from casebook.pages.picture import jpeg
from casebook.pages.section import Section

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

#: What a message takes without a second thought. [bytes] common practice, no source
LIGHT_BYTES = 3_000_000
#: What a mail takes. [bytes] common practice, no source
FULL_BYTES = 15_000_000


@dataclass(frozen=True, slots=True)
class Weight:
    """How much is left out: widths [px], JPEG quality, number of loops and their rate factor, voice notes and the
    pictures of the other strokes or none."""

    width: int
    quality: int
    loops: int
    loop_width: int
    crf: int
    voice: bool = False
    others: bool = False


#: From the fullest to the barest; the first that fits is taken.
WEIGHTS = (
    Weight(1080, 76, 3, 640, 30, voice=True),
    Weight(960, 72, 3, 560, 31),
    Weight(800, 68, 2, 480, 33),
    Weight(640, 62, 1, 420, 34),
    Weight(520, 55, 0, 420, 34),
)
#: The same for a full page that would be too large as it is: every loop stays.
FULL_WEIGHTS = (
    Weight(1280, 80, 99, 960, 30, voice=True, others=True),
    Weight(1080, 74, 99, 800, 31, voice=True, others=True),
    Weight(960, 68, 99, 640, 33, voice=True, others=True),
)
#: A page speaks most of what is worth working on.
_ORDER = ("outside", "near", "undecided", "within", "shown")


@dataclass(frozen=True, slots=True)
class LightMedia(Media):
    """The same folder, every picture and loop of it made smaller on the way."""

    weight: Weight = WEIGHTS[0]

    def read(self, name: object) -> bytes:
        """The bytes of one file, made smaller where that makes them fewer; raises PageError as ``Media.read``."""
        # Dataclasses with slots are made anew, which leaves a bare super() behind.
        raw = Media.read(self, name)
        smaller = _loop(raw, self.weight) if str(name).endswith(".mp4") else _picture(raw, self.weight)
        return min(raw, smaller, key=len)


def light_html(sections: Sequence[Section], media: Path, document: Document, limit: int = LIGHT_BYTES) -> str:
    """The light page of these sections: the fullest of ``WEIGHTS`` that is under ``limit`` bytes, else the barest."""
    loops = len(loops_by_weight(sections))

    def words(weight: Weight) -> str:
        left = f"{min(weight.loops, loops)} of {loops} loops" if loops else "and no loop"
        return f"A light copy for a message: the same words and numbers, smaller pictures, {left}."

    return _fitting(sections, media, document, WEIGHTS, limit, words)


def full_html(sections: Sequence[Section], media: Path, document: Document, limit: int = FULL_BYTES) -> str:
    """The page as it is, if under ``limit`` bytes; else with its pictures and loops made as small as that asks for."""
    html = page_html(sections, Media(media), document)
    if len(html) < limit:
        return html
    return _fitting(sections, media, document, FULL_WEIGHTS, limit, lambda weight: document.copy)


def _fitting(
    sections: Sequence[Section],
    media: Path,
    document: Document,
    weights: Sequence[Weight],
    limit: int,
    words: Callable[[Weight], str],
) -> str:
    matter = loops_by_weight(sections)
    for weight in weights:
        kept = frozenset(matter[: weight.loops])
        own = replace(document, copy=words(weight), notes=document.notes if weight.voice else {})
        lighter = [lightened(s, kept, others=weight.others) for s in sections]
        html = page_html(lighter, LightMedia(media, weight), own)
        if len(html.encode("utf-8")) < limit:
            break
    return html


def loops_by_weight(sections: Sequence[Section]) -> list[str]:
    """The ids of a page's loops: that of the first thing to work on first, then by verdict, then in reading order."""
    named = {plain.identifier(name) for s in sections if s.leads for b in s.blocks() if (name := _names_loop(b))}
    found: dict[str, tuple[bool, int]] = {}
    for section in sections:
        blocks = list(section.blocks())
        verdicts = [plain.words(m, "verdict") for b in blocks for m in plain.rows(b, "measures")]
        worst = min((_ORDER.index(v) for v in verdicts if v in _ORDER), default=len(_ORDER))
        for block in blocks:
            if block.get("kind") == "loop":
                loop = _loop_id(block)
                found.setdefault(loop, (loop not in named, worst))
    return sorted(found, key=found.__getitem__)


def lightened(section: Section, kept: frozenset[str], *, others: bool = False) -> Section:
    """The section with these loops alone, and without the pictures of the other strokes unless they are asked for."""
    return replace(section, cells=tuple(_cell(cell, kept, others) for cell in section.cells))


def _cell(cell: Mapping[str, Any], kept: frozenset[str], others: bool) -> Mapping[str, Any]:
    found = [_output(o, kept, others) for o in cell.get("outputs", [])]
    return {**cell, "outputs": [o for o in found if o is not None]} if found else cell


def _output(output: Mapping[str, Any], kept: frozenset[str], others: bool) -> Mapping[str, Any] | None:
    data = output.get("data", {})
    block = data.get(MIME)
    if not isinstance(block, Mapping) or block.get("kind") != "loop":
        return output
    if _loop_id(block) not in kept:
        return None
    return output if others else {**output, "data": {**data, MIME: {**block, "others": []}}}


def _loop_id(block: Mapping[str, Any]) -> str:
    return plain.identifier(plain.words(block, "name", "loop"))


def _names_loop(block: Mapping[str, Any]) -> str:
    pictures = [plain.row(block, "you"), plain.row(block, "picture"), *plain.rows(block, "pictures")]
    return next((name for p in pictures if (name := plain.words(p, "loop"))), "")


def _picture(raw: bytes, weight: Weight) -> bytes:
    from PIL import Image

    image: Image.Image = Image.open(io.BytesIO(raw))
    if image.width > weight.width:
        height = max(1, round(image.height * weight.width / image.width))
        image = image.resize((weight.width, height), Image.Resampling.LANCZOS)
    if image.mode != "RGBA":
        return jpeg(image, weight.quality)
    out = io.BytesIO()
    image.quantize(128, Image.Quantize.FASTOCTREE).save(out, "PNG", optimize=True)
    return out.getvalue()


def _loop(raw: bytes, weight: Weight) -> bytes:
    from casebook.clip.loop import encode_loop

    return encode_loop(_frames(raw), _times(raw), width=weight.loop_width, crf=weight.crf).mp4


def _times(raw: bytes) -> list[float]:
    """When each picture begins [s]; pictures of a loop are stored in the order in which they are shown."""
    import av

    with av.open(io.BytesIO(raw), "r") as box:
        found = [(p.pts, p.time_base) for p in box.demux(video=0)]
        return [float(pts * base) for pts, base in found if pts is not None and base is not None]


def _frames(raw: bytes) -> Iterator[NDArray[np.uint8]]:
    import av

    from casebook.clip.picture import rgb, shape_of

    with av.open(io.BytesIO(raw), "r") as box:
        for frame in box.decode(video=0):
            yield rgb(frame, shape_of(frame, None, 0))
