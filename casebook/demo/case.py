"""The demo cases: invented swimmers, marked from the truth with the error of a practised hand."""

from __future__ import annotations

import shutil
import tomllib
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from casebook.case.case import Case
from casebook.case.create import add_clip, new_case
from casebook.case.notebooks import COACH, filled, read_notebook, write_notebook
from casebook.case.observations import counted, keep_length
from casebook.case.settings import add_row, keep_table
from casebook.checkpoints.answers import side_seen
from casebook.demo.case_plans import CASES, DemoCase, DemoShot
from casebook.demo.cast import CAST
from casebook.demo.pool import ROPE_BLOCK_M, ROPE_Y_M
from casebook.demo.truth_files import read_truth
from casebook.demo.truth_marks import key_stills, marks_from_truth
from casebook.errors import CaseError
from casebook.marks.csvfile import write_marks
from casebook.marks.events import EventMark, write_events
from casebook.marks.lines import LineMark, write_lines
from casebook.marks.marks import HAND_SIGMA_PX
from casebook.marks.scales import LengthMark, write_scales
from casebook.resources import shipped
from casebook.stroke.lengths import Length

if TYPE_CHECKING:
    from casebook.demo.truth import ClipTruth

COACH_INITIALS = "demo"
#: How well the invented coach knows where the rope and the swimmer are from the camera. [m]
DISTANCE_SIGMA_M = 0.05
SEED = 4


def build_demo_case(folder: Path, alias: str = "rowan") -> Path:
    """Make the demo case of one of the cast in a folder, its notebooks not yet run.

    An earlier demo case there is replaced. Raises CaseError if the folder holds anything else, or nobody of the demo is
    called so.
    """
    if alias not in CASES:
        raise CaseError(f'Nobody in the demo is called "{alias}".', f"Name one of: {', '.join(CASES)}.")
    _clear(folder)
    clips, plan, role = shipped("demo_clips"), CASES[alias], CAST[alias]
    new_case(
        folder,
        None,
        plan.shots[0].seen,
        alias=alias,
        invented=True,
        level=role.level,
        events=[role.event],
        aims=plan.aims,
        about=role.story,
        coach=COACH_INITIALS,
        **({"order": list(plan.order)} if plan.order else {}),
        body={
            "stature_m": role.swimmer.stature_m,
            "arm_length_m": round(role.swimmer.arm_length_m, 2),
            "arm_length_sigma_m": 0.01,
        },
    )
    for decision in plan.decisions:
        add_row(folder, "decision", decision)
    for observed in plan.observed:
        add_row(folder, "observed", observed | {"by": COACH_INITIALS})
    if plan.intake:
        keep_table(folder, "intake", plan.intake)
    for shot in plan.shots:
        name = add_clip(folder, clips / f"{shot.clip}.mp4", shot.seen)
        _mark(folder, name, shot, read_truth(clips, shot.clip))
    _count(folder, plan)
    _say(folder, alias)
    return folder


def _count(folder: Path, plan: DemoCase) -> None:
    """What was counted at the pool side, length by length."""
    day = plan.shots[0].seen.date
    for one in plan.counted:
        swim = f"{day} {one.effort}"
        number = len(counted(folder, swim)) + 1
        keep_length(folder, Length(swim, number, one.distance, "m", one.seconds, one.strokes, "", one.from_wall))


def _clear(folder: Path) -> None:
    if not folder.exists():
        return
    if (folder / "case.toml").exists() and not Case.open(folder).invented:
        raise CaseError(f'"{folder}" holds a case that is not the demo.', "Name another folder: casebook demo FOLDER")
    if any(folder.iterdir()) and not (folder / "case.toml").exists():
        raise CaseError(f'"{folder}" holds other files.', "Name another folder: casebook demo FOLDER")
    shutil.rmtree(folder)


def _mark(folder: Path, name: str, shot: DemoShot, truth: ClipTruth) -> None:
    """Marks, water line, known length and the class of each stroke, as a coach would have left them."""
    beside = folder / "marks" / name
    near = side_seen(shot.seen.direction)[0]
    marks = marks_from_truth(truth, shot.points, sigma_px=HAND_SIGMA_PX, seed=SEED)
    write_marks(beside.with_suffix(".csv"), marks, Case.open(folder).shot(name).clip.times, COACH_INITIALS)
    if shot.water_frames:
        write_lines(beside.with_suffix(".lines.csv"), [_water(truth, frame, near) for frame in shot.water_frames])
    if shot.rope_frames:
        write_scales(beside.with_suffix(".scales.toml"), [_rope(truth, frame, near) for frame in shot.rope_frames])
    write_events(beside.with_suffix(".events.csv"), _classes(truth))


def _classes(truth: ClipTruth) -> list[EventMark]:
    """Breath or none of each stroke, where the coach watches the arm for it; head-on the face tells it."""
    if truth.catches:
        named = [(s.side, s.halfway, s.stroke_class) for side in "rl" for s in key_stills(truth, side)]
    elif truth.camera.view.startswith("rear"):
        at = [(s, float(s.times["past_body"])) for s in truth.strokes]
        inside = [(s, t) for s, t in at if truth.times[0] <= t <= truth.times[-1]]
        named = [(s.side, int(np.argmin(np.abs(truth.times - t))), s.stroke_class) for s, t in inside]
    else:
        named = []
    return [EventMark("stroke_class", side, frame, name, by=COACH_INITIALS) for side, frame, name in named]


def _noise(frame: int, size: int) -> np.ndarray:
    return HAND_SIGMA_PX * np.random.default_rng((SEED, frame, size)).standard_normal(size)


def _water(truth: ClipTruth, frame: int, near: str) -> LineMark:
    """The still surface in the swimmer's own plane: midway between a limb and its mirror image."""
    x = truth.world[frame, :, 0].mean()
    y = truth.world[frame, truth.index(f"shoulder_{near}"), 1]
    ends, _ = truth.camera.project(np.array([[[x - 1.0, y, 0.0], [x + 1.0, y, 0.0]]]), truth.times[frame : frame + 1])
    x0, y0, x1, y1 = (ends.ravel() + _noise(frame, 4)).tolist()
    return LineMark(frame, "water", x0, y0, x1, y1, by=COACH_INITIALS)


def _rope(truth: ClipTruth, frame: int, near: str) -> LengthMark:
    """Two changes of colour on the lane rope behind the swimmer, measured with a tape."""
    eye = truth.camera.pose(truth.times[frame : frame + 1])[0][0]
    first = (np.floor(eye[0] / ROPE_BLOCK_M) - 1) * ROPE_BLOCK_M
    behind = ROPE_Y_M if near == "r" else -ROPE_Y_M
    ends = np.array([[[first, behind, 0.0], [first + 2 * ROPE_BLOCK_M, behind, 0.0]]])
    pixels, _ = truth.camera.project(ends, truth.times[frame : frame + 1])
    y = next(c for c in truth.catches if c.side == near).plane_y_m
    close, far = abs(y - eye[1]), abs(behind - eye[1])
    ratio = close / far
    x0, y0, x1, y1 = (pixels.ravel() + _noise(frame, 5)[:4]).tolist()
    return LengthMark(
        frame,
        x0,
        y0,
        x1,
        y1,
        length_m=2 * ROPE_BLOCK_M,
        sigma_m=0.01,
        what="two colour blocks of the lane rope, by tape",
        distance_ratio=round(ratio, 3),
        distance_sigma=round(ratio * DISTANCE_SIGMA_M * float(np.hypot(1 / close, 1 / far)), 4),
    )


def _say(folder: Path, alias: str) -> None:
    """The invented coach's own words in their places, and the shot that he looks at."""
    words = tomllib.loads(files("casebook.demo").joinpath(f"{alias}_words.toml").read_text("utf-8"))
    for path in Case.open(folder).notebooks:
        notebook = read_notebook(path)
        shot = CASES[alias].look_in.get(path.stem.partition("_")[2])
        if shot is not None:
            notebook = filled(notebook, {"SHOT": shot})
        for cell in notebook.cells:
            slot = cell.metadata.get("casebook", {}).get("slot", "")
            if COACH in cell.metadata.get("tags", []) and slot in words:
                cell.source = words[slot].strip()
        write_notebook(path, notebook)
