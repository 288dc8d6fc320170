"""How soon a key press shows the frame asked for, against a bare image widget in the same run; prints, asserts no time.

Both stand in a real JupyterLab in headless Chromium and show the same frames of the same film, 960 px wide. The time
runs from the key press as the page hears it to the first turn of the screen after the picture changed. The bare widget
gets its pictures in two ways: read from the film when asked for, and all lying ready in memory, which is the least it
can take. ``CASEBOOK_BENCH_SECONDS`` sets the length of the long film (1920 x 1080, 60 a second); 600 if unset.
"""

from __future__ import annotations

import importlib.util
import json
import os
import sys
import time
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

import av
import numpy as np
import pytest

from casebook.clip.clip import Clip
from casebook.marks.marks import Marks
from casebook.marks.store import MarkStore
from casebook.widgets.frame_marker import FrameMarker

if TYPE_CHECKING:
    from playwright.sync_api import Page

BROWSER = Path(__file__).parents[1] / "browser"
_spec = importlib.util.spec_from_file_location("browser_fixtures", BROWSER / "conftest.py")
assert _spec is not None and _spec.loader is not None
_fixtures = importlib.util.module_from_spec(_spec)
sys.modules["browser_fixtures"] = _fixtures
_spec.loader.exec_module(_fixtures)
lab, new_page = _fixtures.lab, _fixtures.new_page

pytestmark = [pytest.mark.bench, pytest.mark.browser]

LOOP = 240
SIZE = (1920, 1080)
PRESSES = 40  # in each of ROUNDS turns
ROUNDS = 3
OURS = """
import time
began = time.time()
clip = Clip("long.mp4")
store = MarkStore(Path("long.csv"), clip.times)
print("began", began)
FrameMarker(clip, store, points=("shoulder_r", "elbow_r", "wrist_r"))
"""
BARE = """
import anywidget, ipywidgets, traitlets

class Keys(anywidget.AnyWidget):
    _esm = '''export default {{ render({{ model, el }}) {{
      el.className = "keys"; el.tabIndex = 0; el.style.height = "20px";
      el.addEventListener("keydown", (e) => {{
        const by = {{ ArrowRight: 1, ArrowLeft: -1 }}[e.key];
        if (!by) return;
        e.preventDefault(); e.stopPropagation();
        model.set("frame", model.get("frame") + by * (e.shiftKey ? 10 : 1));
        model.save_changes();
      }});
    }} }}'''
    frame = traitlets.Int(0).tag(sync=True)

clip = Clip("long.mp4")
ready = [clip.jpeg(n, width=960) for n in range({ready})]
picture = (lambda n: ready[n]) if ready else (lambda n: clip.jpeg(n, width=960))
keys, image = Keys(), ipywidgets.Image(value=picture(0), format="jpeg", width=960)
keys.observe(lambda change: setattr(image, "value", picture(change["new"])), "frame")
ipywidgets.VBox([keys, image])
"""
IMPORTS = """
from pathlib import Path
from casebook.clip.clip import Clip
from casebook.marks.store import MarkStore
from casebook.widgets.frame_marker import FrameMarker
"""
#: Before the page's own scripts: notes when the first frame is painted.
FIRST = """(function look() {
  if (document.querySelector(".cb-picture[data-frame]")) window.first = Date.now(); else requestAnimationFrame(look);
})()"""
#: Notes when a key is heard and when a new picture stands on the screen.
TIMING = """(ours) => {
  window.heard = []; window.shown = [];
  const stands = (frame) => requestAnimationFrame(() => {
    const turn = new MessageChannel();
    turn.port1.onmessage = () => window.shown.push([frame, performance.now()]);
    turn.port2.postMessage(0);
  });
  for (const wish of ["keydown", "pointerdown"])
    window.addEventListener(wish, () => window.heard.push(performance.now()), true);
  if (!ours) { document.querySelector("img.widget-image").addEventListener("load", () => stands(-1)); return; }
  const canvas = document.querySelector(".cb-picture");
  let last = canvas.dataset.frame;
  new MutationObserver(() => {
    if (canvas.dataset.frame !== last) stands(Number(last = canvas.dataset.frame));
  }).observe(canvas, { attributes: true, attributeFilter: ["data-frame"] });
}"""


def short_film(folder: Path) -> Path:
    """Four seconds with a still background, a moving patch, and a group of pictures a second."""
    width, height = SIZE
    grain = np.random.default_rng(0).integers(40, 215, (height // 8, width // 8, 3)).astype(np.uint8)
    ground = np.ascontiguousarray(grain.repeat(8, 0).repeat(8, 1))
    path = folder / "loop.mp4"
    with av.open(str(path), "w") as box:
        options = {"preset": "veryfast", "crf": "24", "x264-params": "keyint=60:min-keyint=60:scenecut=0:bframes=2"}
        stream = box.add_stream("libx264", rate=60, options=options)
        stream.width, stream.height, stream.pix_fmt = width, height, "yuv420p"
        for n in range(LOOP):
            image = ground.copy()
            image[400:600, 6 * n : 6 * n + 300] = ground[100:300, 300:600] // 2
            frame = av.VideoFrame.from_ndarray(image).reformat(format="yuv420p")
            frame.pts, frame.time_base = n, Fraction(1, 60)
            box.mux(stream.encode(frame))
        box.mux(stream.encode(None))
    return path


def long_film(folder: Path, seconds: float) -> Path:
    """A film of any length for the cost of four seconds: their packets again and again, at later times."""
    short = short_film(folder)
    path = folder / "long.mp4"
    with av.open(str(short)) as source, av.open(str(path), "w") as box:
        track = source.streams.video[0]
        copy = box.add_stream_from_template(track)
        packets = [p for p in source.demux(track) if p.size]
        step = round(1 / (60 * track.time_base))
        held = [(bytes(p), p.pts, p.dts, p.is_keyframe) for p in packets]
        for turn in range(round(seconds * 60 / LOOP)):
            for data, pts, dts, key in held:
                packet = av.Packet(data)
                packet.stream, packet.time_base, packet.is_keyframe = copy, track.time_base, key
                packet.pts, packet.dts = pts + turn * LOOP * step, dts + turn * LOOP * step
                packet.duration = step
                box.mux(packet)
    short.unlink()
    return path


class Driven:
    """A widget on its page, and the keys that go to it."""

    def __init__(self, page: Page, target: str, ours: bool) -> None:
        self.page, self.target = page, target
        page.locator(target).scroll_into_view_if_needed()
        page.evaluate(TIMING, ours)

    def presses(self, keys: list[str], pause: np.random.Generator) -> list[float]:
        """From each key press to its picture, one after the other. [ms]"""
        self.page.bring_to_front()
        self.page.locator(self.target).focus()
        took = []
        for key in keys:
            time.sleep(float(pause.uniform(0.06, 0.14)))
            self.page.evaluate("(window.heard = [], window.shown = [])")
            self.page.keyboard.press(key)
            self.page.wait_for_function("window.shown.length > 0", timeout=10_000)
            took.append(self.page.evaluate("window.shown.at(-1)[1] - window.heard.at(-1)"))
        return took

    def jumps(self, shares: list[float]) -> list[float]:
        """From a press on the strip, at shares of its length, to the picture of that frame. [ms]"""
        self.page.bring_to_front()
        self.page.locator(".cb-strip").scroll_into_view_if_needed()
        box = self.page.locator(".cb-strip").bounding_box()
        assert box is not None
        took = []
        for share in shares:
            time.sleep(1.0)
            self.page.evaluate("(window.heard = [], window.shown = [])")
            self.page.mouse.click(box["x"] + share * box["width"], box["y"] + box["height"] / 2)
            self.page.wait_for_function("window.shown.length > 0", timeout=20_000)
            took.append(self.page.evaluate("window.shown.at(-1)[1] - window.heard.at(-1)"))
        return took

    def played(self, seconds: float) -> float:
        """Pictures a second when played at full speed from where it stands, once it has begun."""
        self.page.bring_to_front()
        self.page.locator(self.target).focus()
        self.page.evaluate("(window.heard = [], window.shown = [])")
        self.page.keyboard.press(" ")
        self.page.wait_for_function("window.shown.length > 0", timeout=20_000)
        time.sleep(seconds)
        self.page.keyboard.press(" ")
        shown = self.page.evaluate("window.shown.map((one) => one[1])")
        return 1000 * (len(shown) - 1) / (shown[-1] - shown[0])

    def held(self, key: str, seconds: float) -> float:
        """Pictures a second while a key repeats thirty times a second."""
        self.page.bring_to_front()
        self.page.locator(self.target).focus()
        self.page.evaluate("(window.heard = [], window.shown = [])")
        began = time.perf_counter()
        for n in range(round(30 * seconds)):
            self.page.keyboard.down(key)
            time.sleep(max(0.0, began + (n + 1) / 30 - time.perf_counter()))
        self.page.keyboard.up(key)
        time.sleep(0.3)
        shown = self.page.evaluate("window.shown.map((one) => one[1])")
        return 1000 * (len(shown) - 1) / (shown[-1] - shown[0])


def keys_for(chance: np.random.Generator, n: int) -> tuple[list[str], int]:
    """Mostly single steps, some of ten, from frame 0 and inside the loop; the keys, and the frame where they end."""
    at, keys = 0, []
    for by in chance.choice([1, 1, 1, 1, -1, -1, 10, -10], n).tolist():
        by = by if 0 <= at + by < LOOP else -by
        at += by
        keys.append(("Shift+" if abs(by) == 10 else "") + ("ArrowRight" if by > 0 else "ArrowLeft"))
    return keys, at


def test_a_key_press_to_its_picture_against_a_bare_image_widget(lab, new_page, tmp_path_factory):
    seconds = float(os.environ.get("CASEBOOK_BENCH_SECONDS", "600"))
    film = long_film(lab.folder, seconds)
    print(f"\n  load {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")
    print(f"  film of {seconds:g} s, {film.stat().st_size / 1e6:.0f} MB")
    pages = {}
    for name, cells, wait_for in (
        ("ours", [IMPORTS, OURS], ".cb-picture[data-frame]"),
        ("bare", [IMPORTS, BARE.format(ready=0)], "img.widget-image"),
        ("bare, ready", [IMPORTS, BARE.format(ready=LOOP)], "img.widget-image"),
    ):
        pages[name] = page = new_page()
        page.add_init_script(FIRST)
        lab.run_all(page, lab.notebook(name.replace(", ", "_"), cells), wait_for)
    page = pages["ours"]
    began = float(page.locator(".jp-OutputArea-output pre").first.inner_text().split()[1])
    print(f"  first frame of it: {page.evaluate('window.first') / 1000 - began:.2f} s after the cell began")
    page.wait_for_timeout(3000)
    driven = {
        name: Driven(page, ".cb-stage" if name == "ours" else ".keys", name == "ours") for name, page in pages.items()
    }
    took: dict[str, list[float]] = {name: [] for name in driven}
    keys, at = keys_for(np.random.default_rng(1), ROUNDS * PRESSES)
    for turn in range(ROUNDS):
        for name, one in driven.items():
            took[name] += one.presses(keys[turn * PRESSES : (turn + 1) * PRESSES], np.random.default_rng(turn))
    p50, p95 = ({name: float(np.percentile(ms, share)) for name, ms in took.items()} for share in (50, 95))
    for name in took:
        ratio = f"; ours / this: {p50['ours'] / p50[name]:.2f}, {p95['ours'] / p95[name]:.2f}" if name != "ours" else ""
        print(f"  {name}: p50 {p50[name]:.0f} ms, p95 {p95[name]:.0f} ms of {len(took[name])} presses{ratio}")
    for name, one in driven.items():
        rate = one.held("ArrowRight" if at < LOOP / 2 else "ArrowLeft", 3.5)
        print(f"  {name}: {rate:.1f} pictures a second with a key held down")
    ours = driven["ours"]
    jumps = ours.jumps(np.random.default_rng(3).uniform(0.05, 0.95, 10).tolist())
    print(f"  jumps over the whole film: median {np.median(jumps):.0f} ms, longest {max(jumps):.0f} ms")
    print(f"  played at full speed (60 a second) after the last jump: {ours.played(6):.1f} pictures a second")
    print(f"  load {os.getloadavg()[0]:.1f}")


def test_a_mark_on_a_film_with_many_marked_frames_against_one_with_few(tmp_path):
    path, n = tmp_path / "tiny.mp4", 36_000
    with av.open(str(path), "w") as box:
        stream = box.add_stream("libx264", rate=60, options={"preset": "ultrafast"})
        stream.width, stream.height, stream.pix_fmt = 64, 36, "yuv420p"
        frame = av.VideoFrame.from_ndarray(np.full((36, 64, 3), 90, np.uint8)).reformat(format="yuv420p")
        for frame.pts in range(n + 100):
            box.mux(stream.encode(frame))
        box.mux(stream.encode(None))
    cost = {}
    for many in (100, n):
        with Clip(path) as clip, MarkStore(tmp_path / f"{many}.csv", clip.times) as store:
            store.put_marks(Marks.from_arrays(["elbow_r"], range(many), np.full((many, 1, 2), 10.0)))
            tool = FrameMarker(clip, store, points=("elbow_r", "wrist_r"))
            sent: list[int] = []
            tool.send = lambda content, buffers=None, sent=sent: sent.append(len(json.dumps(content)))
            took = []
            for frame in range(many, many + 60):
                began = time.perf_counter()
                tool._handle_custom_msg({"do": "put", "frame": frame, "point": "elbow_r", "x": 5.5, "y": 6.5}, [])
                took.append(time.perf_counter() - began)
            cost[many] = float(np.median(took))
            print(
                f"\n  a mark with {many} marked frames: {1e3 * cost[many]:.2f} ms, {max(sent)} bytes of message at most"
            )
    print(f"  many / few: {cost[n] / cost[100]:.2f}")
