"""What a clip is, in figures and in a coach's words."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from casebook.clip.packets import Packets
from casebook.clip.picture import Shape, colours_of

_CODECS = {
    "h264": "H.264",
    "hevc": "HEVC",
    "vp8": "VP8",
    "vp9": "VP9",
    "av1": "AV1",
    "mpeg4": "MPEG-4 part 2",
    "mpeg2video": "MPEG-2",
    "mjpeg": "Motion JPEG",
    "prores": "ProRes",
    "dvvideo": "DV",
}
_CONTAINERS = {"mov,mp4": "MP4 or MOV", "matroska": "MKV or WebM", "avi": "AVI", "mpegts": "transport stream"}
_SILENT = ("hevc", "vp8", "vp9")  # Their decoders conceal most damage without a word (own trials with flipped bytes).
# Below these a clip looks like a copy made for sending (common practice, no source).
_SMALL_SIDE_PX = 700
_THIN_BITS_PER_PIXEL = 0.02
_SLOW_FPS = 40
_MISSING_S = 0.25  # Less than this at the end is how containers count, not a cut (own judgement, no source).
_HDR_TRANSFERS = (16, 18)  # ITU-T H.273: PQ and HLG.


@dataclass(frozen=True, slots=True)
class ClipFacts:
    """Figures about a clip, and ``notes``: what a coach should know about it, one sentence each; ``losses`` are those
    of the notes that say what the file has lost.

    ``fps``: mean pictures per second of the file's time; ``seconds``: from the first picture to the last;
    ``bits_per_pixel``: what the file spends on a picture; ``pixel_aspect``: width of a stored pixel over its height.
    """

    codec: str
    container: str
    size: tuple[int, int]
    n_frames: int
    seconds: float
    fps: float
    variable_rate: bool
    bit_depth: int
    interlaced: bool
    audio: bool
    pixel_aspect: float
    full_range: bool
    bits_per_pixel: float
    notes: tuple[str, ...] = ()
    losses: tuple[str, ...] = ()

    def lines(self) -> tuple[str, ...]:
        """The facts as lines of text."""
        width, height = self.size
        return (
            f"{self.n_frames} pictures of {width} x {height}, {self.seconds:.2f} seconds.",
            f"{self.codec} in {self.container}{', with sound' if self.audio else ''}.",
            *self.notes,
        )

    def __str__(self) -> str:
        return "\n".join(self.lines())


def clip_facts(stream: Any, frame: Any, shape: Shape, packets: Packets, times: NDArray[np.float64]) -> ClipFacts:
    """Facts from an opened stream, its first sound picture, its packet list and its times (N,) [s]."""
    codec, kind = str(stream.codec_context.codec.canonical_name), stream.container.format.name
    seconds = float(times[-1]) if len(times) else 0.0
    fps = (len(times) - 1) / seconds if seconds > 0 else 0.0
    uneven = is_uneven(times, float(stream.time_base))
    interlaced = bool(frame.interlaced_frame)
    bits = 8.0 * float(packets.size.sum()) / max(1, len(times) * shape.coded[0] * shape.coded[1])
    losses = tuple(_file_notes(stream, packets, seconds, fps))
    notes = (
        _rate_note(times, fps, uneven),
        *_picture_notes(frame, shape, interlaced),
        *_copy_notes(shape, bits),
        *losses,
        _check_note(codec),
    )
    return ClipFacts(
        codec=_CODECS.get(codec, codec),
        container=next((name for key, name in _CONTAINERS.items() if kind.startswith(key)), kind),
        size=shape.shown,
        n_frames=len(times),
        seconds=seconds,
        fps=fps,
        variable_rate=uneven,
        bit_depth=frame.format.components[0].bits,
        interlaced=interlaced,
        audio=bool(stream.container.streams.audio),
        pixel_aspect=float(stream.sample_aspect_ratio or 1),
        full_range=colours_of(frame)[1],
        bits_per_pixel=bits,
        notes=tuple(n for n in notes if n),
        losses=losses,
    )


def is_uneven(times: NDArray[np.float64], tick_s: float) -> bool:
    """Whether the steps between pictures (N,) [s] differ by more than rounding to the file's tick and a twentieth."""
    steps = np.diff(times)
    if len(steps) == 0:
        return False
    usual = float(np.median(steps))
    return bool((np.abs(steps - usual) > max(1.01 * tick_s, usual / 20)).any())


def _rate_note(times: NDArray[np.float64], fps: float, uneven: bool) -> str:
    if len(times) < 2 or fps == 0:
        return "One picture only."
    slow = " A fast hand moves a long way between two of them; 60 or more serve better." if fps < _SLOW_FPS else ""
    if not uneven:
        return f"{fps:.4g} pictures a second, steady.{slow}"
    steps = np.diff(times)
    dropped = int((steps > 1.5 * np.median(steps)).sum())
    gaps = f" {dropped} of the gaps are long, as when a camera drops pictures." if dropped else ""
    return f"{fps:.4g} pictures a second on average, uneven; every picture keeps its own time.{gaps}{slow}"


def _picture_notes(frame: Any, shape: Shape, interlaced: bool) -> list[str]:
    notes = []
    if interlaced:
        notes.append(
            "Interlaced: each picture holds two moments woven together. The first of them is kept, with half the "
            "lines, so heights are half as finely drawn."
        )
    if shape.square != shape.coded:
        notes.append("Stored with pixels that are not square; shown stretched to true proportions.")
    if shape.mirrored:
        notes.append("The file asks to be shown mirrored, and is.")
    if int(frame.color_trc) in _HDR_TRANSFERS:
        notes.append("Filmed in HDR: colours look paler here than on the phone; positions are not touched.")
    return notes


def _copy_notes(shape: Shape, bits: float) -> list[str]:
    if min(shape.coded) < _SMALL_SIDE_PX:
        return [
            "Small picture: if it came through a messenger it was shrunk, perhaps re-timed; ask for the original file."
        ]
    if bits < _THIN_BITS_PER_PIXEL:
        return ["Strongly compressed: if it came through a messenger, ask for the original file."]
    return []


def _file_notes(stream: Any, packets: Packets, seconds: float, fps: float) -> list[str]:
    notes = []
    if packets.by_order:
        notes.append(
            "The file holds no trustworthy times: pictures are numbered as they come, and times are nominal, from the "
            "stated rate."
        )
    if packets.lost_start:
        notes.append(
            f"{packets.lost_start} pictures at the start are built on ones that are not in the file; they are left out."
        )
    promised, held = int(stream.frames or 0), len(packets.pts)
    if promised > held:
        notes.append(f"The file was cut: it promises {promised} pictures and holds {held}.")
    elif _stated_s(stream) - seconds > max(_MISSING_S, 4 / max(fps, 1.0)):
        notes.append(f"The file says that it lasts {_stated_s(stream):.1f} s, but its pictures end at {seconds:.1f} s.")
    elif packets.broken_off:
        notes.append("Reading broke off before the end of the file; what came before it is here.")
    return notes


def _stated_s(stream: Any) -> float:
    """How long the head of an MKV or WebM says that it lasts; other heads say nothing that a cut leaves. [s]"""
    if not stream.container.format.name.startswith("matroska"):
        return 0.0
    return float(stream.container.duration or 0) / 1e6


def _check_note(codec: str) -> str:
    note = "Damage inside the file shows when a picture is asked for, or at once with clip.check()."
    if codec in _SILENT:
        return f"{note} With {_CODECS[codec]} only gross damage can be noticed."
    return note
