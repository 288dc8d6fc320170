"""A tiny clip and a fresh store for the tools' Python side."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import av
import numpy as np
import pytest

from casebook.case.camera import CameraFacts
from casebook.case.desk import Desk
from casebook.clip.clip import Clip
from casebook.clip.shot import Shot
from casebook.marks.store import MarkStore

# The hand-made arm of the stroke tests serves here too.
sys.path.append(str(Path(__file__).parents[1] / "stroke"))


@pytest.fixture(scope="session")
def heron_mp4(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """30 frames of 320 x 180 at 30 a second, each an even grey of 40 + 4 x its number."""
    path = tmp_path_factory.mktemp("clips") / "heron_side.mp4"
    with av.open(path, "w") as out:
        stream = out.add_stream("libx264", rate=30, options={"crf": "6"})
        stream.width, stream.height, stream.pix_fmt = 320, 180, "yuv420p"
        stream.time_base = Fraction(1, 30)
        for n in range(30):
            frame = av.VideoFrame.from_ndarray(np.full((180, 320, 3), 40 + 4 * n, np.uint8), format="rgb24")
            frame.pts = n
            out.mux(stream.encode(frame))
        out.mux(stream.encode(None))
    return path


@pytest.fixture
def heron(heron_mp4: Path) -> Iterator[Clip]:
    with Clip(heron_mp4) as clip:
        yield clip


@pytest.fixture
def store(heron: Clip, tmp_path: Path) -> Iterator[MarkStore]:
    with MarkStore(tmp_path / "heron_side.csv", heron.times, by="ab") as opened:
        yield opened


@pytest.fixture
def desk(heron: Clip, tmp_path: Path) -> Iterator[Desk]:
    """The desk of a case of which no more is said than what a tool asks for."""
    (tmp_path / "marks").mkdir()
    case: Any = SimpleNamespace(
        folder=tmp_path, coach="ab", alias="heron", out=tmp_path / "out", level="club", camera=lambda _: CameraFacts()
    )
    opened = Desk(case, Shot("heron_side", heron, "side_under", "right", 0, 30))
    yield opened
    opened.store.close()
