"""The steps of one case in a workshop: watch, write, look slowly, causes, reveal, drill."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import TYPE_CHECKING

from casebook.pages.markup import Html, el, join, text
from casebook.pages.overlay import KINDS, overlay_svg, path_of, points
from casebook.words import LEVELS, VERDICTS, VIEWS

if TYPE_CHECKING:
    from casebook.checkpoints.choices import Choice
    from casebook.pages.media import Media
    from casebook.pages.teaching_shape import TeachingCase, TeachingLines, TeachingLoop, TeachingStill

#: So many measured things can be read from the back of a room.
MEASURED_SHOWN = 4
#: The steps of a case in their order: a word for the bar, and a heading.
STEPS = (
    ("Watch", "Watch twice, say nothing"),
    ("Write", "Write down the ONE thing to change"),
    ("Look", "Look again, slowly"),
    ("Causes", "What comes from what?"),
    ("Reveal", "What we would change first"),
    ("Drill", "How to practise it"),
)


def case_steps(case: TeachingCase, n: int, of: int, choices: Sequence[Choice], media: Media) -> Html:
    """All steps of one case, the ones after the votes folded for whoever reads without scripts."""
    bodies = (
        _watch(case, media),
        _write(choices),
        _look(case, media),
        _causes(case),
        _reveal(case),
        _practice(case),
    )
    steps = [_step(n, k, body) for k, body in enumerate(bodies, 1)]
    folded = el("details", el("summary", f"Case {n}: causes, what to change, drill"), *steps[3:], cls="fold")
    return el(
        "section",
        el("header", el("h2", f"Case {n} of {of}: {case.alias}"), el("p", who(case), cls="who")),
        *steps[:3],
        folded,
        cls="case",
        id=f"case-{n}",
        data_case=case.alias,
        aria_label=f"Case {n}: {case.alias}",
    )


def who(case: TeachingCase) -> str:
    """Who the case is about, in a line."""
    told = ["an invented swimmer"] if case.invented else []
    told += [LEVELS.get(case.level, case.level), *([case.event] if case.event else [])]
    return " · ".join(told)


def _step(case: int, k: int, body: Html) -> Html:
    name, heading = STEPS[k - 1]
    return el(
        "div",
        el("h3", heading, tabindex="-1"),
        el("div", body, cls="body"),
        cls="step",
        id=f"case-{case}-step-{k}",
        data_step=k,
        data_name=name,
    )


def _watch(case: TeachingCase, media: Media) -> Html:
    shown = join(_loop(loop, media) for loop in case.loops)
    return el("div", shown, el("p", "Full speed. No verdicts, no lines, no talking.", cls="rule"), cls="views")


def _loop(loop: TeachingLoop, media: Media) -> Html:
    width, height = loop.size
    video = el(
        "video",
        src=media.uri(loop.file),
        poster=media.uri(loop.poster),
        width=width,
        height=height,
        muted=True,
        playsinline=True,
        controls=True,
        preload="auto",
        aria_label=f"The swimmer {VIEWS.get(loop.view, '')}, without sound",
    )
    overlay = el("svg", cls="lines", viewbox=f"0 0 {width} {height}", aria_hidden="true", focusable="false")
    return el(
        "figure",
        el("div", video, overlay, cls="frame", data_width=width, data_height=height),
        el("figcaption", loop.caption),
        cls="loop item",
        data_times=json.dumps(loop.times),
        data_part=json.dumps(loop.part),
        data_moments=json.dumps(loop.moments),
        data_lines=json.dumps([_paths(lines) for lines in loop.lines], separators=(",", ":")),
    )


def _paths(lines: TeachingLines) -> list[str]:
    """SVG path data: reference, body, measure, dots."""
    drawing = lines.drawing
    paths = [path_of([line for line in points(drawing, kind) if len(line) > 1]) for kind in KINDS]
    return [*paths, "".join(f"M{x:g} {y:g}h0" for line in points(drawing, "body") for x, y in line)]


def _write(choices: Sequence[Choice]) -> Html:
    return el(
        "div",
        el("p", "First the one thing in your own words. Then the number that fits it best.", cls="rule"),
        el("ol", join(el("li", c.title, value=c.number) for c in choices), cls="choices"),
    )


def _look(case: TeachingCase, media: Media) -> Html:
    return el("div", join(_still(still, media) for still in case.stills), cls="pictures")


def _still(still: TeachingStill, media: Media) -> Html:
    width, height = still.size
    drawing = still.lines.drawing
    numbers = {"labels": [{"at": list(n.at), "text": n.text} for n in still.numbers]}
    image = el("img", src=media.uri(still.plain), alt=f"{still.title}. {still.caption}", width=width, height=height)
    layers = [image, overlay_svg(drawing, still.size)]
    if still.numbers:
        layers.append(el("div", overlay_svg(numbers, still.size), cls="num over"))
    return el(
        "figure",
        el("div", *layers, cls="frame", data_width=width, data_height=height),
        el("figcaption", el("b", f"{still.title}."), " ", still.caption),
        cls="still item",
    )


def _causes(case: TeachingCase) -> Html:
    """What shows, from cause to effect; which of it comes first is not said yet."""
    if not case.chain:
        return el(
            "div",
            el("p", "Nothing in this film is certainly in the way of anything else.", cls="large"),
            el("p", "What did you write down, and what would it cause? Would it be worth this swimmer's time?"),
        )
    links = join(
        el("li", el("b", _capital(link.seen)), "" if link.is_clear else el("span", " only just", cls="soft"))
        for link in case.chain
    )
    apart = [el("p", f"Shows too, and stands apart: {'; '.join(case.apart)}.", cls="soft")] if case.apart else []
    ask = "Say it in one sentence: because …, therefore … Where would you begin?"
    many = " many" if len(case.chain) > 1 else ""
    return el("div", el("ol", links, cls=f"chain{many}"), *apart, el("p", ask, cls="rule"))


def _reveal(case: TeachingCase) -> Html:
    first = case.first
    if first is None:
        told = [
            el("p", "Nothing: leave it as it is", cls="one"),
            el("p", "Everything that this film shows for certain is fine. Odd is not wrong."),
        ]
    else:
        told = [
            el("p", first.title, cls="one"),
            el("p", f"{_capital(first.change)}.", cls="large"),
            el("p", f"{first.why} {first.reason}"),
        ]
    fine = el("p", el("b", "Fine as it is: "), " ".join(case.fine)) if case.fine else text("")
    room = el("p", cls="room", hidden=True, aria_live="polite")
    return el("div", *told, room, fine, _measured(case), cls="reveal")


def _measured(case: TeachingCase) -> Html:
    """The first things that were measured, every number apart so that it can be hidden; the guide has all of them."""
    rows = [
        el(
            "li",
            f.words,
            el("span", f" {f.number}", cls="num") if f.number else " (seen by eye)",
            el("span", f" {VERDICTS.get(f.verdict, '')}", cls="soft num"),
        )
        for f in case.findings[:MEASURED_SHOWN]
    ]
    return el("ul", *rows, cls="measured num") if rows else text("")


def _practice(case: TeachingCase) -> Html:
    drill = case.drill
    told = [el("p", "No drill: swim on, and look again in half a year.", cls="large")]
    if drill is not None:
        told = [
            el("p", _capital(drill.name), cls="one"),
            el("p", drill.how, " ", drill.safety),
            el("p", el("b", "Cue: "), drill.cue, cls="large"),
            el("p", el("b", "How much: "), f"{drill.dose}. ", el("b", "It works when: "), drill.check),
        ]
    care = [el("p", words) for words in case.cautions]
    leave = [el("li", f"{_capital(h.seen)}: {h.why}. A fault when {h.fault_when}.") for h in case.harmless]
    return el(
        "div",
        *told,
        el("div", el("h4", "With care"), *care, cls="care") if care else "",
        el("div", el("h4", "Leave alone"), el("ul", *leave), cls="leave") if leave else "",
        cls="practice",
    )


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]
