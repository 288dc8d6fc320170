"""The one glossary: views, directions, efforts, kit, and what each quantity is called and means.

Docstrings, axis labels, table heads and pages read their words here, so that no two parts use
different words for one thing. ``name`` is the trade's term, ``plain`` what a swimmer is told.
"""

from __future__ import annotations

from dataclasses import dataclass

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
    "age_group": "age group, 10 to 14",
    "distance": "distance, 400 m and more",
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


@dataclass(frozen=True, slots=True)
class Quantity:
    """A measured quantity: key in code, unit, the trade's name, a swimmer's words, and its meaning."""

    key: str
    unit: str
    name: str
    plain: str
    meaning: str
    decimals: int = 0


_QUANTITIES = (
    Quantity(
        "hand_ahead_pct",
        "% of arm length",
        "hand ahead of the shoulder, forearm first straight down",
        "Hand ahead of the shoulder when the forearm first points straight down",
        "How far the fingertips are in front of the shoulder, along the line of swimming, in the first moment "
        "the forearm points straight down. A straight arm scores about 0; an early forearm scores more.",
    ),
    Quantity(
        "elbow_height_pct",
        "% of arm length",
        "elbow above the shoulder-fingertip line, forearm halfway down",
        "Elbow above the straight line from shoulder to fingertips, forearm halfway down",
        "Distance of the elbow from the straight line between shoulder and fingertips when the forearm is 45 degrees "
        "below the horizontal. Above the line the arm is bent over the water it presses on; on the line it is "
        "straight; below it the elbow has dropped.",
    ),
    Quantity(
        "elbow_height_m",
        "m",
        "elbow above the shoulder-fingertip line, forearm halfway down",
        "Elbow above the straight line from shoulder to fingertips, forearm halfway down",
        "The same distance in metres, where the picture has a scale.",
        2,
    ),
    Quantity(
        "elbow_angle_45_deg",
        "deg",
        "elbow angle, forearm halfway down",
        "Bend of the elbow, forearm halfway down",
        "Angle at the elbow between upper arm and forearm when the forearm is 45 degrees below the horizontal; "
        "180 is a straight arm. The same fact as the elbow's height, in another unit.",
    ),
    Quantity(
        "elbow_angle_under_deg",
        "deg",
        "elbow angle, hand under the shoulder",
        "Bend of the elbow, hand under the shoulder",
        "Angle at the elbow in the moment the wrist passes under the shoulder; 180 is a straight arm.",
    ),
    Quantity(
        "upper_arm_turn_deg",
        "deg",
        "upper-arm turn while the forearm turns its first 40 degrees",
        "How far the upper arm turns while the forearm starts to drop",
        "Change of the upper arm's direction against the trunk while the forearm turns its first 40 degrees. "
        "Small means that the elbow stays while the forearm comes down.",
    ),
    Quantity(
        "wrist_angle_45_deg",
        "deg",
        "wrist angle, forearm halfway down",
        "Bend of the wrist, forearm halfway down",
        "Angle at the wrist between forearm and hand; 180 is straight. A bent wrist alone can fake a high elbow.",
    ),
)
QUANTITIES: dict[str, Quantity] = {q.key: q for q in _QUANTITIES}
