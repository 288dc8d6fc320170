"""Which shot of a case to look at for a checkpoint: where a fault shows, else where most of it can be read."""

from __future__ import annotations

from typing import TYPE_CHECKING

from casebook.checkpoints.answers import near_side
from casebook.checkpoints.finding import Finding
from casebook.checkpoints.measure import VIEWS_FOR
from casebook.checkpoints.seen import faults_in

if TYPE_CHECKING:
    from casebook.case.case import Case
    from casebook.case.desk import Desk
    from casebook.checkpoints.catch import CatchResult
    from casebook.checkpoints.result import CheckpointResult


def best_shot(case: Case, checkpoint: str) -> str:
    """The shot that answers a checkpoint best; empty if no view of the case does.

    The first in which a fault of it shows for certain, with a picture of it; else the first, of those in which anything
    of it is measured, whose view suits it most; and before anything is marked, that of the best view.
    """
    fitting = fitting_shots(case, checkpoint)
    if len(fitting) < 2:
        return fitting[0] if fitting else ""
    desks = {name: case.desk(name) for name in fitting if case.is_marked(name)}
    ranks = {name: rank(desk, desk.measure(checkpoint, alone=True)) for name, desk in desks.items()}
    # Of equals the one whose view suits best comes first, and stays so.
    return max(fitting, key=lambda name: ranks.get(name, 0))


def fitting_shots(case: Case, checkpoint: str) -> list[str]:
    """Shots whose view can answer a checkpoint, the best view first. Speed needs a camera that stands still."""
    views = VIEWS_FOR[checkpoint]
    return sorted(
        (name for name in case.shots if case.view(name) in views),
        key=lambda name: (checkpoint == "rate" and not case.is_still(name), views.index(case.view(name))),
    )


def rank(desk: Desk, result: CheckpointResult | CatchResult) -> int:
    """2 where a fault shows for certain and there is a picture, 1 where something is measured, 0 else."""
    near = near_side(desk.shot)
    faults = faults_in(result.checkpoint, result, sides=(near,) if near else ("l", "r"))
    if result.stills and any(f.is_clear for f in faults):
        return 2
    return int(any(isinstance(r, Finding) for r in result.results))
