"""A picture or film of a pack holds pixels and nothing beside them: each thing that may hide there is planted once."""

from __future__ import annotations

import io
import struct
import zlib

import av
import numpy as np
import pytest
from PIL import Image
from PIL.PngImagePlugin import PngInfo

from casebook.clip.loop import encode_loop
from casebook.pages.pack_media import beside_pixels
from casebook.pages.picture import jpeg, png

PICTURE = Image.fromarray(np.random.default_rng(1).integers(0, 256, (48, 64, 3), np.uint8))


@pytest.fixture(scope="module")
def loop() -> bytes:
    rng = np.random.default_rng(2)
    return encode_loop([rng.integers(0, 256, (64, 96, 3), np.uint8) for _ in range(12)], np.arange(12) / 30).mp4


def saved(image: Image.Image, kind: str, **how: object) -> bytes:
    out = io.BytesIO()
    image.save(out, kind, **how)
    return out.getvalue()


def exif() -> Image.Exif:
    tags = Image.Exif()
    tags[0x013B] = "Jane Doe"
    return tags


def test_what_casebook_writes_itself_is_clean(loop):
    assert beside_pixels("a.jpg", jpeg(PICTURE)) == []
    assert beside_pixels("a.jpg", saved(PICTURE, "JPEG", progressive=True)) == []
    assert beside_pixels("a.png", png(PICTURE)) == []
    assert beside_pixels("a.mp4", loop) == []


@pytest.mark.parametrize(
    ("how", "told"),
    [
        ({"exif": exif()}, "EXIF"),
        ({"comment": b"lane 4"}, "comment"),
        ({"icc_profile": b"x" * 200}, "application data"),
        ({"xmp": b"<x:xmpmeta/>"}, "XMP"),
    ],
)
def test_a_jpeg_with_notes_is_seen(how, told):
    assert told in " ".join(beside_pixels("a.jpg", saved(PICTURE, "JPEG", **how)))


def test_bytes_after_a_pictures_end_are_seen():
    assert beside_pixels("a.jpg", jpeg(PICTURE) + b"x") == ["bytes after its end"]
    assert beside_pixels("a.png", png(PICTURE) + b"x") == ["bytes after its end"]


def test_a_png_with_notes_is_seen():
    notes = PngInfo()
    notes.add_text("Author", "Jane Doe")
    notes.add_itxt("Where", "Anytown")
    found = beside_pixels("a.png", saved(PICTURE, "PNG", pnginfo=notes))
    assert found == ["metadata (tEXt)", "metadata (iTXt)"]
    assert beside_pixels("a.png", saved(PICTURE, "PNG", exif=exif())) == ["metadata (eXIf)"]
    stamp = struct.pack(">I4s7sI", 7, b"tIME", b"\x07\xea\x05\x02\x01\x01\x01", zlib.crc32(b"tIME"))
    raw = png(PICTURE)
    assert beside_pixels("a.png", raw[:33] + stamp + raw[33:]) == ["metadata (tIME)"]


def remade(loop: bytes, *, sound: bool = False, options: dict[str, str] | None = None, **notes: str) -> bytes:
    """The loop in a new box, with sound or notes on it."""
    out = io.BytesIO()
    with av.open(io.BytesIO(loop)) as source, av.open(out, "w", format="mp4", options=options or {}) as box:
        box.metadata.update(notes)
        film = box.add_stream_from_template(source.streams.video[0])
        hum = box.add_stream("aac", rate=48_000, layout="mono") if sound else None
        for packet in source.demux(video=0):
            if packet.dts is not None:
                packet.stream = film
                box.mux(packet)
        if hum is not None:
            frame = av.AudioFrame.from_ndarray(np.zeros((1, 1024), np.float32), format="fltp", layout="mono")
            frame.rate = 48_000
            box.mux(hum.encode(frame))
            box.mux(hum.encode(None))
    return out.getvalue()


def test_sound_in_a_film_is_seen(loop):
    assert "sound" in beside_pixels("a.mp4", remade(loop, sound=True))


@pytest.mark.parametrize("note", [{"title": "Jane"}, {"location": "+51.5+000.1/"}, {"comment": "lane 4"}])
def test_notes_on_a_film_are_seen(loop, note):
    assert any("metadata" in k for k in beside_pixels("a.mp4", remade(loop, **note)))


def test_the_name_of_the_program_that_wrote_a_film_is_seen(loop):
    assert any("metadata" in k for k in beside_pixels("a.mp4", remade(loop)))


def test_the_time_at_which_a_film_was_made_is_seen(loop):
    stamped = remade(loop, options={"fflags": "+bitexact"}, creation_time="2026-05-02T10:00:00")
    assert "the time at which it was made" in beside_pixels("a.mp4", stamped)


def box(kind: bytes, body: bytes) -> bytes:
    return (8 + len(body)).to_bytes(4, "big") + kind + body


@pytest.mark.parametrize(
    ("more", "told"),
    [
        (box(b"uuid", b"x" * 20), "metadata (box uuid)"),
        (box(b"free", b"Jane Doe"), "hidden bytes"),
        (box(b"mdat", b"Jane Doe"), "hidden bytes"),
        (box(b"udta", box(b"name", b"Jane")), "metadata (user data)"),
        (b"Jane", "bytes that do not read as what its name says"),
    ],
)
def test_anything_added_to_a_film_is_seen(loop, more, told):
    assert told in beside_pixels("a.mp4", loop + more)


def test_a_message_between_a_films_pictures_is_seen():
    """x264 writes its settings into one; casebook's own loops are freed of it."""
    out = io.BytesIO()
    with av.open(out, "w", format="mp4", options={"fflags": "+bitexact"}) as film:
        stream = film.add_stream("libx264", rate=30)
        stream.width, stream.height, stream.pix_fmt = 64, 48, "yuv420p"
        film.mux(stream.encode(av.VideoFrame.from_ndarray(np.asarray(PICTURE), "rgb24")))
        film.mux(stream.encode(None))
    assert "messages between its pictures" in beside_pixels("a.mp4", out.getvalue())


@pytest.mark.parametrize("name", ["a.jpg", "a.png", "a.mp4"])
def test_a_file_that_is_not_what_its_name_says_is_seen(name, loop):
    whole = {"a.jpg": jpeg(PICTURE), "a.png": png(PICTURE), "a.mp4": loop}[name]
    for raw in (b"", b"Jane Doe", whole[: len(whole) // 2]):
        assert beside_pixels(name, raw)
