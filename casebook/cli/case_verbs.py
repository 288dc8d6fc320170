"""Verbs about one swimmer's case: make it, open it, run it, render it."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

from casebook.cli.asking import ask, ask_trust, check_opens, remind_of_consent

if TYPE_CHECKING:
    import argparse

CASES_FOLDER = Path("my_cases")


def demo(args: argparse.Namespace) -> None:
    """Make, run and render the demo case of one of the invented swimmers."""
    from casebook.case.trust import trust
    from casebook.demo.case import build_demo_case

    folder = build_demo_case(args.folder or CASES_FOLDER / args.who, args.who)
    trust(folder)
    print(f"{folder}: a case about an invented swimmer.")
    run_notebooks(folder)
    print(f"Open this page in a browser: {_render(folder, None).resolve()}")


def new(args: argparse.Namespace) -> None:
    """Make a case from a video file."""
    from casebook.case.case import Case
    from casebook.case.create import new_case
    from casebook.case.trust import trust
    from casebook.checkpoints.answers import answers

    if args.video is not None:
        check_opens(args.video)
    asked = ask(args)
    minor = {"minor": True} if args.minor else {}
    folder = new_case(args.folder, args.video, asked, alias=args.alias, level=args.level, coach=args.coach, **minor)
    trust(folder)
    print(f"Made {folder}. Your original file is untouched.")
    if args.video is not None:
        print(answers(Case.open(folder).shot()).text())
    print(f"Next: casebook open {folder}")


def add(args: argparse.Namespace) -> None:
    """Add a clip to a case."""
    from casebook.case.case import Case
    from casebook.case.create import add_clip
    from casebook.checkpoints.answers import answers

    Case.open(args.folder)
    check_opens(args.video)
    shot_id = add_clip(args.folder, args.video, ask(args))
    print(f'Added as shot "{shot_id}".')
    print(answers(Case.open(args.folder).shot(shot_id)).text())


def open_lab(args: argparse.Namespace) -> None:
    """Start JupyterLab on a case."""
    import os
    import subprocess

    from casebook.case.case import Case

    case = Case.open(args.folder)
    remind_of_consent(args.folder)
    ask_trust(args.folder, args.yes)
    page = f"/lab/tree/notebooks/{case.notebooks[0].name}" if case.notebooks else "/lab"
    command = [
        sys.executable, "-m", "jupyterlab",
        f"--ServerApp.root_dir={args.folder.resolve()}", f"--LabApp.default_url={page}",
        # Nothing phones home: neither news nor updates are asked for.
        "--LabApp.news_url=None", "--LabApp.check_for_updates_class=jupyterlab.NeverCheckForUpdate",
    ]  # fmt: skip
    if getattr(os, "geteuid", lambda: 1)() == 0:
        command.append("--allow-root")  # a fresh machine may know no other user; the server listens to itself only
    # Settings of this one start; the coach's own stay as they are. Its kernels keep no history of what was typed.
    own = str(Path(__file__).parents[1] / "case" / "jupyter")
    quiet = dict(os.environ)
    for name in ("JUPYTER_CONFIG_PATH", "JUPYTER_PATH"):
        quiet[name] = os.pathsep.join(p for p in (own, os.environ.get(name, "")) if p)
    subprocess.run(command + (["--no-browser"] if args.no_browser else []), check=False, env=quiet)


def run(args: argparse.Namespace) -> None:
    """Execute a case's notebooks."""
    remind_of_consent(args.folder)
    ask_trust(args.folder, args.yes)
    run_notebooks(args.folder)


def render(args: argparse.Namespace) -> None:
    """Make the page from the notebooks as they are."""
    page = _render(args.folder, args.output, light=args.light)
    print(f"Open this page in a browser: {page.resolve()}")
    hint = "" if args.light else " A light copy, for a message: casebook render FOLDER --light"
    print(f"It has {page.stat().st_size / 1e6:.1f} MB.{hint}")
    for name in _unwritten_notes(args.folder):
        print(f"The voice note for {name} has no words beside it: write them too, for those who cannot listen.")
    if args.pdf:
        from casebook.pages.pdf import print_page

        print(f"The same on paper: {print_page(page, page.with_suffix('.pdf')).resolve()}")
    remind_of_consent(args.folder, handing_over=True)


def count(args: argparse.Namespace) -> None:
    """Take lengths counted at the pool side from a table into a case, or show those that it holds."""
    from casebook.case.case import Case
    from casebook.case.observations import COLUMNS
    from casebook.stroke.efforts import efforts_of

    case = Case.open(args.folder)
    lengths = case.lengths if args.table is None else case.import_lengths(args.table)
    if not lengths:
        print(f"Nothing is counted yet. A table needs the columns {', '.join(COLUMNS)}; one row is one length.")
    for effort in efforts_of(lengths):
        print(effort.text())


def refresh(args: argparse.Namespace) -> None:
    """Bring a case's notebooks to the current templates."""
    from casebook.case.case import Case
    from casebook.case.fold import refresh as bring_up

    Case.open(args.folder)
    changed = bring_up(args.folder)
    print("\n".join(f"Renewed {p.name}; your own cells are as they were." for p in changed) or "Everything is current.")


def fold(args: argparse.Namespace) -> None:
    """Put a case's notebooks into one."""
    from casebook.case.fold import fold as put_together

    print(f"All in one notebook: {put_together(args.folder, args.names)}. Apart again: casebook unfold {args.folder}")


def unfold(args: argparse.Namespace) -> None:
    """Take a folded case's notebook apart again."""
    from casebook.case.fold import unfold as take_apart

    print(f"{len(take_apart(args.folder))} notebooks again, every cell as it was.")


def fetch_model(_: argparse.Namespace) -> None:
    """Fetch the pose model once."""
    from casebook.marks.model import fetch_model as fetch

    print(f"The pose model lies at {fetch()}.")


def run_notebooks(folder: Path) -> None:
    """Execute all notebooks of a case, with a bar."""
    from tqdm import tqdm

    from casebook.case.case import Case
    from casebook.case.notebooks import execute_all

    paths = Case.open(folder).notebooks
    with tqdm(desc=f"{len(paths)} notebooks", unit="cell", leave=True) as bar:

        def on_cell(done: int, total: int) -> None:
            bar.total, bar.n = total, done
            bar.refresh()

        execute_all(paths, on_cell)


def _render(folder: Path, target: Path | None, *, light: bool = False) -> Path:
    from casebook.case.case import Case
    from casebook.pages.page import render_case

    return render_case(Case.open(folder), target, light=light)


def _unwritten_notes(folder: Path) -> list[str]:
    from casebook.case.case import Case
    from casebook.pages.page import unwritten_notes

    return unwritten_notes(Case.open(folder))
