"""Tracking from the coach's desk: kept at once, and no earlier track outlives the marks it came from."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from casebook.case.desk import Desk
from casebook.clip.clip import Clip
from casebook.clip.shot import Shot
from casebook.demo.truth_files import read_truth
from casebook.demo.truth_marks import marks_from_truth
from casebook.marks.marks import Origin
from casebook.marks.store import MarkStore
from casebook.resources import shipped

CLIP = "rowan_side"
POINTS = ("elbow_r", "wrist_r", "fingertip_r")


@pytest.fixture
def desk(tmp_path):
    (tmp_path / "marks").mkdir()
    truth = read_truth(shipped("demo_clips"), CLIP)
    with Clip(shipped("demo_clips") / f"{CLIP}.mp4") as clip:
        made = Desk(SimpleNamespace(folder=tmp_path, coach="AB"), Shot(CLIP, clip, "side_under", "right", 50, 90))
        made.store.put_marks(marks_from_truth(truth, POINTS, [60, 66, 72]))
        yield made
        made.store.close()


def tracked(desk) -> int:
    return int((desk.marks.origin == Origin.tracked).sum())


def test_what_was_found_is_on_disk_at_once_and_counted(desk):
    found = desk.track()
    assert found == tracked(desk) > 15
    with MarkStore(desk.store.path, desk.shot.clip.times) as other:
        assert (other.marks.origin == Origin.tracked).sum() == found
    assert set(desk.store.signed[desk.marks.origin == Origin.tracked]) == {"AB"}


def test_only_the_points_asked_for(desk):
    desk.track(["wrist_r"])
    assert (desk.marks.origin == Origin.tracked).any(0).tolist() == [p == "wrist_r" for p in desk.marks.points]


def test_tracking_again_changes_nothing(desk):
    first, before = desk.track(), desk.marks
    assert desk.track() == first
    np.testing.assert_array_equal(desk.marks.xy, before.xy)


def test_a_track_goes_with_the_mark_that_it_hung_on(desk):
    desk.track()
    for point in POINTS:
        desk.store.erase(72, point)
    desk.track()
    assert desk.marks.frames.max() == 66
    for point in POINTS:
        desk.store.hide(66, point)
    assert desk.track() == 0 == tracked(desk)


def test_tracking_is_one_change_to_undo_stale_places_included(desk):
    desk.track()
    first = desk.marks
    for point in POINTS:
        desk.store.erase(72, point)
    desk.store.put(70, "wrist_r", 1.0, 1.0, origin=Origin.drafted)
    before = desk.marks
    desk.track()
    assert tracked(desk) < (first.origin == Origin.tracked).sum()
    assert desk.store.undo()
    np.testing.assert_array_equal(desk.marks.xy, before.xy)
    np.testing.assert_array_equal(desk.marks.origin, before.origin)
