"""Films whose pictures carry their number, and what the widget paints of them read off the screen."""

from __future__ import annotations

import sys
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from marker_page import until

sys.path.append(str(Path(__file__).parents[1] / "clip"))
from numbered import BITS, CORNERS, Film, picture, shoot

if TYPE_CHECKING:
    from playwright.sync_api import Page

__all__ = ["CORNERS", "COUNT", "FILMS", "Screen", "opened"]
COUNT = 140
_SMALL, _LARGER = (320, 192), 4
_UNEVEN = np.cumsum(np.random.default_rng(11).choice([1500, 1500, 3000, 1501, 700, 4500], COUNT)).tolist()
FILMS = {
    # Uneven times, pictures stored out of order, one key picture, and shown as eightfold slow motion.
    "uneven": Film(ticks=_UNEVEN, options={"preset": "veryfast", "crf": "12", "x264-params": "keyint=250"}),
    "turned": Film(turn=90, options={"preset": "ultrafast", "crf": "12"}),
}

SETUP = """
from pathlib import Path
import numpy as np
from casebook.clip.clip import Clip
from casebook.marks.store import MarkStore
from casebook.widgets.frame_marker import FrameMarker

clip = Clip("{name}.mp4")
store = MarkStore(Path("{name}.csv"), clip.times)
marker = FrameMarker(clip, store, points=("elbow_r", "wrist_r"), real_times=clip.times / {slower})
marker
"""
#: Before the page's own scripts: counts the pictures that come out of a decoder, and those that come singly; keeps
#: hold of the decoders.
COUNT_DECODED = """
window.decoded = 0;
window.singles = 0;
const madeBefore = window.createImageBitmap;
window.createImageBitmap = (from) => {
  if (from instanceof Blob) window.singles += 1;
  return madeBefore(from);
};
window.decoders = [];
window.VideoDecoder = class extends VideoDecoder {
  constructor(init) {
    super({ ...init, output: (one) => { window.decoded += 1; init.output(one); } });
    window.decoders.push(this);
  }
};
"""
READ = f"""([width, height]) => {{
  const canvas = document.querySelector(".cb-picture"), g = canvas.getContext("2d");
  const scale = Math.min(canvas.width / width, canvas.height / height), w = width * scale;
  const left = Math.round((canvas.width - w) / 2), top = (canvas.height - height * scale) / 2;
  const row = (share) => g.getImageData(left, Math.round(top + share * height * scale), Math.floor(w), 1).data;
  const plain = row(0.4), inverted = row(0.6);
  let number = 0;
  for (let bit = 0; bit < {BITS}; bit++) {{
    const at = 4 * Math.floor(w * (bit + 0.5) / {BITS}), on = plain[at] > 128;
    if (on === inverted[at] > 128) return [-1, Number(canvas.dataset.frame)];
    if (on) number += 2 ** bit;
  }}
  return [number, Number(canvas.dataset.frame)];
}}"""
COLOUR = """([width, height, across, down]) => {
  const canvas = document.querySelector(".cb-picture"), g = canvas.getContext("2d");
  const scale = Math.min(canvas.width / width, canvas.height / height);
  const left = (canvas.width - width * scale) / 2, top = (canvas.height - height * scale) / 2;
  return [...g.getImageData(left + across * width * scale, top + down * height * scale, 1, 1).data.slice(0, 3)];
}"""
WATCH = f"""(size) => {{
  const read = {READ};
  window.seen = [];
  window.watching = new MutationObserver(() => window.seen.push([...read(size), performance.now()]));
  const painted = {{ attributes: true, attributeFilter: ["data-frame"] }};
  window.watching.observe(document.querySelector(".cb-picture"), painted);
}}"""


def make(folder: Path, name: str) -> tuple[int, int]:
    """Encode one of ``FILMS``; its size as shown [px]."""
    film = FILMS[name]
    small = _SMALL[::-1] if film.turn else _SMALL
    if not (folder / f"{name}.mp4").exists():
        pictures = (picture(n, small).repeat(_LARGER, 0).repeat(_LARGER, 1) for n in range(COUNT))
        shoot(folder / f"{name}.mp4", film, list(pictures))
    return small[0] * _LARGER, small[1] * _LARGER


@dataclass(slots=True)
class Screen:
    """The frame marker on its page."""

    page: Page
    size: tuple[int, int]
    painted: list[tuple[int, int, float]] = field(default_factory=list)

    def number(self) -> tuple[int, int]:
        """The number read from the pixels, and the one that the widget claims."""
        read, claimed = self.page.evaluate(READ, list(self.size))
        return read, claimed

    def shows(self, frame: int) -> None:
        until(self.number, (frame, frame))
        until(lambda: self.page.locator(".cb-now").inner_text().split(" at ")[0], f"frame {frame}")

    def press(self, *keys: str) -> None:
        self.page.locator(".cb-stage").focus()
        for key in keys:
            self.page.keyboard.press(key)

    def watch(self) -> None:
        """Note every picture from now on as it is painted."""
        self.page.evaluate(WATCH, list(self.size))

    def seen(self) -> list[tuple[int, int, float]]:
        """What was painted since: the number read, the number claimed, and when [ms]."""
        return [tuple(one) for one in self.page.evaluate("(window.watching.disconnect(), window.seen)")]

    def decoded(self) -> int:
        return int(self.page.evaluate("window.decoded"))

    def singles(self) -> int:
        return int(self.page.evaluate("window.singles"))

    def colour(self, across: float, down: float) -> tuple[int, int, int]:
        """Colour of the picture at shares of its width and height, the whole of it shown."""
        at = [*self.size, across, down]
        red, green, blue = self.page.evaluate(COLOUR, at)
        return red, green, blue


def opened(
    lab: Any, new_page: Any, name: str, *, script: str = COUNT_DECODED, slower: int = 1, tag: str = ""
) -> Screen:
    """A film's marker on a fresh page whose scripts come after ``script``."""
    size = make(lab.folder, name)
    page = new_page()
    if script:
        page.add_init_script(script)
    code = SETUP.format(name=name, slower=slower)
    lab.run_all(page, lab.notebook(f"{name}{tag}", [code]), ".cb-picture[data-frame]")
    page.locator(".cb-stage").scroll_into_view_if_needed()
    return Screen(page, size)
