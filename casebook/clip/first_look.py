"""The first look at a file: its packet list, its first pictures, and whether the two agree."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from casebook.clip.decoder import tag
from casebook.clip.facts import ClipFacts, clip_facts
from casebook.clip.opening import open_video
from casebook.clip.packets import Packets, read_packets
from casebook.clip.picture import Shape, shape_of
from casebook.errors import ClipError

_PACKETS = 48
_MOST_PACKETS = 600  # Looked through for a first picture that decodes.
_USUAL_RATE = Fraction(30)


@dataclass(frozen=True, slots=True)
class FirstLook:
    """What is known of a clip once it is open. ``times`` (N,) [s]; ``damaged``: what the packet list shows as such."""

    packets: Packets
    shape: Shape
    times: NDArray[np.float64]
    facts: ClipFacts
    damaged: tuple[int, ...]


@dataclass(slots=True)
class _Trial:
    """Places of the pictures in the order they came out, the first one (sound, if any is), and whether any failed."""

    places: list[int] = field(default_factory=list)
    frame: Any = None
    failed: bool = False


def first_look(path: Path) -> FirstLook:
    """Read the packet list and decode the first pictures.

    Raises
    ------
    ClipError
        The file cannot be opened, holds no packets, or none that decodes.
    """
    with _opened(path) as (box, stream):
        packets = read_packets(box, stream)
    if len(packets.shown) == 0:
        raise ClipError(
            f'"{path.name}" holds no pictures.',
            "The recording or the copying was interrupted: copy it again, or ask for the original file.",
            path=path,
        )
    trial = _try_out(path, _PACKETS)
    if trial.frame is None:
        trial = _try_out(path, _MOST_PACKETS)
    if trial.frame is None:
        raise ClipError(
            f'"{path.name}" can be opened, but no picture of it can be decoded.',
            "Ask for the original file, or save it anew as MP4 with H.264.",
            path=path,
        )
    packets = _agreed(packets, trial, path)
    with _opened(path) as (_, stream):
        shape = shape_of(trial.frame, stream.sample_aspect_ratio, int(stream.codec_context.field_order))
        times = _times(packets, stream)
        facts = clip_facts(stream, trial.frame, shape, packets, times)
    damaged = packets.number[np.flatnonzero(packets.corrupt)]
    return FirstLook(packets, shape, times, facts, tuple(int(n) for n in damaged if n >= 0))


@contextmanager
def _opened(path: Path) -> Iterator[tuple[Any, Any]]:
    box, stream = open_video(path)
    try:
        yield box, stream
    finally:
        box.close()


def _try_out(path: Path, most: int | None) -> _Trial:
    """Decode the first ``most`` packets; None: all."""
    import av

    trial = _Trial()
    with _opened(path) as (box, stream):
        reader, place = box.demux(stream), 0
        while most is None or place < most:
            try:
                packet = next(reader, None)
            except (av.error.FFmpegError, OSError):
                packet = None
            if packet is None:
                break
            if packet.size:
                tag(packet, place)
                place += 1
            try:
                _note(trial, stream.codec_context.decode(packet))
            except (av.error.FFmpegError, ValueError):
                trial.failed = True
    return trial


def _note(trial: _Trial, frames: list[Any]) -> None:
    for frame in frames:
        trial.failed = trial.failed or bool(frame.is_corrupt)
        if frame.pts is not None:
            trial.places.append(frame.pts)
        if trial.frame is None or (trial.frame.is_corrupt and not frame.is_corrupt):
            trial.frame = frame


def _agreed(packets: Packets, trial: _Trial, path: Path) -> Packets:
    """The packet list, put right where the decoder's output contradicts it."""
    if packets.by_order:
        return packets
    numbers = packets.number[np.asarray(trial.places, np.int64)]
    numbers = numbers[numbers >= 0]
    if (np.diff(numbers) <= 0).any():
        return packets.numbered_by_order()
    if not trial.failed and not np.array_equal(numbers, np.arange(len(numbers))):
        # Some packets make no picture of their own, such as second fields; only decoding tells which.
        made = np.zeros(len(packets.pts), np.bool_)
        made[np.asarray(_try_out(path, None).places, np.int64)] = True
        return packets.numbered_by(made)
    return packets


def _times(packets: Packets, stream: Any) -> NDArray[np.float64]:
    if packets.by_order:
        rate = stream.average_rate or stream.guessed_rate or stream.base_rate or _USUAL_RATE
        times = np.arange(len(packets.shown)) * rate.denominator / rate.numerator
    else:
        ticks = packets.pts[packets.shown]
        times = (ticks - ticks[0]) * stream.time_base.numerator / stream.time_base.denominator
    times.flags.writeable = False
    return times
