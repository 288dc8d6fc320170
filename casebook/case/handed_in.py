"""The same pictures marked by many: what each coach's marks of a shot give, beside the case's own.

Everything but the marks is taken from the case's desk: scale, water line, moments set by hand. A file that cannot be
used is told in a sentence that names it, and the others count.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from casebook.checkpoints.agreement import JUDGING, measured_by
from casebook.checkpoints.finding import Finding
from casebook.checkpoints.measure import BodyFacts
from casebook.errors import CasebookError, CaseError
from casebook.marks.csvfile import read_marks
from casebook.marks.group_kappa import group_kappa
from casebook.marks.kappa import Kappa, fleiss_kappa
from casebook.marks.reliability import Estimate, mean_estimate, sd_estimate
from casebook.words import QUANTITIES, SIDES, STROKE_CLASSES

if TYPE_CHECKING:
    from casebook.case.desk import Desk
    from casebook.marks.marks import Marks

#: No room is larger, and no file of marks handed in. [coaches], [bytes]
LARGEST_ROOM, LARGEST_FILE = 500, 20_000_000
#: Kappa over fewer verdicts says nothing. own judgement, no source
FEW_VERDICTS = 4


@dataclass(frozen=True, slots=True)
class HandedQuantity:
    """One quantity as many coaches' marks give it.

    ``reference`` is the case's own value, ``values`` (n,) the coaches'; ``off`` their mean distance from it and
    ``between`` the standard deviation of one coach, all in ``unit``.
    """

    quantity: str
    side: str
    stroke_class: str
    unit: str
    reference: float
    values: tuple[float, ...]
    off: Estimate
    between: Estimate

    def text(self) -> str:
        """All of it in one line."""
        known = QUANTITIES[self.quantity]
        d = known.decimals + 1
        who = ", ".join(w for w in (SIDES.get(self.side, ""), STROKE_CLASSES.get(self.stroke_class, "")) if w)
        return (
            f"{known.name}{f' ({who})' if who else ''}: reference {self.reference:.{d}f} {self.unit}; "
            f"{len(self.values)} coaches, on average {self.off.text(d)} off, one coach scatters by "
            f"{self.between.text(d, self.unit)}"
        )


@dataclass(frozen=True, slots=True)
class HandedIn:
    """What was handed in for one shot: who, each quantity, agreement of the verdicts, and what was left out."""

    shot: str
    checkpoint: str
    coaches: int
    quantities: tuple[HandedQuantity, ...]
    verdicts: Kappa
    reference: Kappa
    problems: tuple[str, ...]

    def text(self) -> str:
        """A line a quantity, then the verdicts, then what was left out."""
        lines = [f"{self.coaches} coaches marked {self.shot}.", *(q.text() for q in self.quantities)]
        if self.coaches > 1 and self.reference.n:
            lines.append(f"Verdicts with the reference: {100 * self.reference.agreement:.0f} % the same.")
        if self.coaches > 1 and self.verdicts.n >= FEW_VERDICTS:
            lines.append(
                f"Verdicts among the coaches: kappa {self.verdicts.value.text(2)}, {self.verdicts.n} verdicts."
            )
        return "\n".join([*lines, *(f"Left out: {p}" for p in self.problems)])


def handed_in(desk: Desk, folder: Path, checkpoint: str) -> HandedIn:
    """What many coaches' marks of the desk's shot give for a checkpoint.

    Parameters
    ----------
    desk : Desk
        Of the reference.
    folder : Path
        One folder a coach in it, each with ``<shot>.csv``.
    """
    if not folder.is_dir():
        raise CaseError(f'There is no folder "{folder.name}" with marks.', "Put one folder for each coach into it.")
    readings, problems = [], []
    for place in sorted(p for p in folder.iterdir() if not p.name.startswith((".", "~"))):
        try:
            readings.append(_marks_of(place, desk))
        except CasebookError as error:
            problems.append(f'"{_shown(place.name)}": {error.problem}')
        except (OSError, ValueError) as error:
            problems.append(f'"{_shown(place.name)}" cannot be read: {type(error).__name__}.')
    facts = BodyFacts(desk.case.arm_length, desk.case.stature, desk.case.distance(desk.shot.id))
    measured = measured_by(
        checkpoint, desk.shot, readings[:LARGEST_ROOM], desk.plane, bands=desk.bands, events=desk.events, facts=facts
    )
    own = [f for f in desk.measure(checkpoint).results if isinstance(f, Finding)]
    found = [[r.get(f.quantity, f.side, f.stroke_class) for r in measured] for f in own]
    quantities = [
        _quantity(f, [g.value for g in each if isinstance(g, Finding)]) for f, each in zip(own, found, strict=True)
    ]
    verdicts, reference = _verdicts(own, [[g.verdict for g in each if isinstance(g, Finding)] for each in found])
    told = tuple(q for q in quantities if q.values)
    return HandedIn(desk.shot.id, checkpoint, len(readings), told, verdicts, reference, tuple(problems))


def _marks_of(place: Path, desk: Desk) -> Marks:
    path = place / f"{desk.shot.id}.csv"
    if place.is_symlink() or path.is_symlink():
        raise CaseError("A link is not followed.")
    if not place.is_dir() or not path.is_file():
        raise CaseError(f'There is no "{path.name}" in it.')
    if path.stat().st_size > LARGEST_FILE:
        raise CaseError(f'"{path.name}" is too large.')
    return read_marks(path, desk.shot.clip.times)


def _quantity(own: Finding, values: list[float]) -> HandedQuantity:
    x = np.array(values, float)
    spread = sd_estimate(float(x.var(ddof=1)), len(x) - 1) if len(x) > 1 else sd_estimate(float("nan"), 0)
    return HandedQuantity(
        own.quantity,
        own.side,
        own.stroke_class,
        own.unit,
        own.value,
        tuple(values),
        mean_estimate(x - own.value),
        spread,
    )


def _verdicts(own: list[Finding], said: list[list[str]]) -> tuple[Kappa, Kappa]:
    """Agreement of the verdicts that judge, among the coaches and with the reference."""
    use = [i for i, f in enumerate(own) if f.verdict in JUDGING and said[i]]
    table = np.array([[said[i].count(word) for word in JUDGING] for i in use], float).reshape(len(use), len(JUDGING))
    return fleiss_kappa(table, JUDGING), group_kappa(table, [JUDGING.index(own[i].verdict) for i in use], JUDGING)


def _shown(name: str) -> str:
    return "".join(c for c in name[:60] if c.isprintable())
