"""The command ``casebook``: make a case, open it, run its notebooks, render its page."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from casebook import __version__
from casebook.errors import CasebookError
from casebook.words import CAMERAS, DIRECTIONS, EFFORTS, KITS, LEVELS, PLACES, VIEWS

if TYPE_CHECKING:
    from casebook.case.create import ClipAnswers

CASES_FOLDER = Path("my_cases")


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; returns the exit code. Mistakes are told in a sentence, never with a traceback."""
    args = _parser().parse_args(argv)
    try:
        args.run(args)
    except CasebookError as error:
        print(f"casebook: {error}", file=sys.stderr)
        return 2
    except KeyboardInterrupt:
        print("casebook: stopped; everything saved so far is on disk.", file=sys.stderr)
        return 130
    except (OSError, EOFError) as error:
        print(f"casebook: {error}", file=sys.stderr)
        return 2
    return 0


def demo(args: argparse.Namespace) -> None:
    """Make, run and render the demo case of one of the invented swimmers."""
    from casebook.case.trust import trust
    from casebook.demo.case import build_demo_case

    folder = build_demo_case(args.folder or CASES_FOLDER / args.who, args.who)
    trust(folder)
    print(f"{folder}: a case about an invented swimmer.")
    _run_notebooks(folder)
    print(f"Open this page in a browser: {_render(folder, None).resolve()}")


def new(args: argparse.Namespace) -> None:
    """Make a case from a video file."""
    from casebook.case.case import Case
    from casebook.case.create import new_case
    from casebook.case.trust import trust
    from casebook.checkpoints.answers import answers

    if args.video is not None:
        _check_opens(args.video)
    asked = _ask(args)
    folder = new_case(args.folder, args.video, asked, alias=args.alias, level=args.level, coach=args.coach)
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
    _check_opens(args.video)
    shot_id = add_clip(args.folder, args.video, _ask(args))
    print(f'Added as shot "{shot_id}".')
    print(answers(Case.open(args.folder).shot(shot_id)).text())


def open_lab(args: argparse.Namespace) -> None:
    """Start JupyterLab on a case."""
    import os
    import subprocess

    from casebook.case.case import Case

    case = Case.open(args.folder)
    _ask_trust(args.folder, args.yes)
    page = f"/lab/tree/notebooks/{case.notebooks[0].name}" if case.notebooks else "/lab"
    command = [
        sys.executable, "-m", "jupyterlab",
        f"--ServerApp.root_dir={args.folder.resolve()}", f"--LabApp.default_url={page}",
        # Nothing phones home: neither news nor updates are asked for.
        "--LabApp.news_url=None", "--LabApp.check_for_updates_class=jupyterlab.NeverCheckForUpdate",
    ]  # fmt: skip
    if getattr(os, "geteuid", lambda: 1)() == 0:
        command.append("--allow-root")  # a fresh machine may know no other user; the server listens to itself only
    # Settings of this one start; the coach's own stay as they are.
    paths = [str(Path(__file__).parent / "case" / "jupyter"), os.environ.get("JUPYTER_CONFIG_PATH", "")]
    quiet = os.environ | {"JUPYTER_CONFIG_PATH": os.pathsep.join(p for p in paths if p)}
    subprocess.run(command + (["--no-browser"] if args.no_browser else []), check=False, env=quiet)


def run(args: argparse.Namespace) -> None:
    """Execute a case's notebooks."""
    _ask_trust(args.folder, args.yes)
    _run_notebooks(args.folder)


def render(args: argparse.Namespace) -> None:
    """Make the page from the notebooks as they are."""
    print(f"Open this page in a browser: {_render(args.folder, args.output).resolve()}")


def refresh(args: argparse.Namespace) -> None:
    """Bring a case's notebooks to the current templates."""
    from casebook.case.case import Case
    from casebook.case.notebooks import refresh as bring_up

    Case.open(args.folder)
    changed = bring_up(args.folder)
    print("\n".join(f"Renewed {p.name}; your own cells are as they were." for p in changed) or "Everything is current.")


def fetch_model(_: argparse.Namespace) -> None:
    """Fetch the pose model once."""
    from casebook.marks.model import fetch_model as fetch

    print(f"The pose model lies at {fetch()}.")


def _check_opens(video: Path) -> None:
    from casebook.clip.clip import Clip

    with Clip(video) as clip:
        width, height = clip.size
        print(f"{video.name}: {clip.n_frames} pictures, {width} x {height}.")


def _run_notebooks(folder: Path) -> None:
    from tqdm import tqdm

    from casebook.case.case import Case
    from casebook.case.notebooks import execute_all

    paths = Case.open(folder).notebooks
    with tqdm(desc=f"{len(paths)} notebooks", unit="cell", leave=True) as bar:

        def on_cell(done: int, total: int) -> None:
            bar.total, bar.n = total, done
            bar.refresh()

        execute_all(paths, on_cell)


def _render(folder: Path, target: Path | None) -> Path:
    from casebook.case.case import Case
    from casebook.pages.page import render_case

    return render_case(Case.open(folder), target)


def _ask_trust(folder: Path, yes: bool) -> None:
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


def _ask(args: argparse.Namespace) -> ClipAnswers:
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


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="casebook", description="A technique casebook for freestyle coaches.")
    parser.add_argument("--version", action="version", version=f"casebook {__version__}")
    commands = parser.add_subparsers(required=True, metavar="COMMAND")

    def command(name: str, action: object, text: str) -> argparse.ArgumentParser:
        sub = commands.add_parser(name, help=text, description=text)
        sub.set_defaults(run=action)
        return sub

    sub = command("demo", demo, "make, run and render the demo case of an invented swimmer")
    sub.add_argument(
        "folder", nargs="?", type=Path, help=f"default: {CASES_FOLDER / 'rowan'}, or as the swimmer is called"
    )
    sub.add_argument("--who", default="rowan", metavar="ALIAS", help="rowan (the usual one), heron, alder or wren")
    sub = command("new", new, "make a case, from a video file if there is one")
    sub.add_argument("folder", type=Path, help="its last part becomes the alias; never a real name")
    sub.add_argument("video", nargs="?", type=Path)
    sub.add_argument("--alias", default="")
    sub.add_argument("--level", default="triathlete", help=", ".join(LEVELS))
    sub.add_argument("--coach", default="", help="your initials")
    _clip_options(sub)
    sub = command("add", add, "add a video file to a case")
    sub.add_argument("folder", type=Path)
    sub.add_argument("video", type=Path)
    _clip_options(sub)
    sub = command("open", open_lab, "start JupyterLab on a case")
    sub.add_argument("folder", type=Path)
    sub.add_argument("--no-browser", action="store_true")
    sub.add_argument("--yes", action="store_true", help="a case from elsewhere may run its code here")
    sub = command("run", run, "execute a case's notebooks")
    sub.add_argument("folder", type=Path)
    sub.add_argument("--yes", action="store_true", help="a case from elsewhere may run its code here")
    sub = command("render", render, "make one HTML page from a case's notebooks, executing nothing")
    sub.add_argument("folder", type=Path)
    sub.add_argument("-o", "--output", type=Path, help="default: out/ALIAS.html in the case")
    sub = command("refresh", refresh, "bring a case's notebooks to the current templates; your own cells stay")
    sub.add_argument("folder", type=Path)
    command("fetch-model", fetch_model, "fetch the pose model once (needs the internet this one time)")
    return parser


def _clip_options(sub: argparse.ArgumentParser) -> None:
    sub.add_argument("--view", choices=list(VIEWS))
    sub.add_argument("--direction", choices=list(DIRECTIONS))
    sub.add_argument("--near", choices=["right", "left"], help="the arm nearer the camera, in side views")
    sub.add_argument("--camera", choices=list(CAMERAS))
    sub.add_argument("--time-scale", type=float, help="1 real time, 8 for 240 stored as 30, 0 not known")
    sub.add_argument("--effort", choices=EFFORTS)
    sub.add_argument("--kit", choices=KITS)
    sub.add_argument("--place", choices=PLACES)
    sub.add_argument("--date", default="", help="day of the swim, such as 2026-05-02")


if __name__ == "__main__":
    sys.exit(main())
