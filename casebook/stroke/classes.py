"""What kind of stroke each one is, by the marks of the coach and of those who look for breaths."""

from __future__ import annotations

from itertools import zip_longest
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from casebook.marks.events import EventMark

#: A mark this much before a known entry belongs to the stroke before. [s] own judgement, no source
EARLY_S = 0.15
#: A mark further from every stroke than this belongs to none. [s] own judgement, no source
FARTHEST_S = 1.2


def class_of_each(
    spans: Sequence[tuple[float, float]],
    step_s: float,
    side: str,
    events: Sequence[EventMark],
    entered: Sequence[bool] = (),
) -> list[str]:
    """The class of each stroke: that of the mark inside it, or nearer to it than to any other stroke of the arm.

    Parameters
    ----------
    spans : sequence of (first, last)
        Frames of each stroke.
    step_s : float
        Usual time between frames. [s]
    side : str
    events : sequence of EventMark
        Of several marks for one stroke the one of the highest origin counts, the coach's own before any found one.
    entered : sequence of bool, optional
        Whether the first frame of each stroke is its entry, before which it had not begun.
    """
    classes, ranks = ["none"] * len(spans), [-1] * len(spans)
    for event in events:
        if event.event != "stroke_class" or event.side not in ("", side) or not spans:
            continue
        off = [max(a - event.frame, event.frame - b, 0) for a, b in spans]
        early = [e and (a - event.frame) * step_s > EARLY_S for e, (a, _) in zip(entered, spans, strict=False)]
        off = [np.inf if too else o for o, too in zip_longest(off, early, fillvalue=False)]
        nearest = int(np.argmin(off))
        if off[nearest] * step_s <= FARTHEST_S and int(event.origin) >= ranks[nearest]:
            classes[nearest], ranks[nearest] = event.value, int(event.origin)
    return classes
