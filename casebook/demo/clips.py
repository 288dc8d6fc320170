"""Rebuild the demo clips and their truth: ``python -m casebook.demo.clips [--only NAME] [--out FOLDER]``.

The truth comes out byte for byte the same; pixels within ``PSNR_DB`` of the shipped clips, since encoders differ.
"""

from __future__ import annotations

import argparse
import io
import sys
from collections.abc import Iterable, Sequence
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from casebook.demo.clip_plans import PLANS, SIZE, ClipPlan
from casebook.demo.render import frames
from casebook.demo.truth_files import write_truth
from casebook.errors import CasebookError
from casebook.files import write_atomic

if TYPE_CHECKING:
    from numpy.typing import NDArray

#: Least peak signal-to-noise ratio between a picture rendered anew and the one decoded from a shipped clip. [dB]
PSNR_DB = 30.0
CRF, KEY_EVERY = 24, 30


def encoded(pictures: Iterable[NDArray[np.uint8]], fps: int, size: tuple[int, int]) -> bytes:
    """An MP4 of pictures (H, W, 3) uint8 RGB at an even rate: H.264, no sound."""
    import av
    from av.codec.context import Flags

    target = io.BytesIO()
    # One thread and no pictures predicted from later ones: as repeatable as the encoder can be, though not to the byte.
    x264 = f"keyint={KEY_EVERY}:min-keyint={KEY_EVERY}:scenecut=0:threads=1:lookahead-threads=1:bframes=0"
    with av.open(target, "w", format="mp4", options={"fflags": "+bitexact"}) as box:
        stream = box.add_stream("libx264", rate=fps, options={"preset": "medium", "crf": str(CRF), "x264-params": x264})
        stream.width, stream.height = size
        stream.pix_fmt = "yuv420p"
        stream.time_base = stream.codec_context.time_base = Fraction(1, fps)
        stream.codec_context.flags |= int(Flags.bitexact)
        # ITU-T H.273 code points 1: BT.709 matrix, primaries and transfer; and video range.
        stream.codec_context.colorspace = stream.codec_context.color_primaries = stream.codec_context.color_trc = 1
        stream.codec_context.color_range = 1
        for number, picture in enumerate(pictures):
            frame = av.VideoFrame.from_ndarray(picture, format="rgb24").reformat(
                format="yuv420p", dst_colorspace="ITU709", dst_color_range="MPEG", threads=1
            )
            frame.pts, frame.time_base = number, Fraction(1, fps)
            box.mux(stream.encode(frame))
        box.mux(stream.encode(None))
    return target.getvalue()


def build(plan: ClipPlan, folder: Path) -> Path:
    """Render one clip, write it and its truth into ``folder``; returns the clip's path."""
    from tqdm import tqdm

    write_truth(folder, plan.truth)
    times = plan.times
    pictures = tqdm(frames(plan.scene, times), plan.name, len(times), unit="frame", file=sys.stderr)
    path = folder / f"{plan.name}.mp4"
    write_atomic(path, encoded(pictures, plan.fps, SIZE))
    return path


def psnr_db(a: NDArray[np.uint8], b: NDArray[np.uint8]) -> float:
    """Peak signal-to-noise ratio of two pictures of the same shape. [dB]"""
    error = float(np.mean((a.astype(float) - b.astype(float)) ** 2))
    return float("inf") if error == 0 else 10.0 * float(np.log10(255.0**2 / error))


def main(arguments: Sequence[str] | None = None) -> None:
    """Rebuild all clips, or one."""
    parser = argparse.ArgumentParser(prog="python -m casebook.demo.clips", description="Rebuild the demo clips.")
    parser.add_argument("--only", metavar="NAME", help=f"one clip: {', '.join(PLANS)}")
    parser.add_argument("--out", type=Path, default=Path("demo_clips"), metavar="FOLDER")
    chosen = parser.parse_args(arguments)
    if chosen.only is not None and chosen.only not in PLANS:
        raise CasebookError(f'There is no demo clip "{chosen.only}".', f"Name one of: {', '.join(PLANS)}.")
    for name in [chosen.only] if chosen.only else PLANS:
        build(PLANS[name], chosen.out)


if __name__ == "__main__":
    main()
