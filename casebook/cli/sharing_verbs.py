"""Verbs about what others may see: consent, deletion, the parcel, covers, packs and the workshop."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

from casebook.errors import CasebookError

if TYPE_CHECKING:
    import argparse


def consent(args: argparse.Namespace) -> None:
    """Show, give or withdraw the consents of a case."""
    from casebook.case.case import Case
    from casebook.case.consent import give, withdraw
    from casebook.case.consent_talk import NO_NAMES, Said, consent_report, looks_like_a_name, new_consent
    from casebook.case.consent_talk import withdrawal_report as told

    case = Case.open(args.folder)
    if args.withdraw:
        print("\n".join(told(case, args.withdraw, withdraw(args.folder, args.withdraw))))
        return
    if args.give:
        said = Said(args.by, args.guardian, args.date, args.until, args.audience)
        row = new_consent(args.give, said, case.minor, input if sys.stdin.isatty() else None)
        if looks_like_a_name(row.given_by):
            print(f'"{row.given_by}" reads like a full name. {NO_NAMES}')
        give(args.folder, row, case.minor)
    print("\n".join(consent_report(Case.open(args.folder))))


def delete(args: argparse.Namespace) -> None:
    """Delete a case completely and leave a receipt beside it."""
    from casebook.case.delete import contents_of, delete_case
    from casebook.case.receipt import NOT_REACHED

    found = contents_of(args.folder)
    print("\n".join(found.sentences()))
    if not args.yes:
        if not sys.stdin.isatty():
            raise CasebookError("Nothing was deleted: nobody is at the keyboard to confirm it.", "Or say --yes.")
        if input(f"To delete it for good, type {found.word}: ").strip() != found.word:
            raise CasebookError("Nothing was deleted.")
    receipt, place = delete_case(args.folder, args.receipt)
    print(f"Deleted: {receipt.files} files, {receipt.size} bytes. The receipt, which holds no name: {place}")
    print(f"Not reached: {NOT_REACHED}.")


def send(args: argparse.Namespace) -> None:
    """Lay all that the swimmer gets into one folder."""
    from casebook.case.case import Case
    from casebook.pages.parcel import make_parcel

    case = Case.open(args.folder)
    print("Making page, card and films; this takes a moment.", flush=True)
    print(make_parcel(case).text())


def workshop(args: argparse.Namespace) -> None:
    """Make the page of a workshop and its paper."""
    from tempfile import TemporaryDirectory

    from casebook.pages.workshop import make_workshop

    if bool(args.packs) == args.demo:
        raise CasebookError("Name a workshop pack, or say --demo.", "casebook workshop --demo")
    with TemporaryDirectory(prefix="casebook-workshop-") as place:
        folders = args.packs
        if args.demo:
            from casebook.demo.workshop import demo_teaching_cases

            print("Making four cases about invented swimmers; this takes a minute or two.")
            folders = demo_teaching_cases(Path(place))
        made = make_workshop(folders, args.output)
    print(f"Open this page in a browser, on the room's laptop: {made[0].resolve()}")
    print(f"To print: {', '.join(path.name for path in made[1:])}. The guide holds the answers.")
    print("Votes that are handed in go into the folder votes; 16_workshop.ipynb beside it works out the agreement.")


def cover(args: argparse.Namespace) -> None:
    """Cover people in a case's shots, and make the sheet of pictures to look at."""
    from casebook.pages.pack_talk import cover as told

    print("\n".join(told(args)))


def pack(args: argparse.Namespace) -> None:
    """Make a workshop pack."""
    from casebook.pages.pack_talk import pack as told

    print("\n".join(told(args)))
