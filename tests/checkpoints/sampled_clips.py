"""Clips put together from random set-ups whose plane truth is known, marked with a known error and measured.

Truth comes from the demo's own path, which shares nothing with the measuring code: every joint is carried along its
line of sight onto the arm's own plane, and each instant is solved from the continuous pose.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from types import SimpleNamespace

import numpy as np

from casebook.checkpoints.bands import load_bands
from casebook.checkpoints.catch import measure_catch
from casebook.checkpoints.finding import Finding
from casebook.clip.shot import Shot
from casebook.demo.sampler import ARM, SampledSetUps, sample_setups
from casebook.marks.marks import Marks, Origin
from casebook.plane.plane import Plane

BANDS = load_bands("triathlete")
#: Between the set-ups of a clip nothing is filmed. [s]
PAUSE_S = 3.0


@dataclass(frozen=True)
class Marking:
    """How a coach marks: every frame or key stills, with how large an error, by hand or along a track."""

    stills: bool = False
    noise_px: tuple[float, float] = (1.0, 4.0)
    memory_s: float = 0.0


@dataclass
class Tally:
    """What came out, per quantity: of strokes (error, sigma, noise), of findings (error of the mean, half interval)."""

    strokes: dict = field(default_factory=dict)
    findings: dict = field(default_factory=dict)
    true: int = 0
    found: int = 0

    def covered(self, quantity):
        """Share of strokes whose 95 % interval holds the truth."""
        error, sigma, _ = np.array(self.strokes[quantity]).T
        return float(np.mean(np.abs(error) < 1.959964 * sigma))

    def covered_findings(self, quantity):
        """Share of findings whose interval of these strokes holds the true mean of these strokes."""
        error, half = np.array(self.findings[quantity]).T
        return float(np.mean(np.abs(error) < half))

    def row(self, quantity):
        """One line of the printed table."""
        error, sigma, noise = np.array(self.strokes[quantity]).T
        by_noise = []
        for low in (1, 2, 3):
            inside = (noise >= low) & (noise < low + 1)
            if inside.any():
                by_noise.append(f"{100 * np.mean(np.abs(error[inside]) < 1.959964 * sigma[inside]):.1f}")
        half = np.array(self.findings[quantity])[:, 1]
        return (
            f"{quantity:22s} strokes {len(error):5d}  covered {100 * self.covered(quantity):5.1f} %  "
            f"half mean {1.96 * sigma.mean():6.3f} median {1.96 * np.median(sigma):6.3f}  bias {error.mean():+7.4f}  "
            f"by noise 1, 2, 3 px up: {', '.join(by_noise)}  | of {len(half)} findings "
            f"{100 * self.covered_findings(quantity):.1f} %, half width {half.mean():.3f}"
        )


def simulate(n, seed, marking, quantities):
    """Measure ``n`` sampled set-ups, four to a clip, each clip with its own marking error and its own wrong plane."""
    sampled = sample_setups(n, seed)
    rng = np.random.default_rng(seed + 1)
    tally = Tally({q: [] for q in quantities}, {q: [] for q in quantities})
    for group in np.unique(sampled.group):
        _one_clip(rng, tally, sampled, np.flatnonzero(sampled.group == group), marking)
    return tally


def _one_clip(rng, tally, sampled: SampledSetUps, rows, marking):
    first = rows[0]
    counts = [int(np.isfinite(sampled.times[s]).sum()) for s in rows]
    starts = PAUSE_S * np.arange(1, len(rows) + 1)
    parts = [sampled.times[s, :k] - sampled.times[s, 0] + at for s, k, at in zip(rows, counts, starts, strict=True)]
    step = 1 / sampled.fps[first]
    times = np.concatenate([np.arange(3) * step, *parts, parts[-1][-1] + PAUSE_S + np.arange(3) * step])
    shot = _shot(sampled, first, times)
    noise = rng.uniform(*marking.noise_px)
    marks = _marks(rng, sampled, rows, counts, marking, noise, times)
    plane = _plane(rng, sampled, first, noise)
    catch = measure_catch(shot, marks, plane, bands=BANDS)
    expected = {}
    for stroke in catch.strokes:
        which = round((stroke.set_up.arm.clock[0] - starts[0]) / PAUSE_S)
        expected[stroke.number] = rows[which]
    tally.true += len(rows)
    tally.found += len(set(expected.values()))
    for finding in catch.results:
        if isinstance(finding, Finding) and finding.quantity in tally.strokes:
            _compare(tally, sampled, finding, expected, noise)


def _shot(sampled, first, times):
    clip = SimpleNamespace(
        n_frames=len(times), times=times, size=tuple(sampled.size[first]), path=Path("a.mp4"), times_are_nominal=False
    )
    direction = "right" if sampled.sign[first] > 0 else "left"
    return Shot("sampled", clip, "side_under", direction, 0, len(times), camera=str(sampled.camera[first]))


def _marks(rng, sampled, rows, counts, marking, noise, times):
    places, frames, at = [], [], 3
    for s, count in zip(rows, counts, strict=True):
        xy = sampled.xy[s, :count] + noise * _wobble(rng, (count, len(ARM), 2), marking, sampled.fps[s])
        keep = np.arange(count)
        if marking.stills:
            under = np.searchsorted(sampled.times[s, :count], sampled.instants["under_shoulder"][s])
            keep = np.unique([*sampled.key_rows[s], under])
        places.append(xy[keep])
        frames.append(at + keep)
        at += count
    origin = Origin.tracked if marking.memory_s else Origin.hand
    names = [f"{name}_{sampled.side[rows[0]]}" for name in ARM]
    return Marks.from_arrays(names, np.concatenate(frames), np.concatenate(places), max(noise, 0.01), origin)


def _wobble(rng, shape, marking, fps):
    """Normal noise of variance one; along a track it keeps a correlation of exp(-time / memory)."""
    out = rng.normal(size=shape)
    if marking.memory_s:
        keep = np.exp(-1 / fps / marking.memory_s)
        for k in range(1, len(out)):
            out[k] = keep * out[k - 1] + np.sqrt(1 - keep**2) * out[k]
    return out


def _plane(rng, sampled, first, noise):
    scale, tilt = rng.uniform(0.005, 0.03), rng.uniform(0.1, 0.6)
    plane = Plane.given(
        int(sampled.sign[first]),
        m_per_px=1 / sampled.px_per_m[first],
        scale_sigma=scale,
        tilt_deg=sampled.tilt_deg[first],
        tilt_sigma_deg=tilt,
        water_px=sampled.water_px[first],
    )
    return plane.shifted(rng.normal(0, [scale, np.radians(tilt), 0])) if noise else plane


def _compare(tally, sampled, finding, expected, noise):
    pairs = []
    for v in finding.strokes:
        true = sampled.values[finding.quantity][expected[v.stroke]]
        if np.isfinite(true):
            pairs.append((v.value, true))
            tally.strokes[finding.quantity].append((v.value - true, np.hypot(v.sigma, v.common), noise))
    if pairs and len(pairs) == len(finding.strokes):
        mean = np.mean(pairs, 0)
        tally.findings[finding.quantity].append((mean[0] - mean[1], finding.these.half))
