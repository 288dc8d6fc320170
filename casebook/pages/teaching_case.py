"""From a case's results to a teaching case: what shows, what lies behind it, and the pictures of it.

What a teaching case is stands in ``teaching_shape``; its names are here too.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from casebook.case.overview import Answer, Overview, overview
from casebook.checkpoints.advice import CONCERNS, load_advice
from casebook.checkpoints.finding import Finding
from casebook.checkpoints.priority import chain
from casebook.pages.moments import moments
from casebook.pages.teaching_pictures import full_speed, pictures
from casebook.pages.teaching_shape import (
    TeachingCase,
    TeachingDrill,
    TeachingFinding,
    TeachingFirst,
    TeachingHarmless,
    TeachingLink,
    load_teaching_case,
    save_teaching_case,
)
from casebook.pages.telling import called, listed, side_words, title_of, told_unit, value_words
from casebook.words import SIDES, STROKE_CLASSES

if TYPE_CHECKING:
    from casebook.case.case import Case
    from casebook.case.desk import Desk
    from casebook.checkpoints.seen import SeenFault

__all__ = ["TeachingCase", "load_teaching_case", "save_teaching_case", "tell_case"]

#: An event is told if it is a distance with these words and nothing else: anything typed could name somebody.
_EVENT = re.compile(r"\d{2,5} ?(m|yd|km)(,? (freestyle|open|water|medley|relay|or|and|more|steady|sprint))*")
MINOR = (
    "This swimmer is a minor: the pictures go no further than this room, and local safeguarding rules say who may see "
    "them."
)
#: So many variations that are left alone are told.
HARMLESS = 3


def tell_case(
    case: Case, media: Path, *, desk_of: Callable[[str], Desk] | None = None, audience: str = ""
) -> TeachingCase:
    """A case as it is taught; its pictures and loops are written into a folder.

    Parameters
    ----------
    case : Case
    media : Path
        Folder for the pictures and loops, made if it is not there.
    desk_of : callable, optional
        From the name of a shot to the desk whose clip gives the pictures: one whose faces are covered, for instance.
        Numbers come from the case's own desk in any case.
    audience : str
        Whom the consent names.
    """
    media.mkdir(parents=True, exist_ok=True)
    found = overview(case)
    shown = _to_show(found)
    desks: dict[str, Desk] = {}

    def desk(shot: str) -> Desk:
        if shot not in desks:
            desks[shot] = (desk_of or case.desk)(shot)
        return desks[shot]

    looked_at = list(dict.fromkeys(a.checkpoint for a in shown))
    return TeachingCase(
        alias=called(case.alias),
        level=case.level,
        event=event_words(case.events),
        invented=case.invented,
        audience=audience,
        loops=full_speed(case.shots, shown, desk, media),
        stills=pictures(shown, desk, media),
        findings=_findings(found),
        fine=tuple(g.words for g in found.goods),
        chain=_chain(found),
        first=_first(found),
        drill=_drill(found),
        harmless=_harmless(case, looked_at),
        cautions=_cautions(case, found, looked_at),
        apart=_apart(found),
    )


def event_words(events: Sequence[str]) -> str:
    """Those events that are a plain distance.

    >>> event_words(["750 m open water", "the relay of St Invented"])
    '750 m open water'
    """
    return ", ".join(e for e in events if _EVENT.fullmatch(e.strip()))


def _to_show(found: Overview) -> tuple[Answer, ...]:
    """The answers whose pictures are shown: of the first thing, then of what belongs to it; each once."""
    wanted = [s for s in (found.plan.first, *_related(found)) if s is not None]
    answers = [a for s in wanted if (a := found.answer_for(s)) is not None]
    if not answers:
        good = {g.quantity for g in found.goods}
        answers = [
            a
            for a in found.answers
            if any(isinstance(r, Finding) and r.quantity in good and r.verdict == "within" for r in a.result.results)
        ]
    once = {(a.checkpoint, a.desk.shot.id): a for a in answers if moments(a.desk, a.result).stills}
    return tuple(once.values())


def _related(found: Overview) -> list[SeenFault]:
    first = found.plan.first
    return [] if first is None else [*_behind(found, first), *_following(found, first)]


def _behind(found: Overview, first: SeenFault) -> list[SeenFault]:
    """What shows and is usually behind the first thing, the farthest cause first."""
    keys = chain(first.fault.key, found.seen)
    return [s for key in reversed(keys) for s in found.seen if s.fault.key == key]


def _following(found: Overview, first: SeenFault) -> list[SeenFault]:
    """What shows and has the first thing behind it, the nearest effect first."""
    after = [s for s in found.seen if first.fault.key in chain(s.fault.key, found.seen)]
    return sorted(after, key=lambda s: len(chain(s.fault.key, found.seen)))


def _chain(found: Overview) -> tuple[TeachingLink, ...]:
    first = found.plan.first
    if first is None:
        return ()
    links = [(s, "cause") for s in _behind(found, first)] + [(first, "first")]
    links += [(s, "follows") for s in _following(found, first)]
    return tuple(
        TeachingLink(s.fault.key, s.fault.checkpoint, s.fault.title, s.fault.seen, role, s.is_clear)
        for s, role in links
    )


def _apart(found: Overview) -> tuple[str, ...]:
    first = found.plan.first
    told = {s.fault.key for s in _related(found)} | ({first.fault.key} if first else set())
    return tuple(s.fault.seen for s in found.seen if s.fault.key not in told)


def _first(found: Overview) -> TeachingFirst | None:
    one = found.plan.first
    if one is None:
        return None
    fault = one.fault
    after = [s.fault.seen for s in _following(found, one)]
    reason = f"It belongs to {CONCERNS[fault.concern]}"
    reason += f", and it is usually behind this: {listed(after)}." if after else "."
    return TeachingFirst(fault.key, fault.checkpoint, fault.title, fault.change, fault.why, reason)


def _drill(found: Overview) -> TeachingDrill | None:
    one = found.plan.first
    if one is None:
        return None
    drill = next(iter(load_advice(one.fault.checkpoint).drills_for(one.fault.key)), None)
    return (
        None
        if drill is None
        else TeachingDrill(drill.name, drill.how, drill.dose, drill.cue, drill.check, drill.safety)
    )


def _harmless(case: Case, looked_at: Sequence[str]) -> tuple[TeachingHarmless, ...]:
    """Variations to leave alone: those that were seen by eye, then what else goes with the pictures."""
    known = [(name, h) for name in looked_at for h in load_advice(name).harmless_for(case.level)]
    words = {(o.checkpoint, o.word) for o in case.observed}
    seen = [h for name, h in known if any((name, word) in words for word in h.by_eye)]
    order = [*seen, *(h for _, h in known if h not in seen)]
    return tuple(TeachingHarmless(h.seen, h.why, h.fault_when) for h in order[:HARMLESS])


def _cautions(case: Case, found: Overview, looked_at: Sequence[str]) -> tuple[str, ...]:
    """What to take care of. What the swimmer told about his own body is nobody's business here."""
    one = found.plan.first
    names = [one.fault.checkpoint] if one is not None else list(looked_at[:1])
    occasions = [case.level, *(["change"] if one is not None else []), *(["minor"] if case.minor else [])]
    said = [words for name in names for words in load_advice(name).cautions_when(*occasions)]
    return (*said, MINOR) if case.minor else tuple(said)


def _findings(found: Overview) -> tuple[TeachingFinding, ...]:
    """What shows a fault, the first thing's own before the others; then what is good."""
    first = found.plan.first
    order = [s for s in (first, *_related(found)) if s is not None]
    order += [s for s in found.seen if s not in order]
    out = []
    for seen in order:
        out += [_measured(f) for f in seen.findings]
        if seen.observed and not seen.findings:
            out.append(TeachingFinding(seen.fault.checkpoint, _sentence(seen.fault.seen), "", "outside"))
    good = {g.quantity: g.words for g in found.goods}
    for answer in found.answers:
        for f in answer.result.results:
            if (
                isinstance(f, Finding)
                and f.verdict == "within"
                and f.side in (*answer.sides, "")
                and f.quantity in good
            ):
                out.append(_measured(f, good.pop(f.quantity)))
    return tuple(out)


def _measured(f: Finding, words: str = "") -> TeachingFinding:
    factor, unit = told_unit(f.unit)
    number, give = value_words(f)
    side = side_words(f.checkpoint, f.side) if f.side in SIDES else "the whole swimmer"
    strokes = STROKE_CLASSES.get(f.stroke_class, "")
    said = words or f"{title_of(f.quantity)} ({', '.join(filter(None, (side, strokes)))})"
    told = f"{number}, {give}".replace(" of your ", " of the ")
    ends = (round(v * factor, 2) for v in (f.value, f.these.low, f.these.high))
    value, low, high = ends
    return TeachingFinding(f.checkpoint, said, told, f.verdict, value, low, high, unit)


def _sentence(words: str) -> str:
    return f"{words[:1].upper()}{words[1:]}."
