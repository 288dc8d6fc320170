"""The workshop's page: one HTML file for the room's laptop, one case after another, with nothing to fetch."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from casebook.case.notebooks import filled, read_notebook, write_notebook
from casebook.checkpoints.choices import NOTHING, Choice, choices_for
from casebook.checkpoints.votes import VOTES, write_lists
from casebook.errors import PageError
from casebook.files import write_atomic
from casebook.marks.reliability import t95
from casebook.pages.markup import Html, el, join
from casebook.pages.media import Media
from casebook.pages.page import asset
from casebook.pages.palette import LIGHT, css_variables
from casebook.pages.teaching_shape import FILE, TeachingCase, load_teaching_case
from casebook.pages.workshop_document import document
from casebook.pages.workshop_paper import after_html, guide_html, handout_html, sheet_html
from casebook.pages.workshop_steps import STEPS, case_steps
from casebook.resources import template

if TYPE_CHECKING:
    Told = Sequence[tuple[TeachingCase, Path]]

NOTEBOOK = "16_workshop"
#: The parts of the page's one script, in the order in which they are joined.
SCRIPTS = ("workshop_tally.js", "workshop_loop.js", "workshop_hands.js", "workshop.js")
TITLE = "What would you change first?"
#: Degrees of freedom for which the page carries Student's t: the largest room.
LARGEST_DOF = 60
#: Keys of the presenter and what they do, as the page's own overlay tells them.
KEYS = (
    ("→ or ←", "next or previous step (a clicker's Page down and Page up do the same)"),
    ("↓ or ↑", "next or previous picture of a step"),
    ("Space", "play and pause"),
    (", or .", "one picture back or on"),
    ("L", "lines on or off"),
    ("N", "numbers shown or hidden"),
    ("D", "draw with pointer or finger; again: wipe it off"),
    ("T", "tally of hands"),
    ("F", "fill the screen"),
    ("?", "these keys; Escape closes"),
)


def make_workshop(folders: Sequence[Path], target: Path) -> list[Path]:
    """Write the page, and beside it the handout, the tally sheet, the guide and the lists that votes are read by.

    Parameters
    ----------
    folders : sequence of Path
        Packs made for teaching, or single cases of them, each with ``case.json`` and its pictures.
    target : Path
        The page.

    Returns
    -------
    list of Path
        What was written, the page first.

    Raises
    ------
    PageError
        No folder, one without a case, or two of the same alias.
    """
    if not folders:
        raise PageError("A workshop needs at least one case.", "Name the folders made for teaching.")
    told = [(load_teaching_case(case), case) for folder in folders for case in cases_in(folder)]
    names = [case.alias for case, _ in told]
    twice = next((n for n in names if names.count(n) > 1), None)
    if twice is not None:
        raise PageError(f'Two cases are called "{twice}".', "Give one of them another alias.")
    choices = workshop_choices([case for case, _ in told])
    pages = {
        target: workshop_html(told, choices),
        target.with_name("handout.html"): handout_html(told, choices),
        target.with_name("handout_after.html"): after_html(told),
        target.with_name("tally_sheet.html"): sheet_html([case for case, _ in told], choices),
        target.with_name("guide.html"): guide_html([case for case, _ in told], choices),
    }
    for path, words in pages.items():
        write_atomic(path, words)
    write_lists(target.parent, choices, {case.alias: answer_of(case) for case, _ in told})
    (target.parent / VOTES).mkdir(exist_ok=True)
    _notebook(target.parent)
    return list(pages)


def cases_in(folder: Path) -> list[Path]:
    """The folders of a pack's cases in the order of their names; the folder itself if it is a case."""
    within = folder / "cases"
    if (folder / FILE).exists() or not within.is_dir():
        return [folder]
    return sorted(p for p in within.iterdir() if (p / FILE).is_file())


def _notebook(folder: Path) -> None:
    """The notebook that works out the agreement, beside the votes; one that is there already stays."""
    if not (folder / f"{NOTEBOOK}.ipynb").exists():
        book = filled(read_notebook(template(NOTEBOOK)), {"WORKSHOP": ".", "CASE": "", "MARKS": "marks"})
        write_notebook(folder / f"{NOTEBOOK}.ipynb", book)


def workshop_choices(cases: Sequence[TeachingCase]) -> tuple[Choice, ...]:
    """One list for all cases: what comes first in each, what shows beside it, and common faults."""
    firsts = [case.first.fault for case in cases if case.first is not None]
    return choices_for([*firsts, *(link.fault for case in cases for link in case.chain)])


def answer_of(case: TeachingCase) -> str:
    """Key of what the reference puts first."""
    return NOTHING if case.first is None else case.first.fault


def workshop_html(told: Told, choices: Sequence[Choice]) -> str:
    """The whole document as a string."""
    cases = [case for case, _ in told]
    style, script = workshop_style(), "".join(asset(name) for name in SCRIPTS)
    main = el(
        "main",
        _opening(cases),
        join(case_steps(case, n, len(told), choices, Media(folder)) for n, (case, folder) in enumerate(told, 1)),
        _ending(),
        id="main",
        data_workshop=json.dumps(_facts(cases, choices)),
    )
    skip = el("a", "Skip to the content", href="#main", cls="skip")
    return document(TITLE, style, script, el("body", skip, main, _foot(cases), el("script", Html(script))))


def workshop_style() -> str:
    """The one stylesheet of the page. A lit room asks for dark ink on light paper, whatever the laptop prefers."""
    return f":root{{{css_variables(LIGHT)}}}\n{asset('workshop.css')}"


def _facts(cases: Sequence[TeachingCase], choices: Sequence[Choice]) -> Mapping[str, object]:
    keys = [c.key for c in choices]
    return {
        "cases": [{"alias": case.alias, "answer": keys.index(answer_of(case))} for case in cases],
        "choices": [{"key": c.key, "title": c.title} for c in choices],
        "steps": [name for name, _ in STEPS],
        "keys": KEYS,
        "t95": [0.0, *(round(t95(dof), 6) for dof in range(1, LARGEST_DOF + 1))],
    }


def _opening(cases: Sequence[TeachingCase]) -> Html:
    links = join(el("li", el("a", case.alias, href=f"#case-{n}")) for n, case in enumerate(cases, 1))
    return el(
        "section",
        el(
            "div",
            el("h1", TITLE, tabindex="-1"),
            el(
                "p",
                "Each swimmer twice at full speed. Then everybody writes down the one thing to change, and we count.",
                cls="large",
            ),
            el("p", "Only after that do we look slowly, for the cause behind what we saw."),
            el("ol", links, cls="cases"),
            el("p", "Press → to begin, ? for the keys.", cls="rule staged-only", hidden=True),
            cls="step",
            id="opening",
            data_name="Opening",
        ),
        cls="opening",
        aria_label="Opening",
    )


def _ending() -> Html:
    return el(
        "section",
        el(
            "div",
            el("h2", "How far did we agree?", tabindex="-1"),
            el("p", "Without scripts: count on the tally sheet, and let the notebook work it out.", cls="unstaged"),
            el("div", cls="together", aria_live="polite"),
            cls="step",
            id="together",
            data_name="Together",
        ),
        cls="ending",
        aria_label="All cases together",
    )


def _foot(cases: Sequence[TeachingCase]) -> Html:
    said = []
    if all(case.invented for case in cases):
        said.append("The swimmers, the pools and every number are invented.")
    elif any(case.invented for case in cases):
        said.append("Some of these swimmers are invented; each of them says so.")
    audiences = sorted({case.audience for case in cases if case.audience})
    said += [f"Shown with consent for: {', '.join(audiences)}. Not to be filmed or passed on."] if audiences else []
    return el("footer", *(el("p", words) for words in said))
