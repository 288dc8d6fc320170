"""A leg in the side plane whose motion is written down: hip, knee and ankle angles as sines of one phase."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from casebook.stroke.kick import leg_points
from casebook.stroke.points import Points


@dataclass(frozen=True)
class MadeLeg:
    """Thigh and shank swing about the line of a trunk that is inclined; all angles in degrees, lengths in metres."""

    thigh: float = 0.44
    shank: float = 0.44
    trunk: float = 0.50
    tilt: float = 6.0
    thigh_mean: float = 8.0
    thigh_swing: float = 9.0
    knee_bend: float = 40.0
    foot: float = 25.0
    kicks_per_s: float = 2.2

    def joints(self, t):
        """hip, knee, ankle, heel, toe, shoulder at times (T,): (T, 6, 2) forward and up."""
        phase = 2 * np.pi * self.kicks_per_s * np.asarray(t)
        thigh = self.thigh_mean + self.thigh_swing * np.sin(phase)
        bend = 0.5 * self.knee_bend * (1 + np.sin(phase + 1.2))
        shank = thigh - bend
        hip = np.stack([0.3 * np.sin(phase / 7), -0.15 + 0 * phase], -1)
        knee = hip + self.thigh * back(thigh + self.tilt)
        ankle = knee + self.shank * back(shank + self.tilt)
        sole = back(shank + self.tilt + self.foot)
        shoulder = hip - self.trunk * back(self.tilt + 0 * phase)
        return np.stack([hip, knee, ankle, ankle - 0.05 * sole, ankle + 0.18 * sole, shoulder], -2)


def back(below):
    """Unit vector that runs backward, ``below`` degrees under the horizontal."""
    a = np.radians(below)
    return np.stack([-np.cos(a), -np.sin(a)], -1)


def marked(joints, t, px_per_m=400.0, sigma=2.0, noise=0.0, side="r", seed=0, by_hand=True):
    """Marks of a leg in level pixels."""
    level = joints * px_per_m + np.random.default_rng(seed).normal(0, noise, joints.shape) * (noise > 0)
    shape = level.shape[:2]
    return Points(
        leg_points(side), np.arange(len(t)), t, True, float(t[1] - t[0]), level, level, np.full(shape, sigma),
        np.full(shape, by_hand), np.zeros(shape, bool),
    )  # fmt: skip
