"""The one picture of the card: the still that shows the change, or a good thing, close and with its lines."""

from __future__ import annotations

from dataclasses import dataclass
from statistics import median
from typing import TYPE_CHECKING

import numpy as np

from casebook.checkpoints.answers import near_side
from casebook.checkpoints.drawing import Drawing, Still
from casebook.checkpoints.finding import Finding
from casebook.pages.aims import still_of_fault
from casebook.pages.moments import Moments, moments
from casebook.pages.overlay import drawing_data, labels_beside
from casebook.pages.picture import around, boxes_of_one_size, drawn

if TYPE_CHECKING:
    from PIL import Image

    from casebook.case.desk import Desk
    from casebook.case.overview import Answer, Overview
    from casebook.checkpoints.advice import Good

#: Room around the lines, as a share of their longer side; a card's picture shows where the arm belongs.
ROOM = 0.42


@dataclass(frozen=True, slots=True)
class CardStill:
    """A still, the stroke it is of, and the desk of its shot."""

    desk: Desk
    shown: Moments
    still: Still


@dataclass(frozen=True, slots=True)
class GoodSeen:
    """A good thing, the finding that says so, and its still."""

    good: Good
    finding: Finding
    still: CardStill


def card_still(found: Overview) -> CardStill | None:
    """The still of the first thing to change, else of a good thing; None where nothing has a picture."""
    return change_still(found) or next((seen.still for seen in good_stills(found)), None)


def change_still(found: Overview) -> CardStill | None:
    """The still that shows the first thing to change; None where nothing is to be changed or it has no picture."""
    one = found.plan.first
    answer = None if one is None else found.answer_for(one)
    if one is None or answer is None:
        return None
    still = still_of_fault(answer.result, one)
    if still is not None:
        return CardStill(answer.desk, _stroke_of(answer, still), still)
    return _still_of(answer, next((f for f in one.findings if f in answer.result.results), None))


def good_stills(found: Overview) -> list[GoodSeen]:
    """The good things that have a picture."""
    out = []
    for good in found.goods:
        for answer in found.answers:
            every = [r for r in answer.result.results if isinstance(r, Finding) and r.quantity == good.quantity]
            own = next((r for r in every if r.verdict == "within" and r.side in (*answer.sides, "")), None)
            still = None if own is None else _still_of(answer, own)
            if own is not None and still is not None:
                out.append(GoodSeen(good, own, still))
                break
    return out


def still_picture(chosen: CardStill, size: tuple[int, int]) -> Image.Image:
    """The still cut close, ``size`` (width, height) [px], its lines drawn at that size."""
    from PIL import Image

    clip, lines = chosen.desk.shot.clip, chosen.still.drawing
    every = [*lines.body, *lines.reference, *lines.measure]
    whole = (0.0, 0.0, float(clip.size[0]), float(clip.size[1]))
    part = around(every, ROOM) if every else chosen.still.crop or whole
    x0, y0, x1, y1 = boxes_of_one_size([part], clip.size, size[0] / size[1])[0]
    cropped = np.ascontiguousarray(clip.frame(chosen.still.frame)[y0:y1, x0:x1])
    image = Image.fromarray(cropped).resize(size, Image.Resampling.LANCZOS)
    data = drawing_data(
        Drawing(lines.body, lines.reference, lines.measure, lines.labels), (x0, y0), size[0] / (x1 - x0)
    )
    return drawn(image, labels_beside(data, size))


def _still_of(answer: Answer, finding: Finding | None) -> CardStill | None:
    """The still of a finding, of the stroke that the page shows too where that is one of the finding's side.

    Without a finding (seen by eye), any still of the stroke that the page shows.
    """
    result, side = answer.result, finding.side if finding else ""
    paged = moments(answer.desk, result)
    stills = paged.stills if not side or paged.side == side else ()
    stills = stills or tuple(s for s in result.stills if not side or s.side in ("", side))
    if not stills:
        return None
    frames = _frames(finding)
    still = min(stills, key=lambda s: (*_far_from(s, frames), s.frame))
    return CardStill(answer.desk, _stroke_of(answer, still, side or paged.side), still)


def _stroke_of(answer: Answer, still: Still, side: str = "") -> Moments:
    """The stroke that a still is of."""
    same = [s for s in answer.result.stills if s.stroke == still.stroke and s.side in ("", still.side)]
    side = still.side or side or near_side(answer.desk.shot) or "r"
    return Moments(answer.checkpoint, side, still.stroke, tuple(sorted(same, key=lambda s: (s.frame, s.key))))


def _frames(finding: Finding | None) -> set[int]:
    """The frames of the stroke that stands for a finding's others: the one whose value is nearest their median."""
    own = [s for s in finding.strokes if not s.shot] if finding else []
    if finding is None or not own:
        return set()
    middle = median(s.value for s in finding.strokes)
    return set(min(own, key=lambda s: (abs(s.value - middle), s.stroke)).frames)


def _far_from(still: Still, frames: set[int]) -> tuple[int, bool]:
    """How many frames a still is from where something was read; of two as near, one with the measure drawn."""
    return min((abs(still.frame - f) for f in frames), default=0), not still.drawing.measure
