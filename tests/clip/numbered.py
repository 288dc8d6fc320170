"""Small films for the tests: every picture carries its number as black and white blocks, and coloured corners."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import numpy as np

BITS = 10
CORNERS = {"top_left": (200, 30, 30), "top_right": (30, 180, 30), "bottom_left": (30, 30, 200)}


def picture(number: int, size: tuple[int, int] = (160, 96)) -> np.ndarray:
    """One picture, (H, W, 3) uint8: a moving texture, the number in two rows of blocks (plain, inverted), corners."""
    width, height = size
    y, x = np.mgrid[:height, :width]
    grey = 128 + 50 * np.sin((x + 3 * number) / 9.0) + 40 * np.sin((y - 2 * number) / 7.0)
    image = np.repeat(grey[..., None], 3, axis=2).clip(0, 255).astype(np.uint8)
    for bit in range(BITS):
        left, right = round(width * bit / BITS), round(width * (bit + 1) / BITS)
        on = 255 * (number >> bit & 1)
        image[round(height * 0.3) : round(height * 0.5), left:right] = on
        image[round(height * 0.5) : round(height * 0.7), left:right] = 255 - on
    across, down = width // 5, height // 5
    image[:down, :across] = CORNERS["top_left"]
    image[:down, -across:] = CORNERS["top_right"]
    image[-down:, :across] = CORNERS["bottom_left"]
    return image


def read_number(image: np.ndarray) -> int:
    """The number in an upright picture of any size; -1 if the two rows of blocks disagree."""
    height, width = image.shape[:2]
    grey = image.astype(float).mean(axis=2)
    number = 0
    for bit in range(BITS):
        left, right = round(width * (bit + 0.3) / BITS), round(width * (bit + 0.7) / BITS)
        plain = grey[round(height * 0.37) : round(height * 0.43), left:right].mean() > 128
        inverted = grey[round(height * 0.57) : round(height * 0.63), left:right].mean() > 128
        if plain == inverted:
            return -1
        number |= int(plain) << bit
    return number


def corner(image: np.ndarray, name: str) -> np.ndarray:
    """Mean RGB of a corner's middle, (3,) float."""
    height, width = image.shape[:2]
    rows = slice(height // 15, height // 8) if name.startswith("top") else slice(-(height // 8), -(height // 15))
    columns = slice(width // 15, width // 8) if name.endswith("left") else slice(-(width // 8), -(width // 15))
    return image[rows, columns].reshape(-1, 3).mean(axis=0)


@dataclass
class Film:
    """What to encode; the defaults are a plain phone-like file without B-frames."""

    codec: str = "libx264"
    n: int = 48
    size: tuple[int, int] = (160, 96)
    rate: Fraction = field(default_factory=lambda: Fraction(60))
    options: dict[str, str] = field(default_factory=dict)
    pix_fmt: str = "yuv420p"
    ticks: list[int] | None = None  # Presentation times in 1/tick_rate s; none: one picture per 1/rate s.
    tick_rate: int = 90_000
    audio: str = ""
    pixel_aspect: Fraction | None = None
    turn: int = 0  # Clockwise degrees that a player must turn the stored picture; ``size`` is the size as shown.
    matrix: str = "ITU601"
    full_range: bool = False
    untagged: bool = False
    container_options: dict[str, str] = field(default_factory=dict)


_TAGS = {"ITU601": 6, "ITU709": 1, "BT2020": 9}  # ITU-T H.273 matrix coefficients.


def shoot(path: Path, film: Film, pictures: list[np.ndarray] | None = None) -> Path:
    """Encode the film to ``path``; the container follows from the ending."""
    pictures = [np.rot90(p, film.turn // 90) for p in pictures or [picture(i, film.size) for i in range(film.n)]]
    with av.open(str(path), "w", options=film.container_options) as box:
        stream: Any = box.add_stream(film.codec, rate=film.rate, options=film.options)
        stream.height, stream.width = pictures[0].shape[:2]
        stream.pix_fmt = film.pix_fmt
        context = stream.codec_context
        if film.ticks is not None:
            stream.time_base = context.time_base = Fraction(1, film.tick_rate)
        if film.pixel_aspect:
            context.sample_aspect_ratio = film.pixel_aspect
        if not film.untagged:
            context.colorspace = _TAGS[film.matrix]
            context.color_range = 2 if film.full_range else 1
        if film.turn:
            stream.set_display_rotation(-film.turn)
        sound = box.add_stream(film.audio, rate=48_000, layout="mono") if film.audio else None
        for i, image in enumerate(pictures):
            frame = av.VideoFrame.from_ndarray(np.ascontiguousarray(image)).reformat(
                format=film.pix_fmt,
                dst_colorspace=film.matrix,
                dst_color_range="JPEG" if film.full_range else "MPEG",
            )
            frame.pts = i if film.ticks is None else film.ticks[i]
            frame.time_base = context.time_base if film.ticks is not None else 1 / film.rate
            box.mux(stream.encode(frame))
        if sound:
            _hum(box, sound, len(pictures) / float(film.rate))
        box.mux(stream.encode(None))
    return path


def _hum(box: Any, sound: Any, seconds: float) -> None:
    total, chunk = int(48_000 * seconds), 1024
    for start in range(0, total, chunk):
        wave = np.sin(np.arange(start, start + chunk) * 2 * np.pi * 220 / 48_000).astype(np.float32)[None] * 0.2
        frame = av.AudioFrame.from_ndarray(wave, format="fltp", layout="mono")
        frame.rate, frame.pts, frame.time_base = 48_000, start, Fraction(1, 48_000)
        fit = av.AudioResampler(format=sound.codec_context.format.name, layout="mono", rate=48_000)
        for part in fit.resample(frame):
            box.mux(sound.encode(part))
    box.mux(sound.encode(None))
