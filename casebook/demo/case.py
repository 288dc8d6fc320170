"""The demo case: Rowan, an invented swimmer, marked from the truth with the error of a practised hand."""

from __future__ import annotations

import shutil
import tomllib
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from casebook.case.case import Case
from casebook.case.create import ClipAnswers, add_clip, new_case
from casebook.case.notebooks import COACH, read_notebook, write_notebook
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

if TYPE_CHECKING:
    from casebook.demo.truth import ClipTruth

ALIAS, CLIP = "rowan", "rowan_side"
COACH_INITIALS = "demo"
#: How well the invented coach knows where the rope and the swimmer are from the camera. [m]
DISTANCE_SIGMA_M = 0.05
SEED = 4
ARM = ("shoulder", "elbow", "wrist", "fingertip", "knuckle")
NEAR = ("hip", "knee", "ankle", "heel", "toe", "ear", "goggle")
MIDDLE = ("crown", "mouth", "neck")
#: Of the arm away from the camera: enough for when it enters.
FAR = ("wrist_l", "fingertip_l")


@dataclass(frozen=True, slots=True)
class DemoShot:
    """One clip of the demo case: how it was filmed, and what the invented coach marked on it."""

    clip: str
    seen: ClipAnswers
    points: tuple[str, ...]
    water_frames: tuple[int, ...] = ()
    rope_frames: tuple[int, ...] = ()


_DAY = "2026-05-02"
SHOTS = (
    DemoShot(
        CLIP,
        ClipAnswers(view="side_under", direction="right", camera="following", date=_DAY),
        (*(f"{p}_r" for p in (*ARM, *NEAR)), *FAR, *MIDDLE),
        (30, 210, 390),
        (90, 330),
    ),
    DemoShot(
        "rowan_front",
        ClipAnswers(view="front_under", direction="toward", camera="following", distance_m=3.1, date=_DAY),
        tuple(f"{p}_{s}" for s in "lr" for p in (*ARM, "hip", "ankle", "ear", "goggle")),
    ),
    DemoShot(
        "rowan_split",
        ClipAnswers(view="side_split", direction="right", camera="following", date=_DAY),
        (*(f"{p}_r" for p in (*ARM, *NEAR)), *FAR, *MIDDLE),
        (10, 45, 80),
    ),
    DemoShot(
        "rowan_pass",
        ClipAnswers(view="side_under", direction="right", camera="still", distance_m=4.2, date=_DAY),
        (*(f"{p}_r" for p in (*ARM, "hip")), *FAR),
        (20, 90, 160),
        (60, 120),
    ),
)


def build_demo_case(folder: Path) -> Path:
    """Make the demo case in a folder, its notebooks not yet run. An earlier demo case there is replaced."""
    if folder.exists():
        if (folder / "case.toml").exists() and not Case.open(folder).invented:
            raise CaseError(
                f'"{folder}" holds a case that is not the demo.', "Name another folder: casebook demo FOLDER"
            )
        if any(folder.iterdir()) and not (folder / "case.toml").exists():
            raise CaseError(f'"{folder}" holds other files.', "Name another folder: casebook demo FOLDER")
        shutil.rmtree(folder)
    clips = shipped("demo_clips")
    role = CAST[ALIAS]
    new_case(
        folder,
        clips / f"{CLIP}.mp4",
        SHOTS[0].seen,
        alias=ALIAS,
        invented=True,
        level=role.level,
        events=[role.event],
        about=role.story,
        coach=COACH_INITIALS,
        body={
            "stature_m": role.swimmer.stature_m,
            "arm_length_m": round(role.swimmer.arm_length_m, 2),
            "arm_length_sigma_m": 0.01,
        },
        decision=[
            {
                "checkpoint": "catch",
                "decision": "work on now",
                "why": "The shape of the arm is there, its timing not yet.",
            }
        ],
    )
    for shot in SHOTS:
        name = (
            Case.open(folder).shots[0] if shot.clip == CLIP else add_clip(folder, clips / f"{shot.clip}.mp4", shot.seen)
        )
        _mark(folder, name, shot, read_truth(clips, shot.clip))
    _say(folder)
    return folder


def _mark(folder: Path, name: str, shot: DemoShot, truth: ClipTruth) -> None:
    """Marks, water line, known length and the class of each stroke, as a coach would have left them."""
    beside = folder / "marks" / name
    marks = marks_from_truth(truth, shot.points, sigma_px=HAND_SIGMA_PX, seed=SEED)
    write_marks(beside.with_suffix(".csv"), marks, Case.open(folder).shot(name).clip.times, COACH_INITIALS)
    if shot.water_frames:
        write_lines(beside.with_suffix(".lines.csv"), [_water(truth, frame) for frame in shot.water_frames])
    if shot.rope_frames:
        write_scales(beside.with_suffix(".scales.toml"), [_rope(truth, frame) for frame in shot.rope_frames])
    classes = [
        EventMark("stroke_class", s.side, s.halfway, s.stroke_class, by=COACH_INITIALS)
        for side in "rl"
        for s in key_stills(truth, side)
    ]
    write_events(beside.with_suffix(".events.csv"), classes)


def _noise(frame: int, size: int) -> np.ndarray:
    return HAND_SIGMA_PX * np.random.default_rng((SEED, frame, size)).standard_normal(size)


def _water(truth: ClipTruth, frame: int) -> LineMark:
    """The still surface in the swimmer's own plane: midway between a limb and its mirror image."""
    x = truth.world[frame, :, 0].mean()
    y = truth.world[frame, truth.index("shoulder_r"), 1]
    ends, _ = truth.camera.project(np.array([[[x - 1.0, y, 0.0], [x + 1.0, y, 0.0]]]), truth.times[frame : frame + 1])
    x0, y0, x1, y1 = (ends.ravel() + _noise(frame, 4)).tolist()
    return LineMark(frame, "water", x0, y0, x1, y1, by=COACH_INITIALS)


def _rope(truth: ClipTruth, frame: int) -> LengthMark:
    """Two changes of colour on the lane rope behind the swimmer, measured with a tape."""
    eye = truth.camera.pose(truth.times[frame : frame + 1])[0][0]
    first = (np.floor(eye[0] / ROPE_BLOCK_M) - 1) * ROPE_BLOCK_M
    ends = np.array([[[first, ROPE_Y_M, 0.0], [first + 2 * ROPE_BLOCK_M, ROPE_Y_M, 0.0]]])
    pixels, _ = truth.camera.project(ends, truth.times[frame : frame + 1])
    y = truth.catches[1].plane_y_m
    near, far = y - eye[1], ROPE_Y_M - eye[1]
    ratio = near / far
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
        distance_sigma=round(ratio * DISTANCE_SIGMA_M * float(np.hypot(1 / near, 1 / far)), 4),
    )


def _say(folder: Path) -> None:
    """The invented coach's own words in their places."""
    words = tomllib.loads(files("casebook.demo").joinpath("rowan_words.toml").read_text("utf-8"))
    for path in Case.open(folder).notebooks:
        notebook = read_notebook(path)
        for cell in notebook.cells:
            slot = cell.metadata.get("casebook", {}).get("slot", "")
            if COACH in cell.metadata.get("tags", []) and slot in words:
                cell.source = words[slot].strip()
        write_notebook(path, notebook)
