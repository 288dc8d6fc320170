"""The tones that pages, pictures and charts share: paper, ink, one sea tone, one warm tone, a green for bands.

Every tone is an sRGB hex string. ``LIGHT`` and ``DARK`` dress the page; ``PICTURE`` is what is drawn on frames, which
are neither light nor dark.
"""

from __future__ import annotations

from dataclasses import dataclass, fields


@dataclass(frozen=True, slots=True)
class Tones:
    """One dress of the page. ``ground`` lies behind cut-out figures, ``raised`` behind controls."""

    paper: str
    raised: str
    ink: str
    soft: str
    rule: str
    sea: str
    warm: str
    target: str
    edge: str
    ground: str


LIGHT = Tones(
    paper="#fbfaf6",
    raised="#f1efe7",
    ink="#17242b",
    soft="#50606a",
    rule="#d9d6cc",
    sea="#0b6680",
    warm="#a84a08",
    target="#c6e4d6",
    edge="#2b7a5d",
    ground="#2d7f97",
)
DARK = Tones(
    paper="#10191e",
    raised="#19252b",
    ink="#e9ece9",
    soft="#a3b3ba",
    rule="#2f3f47",
    sea="#74c6dc",
    warm="#f2a566",
    target="#1f4a3c",
    edge="#79c9a8",
    ground="#1d5668",
)


@dataclass(frozen=True, slots=True)
class PictureTones:
    """Lines on frames: body and reference in white, the one measured stroke in a warm tone, all dark-edged."""

    line: str = "#ffffff"
    dark: str = "#0b2530"
    measure: str = "#ffb25e"


PICTURE = PictureTones()


def css_variables(tones: Tones) -> str:
    """The tones as CSS custom properties.

    >>> css_variables(LIGHT).split(";")[0]
    '--paper:#fbfaf6'
    """
    return ";".join(f"--{f.name}:{getattr(tones, f.name)}" for f in fields(tones))


def rgb(tone: str) -> tuple[int, int, int]:
    """A hex tone as three values from 0 to 255.

    >>> rgb("#0b2530")
    (11, 37, 48)
    """
    return int(tone[1:3], 16), int(tone[3:5], 16), int(tone[5:7], 16)
