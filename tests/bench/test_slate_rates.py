"""How far slates are read: parts read, misread and noticed, by the marker's size and by what ails the picture; and how
long a picture takes against decoding it."""

from __future__ import annotations

import time

import numpy as np
import pytest
from PIL import Image

from casebook.clip.clip import Clip
from casebook.demo.slate_scene import Held, with_slate
from casebook.resources import shipped
from casebook.squad.slate import CARD_MM, LARGE_MM, NUMBERS, slates_in

pytestmark = pytest.mark.bench
EACH = 12
CONDITIONS = {
    "as it should be": {"blur_px": 0.7, "noise": 3},
    "blurred": {"blur_px": 2.2, "noise": 3},
    "much blurred": {"blur_px": 4.0, "noise": 3},
    "noisy": {"blur_px": 1.0, "noise": 14},
    "dim": {"blur_px": 1.0, "noise": 3, "light": 0.15},
    "dim blue water": {"blur_px": 1.2, "noise": 3, "water": True, "light": 0.35},
    "half covered": {"blur_px": 0.8, "noise": 3, "covered": 0.4},
    "thumb on it": {"blur_px": 0.8, "noise": 3, "thumb": True},
}  # fmt: skip


def test_rates_by_size_and_condition():
    with Clip(shipped("demo_clips") / "rowan_side.mp4") as clip:
        pictures = [np.asarray(Image.fromarray(clip.frame(60 * k)).resize((1280, 720))) for k in range(6)]
    rng = np.random.default_rng(1)
    spent, n = 0.0, 0
    for name, how in CONDITIONS.items():
        told = []
        for height in (40, 56, 80, 120, 200):
            read = wrong = noticed = 0
            for k in range(EACH):
                turn, tilt, swing = rng.uniform(-40, 40, 3)
                number = int(rng.choice(NUMBERS))
                picture = with_slate(pictures[k % 6], number, Held(height, (0.5, 0.5), turn, tilt, swing, **how), k)
                begin = time.perf_counter()
                seen = slates_in(picture)
                spent, n = spent + time.perf_counter() - begin, n + 1
                read += number in seen.numbers
                wrong += bool(seen.numbers - {number})
                noticed += bool(seen.unread)
            side = height * LARGE_MM[2] / CARD_MM[1]
            told.append(f"{side:.0f} px {read / EACH:.0%} ({wrong} wrong, {noticed / EACH:.0%} noticed)")
        print(f"{name}: " + "; ".join(told))
    begin = time.perf_counter()
    with Clip(shipped("demo_clips") / "rowan_side.mp4") as clip:
        for k in range(60):
            clip.frame(k)
    print(f"looking for a slate takes {spent / n / ((time.perf_counter() - begin) / 60):.0f} times as long as decoding")
