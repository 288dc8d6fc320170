"""What pictures of a clip cost against each other, and the memory of a full-size film; prints, asserts no time.

``CASEBOOK_BENCH_SECONDS`` sets the length of the full-size film (1920 x 1080, 60 pictures a second); 10 if unset.
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest

from casebook.clip.clip import Clip
from casebook.clip.loop import encode_loop

GROUP = 250
MEMORY = """
import resource, sys
from casebook.clip.clip import Clip
clip = Clip(sys.argv[1])
n = clip.n_frames
for i in [*range(200), *range(n - 1, n - 200, -1), *range(0, n, max(1, n // 12))]:
    clip.frame(i)
clip.jpeg(n // 2, width=960)
print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * (1 if sys.platform == "darwin" else 1024))
"""


def film(path: Path, seconds: float, size: tuple[int, int]) -> Path:
    """A still picture with noise, in groups of 250."""
    width, height = size
    grain = np.random.default_rng(0).integers(16, 235, (height // 16 + 1, width // 16 + 1, 3)).astype(np.uint8)
    image = np.ascontiguousarray(grain.repeat(16, 0).repeat(16, 1)[:height, :width])
    with av.open(str(path), "w") as box:
        options = {"preset": "ultrafast", "x264-params": f"keyint={GROUP}:scenecut=0"}
        stream = box.add_stream("libx264", rate=60, options=options)
        stream.width, stream.height, stream.pix_fmt = width, height, "yuv420p"
        frame = av.VideoFrame.from_ndarray(image).reformat(format="yuv420p")
        for i in range(round(seconds * 60)):
            frame.pts, frame.time_base = i, Fraction(1, 60)
            box.mux(stream.encode(frame))
        box.mux(stream.encode(None))
    return path


def timed(act) -> float:
    began = time.perf_counter()
    act()
    return time.perf_counter() - began


@pytest.mark.bench
def test_steps_against_each_other(tmp_path):
    clip = Clip(film(tmp_path / "film.mp4", 8.4, (1280, 720)))
    forward = float(np.median([timed(lambda i=i: clip.frame(i)) for i in range(GROUP)]))
    again = float(np.median([timed(lambda i=i: clip.frame(i)) for i in range(GROUP - 1, GROUP - 11, -1)]))
    clip.close()
    last = 2 * GROUP - 1
    into = timed(lambda: clip.frame(last))
    back = [timed(lambda i=i: clip.frame(i)) for i in range(last - 1, last - 201, -1)]
    print(f"\n  held picture / next picture: {again / forward:.3f}")
    print(f"  jump to the end of a group of {GROUP} / next picture: {into / forward:.0f}")
    print(f"  mean step back through that group / next picture: {np.mean(back) / forward:.1f}")
    print(f"  median step back / next picture: {np.median(back) / forward:.2f}")
    opened = timed(lambda: Clip(clip.path))
    print(f"  opening a film of {clip.n_frames} pictures / next picture: {opened / forward:.0f}")
    pictures = list(clip.frames(0, 60))
    encoded = timed(lambda: encode_loop(pictures, clip.times[:60])) / 60
    print(f"  one picture of a loop / next picture: {encoded / forward:.1f}")


@pytest.mark.bench
@pytest.mark.skipif(os.name == "nt", reason="the memory of a process is read in the Unix way")
def test_memory_of_a_full_size_film(tmp_path):
    seconds = float(os.environ.get("CASEBOOK_BENCH_SECONDS", "10"))
    path = film(tmp_path / "full.mp4", seconds, (1920, 1080))
    out = subprocess.run([sys.executable, "-c", MEMORY, str(path)], capture_output=True, text=True, check=True)
    peak = int(out.stdout)
    print(f"\n  {seconds:g} s of 1920 x 1080 at 60: peak of the whole process {peak / 1e6:.0f} MB, limit 600")
    assert peak < 600e6
