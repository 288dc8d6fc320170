"""Kernel, browser tab and server are killed while a coach marks; what was seen as saved a second before is there.

The marks files are judged by what the page showed and by where the mouse was, not by what the kernel says it wrote.
"""

from __future__ import annotations

import hashlib
import json
import math
import os
import random
import signal
import socket
import subprocess
import sys
import threading
import time
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

import av
import nbformat
import numpy as np
import pytest

from casebook.marks.csvfile import write_marks
from casebook.marks.lines import LineMark, write_lines
from casebook.marks.marks import Marks, Origin
from casebook.marks.store import MarkStore

if TYPE_CHECKING:
    from playwright.sync_api import Page

pytestmark = pytest.mark.browser

WIDTH, HEIGHT, COUNT, FPS = 640, 360, 200, 30
TIMES = np.arange(COUNT) / FPS
#: Found by tracking before the coach begins.
EARLIER = Marks.from_arrays(("hip_r",), range(COUNT), np.full((COUNT, 1, 2), 50.25), origin=Origin.tracked)
BYSTANDERS = ("grey.mp4", "other.csv", "grey.lines.csv")
POINTS = ("shoulder_r", "elbow_r", "wrist_r", "fingertip_r")
SEED, TURNS = 11, 5
#: What a coach may lose, and the span in which the kill comes. [s]
LOST_S, KILL_S = 1.0, (1.1, 1.8)
#: Marks closer than this are grabbed and not set. [px]
APART = 40.0
KILL = getattr(signal, "SIGKILL", signal.SIGTERM)

SETUP = """
import os
from pathlib import Path
from casebook.clip.clip import Clip
from casebook.marks.store import MarkStore
from casebook.widgets.frame_marker import FrameMarker

clip = Clip("grey.mp4")
store = MarkStore(Path("grey.csv"), clip.times, by={by!r})
tool = FrameMarker(clip, store, points={points!r})
Path("{name}.pid").write_text(str(os.getpid()))
"""
#: What the page says: frame, whether its picture is there, the chosen point, how each point stands, any complaint.
READ = """() => {
  const at = (s) => document.querySelector(s), trouble = at(".cb-trouble");
  const radios = [...document.querySelectorAll(".cb-points [role=radio]")];
  return {
    frame: Number(at(".cb-strip").getAttribute("aria-valuenow")), shown: at(".cb-now").dataset.shown === "true",
    chosen: radios.find((r) => r.getAttribute("aria-checked") === "true")?.dataset.point,
    how: Object.fromEntries(radios.map((r) => [r.dataset.point, r.dataset.how])),
    trouble: trouble.hidden ? "" : trouble.textContent,
  };
}"""
FRESH = ".cb-marker:not([data-old]) .cb-picture[data-frame]"
Cell, Place = tuple[int, str], tuple[float, float]


def encode(path: Path) -> None:
    """An even grey."""
    with av.open(path, "w") as out:
        stream = out.add_stream("libx264", rate=FPS, options={"crf": "20", "preset": "veryfast"})
        stream.width, stream.height, stream.pix_fmt = WIDTH, HEIGHT, "yuv420p"
        stream.time_base = Fraction(1, FPS)
        for n in range(COUNT):
            frame = av.VideoFrame.from_ndarray(np.full((HEIGHT, WIDTH, 3), 110, np.uint8), format="rgb24")
            frame.pts = n
            out.mux(stream.encode(frame))
        out.mux(stream.encode(None))


class Server:
    """A JupyterLab of this file's own, always at the same address, that may be killed and started anew."""

    def __init__(self, home: Path) -> None:
        self.home, self.folder = home, home / "work"
        self.folder.mkdir()
        # The news toast asks the network.
        quiet = {"disabledExtensions": {"@jupyterlab/apputils-extension:announcements": True}}
        page_config = home / "config" / "labconfig" / "page_config.json"
        page_config.parent.mkdir(parents=True)
        page_config.write_text(json.dumps(quiet), encoding="utf-8")
        with closing(socket.socket()) as probe:
            probe.bind(("127.0.0.1", 0))
            self.port = probe.getsockname()[1]
        self.url = f"http://127.0.0.1:{self.port}"
        self.process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        own = {f"JUPYTER_{name.upper()}_DIR": str(self.home / name) for name in ("config", "data", "runtime")}
        settings = {
            "ServerApp.ip": "127.0.0.1",
            "ServerApp.port": self.port,
            "ServerApp.port_retries": 0,
            "ServerApp.root_dir": self.folder,
            "ServerApp.allow_root": True,
            "ServerApp.open_browser": False,
            "IdentityProvider.token": "",
            # A dead kernel is noticed sooner than by the usual 3 s.
            "KernelRestarter.time_to_dead": 0.5,
        }
        with (self.home / "log.txt").open("ab") as log:
            self.process = subprocess.Popen(
                [sys.executable, "-m", "jupyterlab", *(f"--{key}={value}" for key, value in settings.items())],
                env={**os.environ, **own, "IPYTHONDIR": str(self.home / "ipython")},
                cwd=self.folder,
                stdout=log,
                stderr=subprocess.STDOUT,
            )

    def wait(self, seconds: float = 60) -> None:
        end = time.monotonic() + seconds
        while time.monotonic() < end and self.process is not None and self.process.poll() is None:
            try:
                with urllib.request.urlopen(f"{self.url}/api", timeout=2):
                    return
            except OSError:
                time.sleep(0.1)
        pytest.fail(f"JupyterLab did not start:\n{(self.home / 'log.txt').read_text('utf-8', 'replace')[-3000:]}")

    def kill(self) -> None:
        """At once and without a farewell, as when a computer is switched off."""
        assert self.process is not None
        os.kill(self.process.pid, KILL)

    def stop(self) -> None:
        """In an orderly way, kernels first."""
        assert self.process is not None
        self.process.terminate()
        try:
            self.process.wait(15)
        except subprocess.TimeoutExpired:
            self.process.kill()


@dataclass(slots=True)
class Notebook:
    """A notebook with the frame marker in it, marked at random by mouse and keyboard."""

    server: Server
    page: Page
    name: str
    chance: random.Random
    #: Where each mark was set [picture px], and when it was then seen on the page [s]; infinite while it is not owed.
    marks: dict[Cell, list[tuple[float, Place]]] = field(default_factory=dict)

    @property
    def pid(self) -> int:
        return int((self.server.folder / f"{self.name}.pid").read_text("utf-8"))

    def write(self, *more: str) -> None:
        cells = [SETUP.format(by=self.name[:2], points=POINTS, name=self.name), "tool", *more]
        book = nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell(text) for text in cells])
        book.metadata["kernelspec"] = {"name": "python3", "display_name": "Python 3", "language": "python"}
        nbformat.write(book, self.server.folder / f"{self.name}.ipynb")

    def open(self) -> None:
        self.page.goto(f"{self.server.url}/lab/tree/{self.name}.ipynb?reset")

    def run(self) -> None:
        """Run all cells, and wait for the tool that they make."""
        page = self.page
        # Before the kernel is ready a wish to run all is lost without a word.
        page.get_by_text("| Idle").wait_for(timeout=60_000)
        page.evaluate("document.querySelectorAll('.cb-marker').forEach((e) => (e.dataset.old = 1))")
        page.get_by_role("menuitem", name="Run", exact=True).click()
        page.get_by_text("Run All Cells", exact=True).click()
        error = "[data-mime-type='application/vnd.jupyter.error']"
        page.wait_for_selector(f"{FRESH}, {error}", timeout=60_000)
        assert not page.locator(error).count(), page.locator(error).first.inner_text()
        page.locator(".cb-stage").scroll_into_view_if_needed()
        page.locator(".cb-stage").focus()
        self.go(next(n for n in range(COUNT) if not all((n, p) in self.marks for p in POINTS)))

    def rerun_last(self) -> None:
        """Run the last cell once more."""
        self.page.locator(".jp-Notebook-cell .cm-content").last.click()
        self.page.keyboard.press("Control+Enter")

    def read(self) -> dict[str, Any]:
        return self.page.evaluate(READ)

    def go(self, frame: int) -> None:
        self.page.keyboard.press("Home")
        for key, times in (("Shift+ArrowRight", frame // 10), ("ArrowRight", frame % 10)):
            for _ in range(times):
                self.page.keyboard.press(key)
        self.rest()

    def choose(self, point: str) -> None:
        self.page.locator(f"[data-point={point}]").click()

    def rest(self) -> dict[str, Any]:
        """What the page says once the frame's picture is there."""
        end = time.monotonic() + 8
        while not (says := self.read())["shown"]:
            assert time.monotonic() < end, f"no picture of frame {says['frame']}"
        return says

    def mark(self) -> Cell:
        """Set the chosen point of the frame at random by click or by key; on to the next frame when all are set."""
        says = self.rest()
        if all(how == "hand" for how in says["how"].values()):
            self.page.keyboard.press("ArrowRight")
            if (says := self.rest())["frame"] == COUNT - 1:
                self.page.keyboard.press("Home")
                says = self.rest()
        cell = (says["frame"], says["chosen"])
        screen, xy = self._place(cell[0])
        tries = self.marks.setdefault(cell, [])
        tries.append((math.inf, xy))
        if self.chance.random() < 0.5:
            self.page.mouse.click(*screen)
        else:
            self.page.mouse.move(*screen)
            self.page.keyboard.press("Enter")
        says = self.read()
        assert (says["frame"], says["how"][cell[1]], says["trouble"]) == (cell[0], "hand", "")
        tries[-1] = (time.monotonic(), xy)
        return cell

    def mark_until(self, gone: Callable[[], bool]) -> None:
        """Mark until ``gone`` says that something was killed; what fails from then on is no matter."""
        while not gone():
            try:
                self.mark()
            except Exception:
                if not gone():
                    raise

    def _place(self, frame: int) -> tuple[tuple[int, int], tuple[float, float]]:
        """A whole pixel of the page, and where in the picture that is, away from the marks of the frame."""
        box = self.page.locator(".cb-stage").bounding_box()
        scale = min(box["width"] / WIDTH, box["height"] / HEIGHT)
        left, top = box["x"] + (box["width"] - WIDTH * scale) / 2, box["y"] + (box["height"] - HEIGHT * scale) / 2
        there = [xy for (f, _), tries in self.marks.items() if f == frame for _, xy in tries]
        while True:
            to = self.chance.uniform(20, WIDTH - 20), self.chance.uniform(20, HEIGHT - 20)
            if all(np.hypot(to[0] - x, to[1] - y) > APART for x, y in there):
                screen = round(left + to[0] * scale), round(top + to[1] * scale)
                # Pixel centres are whole numbers: the picture's edge is at -0.5.
                return screen, ((screen[0] - left) / scale - 0.5, (screen[1] - top) / scale - 0.5)

    def owed(self, moment: float) -> dict[Cell, list[Place]]:
        """For each mark seen a second before the moment, the places it may now have: that, or any tried since."""
        due = {}
        for cell, tries in self.marks.items():
            if old := [i for i, (when, _) in enumerate(tries) if when <= moment - LOST_S]:
                due[cell] = [xy for _, xy in tries[old[-1] :]]
        return due

    def settle(self, found: dict[Cell, Place], moment: float) -> None:
        """After a kill: what was lost in the last second is no longer owed, all that was found is."""
        for cell, tries in self.marks.items():
            kept = [i for i, (_, xy) in enumerate(tries) if cell in found and np.allclose(found[cell], xy, atol=0.6)]
            self.marks[cell] = [
                (min(when, moment) if i in kept[-1:] else math.inf, xy) for i, (when, xy) in enumerate(tries)
            ]


def digests(folder: Path) -> dict[str, str]:
    """What lies beside the marks and is none of the marker's business."""
    return {name: hashlib.sha256((folder / name).read_bytes()).hexdigest() for name in BYSTANDERS}


def judge(notebook: Notebook, moment: float, bystanders: dict[str, str]) -> str:
    """Everything owed is in the files, nothing else is, and what lies beside them is as it was."""
    folder = notebook.server.folder
    assert (folder / "grey.journal").exists(), "killed with a journal open; else this shows nothing"
    with MarkStore(folder / "grey.csv", TIMES) as store:
        marks = store.marks
    due, kept = notebook.owed(moment), marks.pick(POINTS)
    found = {(f, p): xy for f in kept.frames.tolist() for p, xy in kept.at(f).items()}
    for cell, places in due.items():
        assert cell in found, f"{cell} was lost"
        assert any(np.allclose(found[cell], xy, atol=0.6) for xy in places), (cell, found[cell], places)
    behind = [moment - tries[-1][0] for cell, tries in notebook.marks.items() if cell not in found]
    assert set(found) <= set(notebook.marks)
    notebook.settle(found, moment)
    earlier = marks.pick(EARLIER.points)
    assert np.array_equal(earlier.xy, EARLIER.xy) and (earlier.origin == Origin.tracked).all()
    assert digests(folder) == bystanders
    nbformat.validate(nbformat.read(folder / f"{notebook.name}.ipynb", as_version=4))
    assert not [p.name for p in folder.iterdir() if p.name.endswith((".part", ".damaged"))]
    return f"{len(due)} marks owed, {len(found)} found; lost: the last {max([0.0, *behind]):.2f} s"


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    running = Server(tmp_path_factory.mktemp("killed"))
    encode(running.folder / "grey.mp4")
    write_marks(running.folder / "grey.csv", EARLIER, TIMES, "")
    write_marks(running.folder / "other.csv", EARLIER, TIMES, "JS")
    write_lines(running.folder / "grey.lines.csv", [LineMark(3, "water", 10.0, 90.0, 600.0, 93.0)])
    running.start()
    running.wait()
    yield running
    running.stop()


@pytest.fixture(scope="module")
def book(server: Server, new_page: Any) -> Iterator[Notebook]:
    notebook = Notebook(server, new_page(), "one", random.Random(SEED))
    notebook.write()
    notebook.open()
    notebook.run()
    yield notebook
    for page in notebook.page.context.pages:
        page.close()


class Fall:
    """A process that is killed some seconds from now, while the test goes on marking."""

    def __init__(self, kill: Callable[[], None], seconds: float) -> None:
        self.moment = math.inf
        self._kill, self._gone = kill, threading.Event()
        self._timer = threading.Timer(seconds, self._act)
        self._timer.start()

    def _act(self) -> None:
        self.moment = time.monotonic()
        self._kill()
        self._gone.set()

    def gone(self) -> bool:
        return self._gone.is_set()


def kill_kernel(book: Notebook, seconds: float) -> float:
    pid = book.pid
    fall = Fall(lambda: os.kill(pid, KILL), seconds)
    book.mark_until(fall.gone)
    return fall.moment


def close_tab(book: Notebook, seconds: float) -> float:
    end = time.monotonic() + seconds
    book.mark_until(lambda: time.monotonic() > end)
    moment, browsing = time.monotonic(), book.page.context
    book.page.close()
    book.page = browsing.new_page()
    return moment


def kill_server(book: Notebook, seconds: float) -> float:
    fall = Fall(book.server.kill, seconds)
    book.mark_until(fall.gone)
    book.server.process.wait(10)
    book.server.start()
    return fall.moment


def after_kernel(book: Notebook) -> None:
    """JupyterLab says that it starts the kernel again; where it does not, its page is loaded again as a coach would."""
    from playwright.sync_api import TimeoutError as NeverCame

    try:
        book.page.locator(".jp-Dialog .jp-mod-accept").click(timeout=15_000)
    except NeverCame:
        book.open()


def after_tab(book: Notebook) -> None:
    book.open()


def after_server(book: Notebook) -> None:
    book.server.wait()
    book.open()


FALLS = {
    "kernel": (kill_kernel, after_kernel),
    "tab": (close_tab, after_tab),
    "server": (kill_server, after_server),
}


@pytest.mark.parametrize("what", FALLS)
@pytest.mark.parametrize("turn", range(TURNS))
def test_what_was_seen_as_saved_a_second_ago_outlives_any_kill(book: Notebook, what: str, turn: int) -> None:
    fall, recover = FALLS[what]
    seconds = random.Random(f"{SEED} {what} {turn}").uniform(*KILL_S)
    bystanders, began = digests(book.server.folder), time.monotonic()
    book.mark()  # owed in any case
    moment = fall(book, seconds)
    said = judge(book, moment, bystanders)
    print(f"{what} fell after {seconds:.3f} s (seed {SEED}): {said}")
    fresh = [when for tries in book.marks.values() for when, _ in tries if began < when <= moment - LOST_S]
    assert fresh, "some marks of this turn were a second old; else this shows nothing"
    recover(book)
    book.run()
    cell = book.mark()
    until(lambda: on_disk(book.server.folder, cell) is not None, True)


def test_two_notebooks_on_one_clip_see_and_keep_each_other_s_marks(server: Server, book: Notebook) -> None:
    beside = Notebook(server, book.page.context.new_page(), "two", random.Random(SEED + 1), book.marks)
    beside.write("tool.refresh()")
    beside.open()
    beside.run()
    assert beside.pid != book.pid
    frame = next(n for n in range(COUNT) if not any((n, p) in book.marks for p in POINTS))
    book.go(frame)
    beside.go(frame)

    def placed(notebook: Notebook) -> Cell:
        """A mark set there, once it is on disk in its place."""
        cell = notebook.mark()
        until(lambda: on_disk(server.folder, cell) == pytest.approx(book.marks[cell][-1][1], abs=0.6), True)
        return cell

    first = placed(book)
    assert beside.read()["how"][first[1]] == "not marked", "nothing was told yet"
    # A notebook that is still settling may lose a key press; a store that did not see the mark would not see it later.
    for _ in range(4):
        beside.rerun_last()
        beside.page.wait_for_timeout(2500)
        if beside.read()["how"][first[1]] == "hand":
            break
    until(lambda: beside.read()["how"][first[1]], "hand")
    beside.choose("elbow_r")
    second = placed(beside)
    # The other way no word is needed: whoever writes reads first.
    book.choose("wrist_r")
    third = placed(book)
    until(lambda: book.read()["how"][second[1]], "hand")
    # The later of two hands stands, and undo takes back one's own.
    book.choose("elbow_r")
    assert placed(book) == second
    beside.page.keyboard.press("Control+z")
    beside.choose("fingertip_r")
    fourth = placed(beside)
    with MarkStore(server.folder / "grey.csv", TIMES) as store:
        held = store.at(frame)
    by = {first: "on", second: "on", third: "on", fourth: "tw"}
    assert {(frame, p): mark.by for p, mark in held.items() if p in POINTS} == by
    for cell in by:
        mark = held[cell[1]]
        assert (mark.x_px, mark.y_px) == pytest.approx(book.marks[cell][-1][1], abs=0.6)


def on_disk(folder: Path, cell: Cell) -> tuple[float, float] | None:
    with MarkStore(folder / "grey.csv", TIMES) as store:
        return store.marks.at(cell[0]).get(cell[1])


def until(read: Callable[[], Any], wanted: Any, seconds: float = 8.0) -> None:
    end = time.monotonic() + seconds
    while (got := read()) != wanted:
        assert time.monotonic() < end, f"still {got!r}, not {wanted!r}"
        time.sleep(0.02)
