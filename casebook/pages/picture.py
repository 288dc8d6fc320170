"""Cutting close-ups out of frames, and drawing on them for the notebook with the same lines as the page."""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from casebook.pages.overlay import TEXT_WIDTHS, labels, points
from casebook.pages.palette import LIGHT, PICTURE, rgb

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from PIL import Image

Box = tuple[float, float, float, float]
Pixels = tuple[int, int, int, int]
#: Lines are drawn this much larger and shrunk, so that they are smooth.
_FINER = 3


def boxes_of_one_size(wanted: Sequence[Box], frame_size: tuple[int, int], aspect: float) -> list[Pixels]:
    """Boxes around what is wanted, all of one size and inside the frame, so that close-ups can be compared.

    Parameters
    ----------
    wanted : sequence of (x0, y0, x1, y1) [px]
    frame_size : (width, height) [px]
    aspect : float
        Width over height of the boxes.

    Returns
    -------
    list of (x0, y0, x1, y1) in whole pixels
    """
    width = max(max(x1 - x0 for x0, _, x1, _ in wanted), aspect * max(y1 - y0 for _, y0, _, y1 in wanted))
    width = min(width, frame_size[0], frame_size[1] * aspect)
    w, h = max(2, int(width)), max(2, int(width / aspect))
    out = []
    for x0, y0, x1, y1 in wanted:
        left = int(np.clip(round((x0 + x1 - w) / 2), 0, max(0, frame_size[0] - w)))
        top = int(np.clip(round((y0 + y1 - h) / 2), 0, max(0, frame_size[1] - h)))
        out.append((left, top, left + w, top + h))
    return out


def around(lines: Sequence[Sequence[tuple[float, float]]], margin: float = 0.35) -> Box:
    """The box around some lines, wider by ``margin`` of its longer side. [px]"""
    xy = np.array([p for line in lines for p in line], float)
    low, high = xy.min(0), xy.max(0)
    room = margin * float(np.max(high - low))
    return float(low[0] - room), float(low[1] - room), float(high[0] + room), float(high[1] + room)


def cut(frame: NDArray[np.uint8], box: Pixels, width: int) -> tuple[Image.Image, float]:
    """A part of a frame, ``width`` pixels wide or its own width if that is less; with the scale used."""
    from PIL import Image

    x0, y0, x1, y1 = box
    part = Image.fromarray(np.ascontiguousarray(frame[y0:y1, x0:x1]))
    if part.width <= width:
        return part, 1.0
    height = max(1, round(part.height * width / part.width))
    return part.resize((width, height), Image.Resampling.LANCZOS), width / (x1 - x0)


def drawn(image: Image.Image, drawing: Mapping[str, Any], weight: float = 0.0) -> Image.Image:
    """A copy of the picture with the drawing on it; ``weight`` is a body line's width [px], 0 for a fitting one."""
    from PIL import Image, ImageDraw

    weight = weight or max(2.0, image.width / 150)
    big = Image.new("RGBA", (image.width * _FINER, image.height * _FINER), (*rgb(PICTURE.dark), 0))
    pen = ImageDraw.Draw(big)
    dark, line, warm = (*rgb(PICTURE.dark), 255), (*rgb(PICTURE.line), 255), (*rgb(PICTURE.measure), 255)
    for kind, tone, part in (("reference", line, 0.6), ("body", line, 1.0), ("measure", warm, 1.1)):
        for path in points(drawing, kind):
            scaled = [(x * _FINER, y * _FINER) for x, y in path]
            pieces = _dashes(scaled, 5.5 * weight * _FINER) if kind == "reference" else [scaled]
            for colour, extra in ((dark, 0.7), (tone, 0.0)):
                _stroke(pen, pieces, (part + extra) * weight * _FINER, colour)
    for path in points(drawing, "body"):
        for x, y in path:
            for colour, size in ((dark, 1.6), (line, 1.05)):
                r = size * weight * _FINER
                pen.ellipse((x * _FINER - r, y * _FINER - r, x * _FINER + r, y * _FINER + r), fill=colour)
    for (x, y), words in labels(drawing):
        _write(pen, (x * _FINER, y * _FINER), words, image.width / TEXT_WIDTHS * _FINER)
    small = big.resize(image.size, Image.Resampling.BOX)
    return Image.alpha_composite(image.convert("RGBA"), small).convert("RGB")


def side_by_side(images: Sequence[Image.Image], height: int = 330, gap: int = 12) -> Image.Image:
    """Pictures in a row at one height, on paper."""
    from PIL import Image

    fitted = [i.resize((max(1, round(i.width * height / i.height)), height), Image.Resampling.LANCZOS) for i in images]
    row = Image.new("RGB", (sum(i.width for i in fitted) + gap * (len(fitted) - 1), height), rgb(LIGHT.paper))
    x = 0
    for image in fitted:
        row.paste(image, (x, 0))
        x += image.width + gap
    return row


def on_ground(figure: Image.Image) -> Image.Image:
    """A cut-out figure on the page's calm ground."""
    from PIL import Image

    ground = Image.new("RGBA", figure.size, (*rgb(LIGHT.ground), 255))
    return Image.alpha_composite(ground, figure.convert("RGBA")).convert("RGB")


def jpeg(image: Image.Image, quality: int = 86) -> bytes:
    """The picture as JPEG without any metadata."""
    out = io.BytesIO()
    image.convert("RGB").save(out, "JPEG", quality=quality, optimize=True)
    return out.getvalue()


def png(image: Image.Image) -> bytes:
    """The picture as PNG without any metadata."""
    out = io.BytesIO()
    image.save(out, "PNG", optimize=True)
    return out.getvalue()


def _stroke(pen: Any, pieces: list[list[tuple[float, float]]], width: float, colour: tuple[int, ...]) -> None:
    for piece in pieces:
        if len(piece) > 1:
            pen.line(piece, fill=colour, width=max(1, round(width)), joint="curve")


def _dashes(path: list[tuple[float, float]], length: float) -> list[list[tuple[float, float]]]:
    out = []
    for (x0, y0), (x1, y1) in pairwise(path):
        n = max(1, round(float(np.hypot(x1 - x0, y1 - y0)) / max(length, 1.0)))
        for k in range(n):
            a, b = (k + 0.2) / n, (k + 0.8) / n
            out.append([(x0 + a * (x1 - x0), y0 + a * (y1 - y0)), (x0 + b * (x1 - x0), y0 + b * (y1 - y0))])
    return out


def _write(pen: Any, at: tuple[float, float], words: str, size: float) -> None:
    pen.text(
        at,
        words,
        font=font(size),
        fill=rgb(PICTURE.line),
        stroke_width=max(1, round(size / 9)),
        stroke_fill=rgb(PICTURE.dark),
        anchor="mm",
    )


def font(size: float) -> Any:
    """The sans that the chart library carries, so that notebooks look the same on every machine."""
    from pathlib import Path

    import matplotlib
    from PIL import ImageFont

    face = Path(matplotlib.get_data_path()) / "fonts/ttf/DejaVuSans-Bold.ttf"
    return ImageFont.truetype(str(face), max(8, round(size)))
