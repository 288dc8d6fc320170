"""What a demo swimmer's legs, head and trunk really do, on a fine grid of time and by formulas of its own."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.signal import argrelextrema

FINE_S = 0.004


def between_deg(u, v):
    """Angle between directions, by the arccosine. [deg]"""
    cos = (u * v).sum(-1) / np.sqrt((u * u).sum(-1) * (v * v).sum(-1))
    return np.degrees(np.arccos(np.clip(cos, -1, 1)))


@dataclass(frozen=True)
class TrueKicks:
    """Kicks of one leg as the side plane has them, from lowest to lowest ankle."""

    times: np.ndarray
    height: np.ndarray
    bottoms: np.ndarray
    tops: np.ndarray
    knee: np.ndarray
    thigh: np.ndarray
    foot: np.ndarray

    def kick(self, bottom_s):
        """Of the kick that ends then: travel, least knee, most thigh, mean foot, middle of its downbeat."""
        k = int(np.argmin(np.abs(self.times[self.bottoms] - bottom_s)))
        if k == 0:
            return None
        first, last = self.bottoms[k - 1], self.bottoms[k]
        top = first + int(np.argmax(self.height[first : last + 1]))
        span = slice(first, last + 1)
        half = (self.height[top] + self.height[last]) / 2
        down = top + int(np.argmax(self.height[top : last + 1] <= half))
        return (
            self.height[top] - self.height[last], self.knee[span].min(), self.thigh[span].max(),
            self.foot[first:last].mean(), self.times[down],
        )  # fmt: skip


def true_kicks(swimmer, side, seconds):
    """Kicks in the side plane (x forward, z up), seen square from the side."""
    t = np.arange(0, seconds, FINE_S)
    joints = swimmer.joints(t)
    hip, knee, ankle, heel, toe, shoulder = (
        joints[f"{n}_{side}"][:, [0, 2]] for n in ("hip", "knee", "ankle", "heel", "toe", "shoulder")
    )
    height = ankle[:, 1] - hip[:, 1]
    order = int(0.08 / FINE_S)
    # The trunk's line: the mean over 1.4 s around each instant.
    width = round(1.4 / FINE_S)
    line = np.stack([np.convolve((shoulder - hip)[:, i], np.ones(width) / width, "same") for i in (0, 1)], -1)
    slope = np.degrees(np.arctan2(line[:, 1], line[:, 0]))
    thigh = np.degrees(np.arctan2(hip[:, 1] - knee[:, 1], hip[:, 0] - knee[:, 0])) - slope
    shank, sole = ankle - knee, toe - heel
    hooked = np.sign(shank[:, 0] * sole[:, 1] - shank[:, 1] * sole[:, 0])
    return TrueKicks(
        t, height, argrelextrema(height, np.less, order=order)[0], argrelextrema(height, np.greater, order=order)[0],
        between_deg(hip - knee, ankle - knee), thigh, hooked * between_deg(shank, sole),
    )  # fmt: skip


def true_phase(true, instants):
    """Phase of the kick at instants: 0 at the middle of a downbeat. [deg]"""
    middles = [k[4] for k in (true.kick(b) for b in true.times[true.bottoms]) if k is not None]
    return 360 * (np.interp(instants, middles, np.arange(len(middles))) % 1)


def true_breaths(swimmer, seconds, degrees=45.0, most=110.0):
    """Start, end and side of every turn of the face past so many degrees, by the pose's own breath."""
    t = np.arange(0, seconds, FINE_S)
    m = swimmer.measures(t)
    out = []
    for side in "lr":
        turned = most * m[f"breath_{side}"] > degrees
        edges = np.flatnonzero(np.diff(turned.astype(int)))
        starts, ends = edges[turned[edges + 1]], edges[~turned[edges + 1]]
        out += [(t[a], float(t[ends[ends > a][0]]), side) for a in starts if (ends > a).any()]
    return sorted(out)
