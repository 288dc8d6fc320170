"""The invented squad: a roster, a recording put together from the demo clips with slates held in, and a filled grid."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from datetime import date
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from casebook.clip.clip import Clip
from casebook.clip.loop import encode_loop
from casebook.demo.desk import passing_folder
from casebook.demo.slate_scene import Held, with_slate
from casebook.files import write_atomic
from casebook.resources import shipped
from casebook.squad.asking import FAULT, FINE, LOOK
from casebook.squad.grid import Grid
from casebook.squad.roster import Member
from casebook.squad.squad import Squad, new_squad

if TYPE_CHECKING:
    from numpy.typing import NDArray

DEMO = "demo"
RECORDING = "recording.mp4"
#: The recording's size [px], rate [1/s], and how long each slate is held [s]: small and short, as it is made anew.
SIZE, FPS, SLATE_S = (640, 360), 10, 1.0
#: How high a card stands in the picture where the plan does not say. [px]
USUAL_HEIGHT = 250.0


def open_squad(folder: str | Path = DEMO) -> Squad:
    """A squad's folder, or the invented squad: ``demo``, made afresh, with its recording and an empty grid."""
    return Squad.open(build_demo_squad(passing_folder("demo-squad")) if str(folder) == DEMO else Path(folder))


def build_demo_squad(folder: Path) -> Path:
    """Lay out the invented squad with its recording, its grid still empty; returns the folder."""
    plan = _plan()
    settings = {k: v for k, v in plan.items() if not isinstance(v, list) or k == "checkpoints"}
    new_squad(folder, tuple(_member(row) for row in plan["members"]), invented=True, **settings)
    pictures = list(_pictures(plan["recording"]))
    write_atomic(folder / RECORDING, encode_loop(pictures, np.arange(len(pictures)) / FPS, width=SIZE[0], crf=26).mp4)
    return folder


def recording_of(squad: Squad) -> Path:
    """The long recording that lies in the invented squad's folder."""
    return squad.folder / RECORDING


def fill_demo_grid(squad: Squad) -> int:
    """Put in what the invented coach saw; returns how many cells. A real squad's grid is left alone."""
    if not squad.invented:
        return 0
    grid, plan, n = Grid(squad.grid_file, squad.coach), _plan(), 0
    for number, *words in plan["saw"]:
        for checkpoint, word in zip(plan["checkpoints"], words, strict=True):
            if word:
                answer = {"fine": FINE, "look": LOOK}.get(word, FAULT)
                grid.put(number, checkpoint, answer, word if answer == FAULT else "")
                n += 1
    return n


@cache
def _plan() -> dict[str, Any]:
    return tomllib.loads(files("casebook.demo").joinpath("squad.toml").read_text("utf-8"))


def _member(row: list[Any]) -> Member:
    number, alias, level, consent, until, sharing, minor, guardian, do_not_film, lane = row
    yes = {"yes": True, "no": False, "": None}
    return Member(
        number, alias, level, yes[consent], date.fromisoformat(until) if until else None, yes[sharing], yes[minor],
        yes[guardian], yes[do_not_film], lane,
    )  # fmt: skip


def _pictures(plan: list[dict[str, Any]]) -> Iterator[NDArray[np.uint8]]:
    """The whole recording, picture by picture: a slate, then the swimmer, one after the other."""
    for part in plan:
        how = {k: v for k, v in part.items() if k not in ("number", "clip", "from", "seconds")}
        held = Held(**{"height": USUAL_HEIGHT, "blur_px": 0.7, "noise": 2.0} | how)
        swim = list(_swim(part["clip"], part["from"], part["seconds"]))
        slate = with_slate(swim[0], part["number"], held, seed=part["number"])
        yield from [slate] * round(SLATE_S * FPS)
        yield from swim


def _swim(name: str, start_s: float, seconds: float) -> Iterator[NDArray[np.uint8]]:
    from PIL import Image

    with Clip(shipped("demo_clips") / f"{name}.mp4") as clip:
        for k in range(round(seconds * FPS)):
            picture = clip.frame(min(clip.nearest(start_s + k / FPS), clip.n_frames - 1))
            yield np.asarray(Image.fromarray(picture).resize(SIZE, Image.Resampling.BOX))
