"""What every checkpoint returns: its findings and refusals, the stills that show them, and the curves behind them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from casebook.checkpoints.drawing import Still
from casebook.checkpoints.finding import Finding, Interval, NotMeasured, in_passes
from casebook.words import CHECKPOINTS, QUANTITIES, SIDES, STROKE_CLASSES, VERDICTS

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, eq=False)
class CycleCurve:
    """One measure over one stroke or cycle.

    ``cycle_pct`` (n,) runs from 0 at the stroke's beginning to 100 at its end; ``value`` (n,) and ``sigma`` (n,), the
    independent standard deviation, are in ``unit``; ``frames`` (n,) says where each was read. NaN where unmarked.
    """

    quantity: str
    side: str
    stroke: int
    stroke_class: str
    frames: NDArray[np.int64]
    cycle_pct: NDArray[np.float64]
    value: NDArray[np.float64]
    sigma: NDArray[np.float64]
    unit: str


@dataclass(frozen=True, slots=True)
class CheckpointResult:
    """Everything measured about one checkpoint in one shot.

    Attributes
    ----------
    checkpoint : str
        Key of ``words.CHECKPOINTS``.
    shot_id : str
    results : tuple of Finding or NotMeasured
        The near arm before the far one and the strokes without breath before other classes.
    stills : tuple of Still
        The key stills of each stroke that was measured.
    curves : tuple of CycleCurve
    seen : str
        Where from, as the heading of the table says it: "as seen from the side".
    """

    checkpoint: str
    shot_id: str
    results: tuple[Finding | NotMeasured, ...]
    stills: tuple[Still, ...] = ()
    curves: tuple[CycleCurve, ...] = ()
    seen: str = ""

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What was measured."""
        return tuple(r for r in self.results if isinstance(r, Finding))

    @property
    def missing(self) -> tuple[NotMeasured, ...]:
        """What was not."""
        return tuple(r for r in self.results if isinstance(r, NotMeasured))

    def get(self, quantity: str, side: str = "", stroke_class: str = "none") -> Finding | NotMeasured:
        """One quantity of one side and stroke class; NotMeasured, saying so, if there is nothing of the kind."""
        own = [r for r in self.results if r.quantity == quantity and r.side in (side, "")]
        for r in own:
            if isinstance(r, Finding) and r.stroke_class == stroke_class:
                return r
        gap = next((r for r in own if isinstance(r, NotMeasured)), None)
        if gap is not None:
            return gap
        arm = f" of the {SIDES[side]} side" if side in SIDES else ""
        return NotMeasured(
            self.checkpoint,
            quantity,
            side,
            f"No stroke {STROKE_CLASSES[stroke_class]}{arm} is marked in {self.shot_id}.",
            "Mark one, if the swimmer takes one.",
        )

    def text(self) -> str:
        """A plain table of the results, rounded; the same for the same results."""
        seen = f", {self.seen}" if self.seen else ""
        return table(f"{CHECKPOINTS[self.checkpoint].capitalize()} in {self.shot_id}{seen}", self.results)


def table(title: str, results: Sequence[Finding | NotMeasured]) -> str:
    """Plain lines of all results under a title, grouped by side and stroke class, rounded."""
    lines = [title]
    groups: dict[tuple[str, str], list[Finding]] = {}
    for r in results:
        if isinstance(r, Finding):
            groups.setdefault((r.side, r.stroke_class), []).append(r)
    for (side, name), own in groups.items():
        strokes = f"strokes {STROKE_CLASSES[name]}" if name else "all strokes"
        lines.append(f"{SIDES[side]} side, {strokes}" if side else strokes)
        lines += [f"  {_row(r)}" for r in own]
    return "\n".join([*lines, *_gaps([r for r in results if isinstance(r, NotMeasured)])])


def _gaps(missing: Sequence[NotMeasured]) -> list[str]:
    """What was not measured, a line for each reason."""
    said: dict[str, list[str]] = {}
    for r in missing:
        side = f" ({SIDES[r.side]})" if r.side in SIDES else ""
        said.setdefault(str(r), []).append(f"{QUANTITIES[r.quantity].name}{side}")
    return [f"not measured: {'; '.join(dict.fromkeys(names))}. {why}" for why, names in said.items()]


def _row(r: Finding) -> str:
    quantity = QUANTITIES[r.quantity]
    d = quantity.decimals
    each = ", ".join(f"{s.value:.{d}f}" for s in r.strokes)
    usual = f"; habit {_range(r.habit, d)}" if r.habit is not None and len(r.strokes) > 3 else ""
    outcome = f", {r.outcome}" if r.outcome else ""
    single = f"; strokes {each}{in_passes(r)}" if len(r.strokes) > 1 else ""
    seen = f"; {r.seen} of {r.needed} frames seen" if r.needed else ""
    return (
        f"{quantity.name}: {r.value:.{d}f} {quantity.unit} ({_range(r.these, d)} in these strokes{usual}){outcome}"
        f"{single}{seen}; {VERDICTS[r.verdict]}"
    )


def _range(i: Interval, decimals: int) -> str:
    return f"{i.low:.{decimals}f} to {i.high:.{decimals}f}"
