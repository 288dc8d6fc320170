"""What ``casebook squad`` does, one function a verb; each prints plain sentences."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import argparse

    from casebook.squad.squad import Squad

#: Verb to what it does, as the help tells it.
VERBS: dict[str, str] = {
    "new": "lay out a squad's folder: roster.csv and squad.toml to fill in",
    "check": "say who may be filmed and who may not, and make the list to print for whoever films",
    "slates": "make the number slates to print, one page a swimmer",
    "paper": "make the grid to print, for filling it by pen",
    "cut": "cut a long recording into the swimmers' clips, by cuts.csv or by the slates in it",
    "cards": "make a card for each swimmer from the grid",
    "page": "make the squad's page: what is shared, lanes by fault, what was seen",
    "case": "make a full case of one swimmer, for deep measuring",
    "forget": "delete everything made of one swimmer",
}


def add_verbs(sub: argparse.ArgumentParser) -> None:
    """The verbs and their options, below ``casebook squad``."""
    verbs = sub.add_subparsers(required=True, metavar="VERB")
    for name, text in VERBS.items():
        verb = verbs.add_parser(name, help=text, description=text)
        verb.set_defaults(run=globals()[f"_{name}"])
        verb.add_argument("folder", type=Path, help="the squad's folder")
        if name in ("case", "forget"):
            verb.add_argument("number", type=int)
        if name == "slates":
            verb.add_argument("--alias", action="store_true", help="print the alias on the slate too")
        if name == "cut":
            verb.add_argument("video", type=Path)
            verb.add_argument("--find", action="store_true", help="look for the slates anew; cuts.csv is replaced")
            verb.add_argument(
                "--blanked", action="store_true", help="also copy the recording with all else blanked out"
            )


def _new(args: argparse.Namespace) -> None:
    from casebook.squad.squad import new_squad

    folder = new_squad(args.folder)
    print(f"Made {folder}. Fill in roster.csv (aliases, never names) and squad.toml.")
    print(f"Then, before anybody is filmed: casebook squad check {folder}")


def _check(args: argparse.Namespace) -> None:
    from casebook.squad import day

    squad = _open(args)
    print(day.check(squad))
    print(f"Print this for whoever films: {day.write_film_list(squad)}")


def _slates(args: argparse.Namespace) -> None:
    from casebook.squad import day

    squad = _open(args)
    print(f"Print at 100 %, one page a swimmer: {day.write_slates(squad, args.alias)}")
    closed = squad.roster.not_to_film(squad.judged_on)
    if closed:
        print(f"No slate for {', '.join(str(m.number) for m in closed)}: they are not filmed.")


def _paper(args: argparse.Namespace) -> None:
    from casebook.squad import day

    print(f"Print this: {day.write_grid_sheet(_open(args))}")


def _cut(args: argparse.Namespace) -> None:
    from casebook.squad import day

    print(day.cut(_open(args), args.video, anew=args.find, blanked=args.blanked))


def _cards(args: argparse.Namespace) -> None:
    from casebook.squad import day

    report = day.make_cards(_open(args))
    print(report.text())
    if report.page is not None:
        print(f"Print this: {report.page}. The pictures to send lie in swimmers/NUMBER/card.png.")


def _page(args: argparse.Namespace) -> None:
    from casebook.squad import day

    squad = _open(args)
    print(f"Open this page in a browser: {day.write_squad_page(squad)}")
    print(f"The lanes are yours to change: {squad.lanes_file}")


def _case(args: argparse.Namespace) -> None:
    from casebook.case.trust import trust
    from casebook.squad.deep import make_case

    folder = make_case(_open(args), args.number)
    trust(folder)
    print(f"Made {folder}.\nNext: casebook open {folder}")


def _forget(args: argparse.Namespace) -> None:
    from casebook.squad.forgetting import forget

    print("\n".join(forget(_open(args), args.number)))


def _open(args: argparse.Namespace) -> Squad:
    from casebook.squad.squad import Squad

    return Squad.open(args.folder)
