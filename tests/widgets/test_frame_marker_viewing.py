"""What the frame marker's Python side gives to viewing: trails, the pace of playing, and swapped sides."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from casebook.clip.clip import Clip
from casebook.errors import MarksError
from casebook.marks.marks import Origin
from casebook.marks.store import MarkStore
from casebook.widgets.frame_marker import FrameMarker
from casebook.widgets.state import gaps, trails

ARMS = ("elbow_l", "elbow_r", "wrist_r")


def wish(marker: FrameMarker, do: str, **more: Any) -> dict[str, Any]:
    """Send a wish as the browser does; returns the last answer."""
    heard: list[dict[str, Any]] = []
    marker.send = lambda content, buffers=None: heard.append(content)
    marker._handle_custom_msg({"do": do, "view": "v", "seq": 1, **more}, [])
    return heard[-1]


# ---- trail


def test_a_trail_holds_the_five_nearest_places_on_each_side() -> None:
    found = trails(["elbow_l"], 20, range(0, 40, 2), lambda n: {"elbow_l": (float(n), 1.0)})
    assert sorted(n for n, _, _ in found["elbow_l"]) == [10, 12, 14, 16, 18, 22, 24, 26, 28, 30]


def test_a_frame_without_this_point_is_passed_over() -> None:
    at = {3: {"elbow_l": (3.0, 0.0)}, 4: {"wrist_r": (4.0, 0.0)}, 9: {"elbow_l": (9.0, 0.0)}}
    found = trails(ARMS, 5, [3, 4, 9], at.__getitem__)
    assert found == {"elbow_l": [[3, 3.0, 0.0], [9, 9.0, 0.0]], "wrist_r": [[4, 4.0, 0.0]]}


def test_the_trail_comes_with_the_frame_that_is_looked_at(heron: Clip, store: MarkStore) -> None:
    store.put(3, "elbow_l", 30, 40)
    store.put(8, "elbow_l", 35, 45)
    store.hide(9, "elbow_l")
    marker = FrameMarker(heron, store, points=ARMS)
    assert wish(marker, "state", frame=5)["state"]["trail"] == {"elbow_l": [[3, 30.0, 40.0], [8, 35.0, 45.0]]}
    assert wish(marker, "picture", frame=5, width=160)["state"]["trail"] == {}, "frames fetched ahead go without"


# ---- the pace of playing


def test_playing_keeps_to_the_pools_time_and_to_the_files_where_that_is_not_known() -> None:
    file = np.array([0.0, 0.1, 0.2, 0.3])
    assert gaps(file, np.array([0.0, 0.025, 0.05, np.nan])) == pytest.approx([0.025, 0.025, 0.1])


def test_gaps_are_those_of_the_frames_marked_here(heron: Clip, store: MarkStore) -> None:
    marker = FrameMarker(heron, store, points=ARMS, start=4, stop=9)
    assert np.frombuffer(marker.gaps, "<f8") == pytest.approx([1 / 30] * 4, abs=1e-3)
    slow = FrameMarker(heron, store, points=ARMS, start=4, stop=9, real_times=np.asarray(heron.times) / 8)
    assert np.frombuffer(slow.gaps, "<f8") == pytest.approx([1 / 240] * 4, abs=1e-4)
    assert np.frombuffer(slow.times, "<f8") == pytest.approx(list(heron.times[4:9])), "the time shown stays the file's"


# ---- left and right


def test_a_swap_moves_each_mark_with_all_that_is_known_of_it(heron: Clip, store: MarkStore) -> None:
    store.put(4, "elbow_l", 10, 20, sigma_px=1.0)
    store.put(4, "elbow_r", 50, 60, sigma_px=7.0, origin=Origin.drafted)
    store.put(4, "wrist_r", 70, 80)
    store.put(5, "elbow_l", 11, 21)
    marker = FrameMarker(heron, store, points=ARMS)
    answer = wish(marker, "swap", frame=4, point="elbow_l")
    assert answer["state"]["marks"] == {"elbow_l": [50.0, 60.0], "elbow_r": [10.0, 20.0], "wrist_r": [70.0, 80.0]}
    with MarkStore(store.path, heron.times) as second:
        left, right = (second.at(4)[p] for p in ("elbow_l", "elbow_r"))
        assert (left.sigma_px, left.origin, right.sigma_px, right.origin) == (7.0, Origin.drafted, 1.0, Origin.hand)
        assert second.marks.at(5) == {"elbow_l": (11.0, 21.0)}, "other frames stay"
    wish(marker, "undo", frame=4)
    assert store.marks.at(4) == {"elbow_l": (10.0, 20.0), "elbow_r": (50.0, 60.0), "wrist_r": (70.0, 80.0)}
    wish(marker, "redo", frame=4)
    assert store.marks.at(4)["elbow_l"] == (50.0, 60.0)


def test_a_point_alone_or_hidden_goes_over_too(heron: Clip, store: MarkStore) -> None:
    store.put(4, "elbow_l", 10, 20)
    assert store.swap_sides(4, ARMS)
    assert store.marks.at(4) == {"elbow_r": (10.0, 20.0)}
    store.hide(4, "elbow_l")
    assert store.swap_sides(4, ARMS)
    assert store.at(4)["elbow_r"].hidden and store.marks.at(4) == {"elbow_l": (10.0, 20.0)}


def test_where_no_pair_is_at_hand_nothing_is_swapped(heron: Clip, store: MarkStore) -> None:
    store.put(4, "elbow_l", 10, 20)
    assert not store.swap_sides(4, ("elbow_l", "wrist_r", "crown"))
    assert not store.swap_sides(5, ARMS)
    assert store.marks.at(4) == {"elbow_l": (10.0, 20.0)}
    store.undo()
    assert store.marks.n_marked == 0, "and nothing was added to what can be undone"


def test_a_swap_outside_the_clip_is_refused(heron: Clip, store: MarkStore) -> None:
    with pytest.raises(MarksError):
        store.swap_sides(30, ARMS)
