"""What one packet of H.264 or HEVC says about itself: does it start afresh, and do later pictures build on it?

References
----------
ITU-T H.264 (08/2021), 7.3.1 and table 7-1 (nal_ref_idc, types 1 and 5), Annex B (start codes);
ISO/IEC 14496-15, 5.3.3 (lengths in place of start codes).
"""

from __future__ import annotations

from collections.abc import Iterator

_SLICE, _FRESH_SLICE = 1, 5
_LOOK_BYTES = 4096  # The first slice comes after a few small headers.


def starts_afresh(codec: str, data: bytes | memoryview) -> bool:
    """Whether decoding can start at this H.264 packet: nothing after it is shown before it or built on what is before.

    False for every other codec, where this is not known.
    """
    return codec == "h264" and any(header & 31 == _FRESH_SLICE for header in _headers(data))


def is_built_on(codec: str, data: bytes | memoryview) -> bool:
    """False if the H.264 packet says that no later picture uses it; True for every other codec, to be safe."""
    if codec != "h264":
        return True
    for header in _headers(data):
        if header & 31 in (_SLICE, _FRESH_SLICE):
            return header >> 5 & 3 != 0
    return True


def _headers(data: bytes | memoryview) -> Iterator[int]:
    """First byte of each NAL unit near the start of a packet."""
    head, total = bytes(data[:_LOOK_BYTES]), len(data)
    if head[:3] == b"\0\0\1" or head[:4] == b"\0\0\0\1":
        at = head.find(b"\0\0\1")
        while 0 <= at < len(head) - 3:
            yield head[at + 3]
            at = head.find(b"\0\0\1", at + 3)
        return
    at = 0
    while at + 4 < len(head):
        length = int.from_bytes(head[at : at + 4], "big")
        if not 0 < length <= total - at - 4:
            return
        yield head[at + 4]
        at += 4 + length
