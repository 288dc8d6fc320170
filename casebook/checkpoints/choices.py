"""What a room of coaches chooses from: a numbered list of faults in plain words, and two ways to say none of them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from casebook.checkpoints.advice import all_faults

NOTHING, OTHER = "nothing", "something_else"
NOTHING_TITLE, OTHER_TITLE = "Nothing: leave it as it is", "Something else"
#: So many faults stand on the list: more cannot be read from the back of a room. common practice, no source
MOST = 10
#: What the list is filled up with: what coaches name most, one of each kind. common practice, no source
COMMON = (
    "head_up",
    "breath_late",
    "front_arm_falls",
    "crosses_at_entry",
    "dropped_elbow",
    "straight_arm",
    "flat",
    "scissor",
    "dead_spot",
    "slips_out_early",
    "rate_low",
    "knee_kick",
)


@dataclass(frozen=True, slots=True)
class Choice:
    """One line of the list: its number, the fault's key (or ``NOTHING``, ``OTHER``), its words."""

    number: int
    key: str
    title: str


def choices_for(faults: Iterable[str], most: int = MOST) -> tuple[Choice, ...]:
    """The list for a workshop, the same for all of its cases.

    Parameters
    ----------
    faults : iterable of str
        Keys that must stand on it: what shows in the cases, the first things before the others.
    most : int
        So many faults; common ones fill it up. What must stand on it does so even beyond that.

    Returns
    -------
    tuple of Choice
        In teaching order, then ``OTHER`` and ``NOTHING``.
    """
    known = all_faults()
    wanted = list(dict.fromkeys(k for k in faults if k in known))
    wanted += [k for k in COMMON if k not in wanted][: max(0, most - len(wanted))]
    keys = [k for k in known if k in wanted]
    titles = [*(_plain(known[k].seen) for k in keys), OTHER_TITLE, NOTHING_TITLE]
    return tuple(Choice(n, k, t) for n, (k, t) in enumerate(zip([*keys, OTHER, NOTHING], titles, strict=True), 1))


def _plain(words: str) -> str:
    return words[:1].upper() + words[1:]
