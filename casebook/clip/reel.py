"""A reel: a short run of a clip's pictures, small, coded so that a browser shows any one of them within a few."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, Any

import numpy as np

from casebook.clip.loop import BT709, LIMITED, PICTURES_PER_KEY
from casebook.clip.picture import Shape, colours_of, rgb

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from casebook.clip.decoder import Decoder
    from casebook.clip.ledger import Decoded
    from casebook.clip.packets import Packets

#: From a frame's number and its picture as shown to the picture that may be seen, both (H, W, 3) uint8 RGB.
Retouch = Callable[[int, "NDArray[np.uint8]"], "NDArray[np.uint8]"]
#: Frames of one reel: two shared cores make it in about half a second, as long as play may wait after a jump.
FRAMES = 48
#: Longest side of the small pictures. [px]
LONGEST = 960
_CRF = 21
_NAMED = Fraction(1, 30)  # A tick of the coder; no picture is shown by it.


@dataclass(frozen=True, slots=True)
class Reel:
    """Small pictures of the frames ``number * FRAMES`` to the next reel's first.

    ``frames`` (n,): the frame of each coded picture, rising; damaged frames have none. ``ends`` (n,): where its bytes
    end in ``data``, which is an H.264 byte stream (ITU-T H.264, annex B). ``keys`` (n,): whether it stands on its own;
    no picture is reordered, and one leans only on those before it, back to the last key. ``codec``: the stream's
    profile and level as browsers name them (RFC 6381). ``size``: (width, height) [px].
    """

    number: int
    frames: tuple[int, ...]
    data: bytes
    ends: tuple[int, ...]
    keys: tuple[bool, ...]
    codec: str
    size: tuple[int, int]


def reel_size(shown: tuple[int, int]) -> tuple[int, int]:
    """Size of the small pictures of a clip shown at a size [px]: never larger, both sides even."""
    scale = min(1.0, LONGEST / max(shown))
    return max(2, int(shown[0] * scale) // 2 * 2), max(2, int(shown[1] * scale) // 2 * 2)


class Reader:
    """Pictures of any run of frames in order; runs that follow each other are read on without a jump."""

    def __init__(self, decoder: Decoder, packets: Packets) -> None:
        self._decoder = decoder
        self._packets = packets
        self._over: deque[Decoded] = deque()  # let out together with an earlier one

    def run(self, start: int, stop: int) -> Iterator[Decoded]:
        """The sound pictures of frames ``start`` to ``stop`` (exclusive)."""
        self._get_ready(start)
        while True:
            while self._over:
                if self._over[0].number >= stop:
                    return
                picture = self._over.popleft()
                if picture.sound and picture.number >= start:
                    yield picture
            if self._decoder.finished:
                return
            self._over.extend(self._decoder.step())

    def close(self) -> None:
        self._over.clear()
        self._decoder.close()

    def _get_ready(self, start: int) -> None:
        decoder, place = self._decoder, int(self._packets.shown[start])
        begin = self._packets.start_for(place)
        following = self._over[0].number if self._over else decoder.ledger.next_released
        # Running on is right where the picture is still to come and no key picture lies between.
        if (decoder.finished and not self._over) or not (following <= start and begin <= decoder.place + 1):
            self._over.clear()
            decoder.start(begin)


def encode_reel(
    number: int,
    pictures: Iterable[Decoded],
    shape: Shape,
    *,
    is_wanted: Callable[[], bool],
    retouch: Retouch | None = None,
) -> Reel | None:
    """Code pictures as a reel; None once ``is_wanted``, asked before every picture, says no.

    Parameters
    ----------
    pictures : iterable of Decoded
        Sound ones, in order.
    shape : Shape
        How stored pictures become shown ones.
    retouch : callable, optional
        Changes each picture before it is made small.
    """
    size = reel_size(shape.shown)
    coder = _coder(size)
    frames: list[int] = []
    packets: list[Any] = []
    for picture in pictures:
        if not is_wanted():
            return None
        small = (
            small_picture(picture.frame, shape, size)
            if retouch is None
            else _small_of(retouch(picture.number, rgb(picture.frame, shape)), size)
        )
        small.pts, small.time_base = len(frames), _NAMED
        frames.append(picture.number)
        packets += coder.encode(small)
    if frames:
        packets += coder.encode(None)
    data = b"".join(bytes(p) for p in packets)
    ends = np.cumsum([p.size for p in packets], dtype=np.int64)
    keys = tuple(bool(p.is_keyframe) for p in packets)
    return Reel(number, tuple(frames), data, tuple(int(e) for e in ends), keys, _codec_of(data), size)


def small_picture(frame: Any, shape: Shape, size: tuple[int, int]) -> Any:
    """A decoded picture as shown, at a size [px], as an 8-bit 4:2:0 frame of BT.709 in video range."""
    if frame.interlaced_frame:
        return _small_of(rgb(frame, shape), size)
    lying = size if shape.turn % 180 == 0 else size[::-1]
    matrix, full = colours_of(frame)
    small = _shrunk(frame, *lying, matrix, full)
    if not shape.turn and not shape.mirrored:
        return small
    return _turned(small.to_ndarray(), lying, shape)


def _small_of(picture: NDArray[np.uint8], size: tuple[int, int]) -> Any:
    import av

    return _shrunk(av.VideoFrame.from_ndarray(picture, format="rgb24"), *size, None, True)


def _shrunk(frame: Any, width: int, height: int, matrix: str | None, full: bool) -> Any:
    from av.video.reformatter import Interpolation

    return frame.reformat(
        width=width,
        height=height,
        format="yuv420p",
        interpolation=Interpolation.AREA | Interpolation.ACCURATE_RND,
        src_colorspace=matrix,
        src_color_range="JPEG" if full else "MPEG",
        dst_colorspace="ITU709",
        dst_color_range="MPEG",
        threads=1,
    )


def _turned(planes: NDArray[np.uint8], size: tuple[int, int], shape: Shape) -> Any:
    """Mirrored and turned. ``planes`` (height * 3/2, width): brightness, then the two of colour at half the size."""
    import av

    width, height = size
    half = (height // 2, width // 2)
    bright, colour = planes[:height], planes[height:].reshape(2, *half)
    turned = []
    for plane in (bright, *colour):
        plane = plane[:, ::-1] if shape.mirrored else plane
        turned.append(np.rot90(plane, -(shape.turn // 90)))
    wide = turned[0].shape[1]
    stacked = np.concatenate([turned[0].ravel(), turned[1].ravel(), turned[2].ravel()]).reshape(-1, wide)
    return av.VideoFrame.from_ndarray(np.ascontiguousarray(stacked), format="yuv420p")


def _coder(size: tuple[int, int]) -> Any:
    import av
    from av.codec.context import Flags

    coder: Any = av.CodecContext.create("libx264", "w")
    coder.width, coder.height = size
    coder.pix_fmt, coder.time_base = "yuv420p", _NAMED
    coder.colorspace = coder.color_primaries = coder.color_trc = BT709
    coder.color_range = LIMITED
    coder.flags |= int(Flags["bitexact"])
    every = f"keyint={PICTURES_PER_KEY}:min-keyint=1:scenecut=0"
    coder.options = {
        "preset": "superfast",
        "tune": "fastdecode",
        "crf": str(_CRF),
        "x264-params": f"bframes=0:{every}:threads=1:lookahead-threads=1:rc-lookahead=0",
    }
    return coder


def _codec_of(data: bytes) -> str:
    """Named by the three bytes after the head of the parameter set that opens the stream (RFC 6381, 3.3)."""
    at = data.find(b"\x00\x00\x01\x67")
    return f"avc1.{data[at + 4 : at + 7].hex()}" if at >= 0 else ""
