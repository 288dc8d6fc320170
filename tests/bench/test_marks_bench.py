"""What marks cost in a long clip against a short one; prints, asserts no time."""

from __future__ import annotations

import time
from pathlib import Path

import numpy as np
import pytest

from casebook.marks.marks import Marks, Origin
from casebook.marks.points import POINTS
from casebook.marks.store import MarkStore

STEPS = ("place all", "place one", "after 1000", "read out", "close", "open")
PUTS = 200


def timed(act) -> float:
    began = time.perf_counter()
    act()
    return time.perf_counter() - began


def costs(path: Path, n_frames: int) -> list[float]:
    """Seconds that each of ``STEPS`` takes with 24 points marked on every frame.

    Single marks go to frames all over the clip; "after 1000" is one of them once the journal holds 1000 more.
    """
    times = np.arange(n_frames) / 60
    track = Marks.from_arrays(POINTS[:24], np.arange(n_frames), np.ones((n_frames, 24, 2)), origin=Origin.tracked)
    store = MarkStore(path, times)
    frames = np.random.default_rng(5).integers(0, n_frames, 1000 + 2 * PUTS).tolist()

    def place(part: slice) -> None:
        for i, frame in enumerate(frames[part]):
            store.put(frame, "elbow_l", 1.0, float(i))

    taken = [
        timed(lambda: store.put_marks(track)),
        timed(lambda: place(slice(PUTS))) / PUTS,
    ]
    place(slice(PUTS, -PUTS))
    taken += [
        timed(lambda: place(slice(-PUTS, None))) / PUTS,
        timed(lambda: store.marks),
        timed(store.close),
        timed(lambda: MarkStore(path, times)),
    ]
    assert store.marks.n_marked == 24 * n_frames
    return taken


@pytest.mark.bench
def test_costs_of_marking_a_short_and_a_long_clip(tmp_path, capsys):
    """300 frames (5 s at 60) against 36,000 (10 min)."""
    short, long = costs(tmp_path / "short.csv", 300), costs(tmp_path / "long.csv", 36_000)
    with capsys.disabled():
        for name, a, b in zip(STEPS, short, long, strict=True):
            print(f"\n{name:10s} {1e3 * a:8.2f} ms, in the long clip {b / a:7.1f} times that", end="")
