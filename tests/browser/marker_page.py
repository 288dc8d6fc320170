"""Frames that carry their own number, and the frame marker on its page, for the tests that drive it."""

from __future__ import annotations

import io
import math
import time
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

import av
import numpy as np
import pytest
from PIL import Image

from casebook.marks.store import MarkStore

if TYPE_CHECKING:
    from playwright.sync_api import Page

WIDTH, HEIGHT, COUNT, FPS = 1600, 900, 48, 30
BITS, BLOCK = 6, 80
#: Centre of a white dot on every frame, and from it to the centre of a black one. [px]
WHITE, TO_BLACK = (640.0, 500.0), (36.0, 27.0)
#: A patch of upright stripes, each one pixel wide: left, top, width, height. [px]
STRIPES = (1200, 700, 40, 40)
TIMES = np.arange(COUNT) / FPS
POINTS = ("shoulder_r", "elbow_r", "wrist_r", "fingertip_r")

SETUP = """
import json
from pathlib import Path
from casebook.clip.clip import Clip
from casebook.marks.store import MarkStore
from casebook.widgets.frame_marker import FrameMarker

clip = Clip("numbered.mp4")
store = MarkStore(Path("numbered.csv"), clip.times)
def live(frame, marks):
    return f"{len(marks)} marks on {frame}"
"""
SHOW = f"FrameMarker(clip, store, points={POINTS!r}, live=live)"

READ_NUMBER = """([width, height, bits, block]) => {
  const canvas = document.querySelector(".cb-picture"), g = canvas.getContext("2d");
  const scale = Math.min(canvas.width / width, canvas.height / height);
  const left = (canvas.width - width * scale) / 2, top = (canvas.height - height * scale) / 2;
  let number = 0;
  for (let bit = 0; bit < bits; bit++) {
    const [red] = g.getImageData(left + (bit + 0.5) * block * scale, top + block / 2 * scale, 1, 1).data;
    if (red > 128) number += 2 ** bit;
  }
  return [number, Number(canvas.dataset.frame)];
}"""


def numbered(n: int) -> np.ndarray:
    """Frame ``n``: its number as white and black blocks at the upper left, lowest bit first; the dots, the stripes."""
    frame = np.full((HEIGHT, WIDTH), 128, np.uint8)
    for bit in range(BITS):
        frame[:BLOCK, bit * BLOCK : (bit + 1) * BLOCK] = 240 if n >> bit & 1 else 16
    y, x = np.mgrid[:HEIGHT, :WIDTH]
    for (cx, cy), tone in ((WHITE, 250), ((WHITE[0] + TO_BLACK[0], WHITE[1] + TO_BLACK[1]), 4)):
        frame[np.hypot(x - cx, y - cy) <= 4] = tone
    x, y, wide, high = STRIPES
    frame[y : y + high, x : x + wide] = np.where(np.arange(wide) % 2, 240, 16)
    return np.repeat(frame[..., None], 3, 2)


def encode(path: Path) -> None:
    with av.open(path, "w") as out:
        stream = out.add_stream("libx264", rate=FPS, options={"crf": "10", "preset": "veryfast"})
        stream.width, stream.height, stream.pix_fmt = WIDTH, HEIGHT, "yuv420p"
        stream.time_base = Fraction(1, FPS)
        for n in range(COUNT):
            frame = av.VideoFrame.from_ndarray(numbered(n), format="rgb24")
            frame.pts = n
            out.mux(stream.encode(frame))
        out.mux(stream.encode(None))


@dataclass(frozen=True, slots=True)
class Tool:
    """The widget on its page, and the marks file that it writes."""

    page: Page
    csv: Path

    def number(self) -> tuple[int, int]:
        """The number read from the pixels on screen (whole picture shown), and the one that the widget claims."""
        read, claimed = self.page.evaluate(READ_NUMBER, [WIDTH, HEIGHT, BITS, BLOCK])
        return read, claimed

    def shows(self, frame: int) -> None:
        """The pixels, the widget's claim and its words all come to say ``frame``."""
        until(self.number, (frame, frame))
        until(lambda: self.page.locator(".cb-now").inner_text().split(" at ")[0], f"frame {frame}")

    def go(self, frame: int) -> None:
        """To a frame by keyboard alone, seeing the whole picture."""
        self.focus()
        self.page.keyboard.press("0")
        self.page.keyboard.press("Home")
        for _ in range(frame // 10):
            self.page.keyboard.press("Shift+ArrowRight")
        for _ in range(frame % 10):
            self.page.keyboard.press("ArrowRight")
        self.shows(frame)

    def load_anew(self) -> None:
        """The same notebook on a fresh page, without what other tests have open."""
        self.page.goto(f"{self.page.url.partition('?')[0]}?reset")

    def focus(self) -> None:
        self.page.locator(".cb-stage").focus()

    def chosen(self) -> str | None:
        return self.page.get_by_role("radio", checked=True).get_attribute("data-point")

    def on_disk(self, frame: int) -> dict[str, tuple[float, float]]:
        with MarkStore(self.csv, TIMES) as store:
            return store.marks.at(frame)

    def dots(self) -> tuple[np.ndarray, np.ndarray]:
        """Where the white and the black dot are on the page, from a picture of the screen. [CSS px]"""
        box = self.page.locator(".cb-stage").bounding_box()
        assert box is not None
        shot = np.asarray(Image.open(io.BytesIO(self.page.screenshot())).convert("L"), int)
        x0, y0 = math.ceil(box["x"]) + 4, math.ceil(box["y"]) + 4
        part = shot[y0 : math.floor(box["y"] + box["height"]) - 4, x0 : math.floor(box["x"] + box["width"]) - 4]
        found = []
        for mask in (part > 190, part < 66):
            assert mask.any(), "the dot is in sight"
            rows, columns = np.nonzero(mask)
            # A screen pixel's middle is half a pixel from its edge.
            found.append(np.array([columns.mean() + x0 + 0.5, rows.mean() + y0 + 0.5]))
        return found[0], found[1]

    def standing_still(self) -> tuple[np.ndarray, np.ndarray]:
        """The dots once two pictures of the screen in a row agree. [CSS px]"""
        seen = [self.dots()]
        for _ in range(40):
            time.sleep(0.1)
            seen.append(self.dots())
            if np.allclose(seen[-1], seen[-2]):
                return seen[-1]
        pytest.fail("The picture never came to rest.")

    def close_up(self) -> tuple[np.ndarray, float]:
        """Zoom in on the white dot by wheel; its place on the page and the zoom, both read off the screen."""
        box = self.page.locator(".cb-stage").bounding_box()
        assert box is not None
        scale = min(box["width"] / WIDTH, box["height"] / HEIGHT)
        left, top = box["x"] + (box["width"] - WIDTH * scale) / 2, box["y"] + (box["height"] - HEIGHT * scale) / 2
        self.focus()
        self.page.mouse.move(left + WHITE[0] * scale, top + WHITE[1] * scale)
        for _ in range(5):
            self.page.mouse.wheel(0, -200)
        until(lambda: self.page.locator(".cb-picture").get_attribute("data-width"), str(WIDTH))
        # A wheel's turns arrive one by one: read once the picture stands still.
        white, black = self.standing_still()
        return white, float(np.hypot(*(black - white)) / np.hypot(*TO_BLACK))


def until(read: Callable[[], Any], wanted: Any, seconds: float = 8.0) -> None:
    end = time.monotonic() + seconds
    while (got := read()) != wanted:
        assert time.monotonic() < end, f"still {got!r}, not {wanted!r}"
        time.sleep(0.02)
