"""A new case from a video file, and a further clip for an old one."""

from __future__ import annotations

import re
import shutil
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from casebook.case.links import refuse_links_out
from casebook.case.notebooks import OWN_CASE, lay_out
from casebook.case.settings import FILE, SCHEMA, add_row, read_settings, write_settings
from casebook.clip.clip import Clip
from casebook.errors import CaseError

COMMENTS = {
    "alias": "never a real name: this word goes on every page",
    "level": "learner, triathlete, masters, age_group, distance, middle or sprint: chooses the target bands",
    "coach": "initials; they stand beside every mark",
    "minor": "true for anyone under 18: local safeguarding rules come first",
    "purpose": "analysis, sharing or teaching",
    "time_scale": "1 real time; 8 for 240 pictures a second stored as 30; 0 not known",
    "camera": "still, following or panning",
    "pain_now": "what hurts; anything here comes before everything else",
    "times": "100, 400 or usual pace; add sessions_a_week = 3, metres_a_week, years below if you know them",
    "earlier_advice": "what earlier coaches said",
    "arm_length_m": "shoulder joint to middle fingertip, by tape",
    "distance_m": "from the camera to the swimmer, as well as you know it",
}
#: Stands at the end of a new case.toml, for whoever writes it by hand.
CONSENT = (
    "Who agreed to what. The three purposes are analysis, sharing and teaching; none follows from another.",
    "casebook consent FOLDER shows where you stand and writes these lines for you. By hand, without the #:",
    "[[consent]]",
    'purpose = "sharing"',
    'given_by = "guardian"       # a role or initials, never a full name',
    "guardian = true             # needed for anyone under 18",
    'date = "2026-05-02"         # the day it was given',
    'until = "2027-05-02"        # its last day; needed for anyone under 18, two years on at most',
    'audience = "coaches at the spring workshop"   # who may see it; needed for teaching',
    'withdrawn = ""              # the day it was taken back',
    "Local safeguarding rules and the law decide what is needed; casebook only keeps the record.",
)


@dataclass(frozen=True, slots=True)
class ClipAnswers:
    """What casebook asks once about a clip."""

    view: str = "side_under"
    direction: str = "right"
    camera: str = "still"
    time_scale: float = 1.0
    distance_m: float | None = None
    effort: str = "steady"
    kit: str = "none"
    place: str = "25 m"
    date: str = ""
    mirrored: bool = False


def new_case(folder: Path, video: Path | None, answers: ClipAnswers, **top: Any) -> Path:
    """Make a case folder with its settings and notebooks and, if given, its first clip. Returns the folder.

    The video is copied under a name made of alias and view, since file names often carry real names. Nothing is written
    when the folder already holds a case or the video cannot be opened.
    """
    if (folder / FILE).exists():
        raise CaseError(
            f'"{folder}" already holds a case.', "Choose another folder, or add a clip: casebook add FOLDER VIDEO"
        )
    if folder.exists():
        refuse_links_out(folder)
    alias = _alias(str(top.pop("alias", "") or folder.name))
    if video is not None:
        Clip(video).close()
    settings: dict[str, Any] = {
        "schema": SCHEMA, "alias": alias, "level": "triathlete", "events": [], "aims": "", "about": "", "coach": "",
        "minor": top.get("level") == "age_group",
    } | top  # fmt: skip
    settings.setdefault("body", {"pain_now": "", "stiff": ""})
    asked = ("times", "pain_before", "treated_by", "earlier_advice", "breathing_side", "kit_owned")
    settings.setdefault("intake", dict.fromkeys(asked, ""))
    folder.mkdir(parents=True, exist_ok=True)
    write_settings(folder, settings, COMMENTS, () if settings.get("invented") else CONSENT)
    for name in ("clips", "marks", "notebooks", "out"):
        (folder / name).mkdir(exist_ok=True)
    if video is not None:
        add_clip(folder, video, answers)
    # Each notebook takes the shot that suits its checkpoint, until the coach names one.
    lay_out(folder, OWN_CASE)
    return folder


def add_clip(folder: Path, video: Path, answers: ClipAnswers) -> str:
    """Copy a video into a case and register its swim and shot; returns the shot's name. The original is not touched."""
    settings = read_settings(folder)
    refuse_links_out(folder)
    with Clip(video) as clip:
        n_frames, digest = clip.n_frames, clip.sha256
    known = [row for row in settings.get("shot", []) if row.get("sha256") == digest]
    if known:
        raise CaseError(f'"{video.name}" is already in this case, as shot "{known[0]["id"]}".', "")
    taken = {row["id"] for row in settings.get("shot", [])}
    stem = f"{_alias(str(settings.get('alias', folder.name)))}_{answers.view}"
    shot_id = stem if stem not in taken else next(f"{stem}_{n}" for n in range(2, 1000) if f"{stem}_{n}" not in taken)
    copy = folder / "clips" / f"{shot_id}{video.suffix.lower()}"
    if copy.exists():
        raise CaseError(
            f'"{copy.name}" already lies in the clips of this case.', "Move it away, then add the clip again."
        )
    copy.parent.mkdir(parents=True, exist_ok=True)
    shutil.copyfile(video, copy)
    swim_id = " ".join(
        part for part in (answers.date, answers.effort, answers.kit if answers.kit != "none" else "") if part
    )
    if swim_id not in {row["id"] for row in settings.get("swim", [])}:
        swim = {
            "id": swim_id,
            "date": answers.date,
            "effort": answers.effort,
            "kit": answers.kit,
            "place": answers.place,
        }
        add_row(folder, "swim", swim)
    scale = int(answers.time_scale) if float(answers.time_scale).is_integer() else answers.time_scale
    row = {
        "id": shot_id, "clip": copy.name, "sha256": digest, "swim": swim_id, "view": answers.view,
        "direction": answers.direction, "start": 0, "stop": n_frames, "camera": answers.camera, "time_scale": scale,
    }  # fmt: skip
    if answers.mirrored:
        row["mirrored"] = True
    if answers.distance_m is not None:
        row["distance_m"] = answers.distance_m
    add_row(folder, "shot", row)
    return shot_id


def _alias(word: str) -> str:
    alias = re.sub(r"[^\w-]+", "_", word).strip("_")[:40]
    if not alias:
        raise CaseError(f'"{word}" cannot serve as an alias.', "Choose a short word of letters, such as heron.")
    return alias
