"""The one glossary: views, directions, efforts, kit, and what each quantity is called and means.

Docstrings, axis labels, table heads and pages read their words here, so that no two parts use
different words for one thing. ``name`` is the trade's term, ``plain`` what a swimmer is told.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from pathlib import Path

VIEWS: dict[str, str] = {
    "side_under": "from the side, under water",
    "side_above": "from the side, above water",
    "side_split": "from the side, camera at the water line",
    "front_under": "head-on, under water",
    "front_above": "head-on, above water",
    "rear_under": "from behind, under water",
    "rear_above": "from behind, above water",
    "bottom": "from below",
    "top": "from above",
}
DIRECTIONS: dict[str, str] = {
    "left": "to the left of the picture",
    "right": "to the right of the picture",
    "toward": "toward the camera",
    "away": "away from the camera",
}
SIDES: dict[str, str] = {"l": "left", "r": "right"}
EFFORTS = ("easy", "steady", "race pace", "sprint", "tired")
KITS = ("none", "snorkel", "pull buoy", "paddles", "fins", "band", "wetsuit")
PLACES = ("25 m", "50 m", "25 yd", "open water", "flume")
CAMERAS: dict[str, str] = {
    "still": "stands still",
    "following": "moves along with the swimmer",
    "panning": "turns to follow the swimmer",
}
LEVELS: dict[str, str] = {
    "learner": "learner adult",
    "triathlete": "triathlete or open water",
    "masters": "masters",
    "age_group": "age group, 10 to 14",
    "distance": "distance, 400 m and more",
    "middle": "middle distance, 200 m",
    "sprint": "sprint",
}
STROKE_CLASSES: dict[str, str] = {
    "none": "without breath",
    "breath_l": "breath to the left",
    "breath_r": "breath to the right",
    "sighting": "looking ahead",
    "after_push_off": "just after the push-off",
    "before_wall": "just before the wall",
}
VERDICTS: dict[str, str] = {
    "within": "fine as it is",
    "near": "keep an eye on it",
    "outside": "worth working on",
    "undecided": "this clip can't tell",
    "shown": "shown, not judged",
}


#: Checkpoints in teaching order (the trade's usual one for a club swimmer; a case may set its own), with their titles.
CHECKPOINTS: dict[str, str] = {
    "body_line": "body line and head",
    "entry": "entry",
    "extension": "extension",
    "catch": "catch",
    "pull": "pull path",
    "recovery": "exit and recovery",
    "breathing": "breathing",
    "roll": "body roll",
    "alignment": "alignment",
    "kick": "kick",
    "timing": "timing and connection",
    "rate": "rate, length and speed",
}


@dataclass(frozen=True, slots=True)
class Quantity:
    """A measured quantity: key in code, unit, the trade's name, a swimmer's words, and its meaning.

    ``telling`` is a sentence with ``{value}`` in its place; empty where a checkpoint words its own. ``appendix``: for
    the coach, and left out of the swimmer's page.
    """

    key: str
    unit: str
    name: str
    plain: str
    meaning: str
    decimals: int = 0
    telling: str = ""
    appendix: bool = False


def _quantities() -> dict[str, Quantity]:
    data = tomllib.loads(Path(__file__).with_name("quantities.toml").read_text("utf-8"))
    return {row["key"]: Quantity(**row) for row in data["quantity"]}


QUANTITIES: dict[str, Quantity] = _quantities()
