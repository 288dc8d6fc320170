"""A checkpoint told to the swimmer: a title, two sentences, what it means. All of it follows from the result."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from casebook.checkpoints.advice import load_advice
from casebook.checkpoints.finding import Decision, Finding, Observed
from casebook.checkpoints.seen import SeenFault, faults_in, goods_in
from casebook.pages.charts import MEAN_FROM
from casebook.pages.telling import findings, missing, seen_in, title_of, without_frames
from casebook.words import CHECKPOINTS, QUANTITIES, VIEWS

if TYPE_CHECKING:
    from casebook.pages.telling import Result

#: How a view is asked for, to find out what this clip can't tell.
_FILM = "This clip can't tell for sure. To find out, film two or three more passes at the same effort: {view}, {how}."
_HOW = {
    "side_under": "the camera square to the lane, 60 pictures a second or more",
    "side_split": "the camera square to the lane, 60 pictures a second or more",
    "side_above": "the camera low and square to the lane",
    "front_under": "the camera on the line of swimming",
    "front_above": "the camera on the line of swimming",
    "rear_under": "the camera on the line of swimming",
    "rear_above": "the camera on the line of swimming",
    "bottom": "the camera under the lane",
    "top": "the camera over the lane",
}


@dataclass(frozen=True, slots=True)
class Story:
    """What the page says about a checkpoint: a title, two sentences, and paragraphs on what it means."""

    title: str
    lead: tuple[str, ...]
    meaning: tuple[str, ...]
    missing: tuple[str, ...]


def story_of(
    result: Result,
    view: str,
    *,
    sides: Sequence[str],
    observed: Sequence[Observed] = (),
    decision: Decision | None = None,
    level: str = "",
    symmetry: bool = False,
) -> Story:
    """Any checkpoint told to the swimmer, by the words of its advice.

    Parameters
    ----------
    result : the checkpoint's result
    view : str
        Key of ``words.VIEWS``: what to ask for when this clip can't tell.
    sides : sequence of str
        Sides that the page speaks of.
    observed : sequence of Observed
        What the coach saw by eye.
    decision : Decision, optional
        The coach's own, told as his.
    level : str
        Key of ``words.LEVELS``, whose words are used where a fault has such.
    symmetry : bool
        Tell how left and right compare, as a child is told in place of a band.
    """
    name = CHECKPOINTS[result.checkpoint]
    shown = faults_in(result.checkpoint, result, sides=sides, observed=observed)
    seen = [replace(s, fault=s.fault.told(level)) for s in shown]
    own = [f for f in findings(result) if f.side in (*sides, "")]
    by_eye = [o for o in observed if o.checkpoint == result.checkpoint]
    decided = told_decision(decision)
    gaps = not_measured(result, sides)
    if not own and not by_eye:
        need = (
            without_frames(str(missing(result)[0])) if missing(result) else "Nothing of it is marked in this clip yet."
        )
        return Story(
            f"{name.capitalize()}: what this clip still needs",
            (need,),
            ("Nothing is said here before it is measured.", *decided),
            gaps,
        )
    goods = [g.words for g in goods_in(result.checkpoint, result, sides)]
    meaning = (
        *_kept(goods),
        *_changed(seen),
        *(_even(own) if symmetry else []),
        *_by_eye(result.checkpoint, by_eye),
        *_harmless(result.checkpoint, by_eye, level),
        *_limits(own, view),
        *decided,
    )
    return Story(_title(name, seen, goods), _lead(seen, goods, own), meaning, gaps)


def told_decision(decision: Decision | None) -> list[str]:
    """The coach's decision as a paragraph, if there is one."""
    return [] if decision is None else [f"Your coach's decision: {decision.decision}. {decision.why}".strip()]


def not_measured(result: Result, sides: Sequence[str], same_fact: dict[str, str] | None = None) -> tuple[str, ...]:
    """What could not be measured on these sides, each said once with what to do about it.

    ``same_fact`` names quantities that are another unit of one that is told already, and so are not missed.
    """
    said: dict[str, list[str]] = {}
    known = {f.quantity for f in findings(result) if f.side in (*sides, "")}
    for gap in missing(result):
        if gap.quantity in QUANTITIES and QUANTITIES[gap.quantity].appendix:
            continue
        if gap.side in (*sides, "") and gap.quantity not in known and (same_fact or {}).get(gap.quantity) not in known:
            said.setdefault(str(gap), []).append(title_of(gap.quantity))
    name = CHECKPOINTS[result.checkpoint]
    return tuple(f"{_together(titles, name)}: {why}" for why, titles in said.items())


def _together(titles: list[str], name: str) -> str:
    different = list(dict.fromkeys(titles))
    return f"The {name}" if len(different) > 3 else "; ".join(different)


def _title(name: str, seen: Sequence[SeenFault], goods: Sequence[str]) -> str:
    if seen:
        return seen[0].fault.title if seen[0].is_clear else f"Keep an eye on this: {_small(seen[0].fault.seen)}"
    return f"{goods[0].rstrip('.')}: keep that" if goods else f"A first look at {name}"


def _lead(seen: Sequence[SeenFault], goods: Sequence[str], own: Sequence[Finding]) -> tuple[str, ...]:
    """Why the first thing matters, for the title says what it is; then what else shows, or what is good."""
    said = [("" if s.is_clear else "It only just shows. ") + s.fault.why for s in seen[:1]]
    said += [f"{_capital(s.fault.seen)}." if s.is_clear else f"Only just: {s.fault.seen}." for s in seen[1:]]
    said += goods
    if not said and own:
        said = [
            "What was measured is shown below, without a judgement."
            if all(f.verdict == "shown" for f in own)
            else "What was measured is shown below; for a judgement this clip is not enough."
        ]
    return tuple(said[:2])


def _kept(goods: Sequence[str]) -> list[str]:
    return [f"What to keep{'' if k == 0 else ' too'}: {_small(words)}" for k, words in enumerate(goods)]


def _changed(seen: Sequence[SeenFault]) -> list[str]:
    """The one change; what only just shows is to be watched and not to be changed."""
    clear = next((s for s in seen if s.is_clear), None)
    if clear is not None:
        why = "" if clear is seen[0] else f" {clear.fault.why}"
        return [f"What to change: {clear.fault.change}.{why}"]
    return [f"What to keep an eye on: {seen[0].fault.seen}."] if seen else []


def _even(own: Sequence[Finding]) -> list[str]:
    """How left and right compare in what was measured of both, in strokes of one kind."""
    by_key = {(f.quantity, f.stroke_class, f.side): f for f in own}
    apart: list[str] = []
    alike: list[str] = []
    for (quantity, name, side), right in by_key.items():
        left = by_key.get((quantity, name, "l"))
        if side == "r" and left is not None:
            half = float(np.hypot(left.these.half, right.these.half))
            (apart if abs(left.value - right.value) > half else alike).append(_small(title_of(quantity)))
    out = [f"Left and right differ: {'; '.join(dict.fromkeys(apart))}."] if apart else []
    return out or (["Left and right are alike, as far as this film can tell."] if alike else [])


def _by_eye(checkpoint: str, observed: Sequence[Observed]) -> list[str]:
    questions = load_advice(checkpoint).questions
    asked = {word: q.question for q in questions for word in q.answers}
    said = [f"{asked[o.word]} {_capital(o.word)}." for o in observed if o.word in asked]
    return [f"Seen by eye: {' '.join(said)}"] if said else []


def _harmless(checkpoint: str, observed: Sequence[Observed], level: str) -> list[str]:
    """A kind sentence on what was seen and is to be left alone."""
    words = {o.word for o in observed}
    alone = [h for h in load_advice(checkpoint).harmless_for(level) if words & set(h.by_eye)]
    return [f"Leave this as it is: {h.seen}; {h.why}." for h in alone]


def _limits(own: Sequence[Finding], view: str) -> list[str]:
    out = []
    if any(f.verdict == "undecided" for f in own):
        out.append(_FILM.format(view=VIEWS[view], how=_HOW[view]))
    fewest = min((len(f.strokes) for f in own if f.strokes), default=MEAN_FROM)
    if fewest < MEAN_FROM:
        out.append(f"This was {seen_in(fewest)}. It tells what happened in this clip, not yet what you do every time.")
    return out


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


def _small(words: str) -> str:
    return words[:1].lower() + words[1:]
