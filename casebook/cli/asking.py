"""What the command asks at the keyboard, and what it reminds of; away from a keyboard nothing waits."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

from casebook.errors import CasebookError
from casebook.words import CAMERAS, DIRECTIONS, EFFORTS, KITS, VIEWS

if TYPE_CHECKING:
    import argparse

    from casebook.case.create import ClipAnswers


def check_opens(video: Path) -> None:
    """Open a video once and say what it is; raises ClipError before anything is made of it."""
    from casebook.clip.clip import Clip

    with Clip(video) as clip:
        width, height = clip.size
        print(f"{video.name}: {clip.n_frames} pictures, {width} x {height}.")


def remind_of_consent(folder: Path, handing_over: bool = False) -> None:
    """One line for each consent that needs to be seen to; with a page in hand, whether it may be handed over."""
    from casebook.case.case import Case
    from casebook.case.consent import line_to_give, reminders, standing

    case = Case.open(folder)
    lines = reminders(case)
    if handing_over and not standing(case, "sharing").ok:
        lines.append(f"For your own eyes only: sharing is not agreed to yet. {line_to_give(folder, 'sharing')}")
    for line in lines:
        print(line)


def ask_trust(folder: Path, yes: bool) -> None:
    """A case from elsewhere asks once before its code may run."""
    from casebook.case.case import Case
    from casebook.case.trust import is_trusted, trust

    Case.open(folder)
    if is_trusted(folder):
        return
    if not yes:
        print(f'The case in "{folder}" was not made on this computer, and its notebooks are programs.')
        if not sys.stdin.isatty() or input("Run them here from now on? [y/N] ").strip().lower() not in ("y", "yes"):
            raise CasebookError("Nothing was run.", "casebook render shows what it holds without running anything.")
    trust(folder)


def ask(args: argparse.Namespace) -> ClipAnswers:
    """What the flags did not say is asked once at the keyboard; away from one, the usual answer is taken and told."""
    from casebook.case.create import ClipAnswers
    from casebook.checkpoints.answers import side_seen

    usual = ClipAnswers()
    ask = getattr(args, "video", None) is not None
    view = _choose(args.view, "Seen", list(VIEWS), usual.view, ask)
    direction = _choose(args.direction, "Swims (in the picture)", _directions(view), _directions(view)[0], ask)
    mirrored = False
    if view.startswith("side"):
        expected = side_seen(direction)
        near = _choose(
            args.near, "The swimmer's arm nearer the camera", ["right arm", "left arm"], f"{expected} arm", ask
        )
        near = near.removesuffix(" arm")
        mirrored = near != expected
        if mirrored:
            print("That fits only a mirrored picture (some phones mirror the front camera). It is noted as mirrored.")
    return ClipAnswers(
        view=view,
        direction=direction,
        camera=_choose(args.camera, "The camera", list(CAMERAS), usual.camera, ask),
        time_scale=_scale(args.time_scale, ask),
        effort=_choose(args.effort, "Effort", list(EFFORTS), usual.effort, ask),
        kit=_choose(args.kit, "Kit", list(KITS), usual.kit, ask),
        place=args.place or usual.place,
        date=args.date,
        mirrored=mirrored,
    )


def _directions(view: str) -> list[str]:
    return ["toward", "away"] if view.startswith(("front", "rear")) else ["right", "left"]


def _choose(given: str | None, question: str, choices: list[str], usual: str, ask: bool) -> str:
    if given is not None or not ask:
        return given or usual
    if not sys.stdin.isatty():
        print(f"{question}: taken as {usual}.")
        return usual
    print(f"{question}?")
    for n, choice in enumerate(choices, 1):
        meaning = VIEWS.get(choice) or DIRECTIONS.get(choice) or CAMERAS.get(choice)
        print(f"  {n}  {choice}" + (f"  ({meaning})" if meaning else ""))
    while True:
        word = input(f"Number or word [{usual}]: ").strip() or usual
        if word.isdigit() and 1 <= int(word) <= len(choices):
            return choices[int(word) - 1]
        if word in choices:
            return word
        print(f"Please answer 1 to {len(choices)}.")


def _scale(given: float | None, ask: bool) -> float:
    if given is not None or not ask:
        return 1.0 if given is None else given
    if not sys.stdin.isatty():
        print("Slow motion: taken as none (time scale 1).")
        return 1.0
    while True:
        word = input("Slowed down how many times? 1 none, 8 for 240 stored as 30, 0 not known [1]: ").strip() or "1"
        try:
            if float(word) >= 0:
                return float(word)
        except ValueError:
            pass
        print("Please answer with a number, such as 1 or 8.")
