"""What the commands ``cover`` and ``pack`` do and say."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from pathlib import Path
from typing import TYPE_CHECKING

from casebook.clip.cover import KINDS
from casebook.errors import CaseError, PageError

if TYPE_CHECKING:
    from casebook.case.case import Case
    from casebook.case.desk import Desk


def add_cover_options(sub: ArgumentParser) -> None:
    """Options of ``casebook cover``."""
    sub.add_argument("folder", type=Path)
    sub.add_argument("--shot", action="append", default=[], metavar="NAME", help="only this shot; may be given again")
    sub.add_argument("--add", choices=list(KINDS), help="cover a box: a head on that frame, all else throughout")
    sub.add_argument("--frame", type=int, help="with --add: the frame on which the box lies")
    sub.add_argument("--box", type=float, nargs=4, metavar=("LEFT", "TOP", "RIGHT", "BOTTOM"), help="in pixels")
    sub.add_argument("--name", default="", help="with --add: a second box of the same name makes the cover move")
    sub.add_argument("--from", dest="start", type=int, help="with --add: first frame")
    sub.add_argument("--to", dest="stop", type=int, help="with --add: the frame after the last")
    sub.add_argument("--remove", metavar="NAME", help="take a cover away")
    sub.add_argument("--sheet", action="store_true", help="make the sheet anew, and leave the covers as they are")
    sub.add_argument("--checked", action="store_true", help="you looked at every picture of the sheet")
    sub.add_argument("--by", default="", help="with --checked: your initials")


def add_pack_options(sub: ArgumentParser) -> None:
    """Options of ``casebook pack``."""
    sub.add_argument("folders", nargs="+", type=Path, metavar="FOLDER")
    sub.add_argument("-o", "--output", type=Path, required=True, help="a folder that is not there yet")
    sub.add_argument("--audience", required=True, help="who will see it, in the words of the consents")
    sub.add_argument(
        "--alias", action="append", default=[], metavar="OLD=NEW", help="what a swimmer is called in the pack"
    )
    sub.add_argument("--shot", action="append", default=[], metavar="NAME", help="only this shot; may be given again")


def cover(args: Namespace) -> list[str]:
    """Cover people in the shots of a case, and make the sheet of pictures to look at; returns what to say."""
    from casebook.case.case import Case

    case = Case.open(args.folder)
    if args.add or args.remove:
        desk = case.desk(_one_shot(case, args.shot))
        if args.remove:
            desk = desk.uncover(args.remove)
        if args.add:
            if args.frame is None or args.box is None:
                raise CaseError("A cover needs a frame and a box on it.", "Give --frame N --box LEFT TOP RIGHT BOTTOM.")
            desk = desk.cover(args.add, args.frame, args.box, args.name, args.start, args.stop)
        again = ["Pictures made before are gone. Run the notebooks again: casebook run FOLDER."]
        said = [f"{desk.shot.id}: {', '.join(c.name for c in desk.covers) or 'nothing'} covered."]
        return [*said, *(again if args.add == "bystander" else []), *_sheet(desk, ())]
    said = []
    for name in args.shot or case.shots:
        desk = case.desk(name)
        said += _checked(desk, args.by) if args.checked else _covered(desk, anew=not args.sheet)
    return said


def pack(args: Namespace) -> list[str]:
    """Make a workshop pack; returns what to say."""
    from casebook.case.case import Case
    from casebook.pages.pack import make_pack

    aliases = {}
    for pair in args.alias:
        old, equals, new = pair.partition("=")
        if not equals:
            raise PageError(f'"{pair}" does not say who is called what.', "Write it as --alias OLD=NEW.")
        aliases[old.strip()] = new.strip()
    made = make_pack([Case.open(folder) for folder in args.folders], args.output, args.audience, aliases, args.shot)
    return [
        str(made),
        "It was read again byte by byte: pixels, and casebook's own words. What pictures show, only eyes can tell.",
        "A stroke, a suit or a pool can still tell who swims. Local safeguarding rules decide who may see it.",
    ]


def _covered(desk: Desk, *, anew: bool) -> list[str]:
    if not anew:
        return _sheet(desk, ())
    found = desk.cover_heads()
    return [f"{desk.shot.id}: {found.told}", *_sheet(desk, found.weak)]


def _sheet(desk: Desk, doubtful: tuple[int, ...]) -> list[str]:
    from casebook.pages.contact_sheet import contact_sheet

    sheet = contact_sheet(desk, doubtful)
    return [f"  {sheet}. Open it in a browser: {sheet.page.resolve()}"]


def _checked(desk: Desk, by: str) -> list[str]:
    from casebook.pages.contact_sheet import looked_at

    check = looked_at(desk, by)
    return [f"{desk.shot.id}: looked at by {check.by}. This counts until a cover, the clip or the stretch changes."]


def _one_shot(case: Case, named: list[str]) -> str:
    if len(named) > 1 or (not named and len(case.shots) > 1):
        raise CaseError("Name the one shot that this is about.", f"--shot NAME; it has: {', '.join(case.shots)}.")
    return named[0] if named else ""
