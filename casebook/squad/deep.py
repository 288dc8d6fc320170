"""From a swimmer of the squad to a full case: for the three or four who need deep measuring."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from casebook.case.case import Case
from casebook.case.create import ClipAnswers, add_clip, new_case
from casebook.checkpoints.advice import load_advice
from casebook.errors import SquadError
from casebook.squad.cutting import why_closed
from casebook.squad.entry import pass_file, read_entry
from casebook.squad.grid import read_grid
from casebook.words import PLACES

if TYPE_CHECKING:
    from casebook.squad.roster import Member
    from casebook.squad.squad import Squad


def make_case(squad: Squad, number: int, folder: Path | None = None) -> Path:
    """A full case of one swimmer: his passes as shots, his consents, and what was seen by eye; returns its folder.

    Parameters
    ----------
    folder : Path, optional
        Of the case; ``cases/<number>`` in the squad's folder if none is given.

    Raises
    ------
    SquadError
        He may not be filmed, or nothing was cut for him.
    CaseError
        The folder holds a case already.
    """
    why = why_closed(squad, number)
    if why:
        raise SquadError(f"No case can be made for number {number}: {why}.", "Mend the roster first.")
    entry = read_entry(squad, number)
    if entry is None or not entry.passes:
        raise SquadError(
            f"Nothing has been cut for number {number}.", "Cut the recording: casebook squad cut FOLDER VIDEO"
        )
    member = squad.roster[number]
    folder = folder or squad.folder / "cases" / str(number)
    answers = ClipAnswers(
        view=squad.view,
        direction=squad.direction,
        place=squad.place if squad.place in PLACES else PLACES[0],
        date=squad.day.isoformat(),
    )
    new_case(folder, pass_file(squad, entry), answers, **_settings(squad, member))
    for which in range(1, len(entry.passes)):
        add_clip(folder, pass_file(squad, entry, which), answers)
    _keep_seen(squad, number, Case.open(folder))
    return folder


def _settings(squad: Squad, member: Member) -> dict[str, Any]:
    settings: dict[str, Any] = {
        "alias": member.alias or f"swimmer_{member.number}",
        "level": member.level,
        "coach": squad.coach,
        "minor": member.is_minor,
        "consent": [_consent(squad, member, p) for p in ("analysis", *(["sharing"] if member.sharing else []))],
    }
    return settings | ({"invented": True} if squad.invented else {})


def _consent(squad: Squad, member: Member, purpose: str) -> dict[str, Any]:
    row: dict[str, Any] = {
        "purpose": purpose,
        "given_by": "guardian, by the squad's roster" if member.is_minor else "swimmer, by the squad's roster",
        "guardian": bool(member.guardian),
        "date": squad.day.isoformat(),
    }
    return row | ({"until": member.until.isoformat()} if member.until else {})


def _keep_seen(squad: Squad, number: int, case: Case) -> None:
    """Faults of the grid that answer one of a checkpoint's questions by eye, kept in the case as such."""
    for (who, checkpoint), cell in read_grid(squad.grid_file).items():
        if who != number or not cell.fault:
            continue
        advice = load_advice(checkpoint)
        words = advice.fault(cell.fault).by_eye
        asked = [(q.key, w) for w in words for q in advice.questions if w in q.answers]
        if len(asked) == 1:
            case = case.saw(checkpoint, *asked[0])
