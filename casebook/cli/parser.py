"""The verbs of the command and their options."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from pathlib import Path

import casebook.cli.case_verbs as case
import casebook.cli.sharing_verbs as sharing
from casebook import __version__
from casebook.words import CAMERAS, DIRECTIONS, EFFORTS, KITS, LEVELS, PLACES, VIEWS


def parser() -> argparse.ArgumentParser:
    """All verbs and options."""
    from casebook.pages.pack_talk import add_cover_options, add_pack_options
    from casebook.squad.verbs import add_verbs

    made = argparse.ArgumentParser(prog="casebook", description="A technique casebook for freestyle coaches.")
    made.add_argument("--version", action="version", version=f"casebook {__version__}")
    commands = made.add_subparsers(required=True, metavar="COMMAND")

    def command(name: str, action: object, text: str) -> argparse.ArgumentParser:
        sub = commands.add_parser(name, help=text, description=text)
        sub.set_defaults(run=action)
        return sub

    sub = command("demo", case.demo, "make, run and render the demo case of an invented swimmer")
    sub.add_argument(
        "folder", nargs="?", type=Path, help=f"default: {case.CASES_FOLDER / 'rowan'}, or as the swimmer is called"
    )
    sub.add_argument("--who", default="rowan", metavar="ALIAS", help="rowan (the usual one), heron, alder or wren")
    sub = command("new", case.new, "make a case, from a video file if there is one")
    sub.add_argument("folder", type=Path, help="its last part becomes the alias; never a real name")
    sub.add_argument("video", nargs="?", type=Path)
    sub.add_argument("--alias", default="")
    sub.add_argument("--level", default="triathlete", help=", ".join(LEVELS))
    sub.add_argument("--coach", default="", help="your initials")
    sub.add_argument("--minor", action="store_true", help="the swimmer is under 18")
    _clip_options(sub)
    sub = command("add", case.add, "add a video file to a case")
    sub.add_argument("folder", type=Path)
    sub.add_argument("video", type=Path)
    _clip_options(sub)
    sub = command("open", case.open_lab, "start JupyterLab on a case")
    sub.add_argument("folder", type=Path)
    sub.add_argument("--no-browser", action="store_true")
    sub.add_argument("--yes", action="store_true", help="a case from elsewhere may run its code here")
    sub = command("run", case.run, "execute a case's notebooks")
    sub.add_argument("folder", type=Path)
    sub.add_argument("--yes", action="store_true", help="a case from elsewhere may run its code here")
    sub = command("render", case.render, "make one HTML page from a case's notebooks, executing nothing")
    sub.add_argument("folder", type=Path)
    sub.add_argument("-o", "--output", type=Path, help="default: out/ALIAS.html in the case")
    sub.add_argument("--light", action="store_true", help="a copy under 3 MB for a phone message: out/ALIAS_light.html")
    sub.add_argument("--pdf", action="store_true", help="print it to PDF too, by a browser that is on this computer")
    sub = command("send", sharing.send, "make all that the swimmer gets: page, card, short films, tables; you send it")
    sub.add_argument("folder", type=Path)
    sub = command("count", case.count, "take lengths counted at the pool side into a case, or show them")
    sub.add_argument("folder", type=Path)
    sub.add_argument("table", nargs="?", type=Path, help="CSV: a row a length, with swim, seconds and strokes")
    sub = command("refresh", case.refresh, "bring a case's notebooks to the current templates; your own cells stay")
    sub.add_argument("folder", type=Path)
    sub = command("workshop", sharing.workshop, "make a workshop: page, handouts, tally sheet and guide, from packs")
    sub.add_argument("packs", nargs="*", type=Path, metavar="PACK", help="a workshop pack, or single cases of one")
    sub.add_argument("--demo", action="store_true", help="the invented swimmers, one of them with nothing to change")
    sub.add_argument("-o", "--output", type=Path, default=Path("workshop") / "workshop.html")
    sub = command("fold", case.fold, "put a case's notebooks, or those you name, into one; nothing is lost")
    sub.add_argument("folder", type=Path)
    sub.add_argument("names", nargs="*", metavar="CHECKPOINT", help="in your order, such as: entry catch")
    sub = command("unfold", case.unfold, "take a folded case's notebook apart again")
    sub.add_argument("folder", type=Path)
    _consent_commands(command)
    add_verbs(command("squad", None, "a squad day: roster, slates, cuts, grid, cards, lanes"))
    add_cover_options(command("cover", sharing.cover, "cover heads and bystanders, and look at every covered picture"))
    add_pack_options(command("pack", sharing.pack, "make a workshop pack in which nobody can be recognised"))
    command("fetch-model", case.fetch_model, "fetch the pose model once (needs the internet this one time)")
    return made


def _consent_commands(command: Callable[[str, object, str], argparse.ArgumentParser]) -> None:
    from casebook.case.consent import PURPOSES

    sub = command("consent", sharing.consent, "show who agreed to what, and until when; record it or take it back")
    sub.add_argument("folder", type=Path)
    what = sub.add_mutually_exclusive_group()
    what.add_argument("--give", choices=PURPOSES, help="record a consent; what you leave out is asked")
    what.add_argument("--withdraw", choices=PURPOSES)
    sub.add_argument("--by", help="who said yes: a role or initials, never a full name")
    sub.add_argument("--guardian", action="store_true", help="it was the guardian of a swimmer under 18")
    sub.add_argument("--date", help="the day it was given, such as 2026-05-02; today if left out")
    sub.add_argument("--until", help="its last day")
    sub.add_argument("--audience", help="who may see it; needed for teaching")
    sub = command("delete", sharing.delete, "delete a case completely, with a receipt that names nobody")
    sub.add_argument("folder", type=Path)
    sub.add_argument("--yes", action="store_true", help="do not ask")
    sub.add_argument("--receipt", type=Path, metavar="FOLDER", help="where the receipt goes; default: beside the case")


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
