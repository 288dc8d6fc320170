"""A workshop on the invented cast: its cases, and the votes and marks of fifteen coaches who do not exist."""

from __future__ import annotations

import atexit
import shutil
from collections.abc import Mapping, Sequence
from pathlib import Path
from tempfile import mkdtemp
from typing import TYPE_CHECKING

import numpy as np

from casebook.case.case import Case
from casebook.checkpoints.answers import near_side
from casebook.checkpoints.choices import NOTHING, OTHER, Choice, choices_for
from casebook.checkpoints.votes import VOTES, Votes, read_votes, write_lists
from casebook.demo.case import build_demo_case
from casebook.demo.case_plans import CASES
from casebook.demo.second_coach import InventedCoach
from casebook.demo.truth_files import read_truth
from casebook.errors import CaseError
from casebook.files import write_atomic
from casebook.marks.csvfile import write_marks
from casebook.marks.folder_table import table_text
from casebook.pages.teaching_case import save_teaching_case, tell_case
from casebook.pages.telling import called
from casebook.resources import shipped
from casebook.widgets.on_desk import points_for

if TYPE_CHECKING:
    from casebook.case.desk import Desk

DEMO = "demo"
COACHES, SEED = 15, 7
#: The demo's cases in the order of a workshop, with what was planted in each to be found first.
ANSWERS: Mapping[str, str] = {
    "heron": "crosses_at_entry",
    "alder": "head_up",
    "wren": NOTHING,
    "rowan": "late_catch",
}
#: What else was planted or follows, and what takes the eye before it: what the invented coaches fall for.
TAKES_THE_EYE: Mapping[str, tuple[str, ...]] = {
    "heron": ("dropped_elbow", "late_catch", OTHER),
    "alder": ("legs_sink", "scissor", "front_arm_falls"),
    "wren": ("straight_arm", "flat", OTHER),
    "rowan": ("legs_sink", "straight_arm", "dropped_elbow"),
}
#: What shows in the cases beside the first things, as their chains name it.
SHOWS = ("dropped_elbow", "late_catch", "legs_sink")


def demo_teaching_cases(folder: Path) -> list[Path]:
    """The demo's cases told for teaching, each in a folder of its own inside ``folder``; minutes on a slow machine."""
    out = []
    place = Path(mkdtemp(prefix="casebook-workshop-"))
    try:
        for alias in ANSWERS:
            told = folder / alias
            save_teaching_case(tell_case(Case.open(build_demo_case(place / alias, alias)), told), told)
            out.append(told)
    finally:
        shutil.rmtree(place, ignore_errors=True)
    return out


def demo_choices() -> tuple[Choice, ...]:
    """The list from which the demo's coaches choose."""
    return choices_for([*(key for key in ANSWERS.values() if key != NOTHING), *SHOWS])


def open_workshop(folder: str | Path = DEMO) -> Votes:
    """The votes of a workshop's folder, or those of the demo's invented coaches."""
    return read_votes(demo_workshop() if str(folder) == DEMO else Path(folder))


def demo_workshop() -> Path:
    """A folder as a workshop leaves it, with invented votes; gone when Python ends."""
    folder = Path(mkdtemp(prefix="casebook-workshop-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    write_lists(folder, demo_choices(), {called(alias): key for alias, key in ANSWERS.items()})
    for n, votes in enumerate(invented_votes(demo_choices()), 1):
        write_atomic(folder / VOTES / f"coach_{n:02d}.csv", table_text(("case", "choice"), votes))
    # One coach went home without writing anything, as it happens.
    write_atomic(folder / VOTES / f"coach_{COACHES + 1:02d}.csv", "")
    return folder


def invented_votes(choices: Sequence[Choice], coaches: int = COACHES, seed: int = SEED) -> list[list[tuple[str, int]]]:
    """What each invented coach votes, (case, number of the choice): what was planted as often as he is good."""
    rng = np.random.default_rng(seed)
    number = {c.key: c.number for c in choices}
    out = []
    for good in rng.uniform(0.35, 0.8, coaches):
        said = []
        for alias, answer in ANSWERS.items():
            others = TAKES_THE_EYE[alias]
            chances = [good, *((1 - good) * np.array([0.5, 0.3, 0.2]))]
            said.append((called(alias), number[str(rng.choice([answer, *others], p=chances))]))
        out.append(said)
    return out


def open_handed_in(desk: Desk, folder: str | Path = DEMO, checkpoint: str = "catch") -> Path:
    """The folder of marks that coaches handed in for a shot; for the demo, invented ones of its key pictures."""
    if str(folder) != DEMO:
        return Path(folder)
    if not desk.case.invented or desk.case.alias not in CASES:
        raise CaseError("Nobody has handed in marks of this case.", "Name the folder with the coaches' marks.")
    place = Path(mkdtemp(prefix="casebook-marks-"))
    atexit.register(shutil.rmtree, place, ignore_errors=True)
    invented_marks(desk, place, checkpoint)
    return place


def invented_marks(desk: Desk, place: Path, checkpoint: str, coaches: int = COACHES) -> None:
    """Marks of invented coaches on the key pictures of a checkpoint, each with a noise and habits of his own."""
    shot = dict(zip(desk.case.shots, CASES[desk.case.alias].shots, strict=False))[desk.shot.id]
    truth = read_truth(shipped("demo_clips"), shot.clip)
    key = sorted({s.frame for s in desk.measure(checkpoint).stills})
    # A moment between two pictures needs both of them.
    frames = sorted({f + d for f in key for d in (-2, -1, 0, 1, 2) if 0 <= f + d < desk.shot.clip.n_frames})
    points = points_for(checkpoint, near_side(desk.shot) or "r")
    rng = np.random.default_rng(SEED)
    for n in range(1, coaches + 1):
        noise, offset = rng.uniform(1.5, 3.0), rng.uniform(0.3, 1.5)
        coach = InventedCoach(f"c{n:02d}", float(noise), float(offset), 100 + n)
        marks = coach.marks(truth, points, frames)
        path = place / f"coach_{n:02d}" / f"{desk.shot.id}.csv"
        path.parent.mkdir(parents=True)
        write_marks(path, marks, desk.shot.clip.times, coach.by)
