"""What a notebook opens with: the desk of a case, or of the demo case, and the figure to aim for."""

from __future__ import annotations

import atexit
import os
import shutil
from pathlib import Path
from typing import TYPE_CHECKING

import platformdirs

from casebook import __version__
from casebook.case.case import Case
from casebook.checkpoints.answers import near_side
from casebook.demo.case import build_demo_case
from casebook.pages.aims import LIKENESS
from casebook.pages.show_plan import moment_of, side_shown

if TYPE_CHECKING:
    from casebook.case.desk import Desk
    from casebook.case.overview import Overview
    from casebook.demo.aim import AimFigure

#: Rowan's case; ``demo:heron`` is another one's of the cast.
DEMO, ROWAN = "demo", "rowan"


def open_desk(case: str | Path = DEMO, shot: str = "", checkpoint: str = "") -> Desk:
    """The desk of one shot: of a case folder, or of the demo case of an invented swimmer, such as ``demo:heron``.

    ``shot`` empty means the one that suits the checkpoint best, and the case's first if no checkpoint is named.
    """
    opened = open_case(case)
    return opened.desk(shot or (opened.shot_for(checkpoint) if checkpoint else ""))


def open_case(case: str | Path = DEMO) -> Case:
    """A whole case: of a folder, or the demo case of an invented swimmer: ``demo``, or ``demo:heron``."""
    name, _, alias = str(case).partition(":")
    return Case.open(demo_folder(alias or ROWAN) if name == DEMO else Path(case))


def demo_folder(alias: str = ROWAN) -> Path:
    """A private copy of a demo case in the user's cache folder, made afresh each time it is asked for."""
    folder = passing_folder(DEMO if alias == ROWAN else f"{DEMO}-{alias}")
    build_demo_case(folder, alias)
    return folder


def passing_folder(which: str) -> Path:
    """A folder for this process in the user's cache folder, not made yet; it goes when the process ends."""
    place = Path(os.environ.get("CASEBOOK_CACHE") or platformdirs.user_cache_dir("casebook", appauthor=False))
    place.mkdir(parents=True, exist_ok=True)
    folder = place / f"{which}-{__version__}-{os.getpid()}"
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    return folder


def aim_for(desk: Desk, moment: str = "straight_down", side: str = "") -> AimFigure:
    """The demo swimmer's figure at a moment of the stroke, in the view and direction of this shot."""
    from casebook.demo.aim import aim_figure

    return aim_figure(desk.shot.view, desk.shot.direction, moment, side=side or near_side(desk.shot))


def aim_for_first(found: Overview) -> AimFigure | None:
    """The figure for the first thing to work on; None where there is no figure for it."""
    one = found.plan.first
    answer = found.answer_for(one) if one is not None else None
    if one is None or answer is None or not moment_of(found):
        return None
    return aim_for(answer.desk, LIKENESS[one.fault.key].moment, side_shown(answer, one))
