"""Demo clips with their truth, and how far a draft is from it."""

from __future__ import annotations

import csv
import tomllib
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np

from casebook.clip.clip import Clip
from casebook.clip.shot import Shot
from casebook.demo.camera import Camera
from casebook.marks.draft import LANDMARKS, make_draft
from casebook.marks.draft_report import Draft
from casebook.marks.lines import LineMark
from casebook.marks.marks import Marks
from casebook.resources import shipped

JOINTS = ("shoulder", "elbow", "wrist", "hip", "knee", "ankle")
NAMES = tuple(LANDMARKS)
#: A pair counts as exchanged where the other names would bring it nearer to the truth by this share of stature.
CLEAR = 0.025
#: A point counts as drawn on nothing where its joint is at least this far above the surface. [m]
DRY_M = 0.05


@dataclass(frozen=True)
class KnownClip:
    """A clip with a truth file beside it, of which every ``step``-th frame from ``start`` on is looked at."""

    name: str
    folder: Path
    step: int = 1
    start: int = 0
    stop: int | None = None

    @cached_property
    def plan(self) -> dict:
        return tomllib.loads((self.folder / f"{self.name}.truth.toml").read_text("utf-8"))

    @cached_property
    def shot(self) -> Shot:
        clip = Clip(self.folder / f"{self.name}.mp4")
        camera = self.plan["camera"]
        return Shot(self.name, clip, camera["view"], self.plan["direction"], 0, clip.n_frames, camera=camera["mode"])

    @cached_property
    def frames(self) -> np.ndarray:
        return np.arange(self.start, self.stop or self.shot.stop, self.step)

    @cached_property
    def truth(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """True places (F, P, 2) of ``NAMES`` [px], whether seen or covered (F, P), and heights (F, P) [m]."""
        shape = (self.shot.clip.n_frames, len(NAMES))
        xy, there, height = np.full((*shape, 2), np.nan), np.zeros(shape, bool), np.full(shape, np.nan)
        with (self.folder / f"{self.name}.truth.csv").open(encoding="utf-8", newline="") as stream:
            for r in csv.DictReader(line for line in stream if not line.startswith("#")):
                if r["point"] in NAMES:
                    at = int(r["frame"]), NAMES.index(r["point"])
                    xy[at] = float(r["x_px"]), float(r["y_px"])
                    there[at], height[at] = r["visible"] in ("visible", "occluded"), float(r["z_m"])
        return xy[self.frames], there[self.frames], height[self.frames]

    @cached_property
    def stature_px(self) -> float:
        """From the side, shoulder to ankle over its share of stature; head-on, stature at the hips' distance. [px]"""
        if self.shot.sign:
            xy = self.truth[0]
            ends = [xy[:, [NAMES.index(f"{n}_l"), NAMES.index(f"{n}_r")]].mean(1) for n in ("shoulder", "ankle")]
            return float(np.nanmedian(np.linalg.norm(ends[0] - ends[1], axis=-1)) / (0.818 - 0.039))
        camera = self.plan["camera"]
        return camera["focal_px"] * self.plan["swimmer"]["stature_m"] / abs(camera["position"][0])

    @cached_property
    def water(self) -> list[LineMark]:
        """The still surface in the swimmer's plane, as a coach draws it, from the side under water."""
        if self.shot.view != "side_under":
            return []
        c = self.plan["camera"]
        camera = Camera(
            c["view"], tuple(c["position"]), tuple(c["target"]), c["focal_px"], tuple(c["size"]), c["mode"], c["speed"],
            c["at_s"],
        )  # fmt: skip
        lines = []
        for frame in np.linspace(0, self.shot.stop - 1, 4).astype(int).tolist():
            when = self.shot.clip.times[frame]
            x = self.plan["swimmer"]["speed"] * when
            ends, _ = camera.project(np.array([[[x - 1, 0.0, 0.0], [x + 1, 0.0, 0.0]]]), np.array([when]))
            lines.append(LineMark(frame, "water", *ends.ravel().tolist()))
        return lines

    def draft(self, model: Path) -> Draft:
        return make_draft(self.shot, self.frames, model=model, tell=lambda n, of: None, water=self.water)


@dataclass(frozen=True)
class Measured:
    """How far drafted points lie from the truth.

    ``found``: share of frames with a body. ``shown``: share of true joints in sight or covered that were drafted.
    ``error``: per joint, median distance in % of stature. ``median``: of all joints together. ``arms``, ``legs``: share
    of frames with exchanged names. ``on_nothing``: share of joints well above the surface that were drawn under it.
    ``rate``: cycles a minute from the wrist on the camera's side, NaN if too short.
    """

    found: float
    shown: float
    median: float
    error: dict[str, float]
    arms: float
    legs: float
    on_nothing: float
    rate: float


def columns(*names: str) -> list[int]:
    """Columns of joints, left and right."""
    return [NAMES.index(f"{name}_{side}") for name in names for side in "lr"]


def distances(marks: Marks, known: KnownClip) -> np.ndarray:
    """Distance of each drafted point from its true place (F, P), NaN where there is none, in statures."""
    xy, there, _ = known.truth
    return np.where(there, np.linalg.norm(marks.xy - xy, axis=-1), np.nan) / known.stature_px


def exchanged(marks: Marks, known: KnownClip, joints: tuple[str, ...]) -> float:
    """Share of frames with these joints drafted on which the other names would be clearly nearer to the truth.

    A joint above the surface is known where it is too, so that an arm drafted alone under the other's name counts.
    """
    xy, there, _ = known.truth
    here = columns(*joints)
    other = [i + (1 if k % 2 == 0 else -1) for k, i in enumerate(here)]
    straight = np.linalg.norm(marks.xy[:, here] - xy[:, here], axis=-1)
    crossed = np.linalg.norm(marks.xy[:, here] - xy[:, other], axis=-1)
    gain = np.where(there[:, here] | there[:, other], straight - crossed, np.nan) / known.stature_px
    drawn = np.isfinite(gain).any(1)
    return float((np.nanmean(gain[drawn], 1) > CLEAR).mean()) if drawn.any() else np.nan


def measure(marks: Marks, known: KnownClip) -> Measured:
    """A draft against the truth."""
    _, there, height = known.truth
    core = columns(*JOINTS)
    far = 100 * distances(marks, known)
    drawn = np.isfinite(marks.xy[..., 0])
    dry = ~there & (height > DRY_M) & (known.shot.view.endswith("under"))
    return Measured(
        float(drawn[:, core].any(1).mean()),
        float(np.isfinite(far[:, core]).sum() / there[:, core].sum()),
        float(np.nanmedian(far[:, core])),
        {name: float(np.nanmedian(far[:, columns(name)])) for name in JOINTS},
        exchanged(marks, known, ("elbow", "wrist")),
        exchanged(marks, known, ("knee", "ankle")),
        float(drawn[:, core][dry[:, core]].mean()) if dry[:, core].any() else np.nan,
        stroke_rate(marks, known),
    )


def stroke_rate(marks: Marks, known: KnownClip) -> float:
    """Cycles a minute: the rate at which one sine fits the near wrist's way along the trunk best. [1/min]"""
    near = "wrist_l" if known.shot.sign < 0 else "wrist_r"
    wrist, hips = marks.xy[:, NAMES.index(near)], marks.xy[:, columns("hip")].mean(1)
    along = wrist[:, 0 if known.shot.sign else 1] - hips[:, 0 if known.shot.sign else 1]
    times = known.shot.clip.times[known.frames]
    good = np.isfinite(along)
    if good.sum() < 20:
        return np.nan
    y, t = along[good] - along[good].mean(), times[good]
    rates = np.arange(25.0, 125.0, 0.5)

    def left_over(rate: float) -> float:
        a = np.column_stack([np.ones_like(t), np.cos(2 * np.pi * rate / 60 * t), np.sin(2 * np.pi * rate / 60 * t)])
        return float(np.sum((y - a @ np.linalg.lstsq(a, y, rcond=None)[0]) ** 2))

    return float(min(rates, key=left_over))


def bare(known: KnownClip, model: Path, step: int = 1) -> tuple[Marks, KnownClip]:
    """The pose model as it comes: the whole picture as filmed, its usual thresholds, each frame by itself."""
    from mediapipe.tasks.python.core.base_options import BaseOptions
    from mediapipe.tasks.python.vision import PoseLandmarker, PoseLandmarkerOptions
    from mediapipe.tasks.python.vision.core.image import Image, ImageFormat

    some = KnownClip(known.name, known.folder, known.step * step, known.start, known.stop)
    found = np.full((len(some.frames), 33, 2), np.nan)
    options = PoseLandmarkerOptions(base_options=BaseOptions(model_asset_buffer=model.read_bytes()))
    with PoseLandmarker.create_from_options(options) as task:
        for row, frame in enumerate(some.frames.tolist()):
            seen = task.detect(Image(image_format=ImageFormat.SRGB, data=some.shot.clip.frame(frame))).pose_landmarks
            if seen:
                found[row] = np.array([[p.x, p.y] for p in seen[0]]) * some.shot.clip.size - 0.5
    places = np.stack([found[:, list(i)].mean(1) for i in LANDMARKS.values()], 1)
    return Marks.from_arrays(NAMES, some.frames, places, 1.0), some


def demo(name: str, **kw: int) -> KnownClip:
    """One of the clips that ship."""
    return KnownClip(name, Path(str(shipped("demo_clips"))), **kw)
