"""The repeat study of one shot at the coach's desk: its file, the frames drawn, and a second coach's case."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from casebook.case.overview import overview
from casebook.checkpoints.agreement import QuantityAgreement, measured_by, quantity_agreement, verdict_agreement
from casebook.checkpoints.measure import BodyFacts
from casebook.errors import CaseError
from casebook.marks.marks import Marks
from casebook.marks.repeat import ENDING, N_FRAMES, RepeatPlan, plan_repeat, read_repeat, write_repeat

if TYPE_CHECKING:
    from casebook.case.case import Case
    from casebook.case.desk import Desk
    from casebook.marks.kappa import Kappa


def repeat_file(desk: Desk) -> Path:
    """``<shot>.repeat.csv`` beside the marks."""
    return desk.case.folder / "marks" / f"{desk.shot.id}{ENDING}"


def repeat_study(
    desk: Desk, points: Sequence[str], n_frames: int = N_FRAMES, seed: int = 0, keep: Sequence[int] = ()
) -> RepeatPlan:
    """The study as it stands on disk; if there is none, frames are drawn from this coach's own marks and kept.

    A study that was begun keeps its frames and points, whatever is asked for: delete the file to begin anew.
    """
    path = repeat_file(desk)
    if not path.exists():
        by = desk.case.coach
        write_repeat(path, plan_repeat(signed_by(desk, by), desk.shot, points, n_frames, seed, by=by, keep=keep))
    return read_repeat(path)


def signed_by(desk: Desk, by: str) -> Marks:
    """The marks of a shot that one coach set; those of others are left out."""
    marks, signed = desk.store.marks, desk.store.signed
    mine = np.asarray(signed == by, bool)
    return Marks(
        marks.points,
        marks.frames,
        np.where(mine[..., None], marks.xy, np.nan),
        np.where(mine, marks.sigma_px, np.nan),
        np.where(mine, marks.origin, 0).astype(np.int8),
        marks.hidden & mine,
    )


def same_clip(first: Case, second: Case, shot: str) -> None:
    """Raise CaseError unless a shot of two cases is the same stretch of the same film."""
    if shot not in second.shots:
        raise CaseError(
            f'The case in "{second.folder.name}" has no shot "{shot}".', f"It has: {', '.join(second.shots)}."
        )
    a, b = first.shot(shot), second.shot(shot)
    if a.clip.sha256 != b.clip.sha256 or (a.start, a.stop) != (b.start, b.stop):
        raise CaseError(
            f'"{shot}" is not the same film in both cases.', "Copy the case folder, and mark the copy from scratch."
        )


def same_numbers(desk: Desk, other: Case | None, checkpoint: str) -> tuple[QuantityAgreement, ...]:
    """How far the numbers of a checkpoint agree with those from another case's marks of the same shot.

    Everything but the marks is taken from this desk: scale, water line, moments set by hand. Empty without
    another case.
    """
    if other is None:
        return ()
    same_clip(desk.case, other, desk.shot.id)
    facts = BodyFacts(desk.case.arm_length, desk.case.stature, desk.case.distance(desk.shot.id))
    first, second = measured_by(
        checkpoint,
        desk.shot,
        (desk.marks, other.desk(desk.shot.id).marks),
        desk.plane,
        bands=desk.bands,
        events=desk.events,
        facts=facts,
    )
    return quantity_agreement(first, second)


def same_verdicts(case: Case, other: Case | None) -> Kappa | None:
    """How far the verdicts of all shots and checkpoints of two cases agree; None without another case."""
    if other is None:
        return None
    mine, theirs = ([answer.result for answer in overview(each).answers] for each in (case, other))
    return verdict_agreement(mine, theirs)
