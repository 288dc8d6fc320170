"""A short stretch of pictures as an MP4 that a browser plays, and steps through picture by picture."""

from __future__ import annotations

import io
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from itertools import zip_longest
from typing import TYPE_CHECKING, Any

import numpy as np

from casebook.errors import ClipError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

TICKS_PER_S = 90_000
PICTURES_PER_KEY = 8  # A browser decodes at most this many to show one.
BT709, LIMITED = 1, 1  # ITU-T H.273 code points: matrix, primaries and transfer 1; video range.


@dataclass(frozen=True, slots=True)
class Loop:
    """An encoded stretch.

    ``mp4`` is the file; ``times_s`` (N,) float array, when each picture begins [s]; ``size`` (width, height) [px].
    """

    mp4: bytes
    times_s: NDArray[np.float64]
    size: tuple[int, int]


def encode_loop(
    frames: Iterable[NDArray[np.uint8]], times_s: ArrayLike, *, width: int = 960, crf: int = 28, quick: bool = False
) -> Loop:
    """Encode pictures as H.264 that every browser plays and seeks exactly.

    Parameters
    ----------
    frames : iterable of (H, W, 3) uint8 RGB
        All of one size; read one by one.
    times_s : (N,) float array
        When each picture begins, rising [s]; the first becomes 0.
    width : int
        Largest width of the result [px]. Pictures are never enlarged. Width and height are rounded to even numbers, the
        whole picture scaled to fit.
    crf : int
        Quality, 0 (best) to 51.
    quick : bool
        On all processors and with less thought, for long stretches: a larger file, whose bytes depend on the machine.

    Returns
    -------
    Loop
        One packet per picture, none reordered, a key picture every eighth; the same bytes for the same input. To show
        picture i, seek to the middle of it, as a seek to its very beginning may round to the one before.

    Raises
    ------
    ClipError
        No pictures, times that do not rise, or more of one than of the other.
    """
    ticks = _ticks(times_s)
    target = io.BytesIO()
    stream: Any = None
    import av

    with av.open(target, "w", format="mp4", options={"fflags": "+bitexact"}) as box:
        for picture, tick in zip_longest(frames, ticks):
            if picture is None or tick is None:
                raise ClipError(
                    "A loop needs one time for every picture, and has more of one than of the other.",
                    "Hand over as many times as pictures.",
                )
            if stream is None:
                stream = _open_stream(box, _even_size(picture.shape[1], picture.shape[0], width), crf, quick)
                strip = av.BitStreamFilterContext("filter_units=remove_types=6", stream)
            for packet in stream.encode(_encodable(picture, int(tick), stream)):
                box.mux(strip.filter(packet))
        for packet in stream.encode(None):
            box.mux(strip.filter(packet))
        box.mux(strip.filter(None))
        size = (stream.width, stream.height)
    return Loop(target.getvalue(), ticks / TICKS_PER_S, size)


def _ticks(times_s: ArrayLike) -> NDArray[np.int64]:
    times = np.asarray(times_s, float)
    if times.ndim != 1 or times.size == 0 or not np.isfinite(times).all():
        problem = "A loop needs at least one picture, and a known time for each."
        raise ClipError(problem, "Choose a stretch of the clip.")
    ticks = np.rint((times - times[0]) * TICKS_PER_S).astype(np.int64)
    if (np.diff(ticks) <= 0).any():
        raise ClipError("The times of a loop must rise from picture to picture.", "Check the order of the frames.")
    return ticks


def _even_size(width: int, height: int, limit: int) -> tuple[int, int]:
    scale = min(1.0, limit / width)
    return max(2, 2 * round(width * scale / 2)), max(2, 2 * round(height * scale / 2))


def _open_stream(box: Any, size: tuple[int, int], crf: int, quick: bool) -> Any:
    # One thread, so that the bytes do not depend on the machine's number of cores.
    threads = "" if quick else ":threads=1:lookahead-threads=1"
    options = {
        "preset": "superfast" if quick else "fast",
        "crf": str(crf),
        "x264-params": f"bframes=0:keyint={PICTURES_PER_KEY}:min-keyint=1:scenecut=0{threads}",
    }
    stream = box.add_stream("libx264", options=options)
    stream.width, stream.height = size
    stream.pix_fmt = "yuv420p"
    stream.time_base = stream.codec_context.time_base = Fraction(1, TICKS_PER_S)
    context = stream.codec_context
    context.colorspace = context.color_primaries = context.color_trc = BT709
    context.color_range = LIMITED
    context.flags |= _flag("bitexact")
    return stream


def _flag(name: str) -> int:
    from av.codec.context import Flags

    return int(Flags[name])


def _encodable(picture: NDArray[np.uint8], tick: int, stream: Any) -> Any:
    import av

    frame = av.VideoFrame.from_ndarray(np.ascontiguousarray(picture), format="rgb24").reformat(
        width=stream.width,
        height=stream.height,
        format="yuv420p",
        interpolation="AREA",
        dst_colorspace="ITU709",
        dst_color_range="MPEG",
        threads=1,
    )
    frame.pts, frame.time_base = tick, stream.codec_context.time_base
    return frame
