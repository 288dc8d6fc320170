"""The stroke in time over ten minutes at 60 pictures a second, beside the bare operations it needs; asserts no time."""

from __future__ import annotations

import sys
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from casebook.clip.shot import Shot
from casebook.marks.marks import Marks, Origin
from casebook.marks.points import POINTS
from casebook.marks.smooth import butterworth
from casebook.plane.plane import Plane
from casebook.stroke.coordination import coordination
from casebook.stroke.front_arm import front_hands, other_arms
from casebook.stroke.phases import phases
from casebook.stroke.speed import cycle_ways, hip_path, swings
from casebook.stroke.strokes import strokes_of
from casebook.stroke.tempo import rate_of_moments, rate_of_track

sys.path[:0] = [str(Path(__file__).resolve().parent), str(Path(__file__).resolve().parent.parent / "stroke")]

FRAMES, FPS, NAMES = 36_000, 60.0, POINTS[:24]


def long_swim(frames):
    """One cycle of the demo swimmer over and over, 24 points, with noise."""
    from filmed_swimmer import Film

    from casebook.demo.swimmer import Swimmer

    film = Film(Swimmer(rate=45.0), seconds=8.0, unrolled=True, sigma_px=0.0)
    truth, marks, _, plane = film.make()
    cycle = round(film.swimmer.period_s * FPS)
    rows = np.arange(frames) % cycle + 60
    xy = marks.pick(NAMES).xy[rows]
    # Whole cycles further on for each time round.
    step = plane.sign * film.swimmer.speed * film.swimmer.period_s / plane.m_per_px
    xy = xy + (np.arange(frames) // cycle * step)[:, None, None] * np.array([1.0, 0.0])
    xy = xy + np.random.default_rng(0).normal(0, 1.0, xy.shape)
    long = Marks.from_arrays(NAMES, np.arange(frames), xy, 1.0, Origin.tracked)
    times = np.arange(frames) / FPS
    clip = SimpleNamespace(n_frames=frames, times=times, size=(1280, 720), path=None, times_are_nominal=False)
    flat = Plane.given(plane.sign, m_per_px=plane.m_per_px, water_px=plane.water_px)
    return Shot("a", clip, "side_split", truth.camera.direction, 0, frames, camera="still"), long, flat


def everything(shot, marks, plane):
    """All of the stroke in time; returns how many whole strokes there were."""
    arms = {side: strokes_of(shot, marks, plane, side) for side in "lr"}
    for start in ("past_body", "catch"):
        coordination(arms["l"], arms["r"], start)
        for side in "lr":
            phases(arms[side], start)
    for own, other in ("lr", "rl"):
        front_hands(shot, marks, plane, arms[own], arms[other])
        other_arms(arms[own], arms[other])
    rate_of_moments([m for side in "lr" for s in arms[side] for m in s.found if m.event == "entry"])
    rate_of_track(shot, marks, "r")
    path = hip_path(shot, marks, plane, "r")
    cycle_ways(path, arms["r"])
    swings(path, arms["r"])
    return sum(np.isfinite(s.duration_s) for side in "lr" for s in arms[side])


def bare(marks):
    """The numpy and scipy underneath: local cubics of four points of both arms, a filter, one spectrum."""
    from scipy.signal import savgol_filter

    columns = marks.xy[:, :16].reshape(len(marks.frames), -1)
    for width in (7, 11, 15):
        savgol_filter(columns, width, 3, deriv=1, axis=0)
    butterworth(marks.xy[:, 0, 0], np.arange(len(marks.frames)) / FPS)
    np.abs(np.fft.rfft(columns[:, :6], axis=0))


@pytest.mark.bench
def test_cost_of_the_stroke_in_time_of_ten_minutes(capsys):
    from test_body_bench import best, works_of

    shot, marks, plane = long_swim(FRAMES)
    strokes = everything(shot, marks, plane)
    works, bare_body = works_of(0.0)
    told = {"arms": best(lambda: everything(shot, marks, plane))} | {name: best(work) for name, work in works.items()}
    floor = best(lambda: bare(marks))[0] + best(bare_body)[0]
    clock, alone = (sum(t[k] for t in told.values()) for k in (0, 1))
    with capsys.disabled():
        each = ", ".join(f"{name} {t[0]:.2f}" for name, t in told.items())
        print(
            f"\n{FRAMES} frames x {len(NAMES)} points, {strokes} whole strokes: {each}; together {clock:.2f} s by the "
            f"clock, {alone:.2f} s of one processor; {clock / floor:.1f} times the bare operations ({floor:.2f} s)",
            end="",
        )
    assert strokes > 800
