"""A small film to put into cases."""

from __future__ import annotations

from pathlib import Path

import av
import numpy as np
import pytest


@pytest.fixture(scope="session")
def short_clip(tmp_path_factory) -> Path:
    """Four grey pictures as a video file."""
    path = tmp_path_factory.mktemp("film") / "IMG_0001.mp4"
    with av.open(str(path), "w") as out:
        stream = out.add_stream("mpeg4", rate=25)
        stream.width, stream.height, stream.pix_fmt = 64, 48, "yuv420p"
        for k in range(4):
            picture = np.full((48, 64, 3), 40 * k, np.uint8)
            out.mux(stream.encode(av.VideoFrame.from_ndarray(picture, format="rgb24")))
        out.mux(stream.encode())
    return path
