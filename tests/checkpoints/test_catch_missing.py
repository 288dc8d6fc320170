"""What cannot be measured is a result with a reason and a remedy, and never a wrong number."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from planar_arm import NAMES, Camera, PlanarArm, with_

from casebook.checkpoints.bands import load_bands
from casebook.checkpoints.catch import measure_catch
from casebook.checkpoints.catch_findings import ORDER
from casebook.checkpoints.finding import Finding, NotMeasured
from casebook.clip.shot import Stretch
from casebook.marks.events import EventMark
from casebook.marks.marks import Marks, Origin

BANDS = load_bands("distance")
CAMERA = Camera(seconds=3.6, following=True)
ARM = PlanarArm()
STILLS = CAMERA.key_stills(ARM, (0, 1))


def measure(marks, camera=CAMERA, **kw):
    return measure_catch(camera.shot(), marks, camera.plane(), bands=BANDS, **kw)


def without(marks, point, frames):
    """The same marks with a point erased on some frames."""
    xy = marks.xy.copy()
    xy[np.isin(marks.frames, frames), marks.index(point)] = np.nan
    return replace(marks, xy=xy)


def test_no_marks_at_all_says_what_to_mark():
    catch = measure(Marks.empty(("shoulder_r",), []))
    assert {r.quantity for r in catch.results} == {*ORDER}
    assert not any(catch.results)
    gap = catch.get("hand_ahead_pct", "r")
    assert "right arm is not marked" in gap.reason
    assert "full reach" in gap.remedy
    assert "full reach" in catch.get("hand_ahead_pct", "l").remedy
    assert catch.text()


def test_a_view_that_cannot_show_the_catch_says_what_to_film():
    for view in ("side_above", "front_under", "top"):
        shot = CAMERA.shot()
        shot = replace(shot, view=view)
        catch = measure_catch(shot, CAMERA.marks(ARM), CAMERA.plane(), bands=BANDS)
        gap = catch.get("hand_ahead_pct", "r")
        assert isinstance(gap, NotMeasured)
        assert "from the side" in gap.remedy
        assert catch.strokes == ()


def test_an_unmarked_hip_leaves_the_trunk_unknown_and_the_rest_measured():
    catch = measure(CAMERA.marks(ARM, points=NAMES[:5]))
    gap = catch.get("upper_arm_turn_deg", "r")
    assert not gap
    assert "hip is not marked" in gap.reason
    assert "Mark the hip in frames" in gap.remedy
    assert catch.get("hand_ahead_pct", "r")


def test_a_missing_point_of_a_still_is_named_with_its_frame():
    marks = CAMERA.marks(ARM, STILLS)
    for frame in (STILLS[2], STILLS[5]):
        marks = without(marks, "fingertip_r", [frame])
    gap = measure(marks).get("hand_ahead_pct", "r")
    assert not gap
    assert f"fingertip in frame {STILLS[2]}" in gap.reason
    assert f"frame {STILLS[5]}" in gap.reason
    assert measure(marks).get("elbow_height_pct", "r")


def test_one_unreadable_stroke_of_two_leaves_the_other_and_says_so():
    marks = without(CAMERA.marks(ARM, STILLS), "wrist_r", [STILLS[2]])
    finding = measure(marks).get("hand_ahead_pct", "r")
    assert [s.stroke for s in finding.strokes] == [2]
    assert any("1 of 2 strokes" in note for note in finding.notes)
    assert finding.sentence.endswith("seen once.")
    assert (finding.seen, finding.needed) == (5, 6)


def test_gaps_in_a_track_are_counted():
    at = round(ARM.forearm_at(90, 0) * 60)
    whole = measure(CAMERA.marks(ARM)).get("hand_ahead_pct", "r")
    gappy = measure(without(CAMERA.marks(ARM), "elbow_r", [at - 2, at + 2])).get("hand_ahead_pct", "r")
    assert whole.seen == whole.needed
    assert gappy.seen == gappy.needed - 2
    assert gappy.value == pytest.approx(whole.value, abs=0.2)
    assert gappy.strokes[0].sigma > whole.strokes[0].sigma


def test_hidden_points_are_missing_points():
    marks = CAMERA.marks(ARM, STILLS)
    hidden = without(marks, "shoulder_r", STILLS)
    hidden.hidden[:, hidden.index("shoulder_r")] = True
    gap = measure(hidden).get("hand_ahead_pct", "r")
    assert not gap
    assert "shoulder in frames" in gap.reason


def test_stills_without_reach_have_no_arm_length_and_say_so():
    stills = CAMERA.key_stills(ARM, (0, 1), (45.0, 70.0, 90.0))
    catch = measure(CAMERA.marks(ARM, stills))
    gap = catch.get("hand_ahead_pct", "r")
    assert not gap
    assert "length of the arm" in gap.reason
    assert catch.get("elbow_height_m", "r")
    assert catch.get("elbow_angle_45_deg", "r")


def test_near_and_far_arm_are_never_mixed_and_the_far_one_carries_a_warning():
    right, left = CAMERA.marks(ARM), CAMERA.marks(with_(ARM, side="l", upper_reach_deg=25.0))
    both = Marks(
        right.points + left.points,
        right.frames,
        np.concatenate([right.xy, left.xy], 1),
        np.concatenate([right.sigma_px, left.sigma_px], 1),
        np.concatenate([right.origin, left.origin], 1),
        np.concatenate([right.hidden, left.hidden], 1),
    )
    catch = measure(both)
    near, far = catch.get("hand_ahead_pct", "r"), catch.get("hand_ahead_pct", "l")
    assert near.value == pytest.approx(measure(right).get("hand_ahead_pct", "r").value)
    assert far.value < near.value - 2
    assert any("away from the camera" in note for note in far.notes)
    assert not near.notes
    assert [r.side for r in catch.results] == ["r"] * len(ORDER) + ["l"] * len(ORDER)


def test_classes_of_strokes_are_measured_apart():
    camera = with_(CAMERA, seconds=8.2)
    frames = camera.key_stills(ARM, range(5))
    events = [EventMark("stroke_class", "r", frames[3 * i + 1], "breath_r") for i in (1, 3)]
    catch = measure(camera.marks(ARM, frames), camera, events=events)
    quiet, breath = catch.get("hand_ahead_pct", "r"), catch.get("hand_ahead_pct", "r", "breath_r")
    assert [s.stroke for s in quiet.strokes] == [1, 3, 5]
    assert [s.stroke for s in breath.strokes] == [2, 4]
    assert quiet.habit is not None
    assert breath.habit is None
    assert "breath to the right" in catch.text()


def test_a_swimmer_who_always_breathes_is_told_so():
    events = [EventMark("stroke_class", "r", STILLS[i], "breath_r") for i in (1, 4)]
    gap = measure(CAMERA.marks(ARM, STILLS), events=events).get("hand_ahead_pct", "r")
    assert not gap
    assert "breath to the right" in gap.reason


def test_unknown_slow_motion_leaves_angles_and_takes_times():
    for frames in (None, STILLS):
        plain = measure(CAMERA.marks(ARM, frames)).get("hand_ahead_pct", "r")
        camera = with_(CAMERA, extra={"stretches": (Stretch(0, 216, None),)})
        slow = measure(camera.marks(ARM, frames), camera).get("hand_ahead_pct", "r")
        assert slow.value == pytest.approx(plain.value, abs=1e-6)
        assert np.isnan(slow.strokes[0].time_s)
        assert np.isfinite(plain.strokes[0].time_s)


def test_a_turning_camera_is_named():
    shot = replace(CAMERA.shot(), camera="panning")
    catch = measure_catch(shot, CAMERA.marks(ARM), CAMERA.plane(), bands=BANDS)
    assert any("camera turns" in note for note in catch.get("hand_ahead_pct", "r").notes)


def test_tracked_marks_are_trusted_less_than_as_many_hand_marks():
    hand = measure(CAMERA.marks(ARM)).get("hand_ahead_pct", "r")
    tracked = measure(CAMERA.marks(ARM, origin=Origin.tracked)).get("hand_ahead_pct", "r")
    assert tracked.strokes[0].sigma > 1.5 * hand.strokes[0].sigma


def test_a_judged_finding_carries_its_band_and_four_strokes_are_needed_for_a_mean():
    camera = with_(CAMERA, seconds=8.2)
    finding = measure(camera.marks(ARM), camera).get("hand_ahead_pct", "r")
    assert isinstance(finding, Finding)
    assert finding.verdict == "within"
    assert finding.band.source == "common practice, no source"
    assert len(finding.strokes) == 5
    assert finding.habit is not None
    assert finding.sentence.endswith("seen in 5 strokes.")
    assert finding.frames == tuple(sorted({f for s in finding.strokes for f in s.frames}))
