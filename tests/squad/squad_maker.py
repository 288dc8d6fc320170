"""A small squad and small recordings for the tests: frames that carry their own number."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np

from casebook.clip.loop import encode_loop
from casebook.squad.roster import Member
from casebook.squad.squad import Squad, new_squad

DAY = date(2026, 5, 2)
#: Agreed to everything, an adult.
FREE = Member(1, "heron", "triathlete", True, date(2027, 1, 31), True, False, None, False, "2")
BITS, BLOCK = 8, 16


def member(number: int, alias: str = "", **changes: object) -> Member:
    """Someone who agreed to everything, with changes."""
    return replace(FREE, number=number, alias=alias or f"bird{number}", **changes)


def squad_of(folder: Path, *members: Member, **settings: object) -> Squad:
    """A squad's folder with these members, on ``DAY``; invented, so that consents are judged for that day for ever."""
    new_squad(folder, members, **{"date": DAY.isoformat(), "coach": "mk", "invented": True} | settings)
    return Squad.open(folder)


def numbered(n: int) -> np.ndarray:
    """A picture that says its number as black and white blocks, lowest bit first; (72, 128, 3)."""
    picture = np.full((72, 128, 3), 110, np.uint8)
    for bit in range(BITS):
        picture[:BLOCK, bit * BLOCK : (bit + 1) * BLOCK] = 235 if n >> bit & 1 else 20
    return picture


def number_in(picture: np.ndarray) -> int:
    """The number that a picture of ``numbered`` says."""
    middles = picture[BLOCK // 2, BLOCK // 2 : BITS * BLOCK : BLOCK, 0]
    return int(sum(2**bit for bit, tone in enumerate(middles) if tone > 128))


def numbered_recording(path: Path, times: np.ndarray) -> Path:
    """A recording of numbered pictures at these times [s]."""
    path.write_bytes(encode_loop((numbered(i) for i in range(len(times))), times, width=128, crf=16).mp4)
    return path
