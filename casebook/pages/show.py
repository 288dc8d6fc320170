"""What a notebook's cells call: each function takes the desk and the catch and returns one block."""

from __future__ import annotations

from typing import TYPE_CHECKING

from casebook import __version__
from casebook.checkpoints.advice import load_advice
from casebook.checkpoints.answers import answers, near_side
from casebook.pages.block import Block
from casebook.pages.narrative import Story, catch_story, faults_of
from casebook.pages.show_charts import SHOWN, curve, measures
from casebook.pages.show_loop import loop
from casebook.pages.show_pictures import pair, stills, whole
from casebook.pages.telling import (
    arm_spoken_of,
    called,
    findings,
    title_of,
)
from casebook.words import QUANTITIES, SIDES, STROKE_CLASSES, VIEWS

if TYPE_CHECKING:
    from casebook.case.desk import Desk
    from casebook.checkpoints.catch import CatchResult

__all__ = [
    "caution",
    "curve",
    "drills",
    "facts",
    "headline",
    "loop",
    "meaning",
    "measures",
    "pair",
    "provenance",
    "sources",
    "stills",
    "whole",
]

MINOR = (
    "This swimmer is a minor: the pictures stay with the family and the coach, and local safeguarding rules say who "
    "else may see them."
)


def headline(desk: Desk, catch: CatchResult) -> Block:
    """The finding as a title, who and how it was filmed, and two sentences."""
    told = _story(desk, catch)
    meta = _meta(desk, catch)
    words = "\n".join([told.title, " · ".join(meta), "", *told.lead])
    return Block("headline", words, {"title": told.title, "meta": meta, "lead": list(told.lead), "checkpoint": "catch"})


def meaning(desk: Desk, catch: CatchResult) -> Block:
    """What it means, in paragraphs."""
    told = _story(desk, catch)
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


def caution(desk: Desk, catch: CatchResult) -> Block:
    """What to take care of: the shoulder, kit, pain that was told, pictures of minors."""
    occasions = ["change"] if _faults(desk, catch) else []
    occasions += ["pain"] if desk.case.pain_now else []
    occasions += [desk.shot.swim.kit] if desk.shot.swim else []
    items = list(load_advice("catch").cautions_when(*occasions))
    if desk.case.minor:
        items.append(MINOR)
    return Block("caution", "\n".join(["With care", *items]), {"title": "With care", "items": items})


def drills(desk: Desk, catch: CatchResult) -> Block:
    """Drills for what was found, for the coach to choose one from."""
    advice = load_advice("catch")
    found = {d.key: d for fault in _faults(desk, catch) for d in advice.drills_for(fault)}
    items = [f"{d.name}: {d.how} {d.dose}. Cue: {d.cue}. Check: {d.check}" for d in found.values()]
    words = [] if items else ["Nothing here asks for a drill."]
    data = {"title": "Drills to choose from", "paragraphs": words, "items": items}
    return Block("prose", "\n".join([*words, *items, f"({advice.source})"]), data)


def sources(desk: Desk, catch: CatchResult) -> Block:
    """Where bands and definitions come from."""
    found = {f.quantity for f in findings(catch)} or set(SHOWN)
    items = [f"{QUANTITIES[q].plain}. {QUANTITIES[q].meaning}" for q in SHOWN if q in found]
    by_source: dict[str, list[str]] = {}
    for f in findings(catch):
        if f.band:
            source = f.band.source + ("" if f.band.on else ", not used to judge here")
            by_source.setdefault(source, []).append(_lower(title_of(f.quantity)))
    items += [f"Target for {'; '.join(dict.fromkeys(names))}: {source}." for source, names in sorted(by_source.items())]
    return Block("sources", "\n".join(items), {"title": "Definitions and sources", "items": items})


def provenance(desk: Desk, catch: CatchResult) -> Block:
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


def _faults(desk: Desk, catch: CatchResult) -> tuple[str, ...]:
    return faults_of(catch, *arm_spoken_of(catch, desk.shot))


def _story(desk: Desk, catch: CatchResult) -> Story:
    side, stroke_class = arm_spoken_of(catch, desk.shot)
    return catch_story(catch, side, stroke_class, desk.case.decision("catch"))


def _meta(desk: Desk, catch: CatchResult) -> list[str]:
    case, shot, swim = desk.case, desk.shot, desk.shot.swim
    meta = [f"{called(case.alias)} (invented swimmer)" if case.invented else called(case.alias)]
    if case.events:
        meta.append(", ".join(case.events))
    if swim is not None:
        place = f"{swim.place} pool" if swim.place[:2].isdigit() else swim.place
        meta.append(f"{swim.effort} swim, {place}, {'no kit' if swim.kit == 'none' else swim.kit}")
    side, stroke_class = arm_spoken_of(catch, shot)
    n = max((len(f.strokes) for f in findings(catch) if (f.side, f.stroke_class) == (side, stroke_class)), default=0)
    seen = f"{SIDES[side]} arm {VIEWS[shot.view]}"
    if near_side(shot) not in ("", side):
        seen += " (the arm farther from the camera)"
    meta.append(f"{seen}, {n} stroke{'s' if n != 1 else ''} {STROKE_CLASSES[stroke_class]}" if n else seen)
    return meta


def _lower(title: str) -> str:
    return title[:1].lower() + title[1:]
