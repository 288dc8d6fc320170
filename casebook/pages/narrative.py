"""The catch in a swimmer's words: title, two sentences, and what it means. All of it follows from the result."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from casebook.checkpoints.finding import Decision, Finding
from casebook.pages.charts import MEAN_FROM
from casebook.pages.story import Story, not_measured, told_decision
from casebook.pages.telling import findings, missing, seen_in, without_frames

if TYPE_CHECKING:
    from casebook.pages.telling import Result

#: Where a value lies as far as the story goes: fine; too low; just too low; too high; not judged or not to be told.
GOOD, LOW, NEAR, HIGH, OPEN = "good", "low", "near", "high", "open"
FILM_MORE = (
    "This clip can't tell for sure. To find out, film two or three more passes at the same effort: from the side, "
    "under water, the camera square to the lane, 60 pictures a second or more."
)
#: Why it matters, by where the elbow is against the line from shoulder to fingertips. common practice, no source
WHY = {
    "above": "With the elbow above the hand's line, hand and forearm press the water back, which moves you forward.",
    "on": "A straight arm presses the water down first, which lifts you instead of moving you forward, and it loads "
    "the shoulder.",
    "below": "When the elbow sinks and leads, hand and forearm slip through the water instead of pressing on it.",
}
#: Another unit of a fact that is told already is not missed.
SAME_FACT = {"elbow_height_m": "elbow_height_pct", "elbow_angle_45_deg": "elbow_height_pct"}
LATE = "The later the forearm points down, the less of the stroke is left to press back."

_ELBOW_TITLE = {
    "above": "The elbow holds",
    "on": "The arm comes down nearly straight",
    "below": "The elbow sinks below the hand's line",
}
_ADVICE = {
    "above": "let the forearm tip while the upper arm waits",
    "on": "let the fingertips tip first and the elbow stay",
    "below": "let the fingertips go down first",
}
_HAND_TITLE = {
    GOOD: "The forearm comes down while the hand is still well in front",
    LOW: "Let the forearm come down earlier, while the hand is still in front",
    NEAR: "Keep an eye on how early the forearm comes down",
    OPEN: "A first look at the catch",
}
_LINE = "the straight line from shoulder to fingertips"
_ELBOW = {
    "above": f"Your elbow stays above {_LINE} while the forearm comes down",
    "on": f"Your elbow lies on {_LINE}: the arm comes down almost straight",
    "below": f"Your elbow drops below {_LINE}: it leads and the hand follows",
}
_AND = {
    ("above", GOOD): ", so hand and forearm press back and not down.",
    ("above", LOW): ", but by less than your coach aims for.",
    ("above", NEAR): ", by a little less than your coach aims for.",
    ("on", GOOD): ", and that is within what your coach aims for.",
    ("on", LOW): " and presses down before it presses back.",
    ("on", NEAR): " and presses down before it presses back.",
}
_HAND = {
    GOOD: "When the forearm first points straight down, the hand is still well ahead of the shoulder, with most of the "
    "pull in front of you.",
    LOW: "By the time the forearm points straight down, the hand has already drifted back toward the shoulder.",
    NEAR: "When the forearm first points straight down, the hand is a little closer to the shoulder than it could be.",
    OPEN: "Where the hand is when the forearm first points straight down is shown below, without a judgement.",
}
_HAND_UNSURE = "Whether the forearm points down early enough, this clip can't tell."
_HAND_UNREAD = "Where the hand is when the forearm first points straight down could not be read from this clip."
_ELBOW_UNREAD = "How high the elbow stays could not be read from this clip."


@dataclass(frozen=True, slots=True)
class _Told:
    """The two facts that the story is made from."""

    hand: Finding | None
    elbow: Finding | None

    @property
    def place(self) -> str:
        """Where the elbow is; well under the band, though above the line for certain, it is as good as on it."""
        place = elbow_place(self.elbow)
        return "on" if place == "above" and self.elbow_level == LOW else place

    @property
    def elbow_level(self) -> str:
        return level_of(self.elbow)

    @property
    def hand_level(self) -> str:
        return level_of(self.hand)

    @property
    def elbow_first(self) -> bool:
        """The elbow is what to change before the hand is."""
        return bool(self.place) and self.elbow_level in (LOW, NEAR)


def catch_story(catch: Result, side: str, stroke_class: str = "none", decision: Decision | None = None) -> Story:
    """The catch of one arm told to the swimmer.

    Parameters
    ----------
    catch : the result of the catch
    side, stroke_class : str
        The arm and class of strokes that the page speaks of.
    decision : Decision, optional
        The coach's own, told as his.
    """
    if not findings(catch):
        gap = next(iter(missing(catch)), None)
        # NotMeasured is falsy: only None means that there is none.
        need = "No stroke of this clip carries marks yet." if gap is None else without_frames(str(gap))
        title = "Not measured yet: what this clip still needs"
        nothing = ("Nothing is said here before it is measured.", *told_decision(decision))
        return Story(title, (need,), nothing, not_measured(catch, (side,), SAME_FACT))
    told = _Told(
        _finding(catch, "hand_ahead_pct", side, stroke_class), _finding(catch, "elbow_height_pct", side, stroke_class)
    )
    meaning = [*_kept(told), *_changed(told), *_limits(told), *told_decision(decision)]
    lead = (_elbow_sentence(told), _hand_sentence(told))
    return Story(_title(told), lead, tuple(meaning), not_measured(catch, (side,), SAME_FACT))


def elbow_place(elbow: Finding | None) -> str:
    """Where the elbow is against its line: above, on, below; empty if that was not measured."""
    if elbow is None:
        return ""
    return next((word for word in ("above", "below", "on") if word in elbow.outcome.split()), "")


def level_of(finding: Finding | None) -> str:
    """How a finding enters the story; OPEN if it was not measured, is not judged, or cannot be told."""
    if finding is None or finding.verdict not in ("within", "near", "outside"):
        return OPEN
    if finding.verdict == "within":
        return GOOD
    low = finding.band.low if finding.band else None
    if low is None or finding.value >= low:
        return HIGH
    return NEAR if finding.verdict == "near" else LOW


def _finding(catch: Result, quantity: str, side: str, stroke_class: str) -> Finding | None:
    found = catch.get(quantity, side, stroke_class)
    return found if isinstance(found, Finding) else None


def _title(told: _Told) -> str:
    if not told.place:
        return _HAND_TITLE.get(told.hand_level, _HAND_TITLE[OPEN])
    elbow = _ELBOW_TITLE[told.place]
    if told.elbow_first:
        return f"{elbow}; {_ADVICE[told.place]}"
    if told.hand_level == LOW:
        return f"{elbow}; let the forearm come down a touch earlier"
    if told.hand_level == NEAR:
        return f"{elbow}; keep an eye on how early the forearm comes down"
    if told.hand_level == GOOD:
        return f"{elbow} and the forearm comes down early" + (": keep this catch" if told.elbow_level == GOOD else "")
    return f"{elbow} as the forearm comes down"


def _elbow_sentence(told: _Told) -> str:
    if not told.place:
        return _ELBOW_UNREAD
    return _ELBOW[told.place] + _AND.get((told.place, told.elbow_level), ".")


def _hand_sentence(told: _Told) -> str:
    if told.hand is None:
        return _HAND_UNREAD
    if told.hand.verdict == "undecided":
        return _HAND_UNSURE
    return _HAND.get(told.hand_level, _HAND[OPEN])


def _kept(told: _Told) -> list[str]:
    out = []
    if told.place == "above" and told.elbow_level == GOOD:
        out.append("What to keep: the shape of your arm. " + WHY["above"])
    if told.hand_level == GOOD:
        too = " too" if out else ""
        out.append(f"What to keep{too}: the hand stays in front until the forearm is down.")
    return out


def _changed(told: _Told) -> list[str]:
    """The one change: the elbow before the hand, and softly where it is only just off."""
    if told.elbow_first:
        word = "What to change" if told.elbow_level == LOW else "What to keep an eye on"
        return [f"{word}: {_ADVICE[told.place]}. {WHY[told.place]}"]
    if told.hand_level == LOW:
        return [f"What to change: start to tip the fingertips a little sooner. {LATE}"]
    if told.hand_level == NEAR:
        return [f"What to keep an eye on: when the fingertips start to tip. {LATE}"]
    return []


def _limits(told: _Told) -> list[str]:
    out = []
    known = [f for f in (told.hand, told.elbow) if f is not None]
    if any(f.verdict == "undecided" for f in known):
        out.append(FILM_MORE)
    if told.elbow_level == HIGH:
        out.append(
            "The arm bends more than your coach aims for. From the side a wide elbow looks like a high one: "
            "a clip from head-on tells."
        )
    fewest = min((len(f.strokes) for f in known), default=MEAN_FROM)
    if fewest < MEAN_FROM:
        out.append(f"This was {seen_in(fewest)}. It tells what happened in this clip, not yet what you do every time.")
    return out
