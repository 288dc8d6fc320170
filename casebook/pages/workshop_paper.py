"""The paper of a workshop: handouts to write on and for after the reveal, a tally sheet, the facilitator's guide."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from casebook.pages.markdown import markdown
from casebook.pages.markup import Html, el, join, text
from casebook.pages.media import Media
from casebook.pages.overlay import overlay_svg
from casebook.pages.page import asset
from casebook.pages.palette import LIGHT, css_variables
from casebook.pages.workshop_document import document
from casebook.pages.workshop_steps import STEPS, who

if TYPE_CHECKING:
    from casebook.checkpoints.choices import Choice
    from casebook.pages.teaching_shape import TeachingCase, TeachingStill

    Told = Sequence[tuple[TeachingCase, Path]]

#: Rows of the tally sheet. A larger room takes two sheets.
ROOM = 20
#: Minutes of each step of a case, of a case, and of a workshop. coach's practice, no source
STEP_MINUTES = (2, 3, 4, 3, 1, 2)
CASE_MINUTES, WORKSHOP_MINUTES, OPENING_MINUTES = sum(STEP_MINUTES), 90, 5


def handout_html(told: Told, choices: Sequence[Choice]) -> str:
    """A sheet a case: a picture, room for the one thing, the list of choices. Nothing on it gives the answer away."""
    sheets = join(_before(case, n, Media(folder), choices) for n, (case, folder) in enumerate(told, 1))
    return _paper("What would you change first? The handout", sheets)


def after_html(told: Told) -> str:
    """For after the reveal: what comes first and why, the chain of causes, the drill, what to take care of."""
    sheets = join(_after(case, n, Media(folder)) for n, (case, folder) in enumerate(told, 1))
    return _paper("What we would change first: after the reveal", sheets)


def sheet_html(cases: Sequence[TeachingCase], choices: Sequence[Choice]) -> str:
    """The facilitator's tally: a row a coach and a column a case; then hands by choice; then agreement by hand."""
    rows = [el("tr", el("th", f"Coach {n}", scope="row"), *(el("td") for _ in cases)) for n in range(1, ROOM + 1)]
    by_choice = [el("tr", el("th", f"{c.number}  {c.title}", scope="row"), *(el("td") for _ in cases)) for c in choices]
    body = el(
        "section",
        el("h1", "Tally sheet"),
        el("p", "The number that each coach wrote down. No names."),
        _table("Coach", cases, rows, "votes"),
        el("div", el("h2", "Hands by choice"), _table("Choice", cases, by_choice, "hands"), _by_hand(), cls="second"),
        cls="sheet",
    )
    return _paper("Tally sheet", body)


def guide_html(cases: Sequence[TeachingCase], choices: Sequence[Choice]) -> str:
    """The facilitator's guide: timing, what to say and ask, what to do when they disagree, cautions, every answer."""
    answers = join(_answer(case, n) for n, case in enumerate(cases, 1))
    body = el(
        "section",
        el("h1", "The facilitator's guide"),
        el("p", "Not for the participants: it holds the answers.", cls="lead"),
        _timing(cases),
        markdown(asset("workshop_guide.md"), 2),
        el("h2", "The cases and their answers"),
        answers,
        el("h2", "The list of choices"),
        el("ol", join(el("li", c.title) for c in choices)),
        cls="guide",
    )
    return _paper("The facilitator's guide", body)


def minutes_of(cases: int) -> list[tuple[str, int]]:
    """What takes how long [min]: the opening, each case, and what is left for talking it over, 10 at the least."""
    rest = max(10, WORKSHOP_MINUTES - OPENING_MINUTES - cases * CASE_MINUTES)
    each = [(f"Case {n}", CASE_MINUTES) for n in range(1, cases + 1)]
    return [("Opening", OPENING_MINUTES), *each, ("How far did we agree? Talking it over", rest)]


def _paper(title: str, body: Html) -> str:
    style = f":root{{{css_variables(LIGHT)}}}\n{asset('workshop_paper.css')}"
    return document(title, style, "", el("body", el("main", body)))


def _before(case: TeachingCase, n: int, media: Media, choices: Sequence[Choice]) -> Html:
    still = _whole(case)
    return el(
        "section",
        el("h1", f"Case {n}: {case.alias}"),
        el("p", who(case), cls="who"),
        _picture(still, media, lines=False) if still is not None else "",
        el("h2", "The ONE thing I would change, in my own words"),
        el("div", cls="line"),
        el("div", cls="line"),
        el("h2", "The line that comes nearest"),
        el("div", el("ol", join(el("li", c.title) for c in choices)), el("p", "Number:", cls="box"), cls="choose"),
        el("h2", "Because …, therefore …"),
        el("div", cls="line"),
        el("div", cls="line"),
        cls="sheet",
    )


def _after(case: TeachingCase, n: int, media: Media) -> Html:
    still = next((s for s in reversed(case.stills) if not s.is_whole), _whole(case))
    return el(
        "section",
        el("h1", f"Case {n}: {case.alias}"),
        el("p", who(case), cls="who"),
        _picture(still, media, lines=True) if still is not None else "",
        *_told(case),
        cls="sheet after",
    )


def _told(case: TeachingCase, level: int = 2) -> list[Html]:
    """The first thing, the chain, the drill, the cautions, and what to leave alone."""
    heading = f"h{level}"
    first, drill = case.first, case.drill
    out = [el(heading, "First")]
    if first is None:
        out.append(el("p", "Nothing: leave it as it is. What this film shows for certain is fine."))
    else:
        out.append(el("p", el("b", f"{first.title}: "), f"{first.change}. {first.why} {first.reason}"))
    if case.fine:
        out.append(el("p", el("b", "Fine as it is: "), " ".join(case.fine)))
    if len(case.chain) > 1:
        links = join(el("li", link.seen, "" if link.is_clear else " (only just)") for link in case.chain)
        out += [el(heading, "From cause to effect"), el("ol", links, cls="chain")]
    if drill is not None:
        says = f"{drill.how} {drill.safety}".strip()
        out += [
            el(heading, f"Drill: {drill.name}"),
            el("p", says, " ", el("b", "How much: "), f"{drill.dose}. ", el("b", "Cue: "), f"{drill.cue}. ",
               el("b", "It works when: "), drill.check),
        ]  # fmt: skip
    if case.cautions:
        out += [el(heading, "With care"), *(el("p", words, cls="care") for words in case.cautions)]
    if case.harmless:
        leave = join(el("li", f"{h.seen}: {h.why}. A fault when {h.fault_when}.") for h in case.harmless)
        out += [el(heading, "Leave alone"), el("ul", leave)]
    if case.findings:
        rows = join(el("li", f.words, f" {f.number}" if f.number else " (seen by eye)") for f in case.findings)
        out += [el(heading, "Measured"), el("ul", rows, cls="measured")]
    return out


def _answer(case: TeachingCase, n: int) -> Html:
    return el("article", el("h3", f"Case {n}: {case.alias}"), el("p", who(case), cls="who"), *_told(case, 4))


def _whole(case: TeachingCase) -> TeachingStill | None:
    return next((s for s in case.stills if s.is_whole), next(iter(case.stills), None))


def _picture(still: TeachingStill, media: Media, lines: bool) -> Html:
    width, height = still.size
    image = el("img", src=media.uri(still.plain), alt=f"{still.title}.", width=width, height=height)
    drawn = overlay_svg(still.lines.drawing, still.size) if lines else text("")
    return el("figure", el("div", image, drawn, cls="frame"), cls="" if width >= 1.5 * height else "narrow")


def _table(first: str, cases: Sequence[TeachingCase], rows: list[Html], cls: str) -> Html:
    head = el(
        "tr", el("th", first, scope="col"), *(el("th", f"{n} {c.alias}", scope="col") for n, c in enumerate(cases, 1))
    )
    return el("table", el("thead", head), el("tbody", *rows), cls=cls)


def _by_hand() -> Html:
    """How often two coaches agree, with pencil and paper: n(n - 1) looked up, added, divided."""
    hands = range(2, ROOM + 1)
    return el(
        "div",
        el("h2", "How often do two coaches agree?"),
        el(
            "p",
            "Look up the value of each choice's hands, add them, and divide by the value of all hands together. "
            "None or one hand counts nothing. Example, 15 hands as 9, 4 and 2: (72 + 12 + 2) / 210 = 41 %.",
        ),
        el(
            "table",
            el("tr", el("th", "Hands", scope="row"), *(el("td", n) for n in hands)),
            el("tr", el("th", "Value", scope="row"), *(el("td", n * (n - 1)) for n in hands)),
            cls="values",
        ),
        cls="by-hand",
    )


def _timing(cases: Sequence[TeachingCase]) -> Html:
    start, rows = 0, []
    for what, minutes in minutes_of(len(cases)):
        rows.append(el("tr", el("td", f"{start} to {start + minutes}"), el("td", what), el("td", f"{minutes} minutes")))
        start += minutes
    names = zip((name for name, _ in STEPS), STEP_MINUTES, strict=True)
    steps = ", ".join(f"{name.lower()} {minutes}" for name, minutes in names)
    head = el("tr", *(el("th", words, scope="col") for words in ("From", "What", "How long")))
    return el(
        "div",
        el("h2", f"{start} minutes"),
        el("table", el("thead", head), el("tbody", *rows), cls="timing"),
        el("p", f"Within a case, in minutes: {steps}. If time runs out, leave out a whole case and never a step."),
    )
