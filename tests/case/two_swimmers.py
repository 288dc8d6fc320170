"""A short film with somebody else in the next lane, put together from two demo clips. Everybody in it is invented."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import av
import numpy as np

from casebook.clip.clip import Clip
from casebook.resources import shipped

#: Where the other swimmer is on every frame: left, top, right, bottom. [px]
NEXT_LANE = (0, 150, 480, 270)
FRAMES = 24


def film_of_two(path: Path) -> Path:
    """480 x 270: Wren above, and below, in the next lane, Heron coming the other way."""
    clips = shipped("demo_clips")
    with Clip(clips / "wren_side.mp4") as wren, Clip(clips / "heron_side.mp4") as heron, av.open(str(path), "w") as box:
        stream = box.add_stream("libx264", rate=Fraction(30), options={"crf": "16"})
        stream.width, stream.height, stream.pix_fmt = 480, 270, "yuv420p"
        for i in range(FRAMES):
            # Each shrunk to half, and cut to the band in which its swimmer is.
            one, other = (np.asarray(c.frame(2 * i))[::2, ::2] for c in (wren, heron))
            picture = np.concatenate([one[20:170], other[40:160]])
            box.mux(stream.encode(av.VideoFrame.from_ndarray(np.ascontiguousarray(picture), "rgb24")))
        box.mux(stream.encode())
    return path
