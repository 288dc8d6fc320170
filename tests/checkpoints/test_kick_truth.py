"""The kick of demo swimmers against their pose, planted faults, and how often the intervals hold the truth."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from body_truth import true_kicks, true_phase
from demo_shots import EVERYTHING, filmed, joint

from casebook.checkpoints.bands import load_bands
from casebook.checkpoints.finding import Finding, NotMeasured
from casebook.checkpoints.kick import OF_THE_LEG, measure_kick
from casebook.checkpoints.kick_meetings import TIMED
from casebook.clip.shot import Swim
from casebook.demo.swimmer import FAULTS, Swimmer
from casebook.marks.events import EventMark
from casebook.plane.measured import Measured
from casebook.stroke.kick import kicks_of, leg_of, leg_points
from casebook.stroke.points import Points, Unread, points_of
from casebook.stroke.spread import HIPS_PER_JOINTS

BANDS = load_bands("distance")
PLAIN = Swimmer(breathing="none")
TALL = Measured(1.78, 0.01)


@cache
def side_view(swimmer=PLAIN, sigma=0.0, seconds=6.0, fps=60.0):
    shot, marks, plane, truth = filmed(swimmer, sigma=sigma, seconds=seconds, fps=fps, marked=EVERYTHING)
    return measure_kick(shot, marks, plane, bands=BANDS, body_length=TALL), truth


@cache
def head_on(swimmer=PLAIN, sigma=0.0, seconds=8.0):
    shot, marks, plane, truth = filmed(swimmer, "front_under", sigma=sigma, seconds=seconds, marked=EVERYTHING)
    return measure_kick(shot, marks, plane, bands=BANDS, distance=Measured(3.6, 0.1)), truth


def value(result, quantity, side="r", name="none"):
    found = result.get(quantity, side, name)
    assert isinstance(found, Finding), found
    return found.value


@pytest.mark.parametrize("swimmer", [PLAIN, replace(PLAIN, knee=55.0, beats=4), replace(PLAIN, beats=2, stature_m=1.6)])
def test_a_side_view_reads_the_plane_truth_of_the_leg(swimmer):
    result = side_view(swimmer)[0]
    true = true_kicks(swimmer, "r", 6.0)
    found = result.get("knee_least_deg", "r")
    first, last = found.strokes[0].time_s - 0.3, found.strokes[-1].time_s + 0.3
    kicks = np.array([k for b in true.times[true.bottoms] if first < b < last and (k := true.kick(b))])
    assert value(result, "kick_travel_m") == pytest.approx(kicks[:, 0].mean(), rel=0.06)
    # Perspective is in the interval: feet are drawn off the picture's axis, and they turn in.
    for column, quantity in ((1, "knee_least_deg"), (2, "thigh_drop_deg"), (3, "ankle_off_deg")):
        of = result.get(quantity, "r")
        assert of.these.low < kicks[:, column].mean() < of.these.high, quantity
        assert of.these.half < 7.0
    assert value(result, "kick_travel_pct") == pytest.approx(100 * value(result, "kick_travel_m") / 1.78)


@pytest.mark.parametrize("beats", [2, 4, 6, 8])
def test_beats_are_counted(beats):
    found = side_view(replace(PLAIN, beats=beats), sigma=2.0)[0].get("kick_beats", "r")
    assert isinstance(found, Finding) and found.value == beats
    assert found.sentence.startswith(
        f"A {dict(zip((2, 4, 6, 8), ('two', 'four', 'six', 'eight'), strict=True))[beats]}-beat"
    )


def test_legs_that_hang_still_are_not_counted():
    shot, marks, plane, _ = filmed(PLAIN, marked=EVERYTHING)
    for name in ("knee_r", "ankle_r", "heel_r", "toe_r"):
        off = marks.xy[:, marks.index(name)] - marks.xy[:, marks.index("hip_r")]
        marks.xy[:, marks.index(name)] = marks.xy[:, marks.index("hip_r")] + off.mean(0)
    result = measure_kick(shot, marks, plane, bands=BANDS)
    assert all(isinstance(result.get(q, "r"), NotMeasured) for q in OF_THE_LEG)


@pytest.mark.parametrize("hand", ["l", "r"])
def test_the_phase_against_a_catch_the_coach_set_is_that_of_the_pose(hand):
    shot, marks, plane, truth = filmed(PLAIN, seconds=8.0, marked=EVERYTHING)
    catches = [s.times["catch"] for s in truth.strokes if s.side == hand and 0.6 < s.times["catch"] < 7.2]
    events = [EventMark("catch", hand, t * 60) for t in catches]
    result = measure_kick(shot, marks, plane, bands=BANDS, events=events)
    true = true_phase(true_kicks(PLAIN, "r", 8.0), np.array(catches))
    found = result.get("kick_catch_deg", "r")
    if hand == "l":
        # The near foot has no catch of its own hand to be held against; the other hand's stands in the notes.
        assert isinstance(found, NotMeasured)
        return
    got = np.array([s.value for s in found.strokes])
    off = (got - true[: len(got)] + 180) % 360 - 180
    assert np.abs(off).max() < 8
    assert found.outcome in ("in phase", "out of phase", "anti-phase")
    assert any("right hand starts its catch" in n and "right foot" in n for n in found.notes)


def test_the_other_hands_entry_is_held_against_the_near_foot():
    shot, marks, plane, truth = filmed(PLAIN, seconds=8.0, marked=EVERYTHING)
    entries = [s.times["entry"] for s in truth.strokes if s.side == "l" and 0.6 < s.times["entry"] < 7.2]
    events = [EventMark("entry", "l", t * 60) for t in entries]
    found = measure_kick(shot, marks, plane, bands=BANDS, events=events).get("kick_entry_deg", "r")
    true = true_phase(true_kicks(PLAIN, "r", 8.0), np.array(entries))
    got = np.array([s.value for s in found.strokes])
    assert np.abs((got - true[: len(got)] + 180) % 360 - 180).max() < 8
    assert any("left hand enters" in n and "right foot" in n for n in found.notes)


def test_a_catch_that_is_not_seen_is_not_guessed():
    found = side_view()[0].get("kick_catch_deg", "r")
    assert isinstance(found, NotMeasured) and "camera moves" in found.reason
    assert isinstance(side_view()[0].get("kick_past_body_deg", "r"), Finding)


def test_head_on_the_feet_are_held_against_the_hips_along_their_line():
    result, truth = head_on()
    hips = joint(truth, "hip_l") - joint(truth, "hip_r")
    feet = joint(truth, "ankle_l") - joint(truth, "ankle_r")
    along = np.abs((feet[:, 1:] * hips[:, 1:]).sum(1)) / (hips[:, 1:] ** 2).sum(1) / HIPS_PER_JOINTS
    found = result.get("feet_spread_hips", "")
    assert found.value == pytest.approx(along.max(), rel=0.05)
    assert found.these.low < along.max() < found.these.high + 0.02


def test_a_camera_at_no_known_distance_widens_the_interval_and_says_so():
    shot, marks, plane, _ = filmed(PLAIN, "front_under", seconds=8.0, marked=EVERYTHING)
    unknown = measure_kick(shot, marks, plane, bands=BANDS).get("feet_spread_hips", "")
    known = head_on()[0].get("feet_spread_hips", "")
    assert unknown.these.half > 1.1 * known.these.half
    assert any("taken as usual" in n for n in unknown.notes)


@pytest.mark.parametrize("fault", FAULTS)
def test_each_planted_fault_moves_its_own_measure_and_no_other(fault):
    swimmer = replace(Swimmer(breath_every=2), **{fault: 1.0})
    plain = Swimmer(breath_every=2)
    spread, usual = (value(head_on(s)[0], "feet_spread_hips", "", "breath_r") for s in (swimmer, plain))
    if fault == "scissor":
        assert spread > usual + 0.8
        assert head_on(swimmer)[0].get("feet_spread_hips", "", "breath_r").verdict == "outside"
        # The legs fly apart on the breath alone.
        assert value(head_on(swimmer)[0], "feet_spread_hips", "") < usual + 0.3
        return
    assert spread == pytest.approx(usual, abs=0.15)
    for quantity, limit in (("knee_least_deg", 3.0), ("thigh_drop_deg", 3.0), ("kick_travel_m", 0.03)):
        assert value(side_view(swimmer)[0], quantity) == pytest.approx(value(side_view(plain)[0], quantity), abs=limit)


def test_a_knee_that_bends_far_is_outside_and_a_soft_one_within():
    deep, soft = (side_view(replace(PLAIN, knee=k))[0].get("knee_least_deg", "r") for k in (75.0, 32.0))
    assert deep.verdict == "outside" and soft.verdict == "within"


@pytest.mark.parametrize("kit", ["fins", "pull buoy", "band"])
def test_kit_that_spoils_the_kick_refuses_it(kit):
    shot, marks, plane, _ = filmed(PLAIN, seconds=3.0)
    result = measure_kick(replace(shot, swim=Swim("a", kit=kit)), marks, plane, bands=BANDS)
    assert not result.findings and all(kit.split()[-1] in r.reason for r in result.missing)


def test_every_view_answers_every_quantity_or_says_why_not():
    every = {*OF_THE_LEG, *TIMED, "feet_spread_hips"}
    for view in ("side_under", "side_split", "side_above", "front_under", "front_above"):
        shot, marks, plane, _ = filmed(PLAIN, view, seconds=4.0)
        result = measure_kick(shot, marks, plane, bands=BANDS)
        assert {r.quantity for r in result.results} == every
        assert all(r.reason and r.remedy for r in result.missing)
        assert view in ("side_under", "side_split", "front_under") or not result.findings
        assert result.text()


def test_stills_show_the_most_bent_knee_the_lowest_foot_and_the_toes_of_each_cycle():
    result, truth = side_view()
    true = true_kicks(PLAIN, "r", 6.0)
    assert {s.key for s in result.stills} == {"knee", "lowest", "toes"}
    for still in result.stills:
        at = truth.times[still.frame]
        near = np.abs(true.times - at) < 0.05
        if still.key == "knee":
            assert true.knee[near].min() < 152 and still.drawing.measure and still.drawing.labels[0].text.endswith("°")
        if still.key == "lowest":
            assert np.abs(true.times[true.bottoms] - at).min() < 0.03
        x0, y0, x1, y1 = still.crop
        assert x1 > x0 and y1 > y0
    wide = head_on()[0].stills
    assert wide and {s.key for s in wide} == {"widest"}


def test_without_a_cycle_every_kick_stands_for_itself():
    shot, marks, plane, _ = filmed(PLAIN, seconds=3.0, marked=EVERYTHING)
    legs = marks.pick([n for n in marks.points if not n.startswith(("fingertip", "wrist", "elbow", "mouth", "ear"))])
    result = measure_kick(shot, legs, plane, bands=BANDS)
    found = result.get("knee_least_deg", "r")
    assert isinstance(found, Finding) and len(found.strokes) >= 5
    assert any("each value is one kick" in n for n in found.notes)
    assert isinstance(result.get("kick_beats", "r"), NotMeasured)


def _flat(swimmer, t, px_per_m, sigma, rng, by_hand):
    """Marks of a leg seen square from the side, with an error of their own or one that keeps along the track."""
    joints = swimmer.joints(t)
    noise = rng.normal(size=(len(t), 6, 2))
    if not by_hand:
        keep = np.exp(-(t[1] - t[0]) / 0.25)
        for i in range(1, len(noise)):
            noise[i] = keep * noise[i - 1] + np.sqrt(1 - keep * keep) * noise[i]
    level = np.stack([joints[n][:, [0, 2]] for n in leg_points("r")], 1) * px_per_m + sigma * noise
    shape = level.shape[:2]
    return Points(
        leg_points("r"), np.arange(len(t)), t, True, float(t[1] - t[0]), level, level, np.full(shape, sigma),
        np.full(shape, by_hand), np.zeros(shape, bool),
    )  # fmt: skip


def test_intervals_of_single_kicks_hold_the_truth_in_over_two_thousand():
    rng = np.random.default_rng(5)
    rows = []
    for clip in range(310):
        swimmer = Swimmer(
            stature_m=rng.uniform(1.5, 1.95), rate=rng.uniform(35, 58), beats=int(rng.choice([2, 4, 6])),
            knee=rng.uniform(20, 55), hip_roll=rng.uniform(8, 28), breathing="none", variation=1.0, seed=clip,
        )  # fmt: skip
        t = np.arange(0, 6, 1 / rng.choice([30.0, 50.0, 60.0, 120.0]))
        points = _flat(swimmer, t, rng.uniform(250, 450), rng.uniform(0.5, 3.5), rng, clip % 2 == 0)
        found = kicks_of(leg_of(points, "r"))
        true = true_kicks(swimmer, "r", 6.0)
        for i in range(0 if isinstance(found, Unread) else len(found)):
            kick = true.kick(found.bottom_s[i])
            inside = 0.7 < found.bottom_s[i] < 5.3 and found.rows[i, 0] != found.top_row[i]
            if kick is None or not inside or abs(kick[4] - found.middle_s[i]) > 0.12:
                continue
            parts = (
                (found.knee_deg[i], kick[1], found.knee_sigma[i]),
                (found.thigh_deg[i], kick[2], found.thigh_sigma[i]),
                (found.foot_deg[i], kick[3], found.foot_sigma[i]),
                (found.middle_s[i], kick[4], found.middle_sigma_s[i]),
            )
            rows.append([(got - true_one) / sigma for got, true_one, sigma in parts] + [p[2] for p in parts])
    z = np.array(rows)
    assert len(z) >= 2000
    for k, name in enumerate(("knee", "thigh", "foot", "middle")):
        held = float(np.mean(np.abs(z[:, k]) < 1.96))
        print(f"{name:8s} of {len(z)} kicks {100 * held:.1f} % held, mean half width {1.96 * z[:, 4 + k].mean():.3f}")
        assert held > 0.91, name
    # Half a frame is the least that an instant is unsure, so that those intervals hold more.
    assert np.mean(np.abs(z[:, 0]) < 1.96) < 0.985


def test_a_part_of_a_shot_gives_the_same_kicks_as_the_whole():
    shot, marks, plane, _ = filmed(PLAIN, seconds=6.0, marked=EVERYTHING)
    whole = kicks_of(leg_of(points_of(shot, marks, plane, leg_points("r")), "r"))
    part = kicks_of(leg_of(points_of(replace(shot, stop=200), marks, plane, leg_points("r")), "r"))
    n = len(part) - 1
    assert part.knee_deg[:n] == pytest.approx(whole.knee_deg[:n], abs=1e-6)


def test_key_stills_alone_give_knee_and_foot():
    shot, marks, plane, _ = filmed(PLAIN, marked=EVERYTHING)
    true = true_kicks(PLAIN, "r", 6.0)
    chosen = []
    for bottom in (true.bottoms[4], true.bottoms[8]):
        span = np.arange(bottom - 60, bottom)
        chosen += [round(60 * true.times[span[np.argmin(true.knee[span])]]), round(60 * true.times[bottom])]
    few = marks.pick(marks.points, np.array(sorted(chosen)))
    result = measure_kick(shot, few, plane, bands=BANDS)
    knee, foot = result.get("knee_least_deg", "r"), result.get("ankle_off_deg", "r")
    assert len(knee.strokes) == 2 and knee.these.low < true.knee.min() + 2 < knee.these.high
    assert isinstance(foot, Finding) and any("stills that were marked" in n for n in knee.notes)
    assert {r.quantity for r in result.missing} >= {"thigh_drop_deg", "kick_beats", "kick_travel_m"}
