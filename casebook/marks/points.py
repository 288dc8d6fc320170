"""The 27 points a coach can mark: joint centres as judged, not skin."""

from __future__ import annotations

MIDLINE = ("crown", "mouth", "neck")
PAIRED = (
    "goggle", "ear", "shoulder", "elbow", "wrist", "knuckle", "fingertip", "hip", "knee", "ankle", "heel", "toe",
)  # fmt: skip
POINTS: tuple[str, ...] = MIDLINE + tuple(f"{name}_{side}" for name in PAIRED for side in "lr")

LINES: dict[str, str] = {
    "water": "the still water line",
    "lane": "a straight line along the lane",
    "plumb": "a line that hangs straight down",
}

#: Segments drawn between marked points, body side by side.
SKELETON: tuple[tuple[str, str], ...] = (
    ("crown", "neck"),
    *(
        (f"{a}_{side}", f"{b}_{side}")
        for side in "lr"
        for a, b in (
            ("shoulder", "elbow"), ("elbow", "wrist"), ("wrist", "fingertip"), ("shoulder", "hip"),
            ("hip", "knee"), ("knee", "ankle"), ("ankle", "toe"),
        )
    ),
)  # fmt: skip


def mirrored(point: str) -> str:
    """The same point on the other side of the body; midline points are their own mirror.

    >>> mirrored("elbow_l"), mirrored("crown")
    ('elbow_r', 'crown')
    """
    if point.endswith("_l"):
        return point[:-2] + "_r"
    if point.endswith("_r"):
        return point[:-2] + "_l"
    return point
