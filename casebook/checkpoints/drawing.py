"""What is drawn on a frame, as data: pages, figures and widget draw the same lines from it.

Four kinds and no more: the body as marked (solid white), reference lines (dashed white), the distance or angle under
discussion (one warm stroke), and its value beside it. All in pixels of the displayed frame, pixel centres at integers.
"""

from __future__ import annotations

from dataclasses import dataclass

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Label:
    """A short text beside a point."""

    at: Point
    text: str


@dataclass(frozen=True, slots=True)
class Drawing:
    """Lines and marks on one frame [px]."""

    body: tuple[tuple[Point, ...], ...] = ()
    reference: tuple[tuple[Point, ...], ...] = ()
    measure: tuple[tuple[Point, ...], ...] = ()
    labels: tuple[Label, ...] = ()


@dataclass(frozen=True, slots=True)
class Still:
    """A frame that shows something, with what is drawn on it.

    ``key`` names the moment (``reach``, ``halfway``, ``straight_down``), ``title`` is a few words for the reader,
    ``stroke`` the stroke's number among those of its arm, ``side`` that arm (``l`` or ``r``), ``crop`` the part worth a
    close look as (x0, y0, x1, y1) [px] or None.
    """

    frame: int
    key: str
    title: str
    drawing: Drawing
    stroke: int
    crop: tuple[float, float, float, float] | None = None
    side: str = ""
