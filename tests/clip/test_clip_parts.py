"""The clip's small parts by themselves: the bounded store, the packet list, the books of trust, the packet headers."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numbered import Film, read_number, shoot

from casebook.clip import facts, nal
from casebook.clip.cache import LatestCache
from casebook.clip.clip import _HELD_BYTES, Clip
from casebook.clip.ledger import Ledger
from casebook.clip.packets import Packets, _arranged


def packet_list(
    pts: list[int], keys: set[int], corrupt: set[int] = frozenset(), discard: set[int] = frozenset()
) -> Packets:
    """Packets in decoding order with the given times of showing."""
    n = np.arange(len(pts))
    chosen = [np.isin(n, sorted(s)) for s in (keys, corrupt)]
    times = np.array(pts, np.int64)
    return _arranged(times, n, 1000 * n, 10 + n, *chosen, chosen[0], ~np.isin(n, sorted(discard)), False)


# Two open groups as stored: key 0; P 3; B 1, 2; key 6; leading B 4, 5; P 7.
OPEN = [0, 3, 1, 2, 6, 4, 5, 7]


@given(st.lists(st.tuples(st.integers(0, 9), st.integers(1, 60)), max_size=60))
def test_the_store_never_holds_more_than_its_limit_or_one_entry(puts):
    cache = LatestCache[int](100)
    for key, size in puts:
        cache.put(key, key, size)
        held = [k for k in range(10) if k in cache]
        assert key in cache
        assert cache.held <= 100 or len(held) == 1
    assert all(cache.get(k) == k for k in range(10) if k in cache)


def test_the_store_drops_what_was_unused_longest():
    cache = LatestCache[str](30)
    for key in (1, 2, 3):
        cache.put(key, str(key), 10)
    assert cache.get(1) == "1"
    cache.put(4, "4", 10)
    assert [k for k in range(1, 5) if k in cache] == [1, 3, 4]
    cache.put(5, "5", 400)
    assert [k for k in range(1, 6) if k in cache] == [5]


def test_numbers_follow_the_times_of_showing():
    packets = packet_list(OPEN, {0, 4})
    assert packets.number.tolist() == OPEN
    assert packets.shown.tolist() == [0, 2, 3, 1, 5, 6, 4, 7]


def test_a_leading_picture_is_decoded_from_the_key_picture_before_its_own():
    packets = packet_list(OPEN, {0, 4})
    assert [packets.start_for(place) for place in range(8)] == [0, 0, 0, 0, 4, 0, 0, 4]
    assert packets.start_for(7, further_back=1) == 0
    assert packets.start_for(7, further_back=9) == 0


def test_leading_pictures_of_a_file_that_was_cut_there_are_not_counted():
    packets = packet_list([6, 4, 5, 7, 8], {0})
    assert packets.lost_start == 2
    assert packets.shown.tolist() == [0, 3, 4]


def test_discarded_packets_are_decoded_and_not_counted():
    packets = packet_list([-2, -1, 0, 1], {0}, discard={0, 1})
    assert packets.number.tolist() == [-1, -1, 0, 1]
    assert packets.start_for(2) == 0


def run(
    packets: Packets, out: list[int], start: int = 0, corrupt: set[int] = frozenset(), unused: set[int] = frozenset()
):
    """Numbers found sound and unsound when the decoder gives the places of ``out``, in this order."""
    ledger, got = Ledger(packets, start), []
    for place in range(start, len(packets.pts)):
        ledger.sent(place, place not in unused)
    for place in out:
        ledger.came(place, f"picture {place}", place in corrupt)
        got += ledger.released()
    ledger.ended()
    got += ledger.released()
    assert [p.number for p in got] == sorted(p.number for p in got)
    return [p.number for p in got if p.sound], [p.number for p in got if not p.sound]


SHOWN = [0, 2, 3, 1, 5, 6, 4, 7]


def test_everything_is_sound_when_everything_comes():
    assert run(packet_list(OPEN, {0, 4}), SHOWN) == (list(range(8)), [])


def test_a_damaged_picture_spoils_what_is_built_on_it_even_if_shown_earlier():
    # P 3 is stored before B 1 and B 2, which use it; leading B 4 and 5 use it too; key 6 does not.
    sound, spoilt = run(packet_list(OPEN, {0, 4}), SHOWN, corrupt={1})
    assert (sound, spoilt) == ([0, 6, 7], [1, 2, 3, 4, 5])


def test_a_damaged_picture_that_nothing_uses_spoils_itself_alone():
    assert run(packet_list(OPEN, {0, 4}), SHOWN, corrupt={2}, unused={2, 3, 5, 6}) == ([0, 2, 3, 4, 5, 6, 7], [1])


def test_a_picture_that_never_comes_is_noticed():
    sound, spoilt = run(packet_list(OPEN, {0, 4}), [0, 2, 3, 5, 6, 4, 7])
    assert (sound, spoilt) == ([0, 6, 7], [1, 2, 3, 4, 5])
    assert run(packet_list([0, 1, 2], {0}), [0, 1]) == ([0, 1], [2])


def test_a_packet_marked_corrupt_by_the_file_spoils_its_picture():
    assert run(packet_list([0, 1, 2, 3], {0, 2}, corrupt={1}), [0, 1, 2, 3]) == ([0, 2, 3], [1])


def test_a_run_from_a_later_key_picture_does_not_miss_its_leading_pictures():
    assert run(packet_list(OPEN, {0, 4}), [4, 7], start=4) == ([6, 7], [])


def nal_packet(*headers: int, length_prefixed: bool) -> bytes:
    units = [bytes([h]) + b"\x9a\x55\x55" for h in headers]
    return b"".join((len(u).to_bytes(4, "big") if length_prefixed else b"\0\0\0\1") + u for u in units)


@pytest.mark.parametrize("length_prefixed", [True, False])
@pytest.mark.parametrize(
    ("headers", "fresh", "used"),
    [
        ((0x67, 0x68, 0x65), True, True),  # Parameter sets, then an IDR slice (type 5).
        ((0x06, 0x41), False, True),  # SEI, then a slice with nal_ref_idc 2.
        ((0x01,), False, False),  # A slice with nal_ref_idc 0.
    ],
)
def test_packet_headers_are_read_as_the_standard_has_them(headers, fresh, used, length_prefixed):
    data = nal_packet(*headers, length_prefixed=length_prefixed)
    assert nal.starts_afresh("h264", data) == fresh
    assert nal.is_built_on("h264", memoryview(data)) == used
    assert not nal.starts_afresh("mpeg4", data)
    assert nal.is_built_on("mpeg4", data)


@given(st.binary(max_size=200))
def test_any_bytes_can_be_asked(data):
    assert nal.starts_afresh("h264", data) in (True, False)
    assert nal.is_built_on("h264", data) in (True, False)


def test_rounding_to_the_files_tick_does_not_make_a_rate_uneven():
    even = np.arange(100) / 60
    assert not facts.is_uneven(np.round(even, 3), 0.001)
    assert not facts.is_uneven(even, 1 / 90_000)
    assert facts.is_uneven(np.delete(even, 50), 1 / 90_000)


def test_what_a_clip_holds_is_bounded_and_stepping_back_decodes_a_long_group_seldom(tmp_path, monkeypatch):
    film = Film(n=200, size=(320, 192), options={"preset": "ultrafast", "x264-params": "keyint=250:bframes=0"})
    clip = Clip(shoot(tmp_path / "long.mp4", film))
    monkeypatch.setattr(clip._held, "limit", 40 * 320 * 192 * 3)
    starts = []
    start = clip._decoder.start
    monkeypatch.setattr(clip._decoder, "start", lambda place: (starts.append(place), start(place)))
    for i in reversed(range(200)):
        assert read_number(clip.frame(i)) == i
        assert clip._held.held <= clip._held.limit
    assert len(starts) == 6  # The jump to the end, then 200 steps back, 40 pictures held on each way through the group.


def test_stepping_and_jumping_forward_never_decodes_a_picture_twice(tmp_path, monkeypatch):
    film = Film(n=96, options={"x264-params": "keyint=48:min-keyint=48:bframes=3:b-pyramid=normal"})
    clip = Clip(shoot(tmp_path / "long.mp4", film))
    starts = []
    start = clip._decoder.start
    monkeypatch.setattr(clip._decoder, "start", lambda place: (starts.append(place), start(place)))
    assert [read_number(f) for f in clip.frames()] == list(range(96))
    assert starts == [0]
    clip.close()
    assert [read_number(f) for f in clip.frames(3, 48, 7)] == list(range(3, 48, 7))
    assert starts == [0, 0]


def test_the_stores_leave_room_in_600_megabytes():
    assert _HELD_BYTES <= 200 * 2**20
