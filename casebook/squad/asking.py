"""What the grid asks of each checkpoint, in a few words, and the letters of its faults."""

from __future__ import annotations

from casebook.checkpoints.advice import load_advice
from casebook.words import CHECKPOINTS

#: Answers of a cell with their keys. The word says it all; the shape beside it is for the glance.
FINE, LOOK, FAULT = "fine", "look again", "fault"
ANSWERS: dict[str, str] = {"1": FINE, "2": LOOK, "3": FAULT}
LETTERS = "abcdefghij"
_SHORT = {
    "body_line": "body line", "recovery": "recovery", "timing": "timing", "rate": "rate", "roll": "roll",
    "pull": "pull",
}  # fmt: skip


def short_title(checkpoint: str) -> str:
    """A column's head: one word or two."""
    return _SHORT.get(checkpoint, CHECKPOINTS[checkpoint])


def fault_letters(checkpoint: str) -> dict[str, str]:
    """Letter to the key of a fault, in the order in which the advice has them."""
    return {letter: fault.key for letter, fault in zip(LETTERS, load_advice(checkpoint).faults, strict=False)}


def fault_words(checkpoint: str) -> dict[str, str]:
    """Letter to what is seen, in plain words."""
    advice = load_advice(checkpoint)
    return {letter: advice.fault(key).seen for letter, key in fault_letters(checkpoint).items()}
