"""Breathing of demo swimmers against their pose, from every view that shows it."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from types import SimpleNamespace

import numpy as np
import pytest
from body_truth import true_breaths
from demo_shots import EVERYTHING, filmed, joint

from casebook.checkpoints.bands import load_bands
from casebook.checkpoints.breathing import ORDER, measure_breathing
from casebook.checkpoints.finding import Finding, NotMeasured
from casebook.clip.shot import Swim
from casebook.demo.cameras import camera_for
from casebook.demo.swimmer import FAULTS, Swimmer
from casebook.marks.events import EventMark
from casebook.plane.plane import Plane
from casebook.stroke.breath import breaths_of
from casebook.stroke.head import FACE, face_turn
from casebook.stroke.points import Points

BANDS = load_bands("distance")
EVERY_OTHER = Swimmer(breath_every=2)
#: What a coach can mark: not what the body hides.
HONEST = ("visible", "above_water")


@cache
def seen(swimmer=EVERY_OTHER, view="side_split", marked=HONEST, seconds=8.0, sigma=1.0):
    shot, marks, plane, truth = filmed(swimmer, view, seconds=seconds, sigma=sigma, marked=marked)
    return measure_breathing(shot, marks, plane, bands=BANDS), truth


def strokes_apart(result):
    return [s.value for f in result.findings if f.quantity == "breath_every_strokes" for s in f.strokes]


@pytest.mark.parametrize("view", ["side_under", "side_split", "side_above", "front_under"])
@pytest.mark.parametrize(("breathing", "every", "strokes"), [("r", 1, 2), ("r", 2, 4), ("l", 2, 4), ("both", 1, 3)])
def test_side_and_rhythm_are_those_of_the_pose_from_every_view(view, breathing, every, strokes):
    result, _ = seen(Swimmer(breathing=breathing, breath_every=every), view)
    assert strokes_apart(result) and set(strokes_apart(result)) == {strokes}
    classes = {f.stroke_class for f in result.findings}
    assert classes == ({"breath_l", "breath_r"} if breathing == "both" else {f"breath_{breathing}"})


@pytest.mark.parametrize("view", ["side_under", "side_split", "side_above", "front_under"])
def test_the_time_with_the_face_out_lies_in_its_interval(view):
    result, _ = seen(view=view)
    found = result.get("breath_time_s", "r", "breath_r")
    true = np.mean([end - start for start, end, _ in true_breaths(EVERY_OTHER, 8.0)])
    assert found.these.low < true < found.these.high
    assert found.these.half < (0.2 if view == "side_above" else 0.09)


def test_a_breath_away_from_the_camera_is_counted_and_not_timed():
    result, _ = seen(Swimmer(breathing="l", breath_every=2))
    assert strokes_apart(result) == [4, 4]
    for quantity in ORDER[1:]:
        found = result.get(quantity, "l", "breath_l")
        assert isinstance(found, NotMeasured) and "away from the camera" in found.reason


def test_when_the_face_turns_is_told_against_its_own_arm():
    result, truth = seen()
    entries = np.array([s.times["entry"] for s in truth.strokes if s.side == "r"])
    start, end, _ = true_breaths(EVERY_OTHER, 8.0)[1]
    after = int(np.searchsorted(entries, start))
    share = 100 * (start - entries[after - 1]) / (entries[after] - entries[after - 1])
    assert result.get("breath_start_pct", "r", "breath_r").value == pytest.approx(share, abs=3.5)
    assert result.get("breath_back_entry_s", "r", "breath_r").value == pytest.approx(entries[after] - end, abs=0.04)


def test_the_hand_passing_the_head_is_where_the_wrist_passes_the_crown():
    result, truth = seen(view="side_split", marked=EVERYTHING, sigma=0.0)
    ahead = joint(truth, "wrist_r")[:, 0] - joint(truth, "crown")[:, 0]
    over = joint(truth, "wrist_r")[:, 2] > 0
    k = np.flatnonzero((ahead[:-1] < 0) & (ahead[1:] >= 0) & over[:-1])
    passes = truth.times[k]
    breaths = [b for b in true_breaths(EVERY_OTHER, 8.0) if (np.abs(passes - b[1]) < 0.4).any()]
    true = np.mean([passes[np.argmin(np.abs(passes - end))] - end for _, end, _ in breaths])
    found = result.get("breath_back_s", "r", "breath_r")
    # Wrist over and crown under the water lie at other distances from the camera.
    assert found.value == pytest.approx(true, abs=0.06)


def test_heights_are_those_of_the_joints():
    result, truth = seen(marked=EVERYTHING, sigma=0.0)
    breath = truth.angles["breath_r"]
    crown = joint(truth, "crown")[:, 2]
    out, calm = 110 * breath > 45, breath < 0.05
    assert result.get("breath_lift_m", "r", "breath_r").value == pytest.approx(
        crown[out].mean() - crown[calm].mean(), abs=0.015
    )
    lower = np.minimum(joint(truth, "goggle_l")[:, 2], joint(truth, "goggle_r")[:, 2])
    widest = [int(np.argmax(np.where(np.abs(truth.times - (a + b) / 2) < 0.2, breath, 0)))
              for a, b, _ in true_breaths(EVERY_OTHER, 8.0)]  # fmt: skip
    assert result.get("breath_goggle_m", "r", "breath_r").value == pytest.approx(lower[widest].mean(), abs=0.03)
    assert abs(result.get("front_arm_drop_m", "r", "breath_r").value) < 0.03


def test_heights_are_not_read_head_on_nor_through_the_surface():
    for view in ("front_under", "side_above"):
        result, _ = seen(view=view)
        for quantity in ("breath_lift_m", "breath_goggle_m", "front_arm_drop_m"):
            assert isinstance(result.get(quantity, "r", "breath_r"), NotMeasured)


def test_who_breathes_every_cycle_has_no_stroke_to_hold_the_front_arm_against():
    found = seen(Swimmer(breath_every=1))[0].get("front_arm_drop_m", "r", "breath_r")
    assert isinstance(found, NotMeasured) and "every cycle" in found.reason


def test_without_a_marked_face_the_coachs_classes_still_tell_the_rhythm():
    shot, marks, plane, _ = filmed(EVERY_OTHER, seconds=8.0, marked=EVERYTHING)
    faceless = marks.pick([n for n in marks.points if not n.startswith(("mouth", "ear", "goggle", "crown", "neck"))])
    events = [
        EventMark("stroke_class", "l", 60 * (a + b) / 2, "breath_r") for a, b, _ in true_breaths(EVERY_OTHER, 8.0)
    ]
    result = measure_breathing(shot, faceless, plane, bands=BANDS, events=events)
    assert strokes_apart(result) == [4, 4]
    assert isinstance(result.get("breath_time_s", "r", "breath_r"), NotMeasured)


def test_a_swimmer_who_never_breathes_is_said_to_have_no_breath():
    result, _ = seen(Swimmer(breathing="none"))
    assert not result.findings and any("turned out in no marked frame" in r.reason for r in result.missing)


def test_a_snorkel_spoils_it_all():
    shot, marks, plane, _ = filmed(EVERY_OTHER, seconds=3.0)
    result = measure_breathing(replace(shot, swim=Swim("a", kit="snorkel")), marks, plane, bands=BANDS)
    assert not result.findings and {r.quantity for r in result.missing} == set(ORDER)


@pytest.mark.parametrize("fault", FAULTS)
def test_planted_faults_leave_rhythm_and_time_alone(fault):
    result, _ = seen(replace(EVERY_OTHER, **{fault: 1.0}))
    plain, _ = seen()
    assert set(strokes_apart(result)) == {4}
    times = [r.get("breath_time_s", "r", "breath_r").value for r in (result, plain)]
    # A lifted head nods as it turns, and is read from the side.
    assert times[0] == pytest.approx(times[1], abs=0.12 if fault == "head_lift" else 0.03)


def test_stills_show_the_face_turned_and_back_in():
    result, truth = seen()
    breath = truth.angles["breath_r"]
    for still in result.stills:
        assert still.side == "r"
        assert (breath[still.frame] > 0.8) if still.key == "turned" else (0.1 < breath[still.frame] < 0.6)
    assert {s.key for s in result.stills} == {"turned", "back"}


def test_by_eye_stays_by_eye():
    notes = seen()[0].get("breath_time_s", "r", "breath_r").notes
    assert any("breathes out under water is seen by eye" in n for n in notes)


def test_findings_are_text():
    assert isinstance(seen()[0].get("breath_time_s", "r", "breath_r"), Finding)
    assert "time the face is turned out" in seen()[0].text()


def _marked_face(swimmer, view, t, distance_m, sigma, rng):
    """Marks of a face by the camera's own projection, with an error of their own; nothing is hidden."""
    camera = camera_for(view, speed=swimmer.speed, distance_m=distance_m)
    joints = swimmer.joints(t)
    xy = camera.project(np.stack([joints[n] for n in FACE], 1), t)[0]
    xy = xy + rng.normal(0, sigma, xy.shape)
    shape = xy.shape[:2]
    return Points(
        FACE, np.arange(len(t)), t, True, float(t[1] - t[0]), Plane.given(1).level(xy), xy, np.full(shape, sigma),
        np.full(shape, True), np.zeros(shape, bool),
    )  # fmt: skip


def test_intervals_hold_start_and_length_of_two_thousand_breaths():
    rng = np.random.default_rng(3)
    rows = {"front_under": [], "side_under": []}
    for seed in range(115):
        swimmer = Swimmer(
            stature_m=rng.uniform(1.5, 1.95), rate=rng.uniform(35, 55), roll=rng.uniform(28, 48),
            pitch=rng.uniform(3, 9), head_lift=rng.uniform(0, 0.5), variation=1.0, seed=seed,
        )  # fmt: skip
        t = np.arange(0, 13, 1 / rng.choice([50.0, 60.0]))
        true = true_breaths(swimmer, 13.0)
        for view, own in rows.items():
            points = _marked_face(swimmer, view, t, rng.uniform(2.8, 4.5), rng.uniform(0.5, 2.5), rng)
            breaths = breaths_of(face_turn(SimpleNamespace(view=view), points, "r"))
            for k in np.flatnonzero(np.isfinite(breaths.duration_s)):
                start, end, _ = min(true, key=lambda b, k=k: abs(b[0] - breaths.start_s[k]))
                edge = np.hypot(breaths.start_sigma_s[k], breaths.shared_s[k])
                whole = np.hypot(np.hypot(breaths.start_sigma_s[k], breaths.end_sigma_s[k]), 2 * breaths.shared_s[k])
                own.append((breaths.start_s[k] - start, edge, breaths.duration_s[k] - (end - start), whole))
    assert sum(map(len, rows.values())) >= 2000
    for view, own in rows.items():
        start, edge, length, whole = np.array(own).T
        for name, error, sigma in (("start", start, edge), ("length", length, whole)):
            held = float(np.mean(np.abs(error) < 1.96 * sigma))
            print(f"{view} {name}: {len(own)} breaths, {100 * held:.1f} % held, half width {1.96 * sigma.mean():.3f} s")
            assert held > 0.93, (view, name)
