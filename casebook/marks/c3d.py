"""Tracks of points as a C3D file, the open format of motion laboratories (its public description: www.c3d.org).

Written are: little-endian floating-point data, points only, one rate; the groups POINT, ANALOG (empty), FORCE_PLATFORM
(none), EVENT, and TRACKS with where the first frame stood. A point that is missing on a frame has the residual -1, as
the format has it.
"""

from __future__ import annotations

import struct
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from casebook.errors import MarksError
from casebook.words import SIDES

if TYPE_CHECKING:
    from numpy.typing import NDArray

BLOCK = 512
MOST_POINTS = MOST_EVENTS = 255
#: Frames are counted in two bytes.
MOST_FRAMES = 65_535
#: Whole numbers that a coordinate would be stored in, if it were not stored as a float: what SCALE is made for.
_WHOLE = 32_000
_INTEL, _PARAMETERS = 84, 0x50
_CHAR, _BYTE, _WORD, _FLOAT = -1, 1, 2, 4


@dataclass(frozen=True, slots=True)
class TrackEvent:
    """Something that happened at an instant: a word, the side (``l``, ``r`` or empty), and when, from the first frame.

    ``time_s`` is in seconds.
    """

    label: str
    side: str
    time_s: float


@dataclass(frozen=True, slots=True, eq=False)
class Tracks:
    """Points followed over frames that come at one rate.

    Attributes
    ----------
    points : tuple of str, length P
    xyz : (F, P, 3) float array
        In ``unit``; NaN where a point is missing.
    sigma : (F, P) float array
        Standard deviation per coordinate, in ``unit``; NaN where not known.
    rate_hz : float
        Frames a second.
    unit : str
        ``m`` or ``px``.
    about : tuple of str, length P
        A description of each point.
    first_frame : int
        The clip's own number of the first frame, counted from 0.
    events : tuple of TrackEvent
    """

    points: tuple[str, ...]
    xyz: NDArray[np.float64]
    sigma: NDArray[np.float64]
    rate_hz: float
    unit: str
    about: tuple[str, ...] = ()
    first_frame: int = 0
    events: tuple[TrackEvent, ...] = ()

    def __post_init__(self) -> None:
        f, p = len(self.xyz), len(self.points)
        if self.xyz.shape != (f, p, 3) or self.sigma.shape != (f, p) or len(self.about) not in (0, p):
            raise MarksError(f"Tracks of {p} points were handed arrays of shapes {self.xyz.shape}, {self.sigma.shape}.")
        if not (f and p):
            raise MarksError("There is no track to write: no point is marked.", "Mark the clip first.")
        if p > MOST_POINTS or f > MOST_FRAMES or len(self.events) > MOST_EVENTS:
            raise MarksError(
                f"C3D holds up to {MOST_FRAMES} frames, {MOST_POINTS} points and {MOST_EVENTS} events; "
                f"these tracks have {f}, {p} and {len(self.events)}.",
                "Take a shorter stretch of the clip.",
            )
        if not (np.isfinite(self.rate_hz) and self.rate_hz > 0):
            raise MarksError(
                f"C3D needs one rate, and {self.rate_hz} frames a second is none.", "Check the clip's times."
            )


def c3d_bytes(tracks: Tracks) -> bytes:
    """The file; the same bytes for the same tracks.

    Coordinates are kept to single precision. Beside each stands as residual the mark's standard deviation, in steps of
    the file's SCALE.
    """
    scale = _scale(tracks)
    blocks = -(-len(_parameters(tracks, scale, 0)) // BLOCK)
    data_start = 2 + blocks
    parameters = _parameters(tracks, scale, data_start).ljust(blocks * BLOCK, b"\0")
    return _header(tracks, scale, data_start) + parameters + _data(tracks, scale)


def _scale(tracks: Tracks) -> float:
    """The step in which coordinates would be stored if they were whole numbers, as the format asks. [unit]"""
    largest = float(np.max(np.abs(tracks.xyz), initial=0.0, where=np.isfinite(tracks.xyz)))
    return float(np.float32(largest / _WHOLE)) or 1.0


def _header(tracks: Tracks, scale: float, data_start: int) -> bytes:
    f = len(tracks.xyz)
    head = struct.pack(
        "<BBHHHHHfHHf", 2, _PARAMETERS, len(tracks.points), 0, 1, f, 0, -scale, data_start, 0, tracks.rate_hz
    )
    return head.ljust(BLOCK, b"\0")


def _data(tracks: Tracks, scale: float) -> bytes:
    f, p = len(tracks.xyz), len(tracks.points)
    seen: NDArray[np.bool_] = np.asarray(np.isfinite(tracks.xyz).all(-1))
    steps = np.clip(np.nan_to_num(np.rint(tracks.sigma / scale)), 0, 255)
    out = np.zeros((f, p, 4), "<f4")
    out[..., :3] = np.where(seen[..., None], tracks.xyz, 0.0)
    out[..., 3] = np.where(seen, steps, -1.0)
    raw = out.tobytes()
    return raw + b"\0" * (-len(raw) % BLOCK)


def _parameters(tracks: Tracks, scale: float, data_start: int) -> bytes:
    """The parameter section without its padding."""
    f, p = len(tracks.xyz), len(tracks.points)
    groups = {
        "POINT": [
            _number("USED", p), _number("FRAMES", f), _number("DATA_START", data_start),
            _real("SCALE", -scale), _real("RATE", tracks.rate_hz), _word("UNITS", tracks.unit),
            _words("LABELS", tracks.points), _words("DESCRIPTIONS", tracks.about or tracks.points),
            _word("X_SCREEN", "+X"), _word("Y_SCREEN", "+Z"),
        ],
        "ANALOG": [
            _number("USED", 0), _real("GEN_SCALE", 1.0), _real("RATE", 0.0), _empty("SCALE", _FLOAT),
            _empty("OFFSET", _WORD), _empty("LABELS", _CHAR), _empty("DESCRIPTIONS", _CHAR), _empty("UNITS", _CHAR),
        ],
        "FORCE_PLATFORM": [_number("USED", 0)],
        "EVENT": _events(tracks.events),
        "TRACKS": [_real("FIRST_FRAME", float(tracks.first_frame))],
    }  # fmt: skip
    out = b"".join(_group(n, name, members) for n, (name, members) in enumerate(groups.items(), 1))
    body = out + b"\0\0"  # an empty name ends the list
    return struct.pack("<BBBB", 1, _PARAMETERS, -(-(len(body) + 4) // BLOCK), _INTEL) + body


def _events(events: Sequence[TrackEvent]) -> list[tuple[str, bytes]]:
    if not events:
        return [_number("USED", 0)]
    times = np.array([divmod(e.time_s, 60.0) for e in events], "<f4")  # minutes, seconds
    return [
        _number("USED", len(events)),
        _words("CONTEXTS", [SIDES.get(e.side, "general").capitalize() for e in events]),
        _words("LABELS", [e.label for e in events]),
        ("TIMES", struct.pack("<bBBB", _FLOAT, 2, 2, len(events)) + times.tobytes()),
    ]


def _group(number: int, name: str, members: Sequence[tuple[str, bytes]]) -> bytes:
    return _entry(-number, name, b"") + b"".join(_entry(number, key, value) for key, value in members)


def _entry(number: int, name: str, value: bytes) -> bytes:
    """A group (negative number, no value) or one of its parameters; the offset says where the next entry begins."""
    rest = value + b"\0"  # no description
    return struct.pack("<bb", len(name), number) + name.encode("ascii") + struct.pack("<H", len(rest) + 2) + rest


def _number(name: str, value: int) -> tuple[str, bytes]:
    return name, struct.pack("<bBH", _WORD, 0, value)


def _real(name: str, value: float) -> tuple[str, bytes]:
    return name, struct.pack("<bBf", _FLOAT, 0, value)


def _word(name: str, value: str) -> tuple[str, bytes]:
    raw = _ascii(value)
    return name, struct.pack("<bBB", _CHAR, 1, len(raw)) + raw


def _words(name: str, values: Sequence[str]) -> tuple[str, bytes]:
    raw = [_ascii(v) for v in values]
    width = max(map(len, raw))
    return name, struct.pack("<bBBB", _CHAR, 2, width, len(raw)) + b"".join(r.ljust(width) for r in raw)


def _empty(name: str, kind: int) -> tuple[str, bytes]:
    """A list of nothing."""
    dimensions = (0, 0) if kind == _CHAR else (0,)
    return name, struct.pack("<bB", kind, len(dimensions)) + bytes(dimensions)


def _ascii(value: str) -> bytes:
    return value.encode("ascii", "replace")[:127] or b" "
