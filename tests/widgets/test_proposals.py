"""Frames proposed for the catch: against an arm whose motion is known in closed form, from whatever is known of it."""

from __future__ import annotations

import numpy as np
import pytest
from planar_arm import Camera, PlanarArm, with_

from casebook.marks.events import EventMark
from casebook.marks.marks import Marks, Origin
from casebook.widgets.proposals import Proposal, catch_stills, with_stand_in

ARM, CAMERA = PlanarArm(), Camera()
FOUR = ("shoulder", "elbow", "wrist", "fingertip")


def truth(key: str, stroke: int = 0) -> int:
    """The frame of a still by the formulas: the reach is where the hand is farthest ahead of the shoulder."""
    if key == "reach":
        t = np.linspace(ARM.first - 0.3, ARM.first + ARM.pull, 4000) + stroke * ARM.period
        joints = ARM.joints(t)
        return round(float(t[np.argmax(joints[:, 3, 0] - joints[:, 0, 0])]) * CAMERA.fps)
    return round(ARM.forearm_at({"halfway": 45, "straight_down": 90}[key], stroke) * CAMERA.fps)


def proposed(marks: Marks, *events: EventMark, camera: Camera = CAMERA) -> list[Proposal]:
    return list(catch_stills(camera.shot(), marks, camera.plane(), events, "r"))


def joined(*parts: Marks) -> Marks:
    """Marks of the same points on different frames."""
    frames = np.concatenate([p.frames for p in parts])
    order = np.argsort(frames)
    return Marks(
        parts[0].points,
        frames[order],
        np.concatenate([p.xy for p in parts])[order],
        np.concatenate([p.sigma_px for p in parts])[order],
        np.concatenate([p.origin for p in parts])[order],
        np.concatenate([p.hidden for p in parts])[order],
    )


def test_nothing_is_proposed_while_nothing_is_known() -> None:
    assert proposed(Marks.empty(["elbow_r"], [])) == []
    lone = CAMERA.marks(ARM, [truth("straight_down")], points=FOUR)
    assert proposed(lone) == [], "a still without its reach tells no stroke"


@pytest.mark.parametrize("sign", [1, -1])
def test_drafts_without_a_fingertip_tell_the_stills_of_two_strokes(sign: int) -> None:
    rng = np.random.default_rng(3)
    camera = with_(CAMERA, sign=sign, water_px=(400.0 if sign > 0 else 1500.0, 120.0))
    drafts = camera.marks(
        ARM, points=FOUR[:3], sigma_px=8, noise_px=4, rng=rng, origin=Origin.drafted
    )  # fmt: skip
    found = proposed(drafts, camera=camera)
    assert [(p.key, p.title[-1], p.done) for p in found] == [
        (key, str(n), False) for n in (1, 2) for key in ("reach", "halfway", "straight_down")
    ]
    for p in found:
        off = abs(p.frame - truth(p.key, int(p.title[-1]) - 1)) / CAMERA.fps
        # Reach is a still arm: many frames are as good.
        assert off <= (0.15 if p.key == "reach" else 0.06), p
    assert {p.why for p in found} == {"read off the marks so far"}


def test_a_still_that_the_coach_marked_is_done_where_he_marked_it() -> None:
    drafts = CAMERA.marks(ARM, points=FOUR, sigma_px=8, origin=Origin.drafted)
    at = truth("halfway") + 1
    rows = drafts.frames != at
    rest = Marks(
        drafts.points, drafts.frames[rows], drafts.xy[rows], drafts.sigma_px[rows], drafts.origin[rows],
        drafts.hidden[rows],
    )  # fmt: skip
    found = proposed(joined(rest, CAMERA.marks(ARM, [at], points=FOUR)))
    assert [(p.key, p.frame) for p in found if p.done] == [("halfway", at)]


def test_one_reach_is_enough_to_count_on_and_says_so() -> None:
    reach = truth("reach")
    first = CAMERA.marks(ARM, [reach], points=FOUR)
    found = proposed(first)
    assert [(p.key, p.done) for p in found] == [
        ("reach", True), ("halfway", False), ("straight_down", False), ("reach", False)
    ]  # fmt: skip
    assert all("counted on" in p.why for p in found[:3]) and "look for it nearby" in found[3].why
    assert found[0].frame == reach < found[1].frame < found[2].frame < found[3].frame


def test_the_second_stroke_is_counted_on_by_the_timing_of_the_first() -> None:
    stills = [truth(k) for k in ("reach", "halfway", "straight_down")]
    second = truth("reach", 1)
    marks = CAMERA.marks(ARM, [*stills, second], points=FOUR)
    found = proposed(marks)
    assert [p.frame for p in found[:3]] == stills and all(p.done for p in found[:3])
    assert [p.done for p in found[3:]] == [True, False, False]
    for p in found[4:]:
        assert abs(p.frame - truth(p.key, 1)) <= 2, "the arm repeats itself"
        assert "the stroke before" in p.why


def test_twenty_four_clicks_do() -> None:
    """Three stills of two strokes, four points each, marked one proposal after another."""
    marks, clicks = CAMERA.marks(ARM, [truth("reach")], points=FOUR), 4
    while open_ones := [p for p in proposed(marks) if not p.done]:
        goal = open_ones[0]
        # The coach goes to the proposal and from there to what he sees.
        at = truth(goal.key, int(goal.title[-1]) - 1)
        assert abs(goal.frame - at) <= 0.35 * CAMERA.fps
        marks = joined(marks, CAMERA.marks(ARM, [at], points=FOUR))
        clicks += 4
        assert clicks <= 24
    assert clicks == 24
    from casebook.stroke.arm import arm_of
    from casebook.stroke.setup import set_ups

    arm = arm_of(CAMERA.shot(), marks, "r")
    assert len(set_ups(CAMERA.shot(), arm, CAMERA.plane())) == 2, "and the catch is measured from them"


def test_a_reach_beyond_the_track_is_counted_on_beside_what_the_track_tells() -> None:
    track = CAMERA.marks(ARM, range(truth("straight_down") + 12), points=FOUR, origin=Origin.tracked)
    second = CAMERA.marks(ARM, [truth("reach", 1)], points=FOUR)
    found = proposed(joined(track, second))
    assert [p.why.split()[0] for p in found] == ["read"] * 3 + ["counted"] * 3
    assert [p.title[-1] for p in found] == list("111222")


def test_moments_that_the_coach_set_share_out_the_stroke() -> None:
    start, end = truth("reach"), round(ARM.instant(lambda p: p[0, 0] - p[2, 0]) * CAMERA.fps)
    none = Marks.empty(["elbow_r"], [])
    found = proposed(none, EventMark("end_of_extension", "r", start), EventMark("shoulder", "r", end))
    assert [p.key for p in found] == ["reach", "halfway", "straight_down"]
    assert found[0].frame == start and found[2].frame < end
    assert {p.why for p in found} == {"shared out between the two moments that you set"}
    assert proposed(none, EventMark("end_of_extension", "l", start)) == [], "the other arm's"


def test_nothing_is_proposed_outside_the_shot() -> None:
    late = with_(CAMERA, stop=truth("reach") + 5)
    assert proposed(CAMERA.marks(ARM, [truth("reach")], points=FOUR), camera=late) == []


def test_a_stand_in_continues_the_forearm_and_replaces_no_fingertip() -> None:
    xy = np.array([[[0, 0], [10, 0], [20, 0], [25, 5.0]], [[0, 0], [10, 0], [20, 10], [np.nan, np.nan]]], float)
    out = with_stand_in(Marks.from_arrays([f"{n}_r" for n in FOUR], [0, 1], xy), "r")
    assert out.xy[:, 3].tolist() == [[25, 5], [27, 17]]
    assert np.isnan(with_stand_in(Marks.from_arrays(["elbow_r"], [0], xy[:1, 1:2]), "r").xy[:, 3]).all()
