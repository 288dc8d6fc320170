"""Small standing texts of the page, and the shapes that go with the verdicts."""

from __future__ import annotations

READ_TITLE = "How to read the figures"
READING = (
    "each ring is one stroke, its whisker how well that stroke could be read. From four "
    "strokes on, the thick bar says how well the average of these strokes is known, the thin one how far it speaks for "
    "your habit."
)
#: SVG paths in a 12 by 12 box: disc, triangle, half disc, dashed ring, open square. No colour, so that no one needs it.
BADGES = {
    "within": "M6 1.5a4.5 4.5 0 1 0 0 9a4.5 4.5 0 1 0 0-9z",
    "outside": "M6 1.2L11 10.5H1z",
    "near": "M6 1.5a4.5 4.5 0 1 1 0 9a4.5 4.5 0 1 1 0-9zM6 2.8V9.2a3.2 3.2 0 1 1 0-6.4z",
    "undecided": "M4.5 1.6h3v1.3h-3zM9.1 4.5h1.3v3H9.1zM4.5 9.1h3v1.3h-3zM1.6 4.5h1.3v3H1.6z",
    "shown": "M1.5 1.5h9v9h-9zM2.9 2.9v6.2h6.2V2.9z",
}
#: What to look for in a still, by its moment. common practice, no source
LOOK_FOR = {
    "reach": "Fingertips below wrist below elbow? The dashed line is level with the shoulder.",
    "halfway": "Is the elbow above the dashed line from shoulder to fingertips?",
    "straight_down": "How far is the hand ahead of the dashed line below the shoulder?",
}
STEP = "Step through from here"
#: Over the links from a number to the pictures that it was read from.
SEE = "See it in the film"
OTHERS = "The other strokes at the same moments"
