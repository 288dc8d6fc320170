"""The case: one swimmer's folder with settings, clips, marks, notebooks and results."""

from __future__ import annotations

import difflib
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from casebook.case.camera import CameraFacts
from casebook.case.consent import Consent
from casebook.case.covering import always_covered
from casebook.case.links import refuse_links_out
from casebook.case.observations import every, import_lengths
from casebook.case.places import FOLDED, name_of
from casebook.case.settings import inside, keep_row, keep_table, read_settings
from casebook.checkpoints.advice import all_faults, load_advice
from casebook.checkpoints.finding import DECISIONS, Decision, Observed
from casebook.checkpoints.priority import LEARNER_ORDER
from casebook.clip.covered import open_clip
from casebook.clip.shot import Shot, Stretch, Swim
from casebook.errors import CaseError
from casebook.plane.measured import Measured
from casebook.words import CHECKPOINTS, LEVELS

if TYPE_CHECKING:
    from casebook.case.desk import Desk
    from casebook.case.together import Together
    from casebook.stroke.lengths import Length

#: How well a tape measures an arm, if the coach does not say. [m] common practice, no source
ARM_SIGMA_M = 0.01
#: How well a swimmer knows his height, and a coach the distance of the camera, if they do not say. own judgement,
#: no source [m], relative
STATURE_SIGMA_M, DISTANCE_SIGMA = 0.01, 0.1


@dataclass(frozen=True, slots=True)
class Intake:
    """What the swimmer told before anything was filmed. What was not asked is empty or None."""

    date: str = ""
    times: str = ""
    sessions_a_week: float | None = None
    metres_a_week: float | None = None
    years: float | None = None
    pain_before: str = ""
    treated_by: str = ""
    earlier_advice: str = ""
    breathing_side: str = ""
    kit_owned: str = ""
    pool: str = ""


@dataclass(frozen=True, slots=True)
class Case:
    """One swimmer's case, as its case.toml says. Open it with ``Case.open(folder)``."""

    folder: Path
    alias: str
    level: str
    invented: bool = False
    events: tuple[str, ...] = ()
    aims: str = ""
    about: str = ""
    coach: str = ""
    minor: bool = False
    pain_now: str = ""
    stature_m: float | None = None
    arm_length: Measured | None = None
    consents: tuple[Consent, ...] = ()
    swims: tuple[Swim, ...] = ()
    decisions: tuple[Decision, ...] = ()
    observed: tuple[Observed, ...] = ()
    intake: Intake = Intake()
    stiff: str = ""
    order: tuple[str, ...] = ()
    coach_first: str = ""
    coach_why: str = ""
    _shots: tuple[dict[str, Any], ...] = ()

    @classmethod
    def open(cls, folder: Path | str) -> Case:
        """Read a case folder; raises CaseError naming every setting that needs mending."""
        folder = Path(folder)
        raw = read_settings(folder)
        refuse_links_out(folder)
        level = raw.get("level", "triathlete")
        if level not in LEVELS:
            raise CaseError(
                f'The level "{level}" in {folder.name} is not one that casebook knows.',
                f"Use one of: {', '.join(LEVELS)}.",
            )
        body = raw.get("body", {})
        arm = body.get("arm_length_m")
        return cls(
            folder=folder,
            alias=str(raw.get("alias", folder.name)),
            level=level,
            invented=raw.get("invented", False),
            events=tuple(str(e) for e in raw.get("events", ())),
            aims=raw.get("aims", ""),
            about=raw.get("about", ""),
            coach=raw.get("coach", ""),
            minor=raw.get("minor", level == "age_group"),
            pain_now=body.get("pain_now", ""),
            stature_m=body.get("stature_m"),
            arm_length=None
            if arm is None
            else Measured(float(arm), float(body.get("arm_length_sigma_m", ARM_SIGMA_M))),
            consents=tuple(Consent(**row) for row in raw.get("consent", ())),
            swims=tuple(Swim(**row) for row in raw.get("swim", ())),
            decisions=tuple(_decision(row) for row in raw.get("decision", ())),
            observed=tuple(_observed(row) for row in raw.get("observed", ())),
            intake=Intake(**raw.get("intake", {})),
            stiff=body.get("stiff", ""),
            order=tuple(_known_checkpoint(str(name)) for name in raw.get("order", ())),
            coach_first=_known_fault(raw.get("priority", {}).get("first", "")),
            coach_why=raw.get("priority", {}).get("why", ""),
            _shots=tuple(raw.get("shot", ())),
        )

    @property
    def out(self) -> Path:
        """Folder of results."""
        return self.folder / "out"

    @property
    def notebooks(self) -> list[Path]:
        """This swimmer's notebooks, in teaching order (a learner's begins with balance), or in the case's own.

        ``order`` in case.toml names checkpoints: those are taken in that order, the other checkpoints are left out, and
        what is no checkpoint (preparation, what to work on first) keeps its place before or after them. A folded case
        has one notebook, and its order is as it stands there.
        """
        one = self.folder / "notebooks" / FOLDED
        if one.is_file():
            return [one]
        found = sorted((self.folder / "notebooks").glob("[!.]*.ipynb"))
        early = LEARNER_ORDER if self.level == "learner" else ()
        order = self.order or (*early, *(name for name in CHECKPOINTS if name not in early))
        named = {name_of(path): path for path in found}
        checkpoints = [named[name] for name in order if name in named]
        others = [path for path in found if name_of(path) not in CHECKPOINTS]
        before = [path for path in others if path.name < "01"]
        return [*before, *checkpoints, *(path for path in others if path not in before)]

    @property
    def shots(self) -> tuple[str, ...]:
        """Names of the shots."""
        return tuple(row["id"] for row in self._shots)

    def decision(self, checkpoint: str) -> Decision | None:
        """The coach's decision on a checkpoint, if he made one."""
        return next((d for d in self.decisions if d.checkpoint == checkpoint), None)

    def decide(self, checkpoint: str, decision: str, why: str = "") -> Case:
        """Keep the coach's decision on a checkpoint in case.toml; returns the case as it then is."""
        row = {"checkpoint": _known_checkpoint(checkpoint), "decision": decision, "why": why}
        _decision(row)
        keep_row(self.folder, "decision", row, ("checkpoint",))
        return Case.open(self.folder)

    def saw(self, checkpoint: str, question: str, word: str, side: str = "", shot: str = "", frame: int = -1) -> Case:
        """Keep what the coach saw by eye: a word that answers one of the checkpoint's questions.

        A second answer to the same question, of the same side and shot, replaces the first. Returns the case as it
        then is.
        """
        questions = {q.key: q.answers for q in load_advice(_known_checkpoint(checkpoint)).questions}
        if question not in questions:
            raise CaseError(f'"{question}" is not asked about the {checkpoint}.', f"Ask: {', '.join(questions)}.")
        if word not in questions[question]:
            raise CaseError(f'"{word}" does not answer "{question}".', f"Use one of: {', '.join(questions[question])}.")
        row: dict[str, Any] = {"checkpoint": checkpoint, "question": question, "word": word}
        row |= {"side": side} if side else {}
        row |= {"shot": shot} if shot else {}
        row |= {"frame": frame} if frame >= 0 else {}
        row |= {"by": self.coach} if self.coach else {}
        keep_row(self.folder, "observed", row, ("checkpoint", "question", "side", "shot"))
        return Case.open(self.folder)

    def put_first(self, fault: str, why: str = "") -> Case:
        """Put one fault first, whatever the rule says; an empty name leaves the choice to the rule again."""
        keep_table(self.folder, "priority", {"first": _known_fault(fault), "why": why})
        return Case.open(self.folder)

    def shot(self, shot_id: str = "") -> Shot:
        """A shot by name, its clip opened and bystanders in it covered; the first one if no name is given."""
        if not self._shots:
            raise CaseError(f"The case {self.alias} has no shot yet.", "Add a clip: casebook add FOLDER VIDEO")
        shot_id = shot_id or self.shots[0]
        if shot_id not in self.shots:
            near = difflib.get_close_matches(shot_id, self.shots, 1)
            hint = f'Did you mean "{near[0]}"?' if near else f"It has: {', '.join(self.shots)}."
            raise CaseError(f'The case {self.alias} has no shot "{shot_id}".', hint)
        row = self._shots[self.shots.index(shot_id)]
        clip = open_clip(inside(self.folder, f"clips/{row['clip']}", "clip"), always_covered(self.folder, shot_id))
        return Shot(
            id=shot_id,
            clip=clip,
            view=row.get("view", "side_under"),
            direction=row.get("direction", "right"),
            start=row.get("start", 0),
            stop=row.get("stop", clip.n_frames),
            swim=self._swim(row.get("swim", "")),
            swimmer=self.alias,
            camera=row.get("camera", "still"),
            stretches=_stretches(row, clip.n_frames),
            mirrored=row.get("mirrored", False),
        )

    @property
    def stature(self) -> Measured | None:
        """The swimmer's height as told. [m]"""
        return None if self.stature_m is None else Measured(float(self.stature_m), STATURE_SIGMA_M)

    def distance(self, shot_id: str) -> Measured | None:
        """From the camera to the swimmer in a shot, if the coach has stated it. [m]"""
        row = next((r for r in self._shots if r["id"] == shot_id), {})
        if "distance_m" not in row:
            return None
        far = float(row["distance_m"])
        return Measured(far, float(row.get("distance_sigma_m", DISTANCE_SIGMA * far)))

    def camera(self, shot_id: str) -> CameraFacts:
        """What the coach stated of a shot's camera."""
        return CameraFacts.of_row(next((r for r in self._shots if r["id"] == shot_id), {}))

    def shot_for(self, checkpoint: str) -> str:
        """The shot to look at for a checkpoint: where a fault of it shows, else the best view that is marked for it."""
        from casebook.case.choice import best_shot

        return best_shot(self, _known_checkpoint(checkpoint))

    def view(self, shot_id: str) -> str:
        """Where a shot is filmed from, without opening its clip."""
        return str(self._row(shot_id).get("view", "side_under"))

    def is_still(self, shot_id: str) -> bool:
        """Whether a shot's camera stands still."""
        return self._row(shot_id).get("camera", "still") == "still"

    def is_marked(self, shot_id: str) -> bool:
        """Whether there are marks of a shot."""
        marks = self.folder / "marks"
        return any((marks / f"{shot_id}{ending}").is_file() for ending in (".csv", ".journal"))

    def _row(self, shot_id: str) -> dict[str, Any]:
        return next((r for r in self._shots if r["id"] == shot_id), {})

    def passes(self, shot_id: str) -> tuple[str, ...]:
        """Other shots of the same swim and view, as case.toml has them."""
        rows = {str(r["id"]): (r.get("swim", ""), r.get("view", "side_under")) for r in self._shots}
        own = rows.get(shot_id, ("", ""))
        return tuple(name for name, row in rows.items() if name != shot_id and row == own and own[0])

    @property
    def still_shot(self) -> str:
        """The first shot whose camera stands still; the case's first if none does."""
        return next((str(r["id"]) for r in self._shots if r.get("camera", "still") == "still"), "")

    def desk(self, shot_id: str = "") -> Desk:
        """Everything about one shot laid out to work on: marks, lines, scales, plane, bands."""
        from casebook.case.desk import Desk

        return Desk(self, self.shot(shot_id))

    def together(self, first: str, second: str, same: tuple[float, float]) -> Together:
        """Two clips of one swim on one clock, by a frame of each that shows the same moment."""
        from casebook.case.together import together

        return together(self.desk(first), self.desk(second), same)

    @property
    def lengths(self) -> tuple[Length, ...]:
        """Every length of this swimmer as counted at the pool side, from observations.csv."""
        return every(self.folder)

    def import_lengths(self, table: Path | str) -> tuple[Length, ...]:
        """Take the lengths of a table made elsewhere into observations.csv; returns all that stand there then."""
        return import_lengths(self.folder, table)

    def _swim(self, swim_id: str) -> Swim | None:
        return next((s for s in self.swims if s.id == swim_id), None)


def _stretches(row: dict[str, Any], n_frames: int) -> tuple[Stretch, ...]:
    """Slow motion of a shot: [from, to, scale] rows, else one scale for all; 0 says that it is not known."""
    rows = row.get("stretches")
    if rows is None:
        scale = row.get("time_scale", 1)
        return () if scale == 1 else (Stretch(0, n_frames, float(scale) or None),)
    try:
        return tuple(Stretch(int(a), int(b), float(s) or None) for a, b, s in rows)
    except (TypeError, ValueError):
        raise CaseError(
            f'The stretches of shot "{row["id"]}" cannot be read.',
            "Write them as [[from_frame, to_frame, scale], ...]; a scale of 0 says that it is not known.",
        ) from None


def _decision(row: dict[str, Any]) -> Decision:
    if row.get("decision") not in DECISIONS:
        raise CaseError(
            f'The decision "{row.get("decision")}" is not one of the four.', f"Use one of: {', '.join(DECISIONS)}."
        )
    return Decision(row.get("checkpoint", ""), row["decision"], row.get("why", ""))


def _observed(row: dict[str, Any]) -> Observed:
    return Observed(
        row.get("checkpoint", ""), row.get("by", ""), row.get("frame", -1), row.get("word", ""), row.get("side", "")
    )


def _known_fault(key: str) -> str:
    faults = all_faults()
    if key and key not in faults:
        near = difflib.get_close_matches(key, faults, 1)
        hint = f'Did you mean "{near[0]}"?' if near else f"It knows: {', '.join(faults)}."
        raise CaseError(f'"{key}" is not a fault that casebook knows.', hint)
    return key


def _known_checkpoint(name: str) -> str:
    if name not in CHECKPOINTS:
        near = difflib.get_close_matches(name, CHECKPOINTS, 1)
        hint = f'Did you mean "{near[0]}"?' if near else f"Use one of: {', '.join(CHECKPOINTS)}."
        raise CaseError(f'"{name}" is not a checkpoint.', hint)
    return name
