"""Clips put together from random set-ups whose truth is known, marked with a known error and measured.

Truth comes from the demo's own path, which shares nothing with the measuring code: every joint is carried along its
line of sight onto the arm's own plane (lengths and angles as seen), or left in space (angles in space), and each
instant is solved from the continuous pose.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
from coverage_of import Mean, Value

from casebook.checkpoints.bands import load_bands
from casebook.checkpoints.catch import measure_catch
from casebook.checkpoints.finding import Finding
from casebook.clip.shot import Shot
from casebook.demo.sampler import ARM, SampledSetUps, sample_setups
from casebook.demo.surface import WATER_INDEX
from casebook.marks.marks import Marks, Origin
from casebook.plane.optics import Optics
from casebook.plane.plane import Plane
from casebook.plane.port import FlatPort
from casebook.plane.unsquare import NotSquare

BANDS = load_bands("triathlete")
#: Between the set-ups of a clip nothing is filmed. [s]
PAUSE_S = 3.0


@dataclass(frozen=True)
class Marking:
    """How a coach marks: every frame or key stills, with how large an error, by hand or along a track."""

    stills: bool = False
    noise_px: tuple[float, float] = (1.0, 4.0)
    memory_s: float = 0.0


@dataclass(frozen=True)
class Filming:
    """What is wrong with the clips, drawn at random.

    Ranges of arm bank [deg] and of the scale's relative error (a known length at a wrongly judged distance), how far
    off square the camera looks [deg], the share behind a flat window and the share of those that are corrected, with
    focal length and distance wrong by their stated errors.
    """

    bank_deg: tuple[float, float] = (0.0, 0.0)
    scale: tuple[float, float] = (0.005, 0.03)
    off_square_deg: float = 0.0
    port: float = 0.0
    corrected: float = 0.5

    @property
    def plain(self) -> bool:
        return not (self.off_square_deg or self.port)


#: Roll carries the arm under the body by up to 60 degrees or lets it go wide, scales are 1 to 5 % wrong.
ROUGH = Filming((-15.0, 60.0), (0.01, 0.05), 3.0, 0.6)


@dataclass(frozen=True)
class SampledClip:
    """Four or more set-ups of one arm before one camera: ``rows`` of the sample, and when each starts. [s]"""

    sampled: SampledSetUps
    rows: Any
    starts: Any
    shot: Shot
    marks: Marks
    plane: Plane

    def row_of(self, stroke) -> int:
        """The sample's row of a measured stroke."""
        return int(self.rows[round((stroke.set_up.arm.clock[0] - self.starts[0]) / PAUSE_S)])


def clips(n, seed, marking, filming=Filming()):
    """Clips of ``n`` sampled set-ups, each with its own marking error and its own wrong plane."""
    sampled = sample_setups(
        n, seed, bank_deg=filming.bank_deg, off_square_deg=filming.off_square_deg, behind_port=filming.port
    )
    rng = np.random.default_rng(seed + 1)
    for group in np.unique(sampled.group):
        how = marking if isinstance(marking, Marking) else marking[int(group) % len(marking)]
        yield _clip(rng, sampled, np.flatnonzero(sampled.group == group), how, filming)


def measure(quantities):
    """A measuring function for ``coverage_of.simulate``."""

    def measured(clip):
        catch = measure_catch(clip.shot, clip.marks, clip.plane, bands=BANDS)
        rows = {s.number: clip.row_of(s) for s in catch.strokes}
        for finding in catch.results:
            if not isinstance(finding, Finding) or finding.quantity not in quantities:
                continue
            for v in finding.strokes:
                yield Value(finding.quantity, rows[v.stroke], v.value, v.sigma, v.common)
            strokes = tuple(rows[v.stroke] for v in finding.strokes)
            yield Mean(finding.quantity, strokes, finding.value, finding.these.half)
        for quantity in quantities:
            got = {
                v.stroke for f in catch.results if isinstance(f, Finding) and f.quantity == quantity for v in f.strokes
            }
            for number in rows.keys() - got:
                yield Value(quantity, rows[number], np.nan, np.nan, np.nan)

    return measured


def truth(clip, quantity, row):
    """Plane truth of what is seen, truth in space of what is in space."""
    known = clip.sampled.space if quantity in clip.sampled.space else clip.sampled.values
    return float(known[quantity][row])


def _clip(rng, sampled: SampledSetUps, rows, marking, filming):
    first = rows[0]
    counts = [int(np.isfinite(sampled.times[s]).sum()) for s in rows]
    starts = PAUSE_S * np.arange(1, len(rows) + 1)
    parts = [sampled.times[s, :k] - sampled.times[s, 0] + at for s, k, at in zip(rows, counts, starts, strict=True)]
    step = 1 / sampled.fps[first]
    times = np.concatenate([np.arange(3) * step, *parts, parts[-1][-1] + PAUSE_S + np.arange(3) * step])
    noise = rng.uniform(*marking.noise_px)
    marks = _marks(rng, sampled, rows, counts, marking, noise)
    return SampledClip(
        sampled, rows, starts, _shot(sampled, first, times), marks, _plane(rng, sampled, first, noise, filming)
    )


def _shot(sampled, first, times):
    clip = SimpleNamespace(
        n_frames=len(times), times=times, size=tuple(sampled.size[first]), path=Path("a.mp4"), times_are_nominal=False
    )
    direction = "right" if sampled.sign[first] > 0 else "left"
    return Shot("sampled", clip, "side_under", direction, 0, len(times), camera=str(sampled.camera[first]))


def _marks(rng, sampled, rows, counts, marking, noise):
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


def _plane(rng, sampled, first, noise, filming):
    scale, tilt = rng.uniform(*filming.scale), rng.uniform(0.1, 0.6)
    plane = Plane.given(
        int(sampled.sign[first]),
        m_per_px=1 / sampled.px_per_m[first],
        scale_sigma=scale,
        tilt_deg=sampled.tilt_deg[first],
        tilt_sigma_deg=tilt,
        water_px=sampled.water_px[first],
        optics=Optics(()) if filming.plain else _optics(rng, sampled, first, filming),
    )
    off = rng.normal(0, [scale, np.radians(tilt), 0])
    return plane.shifted(off) if noise else plane


def _optics(rng, sampled, first, filming):
    """What the coach knows of lens and window: nothing, or a window with wrong focal length and distance."""
    size = tuple(int(v) for v in sampled.size[first])
    if not sampled.behind_port[first] or rng.random() > filming.corrected:
        return Optics((NotSquare.of_size(size),))
    focal = sampled.px_per_m[first] * sampled.distance_m[first] / WATER_INDEX
    centre = (np.array(size) - 1) / 2
    wrong = np.exp(rng.normal(0, [0.05, 0.10]))
    port = FlatPort(focal * wrong[0], centre, sampled.distance_m[first] * wrong[1], behind_m=0.0, glass_m=0.0)
    return Optics((port, NotSquare(focal * WATER_INDEX, centre, rim_sigma=0.0)))
