"""Blocks of the swimmer's first page: two good things, the one change, how to practise it, what to leave for now."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from casebook.checkpoints.advice import load_advice
from casebook.checkpoints.finding import Finding
from casebook.pages.block import Block
from casebook.pages.moments import moments
from casebook.pages.show_pictures import Aim, pair, stills
from casebook.pages.telling import called
from casebook.words import CHECKPOINTS, VIEWS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from casebook.case.case import Case
    from casebook.case.overview import Answer, Overview
    from casebook.checkpoints.advice import Good
    from casebook.checkpoints.seen import SeenFault

EMPTY_TITLE = "Nothing is measured yet"
NOTHING_TITLE = "Nothing to change for now: keep swimming like this"
SELF_CHECK = "Once a week count strokes and seconds for 25 m: the same time with one stroke less is progress."
#: Which still shows a fault of the catch best.
_STILL_FOR = {"straight_arm": "halfway", "dropped_elbow": "halfway", "late_catch": "straight_down"}


def first(case: Case, found: Overview) -> Block:
    """The first page's headline: what to change, and before it two true good things."""
    if found.is_empty:
        need = "Mark the clips first: the first notebook says which pictures each question needs."
        data = {"title": EMPTY_TITLE, "meta": [], "lead": [need], "checkpoint": "plan", "measured": False}
        return Block("headline", f"{EMPTY_TITLE}\n\n{need}", data)
    one = found.plan.first
    good = [g.words for g in found.goods]
    title = NOTHING_TITLE if one is None else _sentence_of(one)
    lead = [f"What is good: {' '.join(good)}"] if good else []
    lead += [] if one is None else [f"The one thing to change: {one.fault.change}. {one.fault.why}"]
    if one is None:
        lead.append("Nothing that this film shows for certain asks for a change.")
    meta = [f"{called(case.alias)} (invented swimmer)" if case.invented else called(case.alias)]
    meta += [", ".join(case.events)] if case.events else []
    meta += [f"aim: {case.aims}"] if case.aims else []
    words = "\n".join([title, " · ".join(meta), "", *lead])
    return Block("headline", words, {"title": title, "meta": meta, "lead": lead, "checkpoint": "plan"})


def change(case: Case, found: Overview, aim: Aim | None = None) -> Block:
    """The picture of the one change, beside the figure to aim for where there is one; else of the first good thing."""
    one = found.plan.first
    answer = _answer_with(found, found.goods) if one is None else found.answer_for(one)
    if answer is None:
        words = "There is no picture of it: it was seen by eye." if one is not None else "No picture is needed."
        return Block("prose", words, {"title": "", "paragraphs": [words] if one is not None else [], "items": []})
    if one is not None and aim is not None and moments(answer.desk, answer.result).stills:
        return pair(answer.desk, answer.result, aim, moment_of(found))
    return stills(answer.desk, answer.result)


def _answer_with(found: Overview, goods: Sequence[Good]) -> Answer | None:
    """The answer that shows the first good thing and has a picture of it."""
    wanted = goods[0].quantity if goods else ""
    own = [
        a for a in found.answers
        if any(isinstance(r, Finding) and r.quantity == wanted and r.verdict == "within" for r in a.result.results)
    ]  # fmt: skip
    return next((a for a in own if moments(a.desk, a.result).stills), None)


def moment_of(found: Overview) -> str:
    """The moment of the catch that shows the first thing; empty where the catch does not come first."""
    one = found.plan.first
    return _STILL_FOR.get(one.fault.key, "") if one is not None else ""


def practice(case: Case, found: Overview) -> Block:
    """One drill for each chosen thing, with its dose, its cue and how the swimmer can check it himself."""
    items = []
    for one in found.plan.chosen:
        drill = next(iter(load_advice(one.fault.checkpoint).drills_for(one.fault.key)), None)
        if drill is not None:
            said = [f"{_upper(drill.name)}: {drill.how}", drill.safety, f"{_dose(drill.dose, case)}."]
            said += [f"Cue: {drill.cue}.", f"You see that it works: {drill.check[:1].lower()}{drill.check[1:]}"]
            items.append(" ".join(s for s in said if s))
    if items:
        items.append("Once a week count strokes and seconds for 25 m: the same time with one stroke less is progress.")
    paragraphs = [] if items else ["No drill is needed."]
    data = {"title": "How to practise it", "paragraphs": paragraphs, "items": items}
    return Block("prose", "\n".join([*paragraphs, *items]), data)


def _dose(dose: str, case: Case) -> str:
    """A drill's dose, not more often than the swimmer swims."""
    few = case.intake.sessions_a_week
    often = re.match(r"(\d+) times? a week", dose)
    if few is None or often is None or int(often[1]) <= few:
        return dose[:1].upper() + dose[1:]
    return f"Each time you swim{dose[often.end() :]}"


def reasons(case: Case, found: Overview) -> Block:
    """Why this comes first: the rule's own sentences, and the chain of causes that shows."""
    items = list(found.plan.reasons)
    for one in found.plan.later:
        behind = found.chain_of(one)
        if behind:
            items.append(f"{_upper(one.fault.seen)}: probably because {' because '.join(behind)}.")
    return Block("prose", "\n".join(items), {"title": "Why this first", "paragraphs": [], "items": items})


def ignore(case: Case, found: Overview) -> Block:
    """What to leave alone for now, kindly."""
    items = [f"{_upper(s.fault.seen)}: later." for s in found.plan.later]
    items += [f"{_upper(s.fault.seen)}: not while it hurts." for s in found.plan.held_back]
    words = [] if items else ["There is nothing else to think of."]
    words += ["All of this can wait. One thing at a time is faster."] if items else []
    data = {"title": "Leave for now", "paragraphs": words, "items": items}
    return Block("prose", "\n".join([*items, *words]), data)


def repeat_card(case: Case, found: Overview) -> Block:
    """How to film the next time, so that then and now can be set side by side."""
    items = []
    for name in case.shots:
        shot = case.shot(name)
        distance = case.distance(name)
        said = [f"{_upper(VIEWS[shot.view])}"]
        said += [f"{distance.value:.1f} m from the swimmer"] if distance else ["the same distance"]
        if shot.swim is not None:
            kit = "no kit" if shot.swim.kit == "none" else shot.swim.kit
            said += [shot.swim.place, f"{shot.swim.effort} effort", kit]
        items.append(", ".join(said) + ".")
    words = ["In about six weeks, the same pool and side, height and zoom, effort and kit, two passes each:"]
    data = {"title": "Film again like this", "paragraphs": words, "items": items}
    return Block("prose", "\n".join([*words, *items]), data)


def _sentence_of(one: SeenFault) -> str:
    if one.is_clear:
        return f"{one.fault.title}; {one.fault.change}"
    return f"Keep an eye on this: {one.fault.seen} ({CHECKPOINTS[one.fault.checkpoint]})"


def _lower(words: str) -> str:
    return words[:1].lower() + words[1:]


def _upper(words: str) -> str:
    return words[:1].upper() + words[1:]
