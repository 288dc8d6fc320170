"""Blocks of the swimmer's first page: two good things, the one change, how to practise it, what to leave for now."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from casebook.checkpoints.advice import load_advice
from casebook.checkpoints.answers import near_side
from casebook.checkpoints.finding import Finding
from casebook.pages.aims import LIKENESS, still_of_fault
from casebook.pages.block import Block
from casebook.pages.moments import link, moments
from casebook.pages.show_pictures import Aim, beside, stills
from casebook.pages.telling import called
from casebook.words import CHECKPOINTS, VIEWS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from casebook.case.case import Case
    from casebook.case.overview import Answer, Overview
    from casebook.checkpoints.advice import Drill, Good
    from casebook.checkpoints.seen import SeenFault

EMPTY_TITLE = "Nothing is measured yet"
NOTHING_TITLE = "Nothing to change for now: keep swimming like this"
PROGRESS = "the same time with one stroke less is progress. A new stroke may feel slower for two to six weeks."
PAIN = "Nothing below is worth a sore shoulder: what loads it waits, and whoever treats it decides first."


def first(case: Case, found: Overview) -> Block:
    """The first page's headline: the one change, why, and before it two true good things. Pain comes before both."""
    if found.is_empty:
        need = "Mark the clips first: the first notebook says which pictures each question needs."
        data = {"title": EMPTY_TITLE, "meta": [], "lead": [need], "checkpoint": "plan", "measured": False}
        return Block("headline", f"{EMPTY_TITLE}\n\n{need}", data)
    one = found.plan.first
    good = [g.words for g in found.goods]
    title = NOTHING_TITLE if one is None else _sentence_of(one, case.level)
    lead = [f"First of all: {_lower(case.pain_now).rstrip('.')}. {PAIN}"] if case.pain_now else []
    lead += [f"What is good: {' '.join(good)}"] if good else []
    lead += ["Nothing that this film shows for certain asks for a change."] if one is None else _why(one, case.level)
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
    if one is not None and aim is not None and (still := still_of_fault(answer.result, one)) is not None:
        side, linked = side_shown(answer, one), link(answer.desk, moments(answer.desk, answer.result), still)
        return beside(answer.desk, still, aim, LIKENESS[one.fault.key], side, linked)
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
    """The still that shows the first thing to work on, by its moment; empty where there is none."""
    one = found.plan.first
    answer = found.answer_for(one) if one is not None else None
    if one is None or answer is None or still_of_fault(answer.result, one) is None:
        return ""
    return LIKENESS[one.fault.key].still


def side_shown(answer: Answer, one: SeenFault) -> str:
    """Whose arm or leg the picture of a fault shows; the near or the right one where it has no side."""
    still = still_of_fault(answer.result, one)
    return (still.side if still else "") or near_side(answer.desk.shot) or "r"


def practice(case: Case, found: Overview) -> Block:
    """One drill for each chosen thing, with its dose, its cue and how the swimmer can check it himself."""
    items = []
    for one in found.plan.chosen:
        drill = drill_for(one)
        if drill is not None:
            items += [
                " ".join(s for s in (f"{_upper(drill.name)}: {drill.how}", drill.safety) if s),
                f"{dose_for(drill.dose, case)}. Think: {drill.cue}.",
                f"You see that it works: {_lower(drill.check)}",
            ]
    if items:
        items.append(f"Once a week count strokes and seconds for {_length_of(case)}: {PROGRESS}")
    length = _length_of(case)
    keep = f"No drill is needed. Strokes and seconds for {length}, counted once a week, tell that the stroke holds."
    paragraphs = [] if items else [keep]
    data = {"title": "How to practise it", "paragraphs": paragraphs, "items": items}
    return Block("prose", "\n".join([*paragraphs, *items]), data)


def _length_of(case: Case) -> str:
    """One length of the pool that the swimmer swims in."""
    places = [swim.place for swim in case.swims if swim.place[:1].isdigit()]
    return places[0] if places else "25 m"


def drill_for(one: SeenFault) -> Drill | None:
    """The drill a swimmer is given for a fault: the first that the advice has for it."""
    return next(iter(load_advice(one.fault.checkpoint).drills_for(one.fault.key)), None)


def dose_for(dose: str, case: Case) -> str:
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
    later = found.plan.later[:1] if case.level == "learner" else found.plan.later
    items = [f"{_upper(s.fault.seen)}: {'later' if s.is_clear else 'only just, keep an eye on it'}." for s in later]
    items += [f"{_upper(s.fault.seen)}: not while it hurts." for s in found.plan.held_back]
    words = [] if items else ["There is nothing else to think of."]
    words += ["All of this can wait. One thing at a time is faster."] if items else []
    data = {"title": "Leave for now", "paragraphs": words, "items": items}
    return Block("prose", "\n".join([*items, *words]), data)


def repeat_card(case: Case, found: Overview) -> Block:
    """How to film the next time, so that then and now can be set side by side."""
    swum = {name: _swum(case, name) for name in case.shots}
    alike = len(set(swum.values())) == 1
    same = next(iter(swum.values()), "") if alike else ""
    items = []
    stated = {case.view(name) for name in case.shots if case.distance(name)}
    for name in case.shots:
        distance = case.distance(name)
        if distance is None and case.view(name) in stated:
            continue  # another pass of that view says how far
        said = [_upper(VIEWS[case.view(name)])]
        said += [f"{distance.value:.1f} m from the swimmer"] if distance else ["from the same distance"]
        said += [swum[name]] if swum[name] and not alike else []
        items.append(", ".join(said) + ".")
    items = list(dict.fromkeys(items))
    how = f"in the same pool ({same})" if same else "in the same pool, effort and kit"
    words = [f"In about six weeks, {how}, from the same side, height and zoom, two passes of each:"]
    data = {"title": "Film again like this", "paragraphs": words, "items": items}
    return Block("prose", "\n".join([*words, *items]), data)


def _swum(case: Case, shot_id: str) -> str:
    """Pool, effort and kit of a shot's swim in words."""
    swim = case.shot(shot_id).swim
    if swim is None:
        return ""
    return f"{swim.place}, {swim.effort} effort, {'no kit' if swim.kit == 'none' else swim.kit}"


def _sentence_of(one: SeenFault, level: str) -> str:
    if one.is_clear:
        return _upper(one.fault.told(level).change)
    return f"Keep an eye on this: {one.fault.seen} ({CHECKPOINTS[one.fault.checkpoint]})"


def _why(one: SeenFault, level: str) -> list[str]:
    """Why the first thing comes first, in speed or comfort."""
    told = one.fault.told(level)
    if not one.is_clear:
        return [f"It only just shows, so there is nothing to change yet. {told.why}"]
    return [f"The one thing to change. {told.title.rstrip('.')}. {told.why}"]


def _lower(words: str) -> str:
    return words[:1].lower() + words[1:]


def _upper(words: str) -> str:
    return words[:1].upper() + words[1:]
