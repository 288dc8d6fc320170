"""What travels to the browser: reels of the film, how frames stand, and only the changed ticks of a long clip."""

from __future__ import annotations

import asyncio
import json
import re
import shutil
import subprocess
import threading
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any, TypeVar

import numpy as np
import pytest

from casebook.clip.clip import Clip
from casebook.clip.reel import FRAMES
from casebook.marks.marks import Marks
from casebook.marks.store import MarkStore
from casebook.widgets.frame_marker import FrameMarker

ARM = ("elbow_r", "wrist_r")
T = TypeVar("T")
SCRIPT = Path(__file__).with_name("pictures.test.mjs")


class Browser:
    """Stands where the browser is: sends wishes, keeps what it is told and by which thread."""

    def __init__(self, marker: FrameMarker) -> None:
        self.marker = marker
        self.heard: list[tuple[dict[str, Any], list[bytes] | None]] = []
        self.threads: list[threading.Thread] = []
        marker.send = self._hear

    def _hear(self, content: dict[str, Any], buffers: list[bytes] | None = None) -> None:
        json.dumps(content)
        self.heard.append((content, buffers))
        self.threads.append(threading.current_thread())

    def wish(self, do: str, **more: Any) -> None:
        self.marker._handle_custom_msg({"do": do, "view": "v", "seq": 1, **more}, [])

    def told(self, kind: str) -> list[dict[str, Any]]:
        return [content for content, _ in self.heard if content["kind"] == kind]


def by_itself(act: Callable[[], T]) -> T:
    """Run it in a thread of its own: in this one a loop may be running, of a browser that was driven before."""
    with ThreadPoolExecutor(1) as thread:
        return thread.submit(act).result()


@pytest.fixture
def browser(heron: Clip, store: MarkStore) -> Browser:
    return Browser(FrameMarker(heron, store, points=ARM))


def test_a_reel_comes_with_its_frames_and_its_bytes(browser: Browser) -> None:
    by_itself(lambda: browser.wish("film", want=[0]))
    end = time.monotonic() + 20
    while not browser.told("film"):
        assert time.monotonic() < end
        time.sleep(0.01)
    (content, buffers) = browser.heard[-1]
    assert content["number"] == 0 and list(content["frames"]) == list(range(30))
    assert content["codec"].startswith("avc1.") and content["keys"][0]
    assert buffers is not None and len(buffers[0]) == content["ends"][-1]


def test_reels_are_sent_by_the_thread_that_hears_the_wishes_and_never_hold_it_up(browser: Browser) -> None:
    async def kernel() -> tuple[float, threading.Thread]:
        began = time.perf_counter()
        browser.wish("film", want=[0])
        took = time.perf_counter() - began
        while not browser.told("film"):
            await asyncio.sleep(0.01)
        return took, threading.current_thread()

    held_up, hearing = by_itself(lambda: asyncio.run(asyncio.wait_for(kernel(), 20)))
    assert set(browser.threads) == {hearing}
    assert held_up < 0.25, "making the reel takes longer than asking for it"


def test_how_a_run_of_frames_stands_is_told_in_one_go_without_values(heron: Clip, store: MarkStore) -> None:
    asked: list[int] = []

    def live(frame: int, _: object) -> str:
        asked.append(frame)
        return "value"

    store.put(6, "elbow_r", 100, 90)
    browser = Browser(FrameMarker(heron, store, points=ARM, live=live, start=4, stop=20))
    browser.wish("states", start=0, stop=FRAMES)
    (told,) = browser.told("states")
    assert told["start"] == 4 and len(told["states"]) == 16
    assert [i + 4 for i, one in enumerate(told["states"]) if one["marks"]] == [6]
    assert asked == [] and {one["age"] for one in told["states"]} == {-1}


def test_all_ticks_come_when_a_page_opens_and_later_only_what_changed(browser: Browser) -> None:
    browser.marker._store.put(7, "elbow_r", 10, 10)
    browser.marker._store.put(3, "elbow_r", 10, 10)
    browser.marker._store.put(3, "wrist_r", 10, 10)
    assert [told["changed"] for told in browser.told("ticks")] == [[[7, 1]], [[3, 1]], [[3, 2]]]
    browser.wish("ticks")
    _, buffers = browser.heard[-1]
    assert buffers is not None
    assert np.frombuffer(buffers[0], "<i4").tolist() == [3, 2, 7, 1]
    browser.marker._store.erase(7, "elbow_r")
    assert browser.told("ticks")[-1]["changed"] == [[7, 0]]
    assert browser.marker.marked == [[3, 2]]


def test_a_mark_costs_as_little_on_a_long_marked_clip(tmp_path: Path, heron: Clip) -> None:
    """Bytes told of one mark, and bytes of the synced state, with 30 marked frames and with one."""
    sizes = []
    for many in (1, 30):
        with MarkStore(tmp_path / f"{many}.csv", heron.times) as store:
            store.put_marks(Marks.from_arrays(["elbow_r"], range(many), np.full((many, 1, 2), 10.0)))
            browser = Browser(FrameMarker(heron, store, points=ARM))
            browser.wish("put", frame=0, point="wrist_r", x=5, y=5)
            ticks = json.dumps(browser.told("ticks")[-1])
            state = browser.marker.get_state()
            sizes.append((len(ticks), sum(len(str(value)) for key, value in state.items() if key != "frame")))
    assert sizes[0] == sizes[1]


def test_the_travelling_size_is_that_of_the_reels(browser: Browser, heron: Clip) -> None:
    assert browser.marker.shown_width == heron.proxy.size[0] == 320


def test_browser_side_of_pictures_and_ticks() -> None:
    node = shutil.which("node")
    if node is None:
        pytest.skip("Node is not installed (package nodejs), and it runs these checks.")
    done = subprocess.run([node, "--test", str(SCRIPT)], capture_output=True, text=True, encoding="utf-8", timeout=60)
    assert done.returncode == 0, done.stdout + done.stderr
    assert re.search(r"pass [1-9]", done.stdout), done.stdout
