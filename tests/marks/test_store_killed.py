"""A program that marks is killed at random moments; whatever it was told was saved is there."""

from __future__ import annotations

import multiprocessing
import random
import struct
import time
from pathlib import Path

import numpy as np

from casebook.marks.marks import Marks, Origin
from casebook.marks.store import MarkStore

TIMES = np.arange(40) / 25
KILLS = 120
ACK = struct.Struct("<qq")


def mark_for_ever(folder: Path, first: int) -> None:
    """Place ever larger numbers on frames in turn, writing down each only when the store says that it is saved.

    Opens and closes in between, so that a kill also meets the folding of the journal into the CSV.
    """
    number = first
    with (folder / "told").open("ab", buffering=0) as told:
        while True:
            store = MarkStore(folder / "front.csv", TIMES, by="JS")
            for _ in range(4):
                number += 1
                store.put(number % 20, "elbow_l", float(number), 0.0)
                told.write(ACK.pack(number % 20, number))
            number += 1
            many = Marks.from_arrays(("elbow_l",), range(20, 40), np.full((20, 1, 2), number), origin=Origin.tracked)
            store.put_marks(many)
            told.write(b"".join(ACK.pack(frame, number) for frame in range(20, 40)))
            store.close()


def told_so_far(folder: Path) -> dict[int, int]:
    """Last number that was acknowledged for each frame."""
    raw = (folder / "told").read_bytes()
    return dict(ACK.iter_unpack(raw[: len(raw) // ACK.size * ACK.size]))


def start(folder: Path, first: int) -> multiprocessing.process.BaseProcess:
    """A writer that has begun to write."""
    before = (folder / "told").stat().st_size
    writer = CONTEXT.Process(target=mark_for_ever, args=(folder, first), daemon=True)
    writer.start()
    deadline = time.monotonic() + 60
    while (folder / "told").stat().st_size == before:
        assert writer.is_alive() and time.monotonic() < deadline, "the writer never wrote"
        time.sleep(0.001)
    return writer


def test_nothing_acknowledged_is_lost_when_the_writer_is_killed(tmp_path):
    moments = random.Random(20)
    (tmp_path / "told").touch()
    left_journal = 0
    for turn in range(KILLS):
        writer = start(tmp_path, first=1_000_000 * turn)
        time.sleep(moments.uniform(0, 0.04))
        writer.kill()
        writer.join()
        assert writer.exitcode != 0
        told = told_so_far(tmp_path)
        left_journal += (tmp_path / "front.journal").exists()
        # Every other time the next writer finds the leftovers, and not this reader.
        if turn % 2:
            continue
        found = MarkStore(tmp_path / "front.csv", TIMES).marks
        saved = {int(f): int(x) for f, x in zip(found.frames, found.xy[:, 0, 0], strict=True)}
        lost = {f: (told[f], saved.get(f)) for f in told if saved.get(f, -1) < told[f]}
        assert not lost, f"turn {turn}: frame: (told, found) {lost}"
        assert max(saved.values()) <= max(told.values()) + 1
    assert left_journal, "no kill came in the middle of a session; the test shows nothing"
    assert set(range(20, 40)) < set(told)


def place_all(folder: Path, point: str) -> None:
    """Place one point on every frame, each of 8 times in a session of its own, and undo one mark in between."""
    for turn in range(8):
        with MarkStore(folder / "front.csv", TIMES, by=point[-1]) as store:
            for frame in range(len(TIMES)):
                store.put(frame, point, float(turn), float(frame))
            store.put(0, point, -1.0, -1.0)
            store.undo()


def test_programs_that_write_at_the_same_time_lose_nothing(tmp_path):
    points = ("elbow_l", "elbow_r", "wrist_l")
    writers = [CONTEXT.Process(target=place_all, args=(tmp_path, point), daemon=True) for point in points]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join(60)
        assert writer.exitcode == 0
    marks = MarkStore(tmp_path / "front.csv", TIMES).marks
    assert marks.points == points and len(marks.frames) == len(TIMES)
    assert (marks.xy[..., 0] == 7).all()
    assert (marks.xy[..., 1] == np.arange(len(TIMES))[:, None]).all()
    assert not (tmp_path / "front.journal").exists()


# Where it exists, a server process that has imported everything makes a new writer in milliseconds.
CONTEXT = multiprocessing.get_context(
    "forkserver" if "forkserver" in multiprocessing.get_all_start_methods() else "spawn"
)
if CONTEXT.get_start_method() == "forkserver":
    CONTEXT.set_forkserver_preload(["casebook.marks.store"])
