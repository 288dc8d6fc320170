"""A small real video file for tests that need one and do not care what it shows."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import av
import numpy as np


def film(path: Path, n_frames: int = 30, fps: int = 60, size: tuple[int, int] = (320, 192), shade: int = 0) -> Path:
    """Encode ``n_frames`` of a moving grey step with H.264."""
    width, height = size
    with av.open(str(path), "w") as box:
        stream = box.add_stream("libx264", rate=Fraction(fps))
        stream.width, stream.height, stream.pix_fmt = width, height, "yuv420p"
        for i in range(n_frames):
            picture = np.full((height, width, 3), 40 + shade, np.uint8)
            picture[:, : (i * width) // n_frames] = 200
            box.mux(stream.encode(av.VideoFrame.from_ndarray(picture, "rgb24")))
        box.mux(stream.encode())
    return path
