"""Legs, head and roll over ten minutes at 60 pictures a second, beside the bare operations that they need."""

from __future__ import annotations

import time
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.signal import find_peaks, savgol_filter

from casebook.stroke import roll as rolls
from casebook.stroke.beats import beats_of
from casebook.stroke.body import cycle_means
from casebook.stroke.breath import breaths_of
from casebook.stroke.head import FACE, face_turn
from casebook.stroke.kick import kicks_of, leg_of, leg_points
from casebook.stroke.kick_timing import meeting
from casebook.stroke.points import Points

pytestmark = pytest.mark.bench

N = 36_000
T = np.arange(N) / 60
STARTS = np.arange(0, T[-1], 1.35)


def points(names, gaps=0.0, seed=0):
    rng = np.random.default_rng(seed)
    turn = 2 * np.pi * T[:, None, None] / 1.35
    level = 300 * rng.normal(size=(1, len(names), 2)) + 60 * np.sin(3 * turn + np.arange(len(names))[:, None])
    level = level + rng.normal(0, 1.5, level.shape)
    level[rng.random(level.shape[:2]) < gaps] = np.nan
    shape = level.shape[:2]
    known = np.isfinite(level).all(-1)
    return Points(
        tuple(names),
        np.arange(N),
        T,
        True,
        1 / 60,
        level,
        level,
        np.where(known, 2.0, np.nan),
        np.full(shape, True),
        ~known,
    )


def best(work, repeats=3):
    """Shortest of a few runs: by the clock, and by the processor alone, which other programs do not lengthen. [s]"""
    times = []
    for _ in range(repeats):
        start = time.perf_counter(), time.process_time()
        work()
        times.append((time.perf_counter() - start[0], time.process_time() - start[1]))
    return tuple(map(min, zip(*times, strict=True)))


def works_of(gaps):
    """Kick, roll and face of ten minutes, and the bare operations under them."""
    leg_marks, roll_marks, face_marks = points(leg_points("r"), gaps), points(rolls.POINTS, gaps), points(FACE, gaps)
    side = SimpleNamespace(view="side_under", clip=SimpleNamespace(size=(1920, 1080)))
    front = SimpleNamespace(view="front_under", clip=SimpleNamespace(size=(1920, 1080)))

    def kick():
        leg = leg_of(leg_marks, "r")
        found = kicks_of(leg)
        beats_of(T, leg.height, leg.height_sigma, STARTS, 1 / 60)
        return meeting(found, "l", "catch", STARTS + 0.4)

    def roll():
        found = rolls.roll_of(front, roll_marks)
        rolls.peaks_of(found, "hip")
        rolls.ranges(found, STARTS, "twist")
        return rolls.cycles_of(found)

    def face():
        breaths_of(face_turn(side, face_marks, "r"))
        return cycle_means(T, face_marks.level[:, 0], face_marks.sigma_px[:, 0], STARTS)

    def bare():
        flat = np.nan_to_num(np.concatenate([m.level for m in (leg_marks, roll_marks, face_marks)], 1).reshape(N, -1))
        smooth = savgol_filter(flat, 7, 2, axis=0)
        for column in (smooth[:, 1], smooth[:, 3]):
            find_peaks(column, prominence=5)
            find_peaks(-column, prominence=5)

    return {"kick": kick, "roll": roll, "face": face}, bare


@pytest.mark.parametrize("gaps", [0.0, 0.05])
def test_ten_minutes_of_body_beside_the_bare_operations(gaps):
    works, bare = works_of(gaps)
    base = best(bare)[0]
    told = {name: best(work)[0] for name, work in works.items()}
    each = ", ".join(f"{name} {1000 * t:.0f} ms ({t / base:.1f} x)" for name, t in told.items())
    print(
        f"\n{N} frames, {100 * gaps:.0f} % gaps: bare {1000 * base:.0f} ms; {each}; together {sum(told.values()):.2f} s"
    )
