"""The coach's appendix of a checkpoint: what the literature counts, with what must be said beside it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from casebook.checkpoints.finding import Finding
from casebook.pages.block import Block
from casebook.pages.telling import findings
from casebook.stroke.coordination import difference, variability_pct
from casebook.stroke.phases import PHASES, STARTS, Phases, phases
from casebook.stroke.strokes import strokes_of
from casebook.words import QUANTITIES, SIDES, STROKE_CLASSES

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from casebook.case.desk import Desk
    from casebook.pages.telling import Result
    from casebook.stroke.strokes import Stroke

TITLE = "The coach's appendix"
_SAID = {"entry": "entry and catch", "pull": "pull", "push": "push", "recovery": "recovery"}


def appendix(desk: Desk, result: Result) -> Block:
    """Every quantity that is left out of the swimmer's page, with its interval and its cautions; for the coach.

    Of timing also the phases in seconds and shares of the cycle, how much they vary, and left against right.
    """
    items, notes = [], []
    for f in findings(result):
        if QUANTITIES[f.quantity].appendix:
            items.append(_line(f))
            notes += list(f.notes)
    if result.checkpoint == "timing":
        items += _phase_lines(desk)
    # What must be said stands first, over the numbers that it is about.
    said = list(dict.fromkeys(notes)) if items else ["Nothing for the appendix could be measured."]
    return Block("prose", "\n".join([TITLE, *said, *items]), {"title": TITLE, "paragraphs": said, "items": items})


def _line(f: Finding) -> str:
    quantity = QUANTITIES[f.quantity]
    side = f"{SIDES[f.side]}, " if f.side in SIDES else ""
    outcome = f", {f.outcome}" if f.outcome else ""
    d = quantity.decimals
    return (
        f"{quantity.name} ({side}{STROKE_CLASSES[f.stroke_class]}): {f.value:.{d}f} {quantity.unit} "
        f"({f.these.low:.{d}f} to {f.these.high:.{d}f}){outcome}"
    )


def _phase_lines(desk: Desk) -> list[str]:
    """Phases of both arms in seconds and shares, from each beginning of the pull that is known."""
    arms = {s: strokes_of(desk.shot, desk.marks, desk.plane, s, desk.told_events) for s in "lr"}
    out = []
    for start, against in STARTS.items():
        both = {}
        for side, strokes in arms.items():
            for name in STROKE_CLASSES:
                own = phases([s for s in strokes if s.stroke_class == name], start)
                if np.isfinite(own.propulsive_pct).any():
                    out.append(f"{SIDES[side].capitalize()} arm, {_of(own.strokes)} {STROKE_CLASSES[name]}, pull "
                               f"counted against {against}: {_told(own)}.")  # fmt: skip
                    both[side, name] = own.propulsive_pct
        if ("l", "none") in both and ("r", "none") in both:
            out.append(_apart(both["l", "none"], both["r", "none"], against))
    return out


def _of(strokes: Sequence[Stroke]) -> str:
    n = sum(np.isfinite(s.duration_s) for s in strokes)
    return f"{n} whole stroke{'s' if n != 1 else ''}"


def _told(own: Phases) -> str:
    """Each phase with its seconds, share and variation; then the propulsive and the other share."""
    parts = []
    for k, name in enumerate(PHASES):
        seconds, share = own.seconds[:, k], own.percent[:, k]
        if np.isfinite(share).any():
            varies = variability_pct(seconds[np.isfinite(share)])
            more = f", varying by {varies:.0f} %" if np.isfinite(varies) else ""
            parts.append(f"{_SAID[name]} {np.nanmean(seconds):.2f} s ({np.nanmean(share):.0f} %{more})")
    pushes = float(np.nanmean(own.propulsive_pct))
    return f"{', '.join(parts)}; pull and push together {pushes:.0f} %, entry and recovery {100 - pushes:.0f} %"


def _apart(left: NDArray[np.float64], right: NDArray[np.float64], against: str) -> str:
    """Left against right of the propulsive share, with its interval over the strokes."""
    gap, low, high = difference(left.tolist(), right.tolist())
    said = f"Pull and push together against {against}, left minus right: {gap:+.1f} % of the cycle"
    if not np.isfinite(low):
        return f"{said}, from too few strokes for an interval."
    return f"{said} ({low:+.1f} to {high:+.1f}): {'the arms differ' if low > 0 or high < 0 else 'no difference told'}."
