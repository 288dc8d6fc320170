"""An invented catch on an invented clip whose every frame carries its number: what the page tests are fed with."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from types import SimpleNamespace

import numpy as np

from casebook.case.case import Intake
from casebook.checkpoints.drawing import Drawing, Label, Still
from casebook.checkpoints.finding import Band, Decision, Finding, Interval, NotMeasured, StrokeValue
from casebook.clip.shot import Shot, Swim
from casebook.marks.marks import Marks

WIDTH, HEIGHT, FRAMES, BITS = 640, 360, 40, 6
ARM = ("shoulder_r", "elbow_r", "wrist_r", "fingertip_r")
#: Numbers that a number could be mistaken for are avoided: every value below appears once.
HAND = (14.2, 16.5, 17.1, 15.2, 16.8)
ELBOW = (11.2, 12.5, 13.0, 11.7, 12.7)


class PatternClip:
    """A clip of grey frames; along the top, six blocks give the frame's number in binary, black 0 and white 1."""

    n_frames = FRAMES
    size = (WIDTH, HEIGHT)
    times = np.arange(FRAMES) / 50.0
    name = "rowan_side.mp4"
    path = Path("rowan_side.mp4")
    sha256 = "0123456789abcdef" * 4
    times_are_nominal = False
    facts = SimpleNamespace(losses=())

    def frame(self, i: int) -> np.ndarray:
        image = np.full((HEIGHT, WIDTH, 3), 120, np.uint8)
        block = WIDTH // BITS
        for bit in range(BITS):
            image[:80, bit * block : (bit + 1) * block] = 235 if i >> bit & 1 else 20
        return image

    def frames(self, start: int = 0, stop: int | None = None, step: int = 1):
        for i in range(start, FRAMES if stop is None else stop, step):
            yield self.frame(i)


def pattern_number(pixels: np.ndarray) -> int:
    """The number on a picture of a pattern frame, at any size."""
    height, width = pixels.shape[:2]
    row = pixels[int(height * 0.1), :, :3].mean(-1)
    return sum(int(row[int((bit + 0.5) * width / BITS)] > 128) << bit for bit in range(BITS))


def arm_at(frame: int) -> list[tuple[float, float]]:
    """Shoulder, elbow, wrist and fingertip, falling from level to straight down. [px]"""
    angle = np.radians(np.clip((frame - 8) * 4.0, 0, 90))
    shoulder, elbow = np.array([200.0, 130.0]), np.array([290.0, 150.0])
    wrist = elbow + 80 * np.array([np.cos(angle), np.sin(angle)])
    tip = wrist + 45 * np.array([np.cos(angle), np.sin(angle)])
    return [(float(x), float(y)) for x, y in (shoulder, elbow, wrist, tip)]


def still(frame: int, key: str, title: str, value: str = "") -> Still:
    """A still of stroke 2 with the arm, its line and one warm stroke."""
    arm = tuple(arm_at(frame))
    labels = (Label((arm[1][0], arm[1][1] - 20), value),) if value else ()
    drawing = Drawing((arm,), ((arm[0], arm[3]),), ((arm[1], (arm[1][0] - 8, arm[1][1] + 25)),), labels)
    return Still(frame, key, title, drawing, 2, (150.0, 80.0, 450.0, 290.0))


def band(quantity: str, low: float | None, high: float | None, on: bool = True) -> Band:
    return Band(quantity, low, high, 3.0, "% of arm length", "common practice, no source", "distance", on)


def finding(
    quantity: str,
    values: tuple[float, ...],
    verdict: str,
    *,
    unit: str = "% of arm length",
    target: Band | None = None,
    outcome: str = "",
    stroke_class: str = "none",
    side: str = "r",
    sigma: float = 1.2,
    common: float = 0.8,
) -> Finding:
    mean, n = float(np.mean(values)), len(values)
    half = 1.96 * float(np.hypot(sigma / np.sqrt(n), common))
    return Finding(
        checkpoint="catch",
        quantity=quantity,
        side=side,
        stroke_class=stroke_class,
        value=mean,
        unit=unit,
        these=Interval(mean - half, mean + half),
        habit=Interval(mean - 1.5 * half, mean + 1.5 * half) if n >= 3 else None,
        strokes=tuple(StrokeValue(k + 1, v, sigma, common, (20,), 0.1 * k) for k, v in enumerate(values)),
        frames=(10, 20, 30),
        seen=11,
        needed=14,
        verdict=verdict,
        sentence="",
        band=target,
        outcome=outcome,
    )


def usual_results() -> tuple[Finding | NotMeasured, ...]:
    return (
        finding("hand_ahead_pct", HAND, "outside", target=band("hand_ahead_pct", 20.0, None)),
        finding("elbow_height_pct", ELBOW, "within", target=band("elbow_height_pct", 4.0, 18.0), outcome="bent above"),
        finding("elbow_angle_under_deg", (121.0, 126.0), "shown", unit="deg", sigma=2.5, common=1.5),
        NotMeasured("catch", "upper_arm_turn_deg", "r", "The hip is hidden.", "Mark the hip from reach to halfway."),
    )


@dataclass
class InventedCatch:
    """Stands in for the catch as measured."""

    results: tuple[Finding | NotMeasured, ...] = field(default_factory=usual_results)
    stills: tuple[Still, ...] = (
        still(8, "reach", "Full reach"),
        still(20, "halfway", "Forearm halfway down", "12 % above"),
        still(31, "straight_down", "Forearm straight down", "16 % ahead"),
    )
    shot_id: str = "rowan_side"
    checkpoint: str = "catch"

    @property
    def curves(self) -> tuple[SimpleNamespace, ...]:
        inclination = np.linspace(0, 92, 24)
        return tuple(
            SimpleNamespace(
                quantity="elbow_height_pct",
                side="r",
                stroke=k + 1,
                frames=np.arange(24),
                inclination_deg=inclination,
                value=top * np.sin(np.radians(inclination * 1.2 + 20)),
                sigma=np.ones(24),
                unit="% of arm length",
                stroke_class="none",
            )
            for k, top in enumerate(ELBOW)
        )

    def get(self, quantity: str, side: str, stroke_class: str = "none") -> Finding | NotMeasured:
        for r in self.results:
            same = r.quantity == quantity and r.side == side
            if same and (isinstance(r, NotMeasured) or r.stroke_class == stroke_class):
                return r
        return NotMeasured("catch", quantity, side, "Not marked.", "Mark it.")


def invented_desk(folder: Path, **changes: object) -> SimpleNamespace:
    """A desk over the pattern clip; ``changes`` replace facts of the case."""
    facts = {
        "alias": "Rowan",
        "invented": True,
        "level": "distance",
        "events": ("open water", "1500 m"),
        "coach": "KB",
        "minor": False,
        "pain_now": "",
        "stiff": "",
        "intake": Intake(),
        "observed": (),
        "out": folder / "out",
        "decision": lambda checkpoint: Decision("catch", "work on now", "Timing is the cheap gain."),
    } | changes
    swim = Swim("s1", "2026-01-01", "steady")
    shot = Shot("rowan_side", PatternClip(), "side_under", "right", 0, FRAMES, swim, "Rowan", "following")  # type: ignore[arg-type]
    marks = Marks.from_arrays(ARM, range(FRAMES), np.array([arm_at(i) for i in range(FRAMES)]))
    plane = SimpleNamespace(how="Level from the water line.", limits=("No known length is marked: no centimetres.",))
    return SimpleNamespace(case=SimpleNamespace(**facts), shot=shot, marks=marks, plane=plane, out=folder / "out")


def figure_to_aim_for() -> SimpleNamespace:
    """A drawn arm on a transparent ground, twice the size of the swimmer's, with its joints."""
    rgba = np.zeros((600, 900, 4), np.uint8)
    rgba[200:420, 300:700] = (230, 190, 160, 255)
    joints = dict(zip(ARM, [(2 * x + 20, 2 * y - 40) for x, y in arm_at(31)], strict=True))
    return SimpleNamespace(rgba=rgba, joints_px=joints)
