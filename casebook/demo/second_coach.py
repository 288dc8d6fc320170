"""An invented second coach, and invented second rounds, so that the demo case has something to compare.

Both are made from the demo's truth: each coach has a noise of his own and sees each joint a little beside where it is,
always to the same side. Nobody marked these clips.
"""

from __future__ import annotations

import atexit
import shutil
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from tempfile import mkdtemp
from typing import TYPE_CHECKING

import numpy as np
import tomlkit

from casebook.case.case import Case
from casebook.case.repeat_study import repeat_file, repeat_study, same_clip
from casebook.case.settings import FILE
from casebook.checkpoints.answers import near_side
from casebook.demo.case import COACH_INITIALS
from casebook.demo.case_plans import CASES, DemoShot
from casebook.demo.truth_files import read_truth
from casebook.demo.truth_marks import marks_from_truth
from casebook.errors import MarksError
from casebook.files import write_atomic
from casebook.marks.csvfile import write_marks
from casebook.marks.marks import HAND_SIGMA_PX, Marks
from casebook.marks.points import POINTS
from casebook.marks.repeat import N_FRAMES, RepeatPlan, Round, write_repeat
from casebook.resources import shipped
from casebook.widgets.on_desk import points_for

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from casebook.case.desk import Desk
    from casebook.demo.truth import ClipTruth


@dataclass(frozen=True, slots=True)
class InventedCoach:
    """How a coach marks: initials, random error per coordinate, and the spread of his own constant offsets. [px]"""

    by: str
    noise_px: float
    offset_px: float
    seed: int

    def offset(self, point: str) -> NDArray[np.float64]:
        """Where he sees a point, off its true place: right and down, the same on every frame. [px]"""
        return self.offset_px * np.random.default_rng((self.seed, POINTS.index(point))).standard_normal(2)

    def marks(
        self, truth: ClipTruth, points: Sequence[str] | None = None, frames: Sequence[int] | None = None, go: int = 1
    ) -> Marks:
        """What he marks in one go; another ``go`` has other noise and the same offsets."""
        made = marks_from_truth(
            truth, points, None if frames is None else list(frames), self.noise_px, seed=1000 * self.seed + go
        )
        return replace(made, xy=made.xy + np.array([self.offset(p) for p in made.points]))


#: The demo's own coach marks without offset, since his marks are the demo's.
FIRST = InventedCoach(COACH_INITIALS, HAND_SIGMA_PX, 0.0, 4)
SECOND = InventedCoach("second", 2.4, 0.8, 9)


def open_repeat(desk: Desk, checkpoint: str = "catch", n_frames: int = N_FRAMES, seed: int = 0) -> RepeatPlan:
    """The repeat study of a shot for the points of a checkpoint, its key pictures among the frames.

    Without frames if too few are marked by hand to draw from. The study of the demo case is given the invented second
    rounds when it is first opened.
    """
    keep = sorted({still.frame for still in desk.measure(checkpoint).stills})
    points = points_for(checkpoint, near_side(desk.shot) or "r")
    begun = repeat_file(desk).exists()
    try:
        plan = repeat_study(desk, points, n_frames, seed, keep)
    except MarksError:
        if begun:
            raise
        return RepeatPlan.empty(desk.shot.id, points)
    truth = None if begun else _truth_of(desk)
    if truth is not None:
        plan = with_invented_rounds(plan, truth)
        write_repeat(repeat_file(desk), plan)
    return plan


def with_invented_rounds(plan: RepeatPlan, truth: ClipTruth) -> RepeatPlan:
    """A second round by the demo's coach, and two by the second."""
    for coach, go in ((FIRST, 2), (SECOND, 1), (SECOND, 2)):
        plan = plan.with_round(invented_round(plan, truth, coach, go))
    return plan


def invented_round(plan: RepeatPlan, truth: ClipTruth, coach: InventedCoach, go: int) -> Round:
    """One round of an invented coach over the plan's frames."""
    marks = coach.marks(truth, plan.points, plan.frames.tolist(), go)
    rows = np.searchsorted(marks.frames, plan.frames)
    return Round(coach.by, go, marks.xy[rows], marks.hidden[rows])


def second_case(case: Case, other: str | Path = "") -> Case | None:
    """The same shots, marked by someone else: of the case folder ``other``, or by the demo's invented second coach.

    None if no folder is named and the case is no demo. Raises CaseError if a shot of the two is not the same film.
    """
    if other:
        opened = Case.open(Path(other))
        for shot in case.shots:
            if shot in opened.shots:
                same_clip(case, opened, shot)
        return opened
    demos = {name: demo for name in case.shots if (demo := _clip_of(case, name)) is not None}
    if not demos:
        return None
    place = Path(mkdtemp(prefix="casebook-second-"))
    atexit.register(shutil.rmtree, place, ignore_errors=True)
    folder = place / case.alias
    shutil.copytree(case.folder, folder, ignore=shutil.ignore_patterns("out", "notebooks", "*.lock", "*.journal", ".*"))
    for name in case.shots:
        (folder / "marks" / f"{name}.csv").unlink(missing_ok=True)
    settings = tomlkit.parse((folder / FILE).read_text("utf-8"))
    settings["coach"] = SECOND.by
    write_atomic(folder / FILE, tomlkit.dumps(settings))
    opened = Case.open(folder)
    for name, demo in demos.items():
        marks = SECOND.marks(read_truth(shipped("demo_clips"), demo.clip), demo.points)
        write_marks(folder / "marks" / f"{name}.csv", marks, opened.shot(name).clip.times, SECOND.by)
    return opened


def _clip_of(case: Case, shot: str) -> DemoShot | None:
    """What the demo filmed and marked as this shot; None for a shot that is not the demo's."""
    if not case.invented or case.alias not in CASES:
        return None
    return dict(zip(case.shots, CASES[case.alias].shots, strict=False)).get(shot)


def _truth_of(desk: Desk) -> ClipTruth | None:
    demo = _clip_of(desk.case, desk.shot.id)
    return None if demo is None else read_truth(shipped("demo_clips"), demo.clip)
