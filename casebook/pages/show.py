"""What a notebook's cells call: each takes the desk and a checkpoint's result and returns one block."""

from __future__ import annotations

from typing import TYPE_CHECKING

from casebook import __version__
from casebook.checkpoints.advice import Drill, all_faults, load_advice
from casebook.checkpoints.answers import answers, near_side
from casebook.checkpoints.seen import SeenFault, faults_in
from casebook.pages.block import Block
from casebook.pages.narrative import catch_story
from casebook.pages.show_appendix import appendix
from casebook.pages.show_camera import camera, lens_and_window, quality, scale
from casebook.pages.show_charts import curve, measures, shown
from casebook.pages.show_counted import efforts, tally
from casebook.pages.show_loop import loop
from casebook.pages.show_motion import angle, beside, cycle, dials, phases, way
from casebook.pages.show_pictures import pair, stills, whole
from casebook.pages.show_plan import change, first, ignore, practice, reasons, repeat_card
from casebook.pages.show_sketch import sketch
from casebook.pages.story import Story, story_of
from casebook.pages.telling import (
    Result,
    arm_spoken_of,
    called,
    counted,
    findings,
    side_words,
    sides_spoken_of,
    title_of,
)
from casebook.words import QUANTITIES, SIDES, STROKE_CLASSES, VIEWS

if TYPE_CHECKING:
    from casebook.case.desk import Desk

__all__ = [
    "angle",
    "appendix",
    "beside",
    "by_eye",
    "camera",
    "causes",
    "caution",
    "change",
    "curve",
    "cycle",
    "dials",
    "drills",
    "efforts",
    "facts",
    "first",
    "harmless",
    "headline",
    "ignore",
    "lens_and_window",
    "loop",
    "meaning",
    "measures",
    "pair",
    "phases",
    "practice",
    "provenance",
    "quality",
    "reasons",
    "repeat_card",
    "scale",
    "sketch",
    "sources",
    "stills",
    "tally",
    "way",
    "whole",
    "why",
]

MINOR = (
    "This swimmer is a minor: the pictures stay with the family and the coach, and local safeguarding rules say who "
    "else may see them."
)


def headline(desk: Desk, result: Result) -> Block:
    """The finding as a title, who and how it was filmed, and two sentences."""
    told = _story(desk, result)
    meta = _meta(desk, result)
    words = "\n".join([told.title, " · ".join(meta), "", *told.lead])
    measured = bool(findings(result)) or any(o.checkpoint == result.checkpoint for o in desk.case.observed)
    data: dict[str, object] = {"title": told.title, "meta": meta, "lead": list(told.lead), "measured": measured}
    data["checkpoint"] = result.checkpoint
    return Block("headline", words, data)


def meaning(desk: Desk, result: Result) -> Block:
    """What it means, in paragraphs."""
    told = _story(desk, result)
    return Block(
        "prose", "\n\n".join(told.meaning), {"title": "What it means", "paragraphs": list(told.meaning), "items": []}
    )


def facts(desk: Desk) -> Block:
    """What this clip can answer and what it cannot."""
    found = answers(desk.shot)
    data = {
        "title": "What this clip can show",
        "can": list(found.can),
        "cannot": list(found.cannot),
        "heed": list(found.heed),
    }
    return Block("facts", found.text(), data)


def caution(desk: Desk, result: Result) -> Block:
    """What to take care of: the shoulder, kit, pain that was told, pictures of minors."""
    occasions = ["change"] if _seen(desk, result) else []
    occasions += ["stiff"] if desk.case.stiff else []
    occasions += [desk.case.level] + ["minor"] * desk.case.minor
    occasions += [desk.shot.swim.kit] if desk.shot.swim else []
    advice = load_advice(result.checkpoint)
    # Pain now or before: what it asks for comes before everything else.
    sore = desk.case.pain_now or desk.case.intake.pain_before
    pain = [c.words for c in advice.cautions if c.when == "pain"] if sore else []
    items = [*pain, *advice.cautions_when(*occasions)]
    if desk.case.minor:
        items.append(MINOR)
    return Block("caution", "\n".join(["With care", *items]), {"title": "With care", "items": items})


def drills(desk: Desk, result: Result) -> Block:
    """Drills for what was found, for the coach to choose one from."""
    advice = load_advice(result.checkpoint)
    found = {d.key: d for seen in _seen(desk, result) for d in advice.drills_for(seen.fault.key)}
    items = [_drill(d) for d in found.values()]
    words = [] if items else ["Nothing here asks for a drill."]
    data = {"title": "Drills to choose from", "paragraphs": words, "items": items}
    return Block("prose", "\n".join([*words, *items, f"({advice.source})"]), data)


def why(desk: Desk, result: Result) -> Block:
    """Why a checkpoint matters: for propulsion, drag, timing and the shoulder."""
    items = list(load_advice(result.checkpoint).why.values())
    return Block("prose", "\n".join(items), {"title": "Why it matters", "paragraphs": [], "items": items})


def harmless(desk: Desk, result: Result) -> Block:
    """What may look like a fault and is none, and when it becomes one."""
    items = [
        f"{_upper(h.seen)}: {h.why}. A fault when {h.fault_when}."
        for h in load_advice(result.checkpoint).harmless_for(desk.case.level)
    ]
    data = {"title": "Leave alone", "paragraphs": [], "items": items}
    return Block("prose", "\n".join(["Leave alone", *items]), data)


def causes(desk: Desk, result: Result) -> Block:
    """What usually stands behind the faults that show: earlier faults, and what is no fault at all."""
    faults, items = all_faults(), []
    for seen in _seen(desk, result):
        behind = [faults[key].seen for key in seen.fault.upstream] + list(seen.fault.behind)
        items.append(f"{_upper(seen.fault.seen)}: look first whether {'; or '.join(behind)}.")
    words = [] if items else ["Nothing here needs a cause."]
    data = {"title": "What usually stands behind it", "paragraphs": words, "items": items}
    return Block("prose", "\n".join([*words, *items]), data)


def by_eye(desk: Desk, result: Result) -> Block:
    """What has no number and is answered by eye: each question with its words, and what the coach has answered."""
    answered = {o.word: o for o in desk.case.observed if o.checkpoint == result.checkpoint}
    items = []
    for q in load_advice(result.checkpoint).questions:
        said = [w for w in q.answers if w in answered]
        items.append(f"{q.question} {_upper(said[0])}." if said else f"{q.question} ({', '.join(q.answers)})")
    return Block("prose", "\n".join(items), {"title": "Seen by eye", "paragraphs": [], "items": items})


def sources(desk: Desk, result: Result) -> Block:
    """Where bands and definitions come from."""
    found = {f.quantity for f in findings(result)}
    wanted = [q for q in shown(result) if q in found] or list(shown(result))
    items = [f"{QUANTITIES[q].plain}. {QUANTITIES[q].meaning}" for q in wanted]
    by_source: dict[str, list[str]] = {}
    for f in findings(result):
        if f.band:
            source = f.band.source + ("" if f.band.on else ", not used to judge here")
            by_source.setdefault(source, []).append(_lower(title_of(f.quantity)))
    items += [f"Target for {'; '.join(dict.fromkeys(names))}: {source}." for source, names in sorted(by_source.items())]
    return Block("sources", "\n".join(items), {"title": "Definitions and sources", "items": items})


def provenance(desk: Desk, result: Result) -> Block:
    """What the page was made from, without any clock time: version, clip digest, marker, level and scale."""
    plane = desk.plane
    items = [
        f"Made with casebook {__version__}.",
        f"Clip {desk.shot.clip.name}, SHA-256 {desk.shot.clip.sha256[:16]}; shot {desk.shot.id}.",
        f"Marked by {desk.case.coach or 'the coach'}.",
        plane.how,
        *plane.limits,
    ]
    if desk.case.invented:
        items.append("The swimmer and the pool are invented.")
    return Block("provenance", "\n".join(items), {"title": "How this page was made", "items": items})


def _seen(desk: Desk, result: Result) -> tuple[SeenFault, ...]:
    """The faults that show on the sides spoken of, or to the coach's eye."""
    sides = sides_spoken_of(result, desk.shot)
    return faults_in(result.checkpoint, result, sides=sides, observed=desk.case.observed)


def _story(desk: Desk, result: Result) -> Story:
    decision = desk.case.decision(result.checkpoint)
    if result.checkpoint == "catch":
        side, stroke_class = arm_spoken_of(result, desk.shot)
        return catch_story(result, side, stroke_class, decision)
    sides = sides_spoken_of(result, desk.shot)
    child = desk.case.minor or desk.case.level == "age_group"
    return story_of(
        result, desk.shot.view, sides=sides, observed=desk.case.observed, decision=decision, level=desk.case.level,
        symmetry=child,
    )  # fmt: skip


def _drill(d: Drill) -> str:
    said = [f"{d.name}: {d.how}", f"Usual mistake: {d.mistakes}" if d.mistakes else "", d.safety, f"{d.dose}."]
    return " ".join([*(s for s in said if s), f"Cue: {d.cue}. Check: {d.check}"])


def _meta(desk: Desk, result: Result) -> list[str]:
    case, shot, swim = desk.case, desk.shot, desk.shot.swim
    meta = [f"{called(case.alias)} (invented swimmer)" if case.invented else called(case.alias)]
    if case.events:
        meta.append(", ".join(case.events))
    if swim is not None:
        place = f"{swim.place} pool" if swim.place[:2].isdigit() else swim.place
        meta.append(f"{swim.effort} swim, {place}, {'no kit' if swim.kit == 'none' else swim.kit}")
    side, stroke_class = arm_spoken_of(result, shot)
    own = [f for f in findings(result) if (f.side, f.stroke_class) == (side, stroke_class)]
    most = max(own, key=lambda f: len(f.strokes), default=None)
    seen = f"{side_words(result.checkpoint, side)} {VIEWS[shot.view]}" if side in SIDES else VIEWS[shot.view]
    if near_side(shot) not in ("", side) and side:
        seen += " (farther from the camera)"
    strokes = f" {STROKE_CLASSES[stroke_class]}" if stroke_class else ""
    meta.append(seen if most is None else f"{seen}, {counted(most)}{strokes}")
    return meta


def _lower(title: str) -> str:
    return title[:1].lower() + title[1:]


def _upper(title: str) -> str:
    return title[:1].upper() + title[1:]
