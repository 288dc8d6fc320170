"""A planar arm whose motion is written down in closed form, filmed by an ideal side camera.

In words: the arm reaches forward, almost level. The forearm turns from reach to pointing back along a smooth step; the
upper arm follows the same step a little later. Then both return the way they came: it has no recovery above water.
Everything measured from the marks can be had from the formulas at any instant, without marks or frames.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
from scipy.optimize import brentq

from casebook.clip.shot import Shot, Swim
from casebook.marks.marks import Marks, Origin
from casebook.plane.optics import Optics
from casebook.plane.plane import Plane

NAMES = ("shoulder", "elbow", "wrist", "fingertip", "knuckle", "hip")


def smooth_step(u):
    """0 before 0, 1 after 1, with continuous second derivative."""
    u = np.clip(u, 0.0, 1.0)
    return u**3 * (10 - 15 * u + 6 * u * u)


@dataclass(frozen=True)
class PlanarArm:
    """Lengths in metres, directions in degrees below the swim direction, times in seconds."""

    upper: float = 0.31
    fore: float = 0.27
    hand: float = 0.19
    knuckle: float = 0.10
    trunk: float = 0.50
    period: float = 1.5
    first: float = 0.45
    pull: float = 0.75
    lag: float = 0.10
    reach_deg: float = 6.0
    upper_reach_deg: float = 2.0
    finish_deg: float = 165.0
    upper_finish_deg: float = 120.0
    flex_deg: float = 4.0
    trunk_deg: float = -4.0
    speed: float = 1.3
    depth: float = 0.15
    straight: bool = False
    side: str = "r"

    def _turn(self, t, start):
        u = (np.asarray(t, float) - start) % self.period
        down, back = smooth_step(u / self.pull), smooth_step((u - self.pull) / (self.period - self.pull - 0.15))
        return down - back

    def forearm(self, t):
        """Forearm inclination."""
        return self.reach_deg + (self.finish_deg - self.reach_deg) * self._turn(t, self.first)

    def upper_arm(self, t):
        """Upper-arm inclination."""
        if self.straight:
            return self.forearm(t)
        return self.upper_reach_deg + (self.upper_finish_deg - self.upper_reach_deg) * self._turn(
            t, self.first + self.lag
        )

    def joints(self, t):
        """(..., 6, 2) metres, x forward, z up from still water, in the order of ``NAMES``."""
        t = np.asarray(t, float)
        a, f = self.upper_arm(t), self.forearm(t)
        flex = np.broadcast_to(self.flex_deg, t.shape)
        shoulder = np.stack([self.speed * t, np.full(t.shape, -self.depth)], -1)
        elbow = shoulder + self.upper * _toward(a)
        wrist = elbow + self.fore * _toward(f)
        tip, knuckle = (wrist + length * _toward(f + flex) for length in (self.hand, self.knuckle))
        hip = shoulder - self.trunk * _toward(np.broadcast_to(self.trunk_deg, t.shape))
        return np.stack([shoulder, elbow, wrist, tip, knuckle, hip], -2)

    @property
    def length(self):
        """Length of the arm."""
        return self.upper + self.fore + self.hand

    def instant(self, state, stroke=0):
        """When a rising state of the joints (..., 6, 2) passes zero in a stroke's pull."""
        start = self.first + stroke * self.period
        return brentq(lambda t: float(state(self.joints(np.array(t)))), start, start + self.pull, xtol=1e-12)

    def forearm_at(self, degrees, stroke=0):
        """When the forearm first points this far down in a stroke."""
        return self.instant(lambda p: inclination(p[1], p[2]) - degrees, stroke)


def _toward(deg):
    return np.stack([np.cos(np.radians(deg)), -np.sin(np.radians(deg))], -1)


def inclination(a, b):
    """Direction a -> b below the horizontal, by the complex argument. [deg]"""
    d = complex(b[0] - a[0], -(b[1] - a[1]))
    return np.degrees(np.angle(d)) % 360 if np.degrees(np.angle(d)) < -90 else np.degrees(np.angle(d))


@dataclass(frozen=True)
class Camera:
    """An ideal side camera: metres to pixels, tilted, swimming to the right or left."""

    px_per_m: float = 400.0
    tilt_deg: float = 0.0
    sign: int = 1
    fps: float = 60.0
    seconds: float = 4.0
    water_px: tuple[float, float] = (900.0, 120.0)
    following: bool = False
    view: str = "side_under"
    place: str = "25 m"
    start: int = 0
    stop: int | None = None
    extra: dict = field(default_factory=dict)

    @property
    def times(self):
        return np.arange(round(self.seconds * self.fps)) / self.fps

    def pixels(self, joints, times, arm):
        """Metres (..., 2) to pixels; a following camera moves with the swimmer's mean speed."""
        x, z = joints[..., 0], joints[..., 1]
        if self.following:
            x = x - arm.speed * np.asarray(times)[..., None]
        along, up = self.sign * x * self.px_per_m, z * self.px_per_m
        c, s = np.cos(np.radians(self.tilt_deg)), np.sin(np.radians(self.tilt_deg))
        return np.stack([along * c + up * s, along * s - up * c], -1) + np.array(self.water_px)

    def shot(self):
        clip = SimpleNamespace(
            n_frames=len(self.times), times=self.times, size=(1920, 1080), path=Path("a.mp4"), times_are_nominal=False
        )
        swim = Swim("a", place=self.place)
        return Shot(
            "shot1", clip, self.view, "right" if self.sign > 0 else "left", self.start,
            self.stop or clip.n_frames, swim, camera="following" if self.following else "still", **self.extra,
        )  # fmt: skip

    def plane(self, **errors):
        scale = {} if errors.pop("no_scale", False) else {"m_per_px": 1 / self.px_per_m}
        # Optics without parts: this camera is known to look square and to bend nothing.
        known = {"optics": Optics(()), "tilt_deg": self.tilt_deg, "water_px": self.water_px}
        return Plane.given(self.sign, **known, **scale, **errors)

    def marks(self, arm, frames=None, sigma_px=2.0, noise_px=0.0, rng=None, points=NAMES, origin=Origin.hand):
        """Marks of the arm on some frames (all by default), with normal noise."""
        frames = np.arange(len(self.times)) if frames is None else np.array(sorted(frames), int)
        t = self.times[frames]
        xy = self.pixels(arm.joints(t), t, arm)
        if noise_px:
            xy = xy + rng.normal(0, noise_px, xy.shape)
        keep = [NAMES.index(p) for p in points]
        return Marks.from_arrays([f"{p}_{arm.side}" for p in points], frames, xy[:, keep], sigma_px, origin)

    def key_stills(self, arm, strokes=(0, 1), moments=(12.0, 45.0, 90.0)):
        """The frame nearest to each moment of each stroke."""
        return sorted({int(np.argmin(np.abs(self.times - arm.forearm_at(m, s)))) for s in strokes for m in moments})


def with_(thing, **changes):
    """The same with some values changed."""
    return replace(thing, **changes)
