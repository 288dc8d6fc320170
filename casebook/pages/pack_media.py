"""What a picture or film of a workshop pack may hold: pixels, and nothing beside them.

Each file is taken apart to its last byte: JPEG by its segments (ITU-T T.81), PNG by its chunks (ISO/IEC 15948), MP4 by
its boxes (ISO/IEC 14496-12) and the units of its one H.264 stream (ITU-T H.264). What is not known to be harmless is
named.
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from typing import Any

#: JPEG markers: tables, frames (baseline, progressive), scans, restarts.
_JPEG_TABLES = {0xDB, 0xC4, 0xDD}
_JPEG_FRAMES = {0xC0, 0xC1, 0xC2}
_JFIF = 16
_PNG = b"\x89PNG\r\n\x1a\n"
_PNG_CHUNKS = {b"IHDR", b"PLTE", b"tRNS", b"IDAT", b"IEND", b"gAMA", b"sRGB", b"cHRM"}
_BOXES_HELD = {b"moov", b"trak", b"edts", b"mdia", b"minf", b"dinf", b"stbl"}
_BOXES_PLAIN = {
    b"ftyp", b"mdat", b"mvhd", b"tkhd", b"elst", b"mdhd", b"hdlr", b"vmhd", b"dref", b"stsd", b"stts", b"stss", b"stsc",
    b"stsz", b"stco", b"co64",
}  # fmt: skip
_BOXES_DATED = {b"mvhd", b"tkhd", b"mdhd"}
_UNITS = {1: "slice", 5: "key slice", 7: "sequence set", 8: "picture set", 9: "delimiter"}
_SAID_OF_FILE = {"major_brand", "minor_version", "compatible_brands"}
_SAID_OF_STREAM = {"language": "und", "handler_name": "VideoHandler", "vendor_id": "[0][0][0][0]"}


def beside_pixels(name: str, raw: bytes) -> list[str]:
    """What a file holds beside its pixels, each as the end of a sentence; empty if nothing."""
    reader = {".jpg": _jpeg, ".png": _png, ".mp4": _mp4}[name[name.rfind(".") :]]
    try:
        return list(dict.fromkeys(reader(raw)))
    except (IndexError, ValueError, KeyError):
        return ["bytes that do not read as what its name says"]


def header_of(name: str, raw: bytes) -> bytes:
    """The part of a file that is no coded picture, in which even a short word would be no accident."""
    if name.endswith(".mp4"):
        return b"".join(raw[at : at + size] for kind, at, size in _boxes(raw, 0, len(raw)) if kind != b"mdat")
    if name.endswith(".jpg"):
        return raw[: max(raw.find(b"\xff\xda"), 0)]
    return b""


def _jpeg(raw: bytes) -> Iterator[str]:
    if raw[:2] != b"\xff\xd8":
        raise ValueError("no JPEG")
    at = 2
    while True:
        if raw[at] != 0xFF:
            raise ValueError("no marker")
        marker = raw[at + 1]
        if marker == 0xD9:
            break
        size = int.from_bytes(raw[at + 2 : at + 4], "big")
        if marker == 0xE0 and raw[at + 4 : at + 9] == b"JFIF\0" and size == _JFIF:
            pass
        elif marker in (0xE1, 0xED, 0xE2) or 0xE0 <= marker <= 0xEF:
            yield {0xE1: "metadata (EXIF or XMP)", 0xED: "metadata (IPTC)"}.get(marker, "metadata (application data)")
        elif marker == 0xFE:
            yield "a comment inside the picture"
        elif marker not in _JPEG_TABLES | _JPEG_FRAMES | {0xDA}:
            yield "a part that is no picture"
        at += 2 + size
        if marker == 0xDA:
            at = _end_of_scan(raw, at)
    if len(raw) > at + 2:
        yield "bytes after its end"


def _end_of_scan(raw: bytes, at: int) -> int:
    while True:
        at = raw.index(b"\xff", at)
        if raw[at + 1] != 0 and not 0xD0 <= raw[at + 1] <= 0xD7:
            return at
        at += 2


def _png(raw: bytes) -> Iterator[str]:
    if raw[:8] != _PNG:
        raise ValueError("no PNG")
    at, kind = 8, b""
    while kind != b"IEND":
        size, kind = int.from_bytes(raw[at : at + 4], "big"), raw[at + 4 : at + 8]
        if len(kind) < 4:
            raise ValueError("torn")
        if kind not in _PNG_CHUNKS:
            yield f"metadata ({kind.decode('latin-1')})" if kind.isalpha() else "a part that is no picture"
        at += 12 + size
    if len(raw) > at:
        yield "bytes after its end"


def _mp4(raw: bytes) -> Iterator[str]:
    coded = sum(size - 8 for kind, _, size in _boxes(raw, 0, len(raw)) if kind == b"mdat")
    yield from _inside(raw, 0, len(raw))
    yield from _streams(raw, coded)


def _boxes(raw: bytes, at: int, end: int) -> Iterator[tuple[bytes, int, int]]:
    while at < end:
        size, kind = int.from_bytes(raw[at : at + 4], "big"), raw[at + 4 : at + 8]
        if size < 8 or at + size > end:
            raise ValueError("torn box")
        yield kind, at, size
        at += size


def _inside(raw: bytes, begin: int, end: int) -> Iterator[str]:
    for kind, at, size in _boxes(raw, begin, end):
        body = raw[at + 8 : at + size]
        if kind in _BOXES_HELD:
            yield from _inside(raw, at + 8, at + size)
        elif kind in (b"free", b"skip"):
            if any(body):
                yield "hidden bytes"
        elif kind == b"udta":
            yield from _user_data(body)
        elif kind not in _BOXES_PLAIN:
            yield f"metadata (box {kind.decode('latin-1')})" if kind.isalnum() else "a part that is no film"
        elif kind in _BOXES_DATED and any(body[4 : 20 if body[0] else 12]):
            yield "the time at which it was made"


def _user_data(body: bytes) -> Iterator[str]:
    """A coder leaves an empty list of notes; anything in it is a note."""
    for kind, at, size in _boxes(body, 0, len(body)):
        held = list(_boxes(body, at + 12, at + size)) if kind == b"meta" else []
        notes = [inner for inner, _, length in held if inner != b"hdlr" and not (inner == b"ilst" and length == 8)]
        names = [body[place + 8 + 24 : place + length] for inner, place, length in held if inner == b"hdlr"]
        if kind != b"meta" or notes or any(any(name) for name in names):
            yield "metadata (user data)"


def _streams(raw: bytes, coded: int) -> Iterator[str]:
    import av
    from av.error import FFmpegError

    try:
        with av.open(io.BytesIO(raw)) as box:
            kinds = [s.type for s in box.streams]
            if kinds != ["video"]:
                yield "sound" if "audio" in kinds else "more than one film"
                return
            yield from (f"metadata ({key})" for key in box.metadata if key not in _SAID_OF_FILE)
            said = box.streams[0].metadata
            yield from (f"metadata ({key})" for key in said if said[key] != _SAID_OF_STREAM.get(key))
            yield from _units(box, coded)
    except FFmpegError:
        yield "bytes that do not read as what its name says"


def _units(box: Any, coded: int) -> Iterator[str]:
    """Coded pictures alone: no messages between them (supplemental information), no bytes that belong to none."""
    seen = 0
    for packet in box.demux(video=0):
        data, at = bytes(packet), 0
        seen += len(data)
        while at < len(data):
            size = int.from_bytes(data[at : at + 4], "big")
            if size == 0 or data[at + 4] & 31 not in _UNITS:
                yield "messages between its pictures"
            at += 4 + max(size, 1)
    if seen != coded:
        yield "hidden bytes"
