"""Teaching cases made without measuring: invented pictures, and a loop whose every picture carries its number."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
from invented_catch import BITS, PatternClip, arm_at, pattern_number
from PIL import Image

from casebook.clip.loop import Loop, encode_loop
from casebook.pages.picture import jpeg
from casebook.pages.teaching_shape import (
    TeachingCase,
    TeachingDrill,
    TeachingFinding,
    TeachingFirst,
    TeachingHarmless,
    TeachingLines,
    TeachingLink,
    TeachingLoop,
    TeachingNumber,
    TeachingStill,
    save_teaching_case,
)

__all__ = ["BITS", "FRAMES", "made_case", "made_cases", "pattern_number"]
FRAMES = 30
#: Every number of a made case; none of them stands in anything else that a page says.
NUMBERS = ("731 % of the arm, give or take 77", "733 % ahead")


def made_case(folder: Path, alias: str = "Heron", clean: bool = False, **other: object) -> TeachingCase:
    """A case in a folder; ``clean``: nothing to change."""
    folder.mkdir(parents=True, exist_ok=True)
    made, picture = _media()
    (folder / "full-1.mp4").write_bytes(made.mp4)
    for name in ("full-1.jpg", "look-1.jpg", "look-1-lines.jpg", "look-2.jpg", "look-2-lines.jpg"):
        (folder / name).write_bytes(picture)
    case = TeachingCase(
        alias=alias,
        level="triathlete",
        event="750 m open water",
        invented=True,
        audience="",
        loops=(_loop(made.size, tuple(made.times_s.tolist())),),
        stills=(_still("look-1", True), _still("look-2", False)),
        findings=(TeachingFinding("catch", "Hand ahead of the shoulder", NUMBERS[0], "outside", 7.0, 6.0, 8.0, "%"),),
        fine=("The fingertips go in first.",),
        chain=() if clean else (_link("crosses_at_entry", "first"), _link("dropped_elbow", "follows")),
        first=None if clean else _first(),
        drill=None if clean else TeachingDrill("hands on rails", "Swim easy.", "twice", "wide hands", "Looks right."),
        harmless=(TeachingHarmless("a loping rhythm", "common", "the legs stop"),),
        cautions=("If it pinches or hurts, stop.",),
        apart=("the rate is high",),
    )
    case = replace(case, **other)  # type: ignore[arg-type]
    save_teaching_case(case, folder)
    return case


@cache
def _media() -> tuple[Loop, bytes]:
    clip = PatternClip()
    made = encode_loop((clip.frame(i) for i in range(FRAMES)), np.arange(FRAMES) / 25.0, width=320, crf=18)
    return made, jpeg(Image.fromarray(clip.frame(5)).resize((320, 180)))


def made_cases(folder: Path) -> list[Path]:
    """Three cases, the second of them clean."""
    made_case(folder / "a", "Heron")
    made_case(folder / "b", "Wren", clean=True)
    made_case(folder / "c", "Alder")
    return [folder / name for name in "abc"]


def _loop(size: tuple[int, int], times: tuple[float, ...]) -> TeachingLoop:
    lines = tuple(TeachingLines((tuple((x / 2, y / 2) for x, y in arm_at(f)),)) for f in range(FRAMES))
    return TeachingLoop(
        "full-1.mp4", "full-1.jpg", "From the side, under water.", "side_under", size, times, True, (10, 20),
        ((14, "Full reach"),), lines,
    )  # fmt: skip


def _still(name: str, is_whole: bool) -> TeachingStill:
    lines = TeachingLines((((10.0, 10.0), (100.0, 80.0)),), (((10.0, 10.0), (10.0, 80.0)),))
    return TeachingStill(
        f"{name}.jpg", f"{name}-lines.jpg", "catch", "Full reach", "From the side.", (320, 180), lines,
        (TeachingNumber((60.0, 40.0), NUMBERS[1]),), is_whole,
    )  # fmt: skip


def _link(fault: str, role: str) -> TeachingLink:
    return TeachingLink(fault, "entry", fault.replace("_", " "), f"seen {fault.replace('_', ' ')}", role, True)


def _first() -> TeachingFirst:
    return TeachingFirst("crosses_at_entry", "entry", "THE ANSWER", "go in wider", "It bends the body.", "Line first.")
