"""What belongs on one frame while it is being marked, as data: body, reference lines, measure and value."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from casebook.checkpoints.drawing import Drawing, Point
from casebook.words import SIDES

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from casebook.marks.lines import LineMark

Pairs = Sequence[tuple[str, str]]
#: The straight line that the elbow is judged against.
SPANS: tuple[tuple[str, str], ...] = (("shoulder_l", "fingertip_l"), ("shoulder_r", "fingertip_r"))
#: Lines that run on across the whole picture; a plumb line hangs where it was drawn.
_ENDLESS = ("water", "lane")


def spoken(point: str) -> str:
    """A point's name as a coach says it.

    >>> spoken("elbow_l"), spoken("crown")
    ('left elbow', 'crown')
    """
    name, _, side = point.rpartition("_")
    return f"{SIDES[side]} {name}" if side in SIDES else point


def reference_lines(lines: Sequence[LineMark], frame: int, size: tuple[int, int]) -> tuple[tuple[Point, Point], ...]:
    """The marked lines that hold for a frame: of each name the ones marked nearest to it in time.

    Parameters
    ----------
    lines : sequence of LineMark
    frame : int
    size : (width, height) of the picture [px]

    Returns
    -------
    tuple of (start, end) [px]
        Water and lane lines run on to the picture's edges; a line that misses the picture is left out.
    """
    found = []
    for name in dict.fromkeys(line.line for line in lines):
        same = [line for line in lines if line.line == name]
        nearest = min(abs(line.frame - frame) for line in same)
        for line in same:
            if abs(line.frame - frame) != nearest:
                continue
            ends = ((line.x0_px, line.y0_px), (line.x1_px, line.y1_px))
            whole = across(*ends, size) if name in _ENDLESS else ends
            if whole:
                found.append(whole)
    return tuple(found)


def across(a: Point, b: Point, size: tuple[int, int]) -> tuple[Point, Point] | None:
    """The straight line through two points from edge to edge of the picture [px]; None if it misses the picture.

    >>> across((10, 4), (20, 4), (101, 11))
    ((-0.5, 4.0), (100.5, 4.0))
    """
    low, high = float("-inf"), float("inf")
    for start, end, extent in zip(a, b, size, strict=True):
        step, near, far = end - start, -0.5, extent - 0.5
        if step == 0:
            if not near <= start <= far:
                return None
            continue
        t0, t1 = sorted(((near - start) / step, (far - start) / step))
        low, high = max(low, t0), min(high, t1)
    if not low < high or low == float("-inf"):
        return None
    first, last = ((a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])) for t in (low, high))
    return first, last


def drawn_marks(marks: Mapping[str, Point], skeleton: Pairs, spans: Pairs) -> Drawing:
    """Body and spans between the marks there are; a mark that no segment reaches stays as a lone point. [px]"""

    def between(pairs: Pairs) -> tuple[tuple[Point, ...], ...]:
        return tuple((marks[a], marks[b]) for a, b in pairs if a in marks and b in marks)

    body = between(skeleton)
    reached = {p for line in body for p in line}
    lone = tuple((xy,) for xy in marks.values() if xy not in reached)
    return Drawing(body=body + lone, reference=between(spans))


def still_picture(frame: NDArray[np.uint8], drawing: Drawing, width: int) -> bytes:
    """A frame, (H, W, 3), with a drawing on it as JPEG, no wider than ``width`` [px]."""
    from PIL import Image

    from casebook.pages.overlay import drawing_data
    from casebook.pages.picture import drawn, jpeg

    picture = Image.fromarray(np.asarray(frame))
    width = min(width, picture.width)
    scale = width / picture.width
    small = picture.resize((width, max(1, round(picture.height * scale))), Image.Resampling.LANCZOS)
    return jpeg(drawn(small, drawing_data(drawing, scale=scale)))


def together(*drawings: Drawing) -> Drawing:
    """Several drawings on one frame."""
    out = Drawing()
    for d in drawings:
        out = replace(
            out,
            body=out.body + d.body,
            reference=out.reference + d.reference,
            measure=out.measure + d.measure,
            labels=out.labels + d.labels,
        )
    return out
