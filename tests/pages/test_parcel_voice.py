"""The coach's voice: any phone's recording becomes a small clean one, and what is none is told."""

from __future__ import annotations

import io
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest

from casebook.errors import CasebookError, PageError
from casebook.pages.voice import LONGEST_S, note_of, strays

KINDS = [
    ("m4a", "ipod", "aac", 44_100),
    ("mp3", "mp3", "libmp3lame", 44_100),
    ("wav", "wav", "pcm_s16le", 48_000),
    ("ogg", "ogg", "libopus", 48_000),
    ("opus", "ogg", "libopus", 48_000),
    ("webm", "webm", "libopus", 48_000),
]
TONE_HZ = 330.0


def record(path: Path, seconds: float, kind: str = "wav", codec: str = "pcm_s16le", rate: int = 48_000) -> Path:
    """A steady tone in stereo, with a title that names somebody."""
    path.parent.mkdir(parents=True, exist_ok=True)
    tone = (0.4 * np.sin(2 * np.pi * TONE_HZ * np.arange(int(rate * seconds)) / rate)).astype(np.float32)
    with av.open(str(path), "w", format=kind) as box:
        box.metadata["title"] = "Karin Berg"
        stream = box.add_stream(codec, rate=rate, layout="stereo")
        for at in range(0, len(tone), 1024):
            frame = av.AudioFrame.from_ndarray(np.repeat(tone[None, at : at + 1024], 2, 0), "fltp", "stereo")
            frame.rate, frame.pts, frame.time_base = rate, at, Fraction(1, rate)
            box.mux(stream.encode(frame))
        box.mux(stream.encode(None))
    return path


def heard(raw: bytes) -> tuple[np.ndarray, int, object]:
    """Samples of a note, its rate, and its container's metadata."""
    with av.open(io.BytesIO(raw)) as box:
        stream = box.streams.audio[0]
        parts = [f.to_ndarray()[0] for f in box.decode(stream)]
        assert stream.codec_context.name == "aac" and stream.channels == 1 and not box.streams.video
        return np.concatenate(parts), stream.rate, box.metadata


@pytest.mark.parametrize(("ending", "kind", "codec", "rate"), KINDS)
def test_what_a_phone_records_is_heard_again(tmp_path, ending, kind, codec, rate):
    record(tmp_path / "voice" / f"catch.{ending}", 2.0, kind, codec, rate)
    raw = note_of(tmp_path, "catch")
    assert raw is not None and len(raw) < 30_000
    samples, rate_out, _ = heard(raw)
    assert len(samples) / rate_out == pytest.approx(2.0, abs=0.15)
    loudest = np.argmax(np.abs(np.fft.rfft(samples[4000:-4000]))) * rate_out / (len(samples) - 8000)
    assert loudest == pytest.approx(TONE_HZ, abs=3)
    assert b"Karin" not in raw and b"Lavf" not in raw and b"Lavc" not in raw


def test_the_same_recording_makes_the_same_note(tmp_path):
    record(tmp_path / "voice" / "pull.wav", 1.0)
    assert note_of(tmp_path, "pull") == note_of(tmp_path, "pull")


def test_without_a_recording_there_is_no_note(tmp_path):
    assert note_of(tmp_path, "catch") is None
    record(tmp_path / "voice" / "catch.wav", 0.5)
    assert note_of(tmp_path, "pull") is None and note_of(tmp_path, "../voice/catch") is None


def test_capitals_in_the_name_do_not_matter(tmp_path):
    record(tmp_path / "voice" / "Catch.WAV", 0.5)
    assert note_of(tmp_path, "catch") is not None


def test_too_long_is_refused_with_its_limit(tmp_path):
    record(tmp_path / "voice" / "catch.wav", LONGEST_S + 1, rate=8_000)
    with pytest.raises(PageError, match="longer than 90 seconds"):
        note_of(tmp_path, "catch")


@pytest.mark.parametrize(
    "raw",
    [b"", b"hello", b"#EXTM3U\n#EXTINF:1\nfile:///etc/hostname\n", bytes(range(256)) * 200, b"RIFF\x24\0\0\0WAVEfmt "],
)
def test_what_is_no_recording_is_told_in_a_sentence(tmp_path, raw):
    (tmp_path / "voice").mkdir()
    (tmp_path / "voice" / "catch.m4a").write_bytes(raw)
    with pytest.raises(PageError, match=r"catch\.m4a") as refused:
        note_of(tmp_path, "catch")
    assert refused.value.remedy


def test_a_recording_cut_off_on_the_way_is_told(tmp_path):
    path = record(tmp_path / "voice" / "catch.m4a", 3.0, "ipod", "aac", 44_100)
    path.write_bytes(path.read_bytes()[:2000])
    with pytest.raises(PageError, match="damaged"):
        note_of(tmp_path, "catch")


def test_two_notes_for_one_checkpoint_are_told(tmp_path):
    record(tmp_path / "voice" / "catch.wav", 0.2)
    record(tmp_path / "voice" / "catch.mp3", 0.2, "mp3", "libmp3lame", 44_100)
    with pytest.raises(PageError, match="2 voice notes for catch"):
        note_of(tmp_path, "catch")


def test_a_link_out_of_the_case_is_refused(tmp_path):
    outside = record(tmp_path / "elsewhere.wav", 0.2)
    (tmp_path / "case" / "voice").mkdir(parents=True)
    (tmp_path / "case" / "voice" / "catch.wav").symlink_to(outside)
    with pytest.raises(CasebookError, match="leads out"):
        note_of(tmp_path / "case", "catch")


def test_a_note_under_a_wrong_name_is_spoken_of(tmp_path):
    record(tmp_path / "voice" / "cach.wav", 0.2)
    record(tmp_path / "voice" / "catch.wav", 0.2)
    (said,) = strays(tmp_path)
    assert "cach.wav" in said and "catch" in said
