"""Tracks written as C3D, read by a library for that open format and by its public description.

Sources: ezc3d, an open library for C3D (Michaud and Begon 2021, Journal of Open Source Software 6(58), 2911); The C3D
File Format: User Guide (Motion Lab Systems), www.c3d.org: header section, parameter section, 3D floating point data.
"""

from __future__ import annotations

import struct
from pathlib import Path
from tempfile import TemporaryDirectory

import ezc3d
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from casebook.errors import MarksError
from casebook.marks.c3d import TrackEvent, Tracks, c3d_bytes
from casebook.marks.points import POINTS

BLOCK = 512


def made(n_frames: int = 7, n_points: int = 3, **changes: object) -> Tracks:
    """Tracks of no meaning, one place missing."""
    xyz = np.random.default_rng(n_frames * 31 + n_points).normal(size=(n_frames, n_points, 3))
    xyz[n_frames // 2, n_points // 2] = np.nan
    facts: dict = {
        "points": POINTS[:n_points],
        "xyz": xyz,
        "sigma": np.full((n_frames, n_points), 0.004),
        "rate_hz": 59.94,
        "unit": "m",
        "first_frame": 12,
        "events": (TrackEvent("entry", "l", 0.05), TrackEvent("catch", "r", 61.5), TrackEvent("exit", "", 0.1)),
    }
    return Tracks(**(facts | changes))


def read(tracks: Tracks) -> ezc3d.c3d:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "t.c3d"
        path.write_bytes(c3d_bytes(tracks))
        return ezc3d.c3d(str(path))


def value(c3d: ezc3d.c3d, group: str, name: str) -> object:
    return c3d["parameters"][group][name]["value"]


@st.composite
def any_tracks(draw: st.DrawFn) -> Tracks:
    f, p = draw(st.integers(1, 40)), draw(st.integers(1, len(POINTS)))
    rng = np.random.default_rng(draw(st.integers(0, 2**32)))
    xyz = rng.normal(scale=draw(st.sampled_from((1e-3, 1.0, 2000.0))), size=(f, p, 3))
    xyz[rng.random((f, p)) < draw(st.sampled_from((0.0, 0.3, 1.0)))] = np.nan
    times = draw(st.lists(st.floats(0, 500, width=32), max_size=30))
    events = tuple(TrackEvent(f"event_{k}", "lr"[k % 2], t) for k, t in enumerate(times))
    rate = draw(st.sampled_from((25.0, 29.97, 60.0, 239.76)))
    return Tracks(POINTS[:p], xyz, np.full((f, p), 0.01), rate, draw(st.sampled_from(("m", "px"))), events=events)


@given(any_tracks())
@settings(max_examples=40)
def test_what_is_written_is_what_the_library_reads(tracks):
    c3d = read(tracks)
    points = c3d["data"]["points"]  # (4, points, frames)
    assert points.shape == (4, len(tracks.points), len(tracks.xyz))
    np.testing.assert_array_equal(points[:3].transpose(2, 1, 0), tracks.xyz.astype(np.float32))
    assert list(value(c3d, "POINT", "LABELS")) == list(tracks.points)
    assert value(c3d, "POINT", "RATE")[0] == pytest.approx(tracks.rate_hz, rel=1e-6)
    assert value(c3d, "POINT", "UNITS") == [tracks.unit]
    if tracks.events:
        minutes, seconds = value(c3d, "EVENT", "TIMES")
        assert 60 * minutes + seconds == pytest.approx([e.time_s for e in tracks.events], abs=1e-4)
        assert list(value(c3d, "EVENT", "LABELS")) == [e.label for e in tracks.events]


def test_events_say_their_side():
    c3d = read(made())
    assert value(c3d, "EVENT", "CONTEXTS") == ["Left", "Right", "General"]
    assert list(value(c3d, "EVENT", "USED")) == [3]


def test_descriptions_are_kept_and_the_first_frame_can_be_found_again():
    c3d = read(made(about=("a", "the left elbow", "c")))
    assert value(c3d, "POINT", "DESCRIPTIONS") == ["a", "the left elbow", "c"]
    assert value(c3d, "TRACKS", "FIRST_FRAME")[0] == 12


def test_the_header_is_laid_out_as_the_guide_says():
    """User guide, header section: words 1 to 12, low byte first."""
    tracks = made()
    raw = c3d_bytes(tracks)
    pointer, key, points, analog, first, last, gap, scale, start, samples, rate = struct.unpack(
        "<BBHHHHHfHHf", raw[:24]
    )
    assert (pointer, key, points, analog, first, last, gap, samples) == (2, 0x50, 3, 0, 1, 7, 0, 0)
    assert scale < 0 and rate == pytest.approx(59.94, rel=1e-6)
    assert raw[BLOCK + 3] == 84  # parameter section: Intel
    assert start == 2 + raw[BLOCK + 2] and len(raw) % BLOCK == 0
    assert len(raw) - (start - 1) * BLOCK >= 7 * 3 * 16


def test_a_missing_point_has_the_residual_minus_one_and_a_marked_one_its_error():
    """User guide, floating point data: the fourth word is -1 where a point is invalid, else residual over scale."""
    tracks = made()
    raw = c3d_bytes(tracks)
    scale, start = -struct.unpack("<f", raw[12:16])[0], struct.unpack("<H", raw[16:18])[0]
    words = np.frombuffer(raw, "<f4", 7 * 3 * 4, (start - 1) * BLOCK).reshape(7, 3, 4)
    seen = np.isfinite(tracks.xyz).all(-1)
    assert (words[~seen] == (0, 0, 0, -1)).all()
    assert words[seen][:, 3] * scale == pytest.approx(tracks.sigma[seen], abs=scale)


def test_the_same_tracks_make_the_same_file():
    assert c3d_bytes(made()) == c3d_bytes(made())


@pytest.mark.parametrize(
    ("changes", "word"),
    [
        ({"rate_hz": 0.0}, "one rate"),
        ({"rate_hz": np.nan}, "one rate"),
        ({"points": (), "xyz": np.zeros((7, 0, 3)), "sigma": np.zeros((7, 0))}, "no track"),
        ({"events": (TrackEvent("entry", "l", 0.0),) * 300}, "255 events"),
        ({"points": ("wrist_l",), "xyz": np.zeros((70_000, 1, 3)), "sigma": np.zeros((70_000, 1))}, "65535 frames"),
    ],
)
def test_what_c3d_cannot_hold_is_refused_in_a_sentence(changes, word):
    with pytest.raises(MarksError, match=word):
        made(**changes)
