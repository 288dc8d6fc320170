"""What is done over a stretch of frames from the tool: which one, what becomes of its marks, and one step to undo."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
import pytest

from casebook.clip.clip import Clip
from casebook.errors import CasebookError
from casebook.marks.marks import Marks, Origin
from casebook.marks.progress import Tell
from casebook.marks.store import MarkStore
from casebook.widgets.bench import Bench, Finds
from casebook.widgets.frame_marker import FrameMarker
from casebook.widgets.stretch import around, between_own, unseen_run
from casebook.widgets.worker import Stopped, Worker

POINTS = ("elbow_l", "elbow_r", "wrist_r")


def line(points: Sequence[str], frames: Sequence[int], origin: Origin, x: float = 0.0) -> Marks:
    xy = np.stack(
        [np.full((len(frames), len(points)), x) + np.array(frames)[:, None], np.full((len(frames), len(points)), 9.0)],
        -1,
    )
    return Marks.from_arrays(points, frames, xy, 3.0, origin)


def straight(origin: Origin) -> Callable[[Sequence[str], range], Callable[[Tell], Finds]]:
    """A job that finds each point on every frame, telling each."""

    def prepare(points: Sequence[str], frames: range) -> Callable[[Tell], Finds]:
        def job(tell: Tell) -> Finds:
            for n in range(len(frames)):
                tell(n + 1, len(frames))
            return Finds(line(points, list(frames), origin), "as was asked")

        return job

    return prepare


@pytest.fixture
def tool(heron: Clip, store: MarkStore) -> FrameMarker:
    work = {"follow": straight(Origin.tracked), "draft": straight(Origin.drafted)}
    return FrameMarker(heron, store, points=POINTS, bench=Bench(work=work))


def wish(tool: FrameMarker, do: str, **more: Any) -> dict[str, Any]:
    heard: list[dict[str, Any]] = []
    tool.send = lambda content, buffers=None: heard.append(content)
    tool._handle_custom_msg({"do": do, "view": "v", "seq": 1, **more}, [])
    return heard[-1]


def origins(store: MarkStore, point: str) -> dict[int, str]:
    return {
        int(f): Origin(o[0]).name
        for f, o in zip(store.marks.frames, store.marks.pick([point]).origin, strict=True)
        if o[0]
    }


# ---- which stretch


def test_the_stretch_runs_from_the_coachs_last_mark_to_his_next(store: MarkStore) -> None:
    store.put_marks(line(["elbow_r"], [4, 12, 20], Origin.hand))
    store.put_marks(line(["elbow_r"], [5, 6], Origin.tracked))
    store.put_marks(line(["wrist_r"], [2, 15], Origin.confirmed))
    marks = store.marks
    assert between_own(marks, ["elbow_r"], 6) == (4, 12)
    assert between_own(marks, ["elbow_r"], 12) == (12, 20), "a mark here opens what follows"
    assert between_own(marks, ["elbow_r"], 20) == (12, 20), "the last one closes what lies before"
    assert between_own(marks, ["elbow_r", "wrist_r"], 6) == (2, 15), "the widest of several points"
    assert between_own(marks, ["elbow_r"], 2) is None and between_own(marks, ["elbow_l"], 6) is None


def test_the_run_of_marks_that_nobody_looked_at_ends_at_gaps_and_own_marks(store: MarkStore) -> None:
    store.put_marks(line(["elbow_r"], [3, 4, 5, 8, 9], Origin.drafted))
    store.put_marks(line(["wrist_r"], [6], Origin.tracked))
    store.put(5, "elbow_r", 1, 1)
    marks = store.marks
    assert unseen_run(marks, ["elbow_r"], 4) == (3, 4)
    assert unseen_run(marks, ["elbow_r", "wrist_r"], 6) == (6, 6)
    assert unseen_run(marks, ["elbow_r"], 5) is None and unseen_run(marks, ["elbow_r"], 7) is None


def test_around_a_frame_is_meant_in_seconds() -> None:
    times = np.array([0, 0.5, 1.0, 1.1, 1.2, 3.0])
    assert around(times, 2, 0, 6, 0.3) == (2, 4)
    assert around(times, 2, 0, 6, 0.5) == (1, 4)
    assert around(times, 2, 2, 4, 9.0) == (2, 3)


# ---- accept, swap, take off


def test_a_point_is_accepted_here_or_over_its_run(tool: FrameMarker, store: MarkStore) -> None:
    store.put_marks(line(["elbow_r", "wrist_r"], [3, 4, 5, 8], Origin.drafted))
    wish(tool, "accept", frame=4, points=["elbow_r"], over=False)
    assert origins(store, "elbow_r") == {3: "drafted", 4: "confirmed", 5: "drafted", 8: "drafted"}
    wish(tool, "accept", frame=4, points=["wrist_r"], over=True)
    assert origins(store, "wrist_r") == {3: "confirmed", 4: "confirmed", 5: "confirmed", 8: "drafted"}
    assert tool.work["says"] == "3 marks accepted on frames 3 to 5."
    wish(tool, "undo", frame=4)
    assert set(origins(store, "wrist_r").values()) == {"drafted"}, "one step"


def test_a_stretch_that_was_marked_holds_from_either_end(tool: FrameMarker, store: MarkStore) -> None:
    store.put_marks(line(["elbow_r"], [3, 4, 5, 8], Origin.tracked))
    wish(tool, "accept", frame=4, points=["elbow_r"], over=True, span=[8, 5])
    assert origins(store, "elbow_r") == {3: "tracked", 4: "tracked", 5: "confirmed", 8: "confirmed"}


def test_sides_are_swapped_over_a_run_of_drafts_in_one_step(tool: FrameMarker, store: MarkStore) -> None:
    store.put_marks(line(["elbow_l"], [3, 4, 5], Origin.drafted, x=100))
    store.put_marks(line(["elbow_r"], [4, 5, 9], Origin.drafted, x=200))
    wish(tool, "swap_over", frame=4, points=list(POINTS))
    assert {f: store.marks.at(f) for f in (3, 4, 9)} == {
        3: {"elbow_r": (103.0, 9.0)},
        4: {"elbow_l": (204.0, 9.0), "elbow_r": (104.0, 9.0)},
        9: {"elbow_r": (209.0, 9.0)},
    }
    wish(tool, "undo", frame=4)
    assert store.marks.at(4) == {"elbow_l": (104.0, 9.0), "elbow_r": (204.0, 9.0)}


def test_what_was_not_accepted_is_taken_off_and_own_marks_stay(tool: FrameMarker, store: MarkStore) -> None:
    store.put_marks(line(["elbow_r"], [3, 4, 5], Origin.drafted))
    store.put(4, "elbow_r", 1, 1)
    wish(tool, "take_off", frame=4, points=["elbow_r"], span=[2, 9])
    assert origins(store, "elbow_r") == {4: "hand"}


@pytest.mark.parametrize(
    ("do", "more", "says"),
    [
        ("accept", {"frame": 4, "points": ["elbow_r"], "over": True}, "Nothing is drafted or tracked on frame 4"),
        ("accept", {"frame": 4, "points": [], "over": True}, "No point"),
        ("accept", {"frame": 4, "points": ["knee_r"], "over": False}, "No point"),
        ("take_off", {"frame": 4, "points": ["elbow_r"], "span": [2, 99]}, "Frame 99"),
        ("follow", {"frame": 4, "points": ["elbow_r"]}, "no two marks of your own"),
    ],
)
def test_what_cannot_be_done_is_said(tool: FrameMarker, store: MarkStore, do: str, more: Any, says: str) -> None:
    told = wish(tool, do, **more)
    assert says in tool.trouble and store.marks.n_marked == 0
    assert told["kind"] == "state", "the browser is answered"


# ---- follow and draft


def test_following_fills_the_stretch_between_two_marks_and_is_one_step(tool: FrameMarker, store: MarkStore) -> None:
    store.put_marks(line(["elbow_r"], [4, 8], Origin.hand))
    wish(tool, "follow", frame=6, points=["elbow_r"])
    assert origins(store, "elbow_r") == {4: "hand", 5: "tracked", 6: "tracked", 7: "tracked", 8: "hand"}
    assert tool.work["kind"] == "" and tool.work["says"] == "3 places followed; as was asked."
    wish(tool, "undo", frame=6)
    assert origins(store, "elbow_r") == {4: "hand", 8: "hand"}


def test_a_draft_without_marks_goes_around_the_frame_and_never_over_own_marks(
    tool: FrameMarker, store: MarkStore
) -> None:
    wish(tool, "draft", frame=2, points=list(POINTS))
    assert set(origins(store, "wrist_r")) == set(range(25)), "0.75 s on at 30 frames a second"
    store.put(2, "wrist_r", 1, 1)
    wish(tool, "draft", frame=2, points=["wrist_r"], span=[0, 5])
    assert origins(store, "wrist_r")[2] == "hand"


def test_a_new_draft_takes_the_place_of_the_old_one(heron: Clip, store: MarkStore) -> None:
    def some(points: Sequence[str], frames: range) -> Callable[[Tell], Finds]:
        return lambda _: Finds(line(points, [4], Origin.drafted, x=50), "one")

    tool = FrameMarker(heron, store, points=POINTS, bench=Bench(work={"draft": some}))
    store.put_marks(line(["elbow_r"], [3, 4, 5, 9], Origin.drafted))
    wish(tool, "draft", frame=4, points=["elbow_r"], span=[3, 5])
    assert {f: store.marks.at(f)["elbow_r"][0] for f in origins(store, "elbow_r")} == {4: 54.0, 9: 9.0}


def test_what_is_missing_is_said_before_any_work(heron: Clip, store: MarkStore) -> None:
    def missing(points: Sequence[str], frames: range) -> Callable[[Tell], Finds]:
        raise CasebookError("The pose model is not on this computer yet.", "Fetch it.")

    tool = FrameMarker(heron, store, points=POINTS, bench=Bench(work={"draft": missing}))
    wish(tool, "draft", frame=4, points=["elbow_r"])
    assert tool.trouble == "The pose model is not on this computer yet. Fetch it."
    assert tool.work["kind"] == ""
    wish(tool, "put", frame=4, point="elbow_r", x=1, y=1)
    assert tool.trouble == "" and store.marks.n_marked == 1


def test_work_that_fails_says_why_and_changes_nothing(heron: Clip, store: MarkStore) -> None:
    def failing(points: Sequence[str], frames: range) -> Callable[[Tell], Finds]:
        def job(tell: Tell) -> Finds:
            raise CasebookError("OpenCV does not load here.", "Install it.")

        return job

    tool = FrameMarker(heron, store, points=POINTS, bench=Bench(work={"draft": failing}))
    wish(tool, "draft", frame=4, points=["elbow_r"])
    assert tool.trouble == "OpenCV does not load here. Install it." and tool.work["kind"] == ""
    assert not tool._bench.worker.busy and store.marks.n_marked == 0


# ---- beside


def test_work_runs_beside_tells_how_far_it_is_and_can_be_stopped() -> None:
    worker, heard, free = Worker(), [], threading.Event()
    here = threading.get_ident()

    def job(tell: Tell) -> str:
        heard.append(("job", threading.get_ident() == here))
        for n in range(1000):
            tell(n, 1000)
            if n == 3:
                free.wait(5)
        return "done"

    async def main() -> Exception:
        ended: asyncio.Future[Exception] = asyncio.get_running_loop().create_future()
        told = lambda n, of: heard.append((n, threading.get_ident() == here))  # noqa: E731
        worker.start(job, told, lambda answer: ended.set_exception(AssertionError(answer)), ended.set_result)
        await asyncio.sleep(0.05)
        assert worker.busy, "and meanwhile the loop turns"
        worker.stop()
        free.set()
        return await asyncio.wait_for(ended, 5)

    assert isinstance(asyncio.run(main()), Stopped)
    assert heard[:2] == [("job", False), (0, True)]
    assert not worker.busy


def test_a_second_piece_of_work_waits_for_the_first(heron: Clip, store: MarkStore) -> None:
    free = threading.Event()

    def slow(points: Sequence[str], frames: range) -> Callable[[Tell], Finds]:
        def job(tell: Tell) -> Finds:
            free.wait(5)
            return Finds(line(points, list(frames), Origin.drafted), "slowly")

        return job

    async def main() -> None:
        tool = FrameMarker(heron, store, points=POINTS, bench=Bench(work={"draft": slow}))
        wish(tool, "draft", frame=4, points=["elbow_r"], span=[3, 5])
        assert tool.work["says"] == "drafting on frames 3 to 5" and store.marks.n_marked == 0
        wish(tool, "draft", frame=4, points=["elbow_r"], span=[3, 5])
        assert "already" in tool.trouble
        wish(tool, "put", frame=9, point="elbow_l", x=1, y=1)
        assert store.marks.n_marked == 1, "marking goes on"
        free.set()
        for _ in range(100):
            await asyncio.sleep(0.02)
            if not tool.work["kind"]:
                break
        assert store.marks.n_marked == 4

    asyncio.run(main())
