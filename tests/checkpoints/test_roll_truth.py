"""Body roll of demo swimmers against their joints across the line of swimming, faults, and the intervals."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from types import SimpleNamespace

import numpy as np
import pytest
from demo_shots import EVERYTHING, filmed, joint

from casebook.checkpoints.bands import load_bands
from casebook.checkpoints.finding import Finding, NotMeasured
from casebook.checkpoints.roll import LINES, TWIST, measure_roll
from casebook.clip.shot import Swim
from casebook.demo.cameras import camera_for
from casebook.demo.swimmer import FAULTS, Swimmer
from casebook.plane.plane import Plane
from casebook.stroke.points import Points, points_of
from casebook.stroke.roll import POINTS, peaks_of, roll_of

BANDS = load_bands("distance")
PLAIN = Swimmer(breathing="none")


@cache
def head_on(swimmer=PLAIN, sigma=0.0, view="front_under", seconds=8.0, seed=0):
    shot, marks, plane, truth = filmed(swimmer, view, sigma=sigma, seconds=seconds, seed=seed, marked=EVERYTHING)
    return measure_roll(shot, marks, plane, bands=BANDS), truth


def across(truth, name):
    """Tilt of the line between two joints in y and z, left side up. [deg]"""
    d = joint(truth, f"{name}_l") - joint(truth, f"{name}_r")
    return np.degrees(np.arctan(d[:, 2] / d[:, 1]))


def value(result, quantity, side="", name="none"):
    found = result.get(quantity, side, name)
    assert isinstance(found, Finding), found
    return found.value


def test_through_the_surface_no_roll_is_read():
    result, _ = head_on(view="front_above")
    gaps = [r for r in result.results if isinstance(r, NotMeasured)]
    assert len(gaps) == len(result.results) and all("surface" in r.reason for r in gaps)


def test_roll_to_each_side_is_that_of_the_joints_within_its_interval():
    result, truth = head_on()
    for name, quantity in LINES.items():
        tilt = across(truth, name)
        # Rolled to the left the left side is down.
        for side, most in (("l", -tilt.min()), ("r", tilt.max())):
            found = result.get(quantity, side)
            assert found.these.low < most < found.these.high, (name, side)
            assert found.these.half < 6


def test_twist_is_read_frame_by_frame_and_not_from_two_ranges():
    result, truth = head_on()
    shoulder, hip = across(truth, "shoulder"), across(truth, "hip")
    found = result.get(TWIST, "")
    assert found.these.low < np.ptp(shoulder - hip) < found.these.high
    apart = sum(value(result, "shoulder_roll_deg", s) - value(result, "hip_roll_deg", s) for s in "lr")
    assert found.value > apart + 0.5
    assert any("picture by picture" in n for n in found.notes)


def test_a_breath_rolls_further_and_is_kept_apart():
    result = head_on(Swimmer(breath_every=2, breath_roll=12.0))[0]
    breath, none = (value(result, "shoulder_roll_deg", "l", k) for k in ("breath_r", "none"))
    assert breath - none == pytest.approx(12.0, abs=2.5)


@pytest.mark.parametrize(("roll", "hip"), [(25.0, 12.0), (52.0, 30.0)])
def test_more_roll_is_more_roll(roll, hip):
    result, _ = head_on(replace(PLAIN, roll=roll, hip_roll=hip))
    for side in "lr":
        assert value(result, "shoulder_roll_deg", side) == pytest.approx(roll, abs=4.0)
        assert value(result, "hip_roll_deg", side) == pytest.approx(hip, abs=3.0)


@pytest.mark.parametrize("fault", FAULTS)
def test_no_planted_fault_of_another_part_moves_the_roll(fault):
    swimmer = replace(PLAIN, **{fault: 1.0})
    for quantity in LINES.values():
        for side in "lr":
            usual = value(head_on()[0], quantity, side)
            assert value(head_on(swimmer)[0], quantity, side) == pytest.approx(usual, abs=3.0)


def test_a_side_view_gives_no_number():
    shot, marks, plane, _ = filmed(PLAIN)
    result = measure_roll(shot, marks, plane, bands=BANDS)
    assert not result.findings and {r.quantity for r in result.missing} == {*LINES.values(), TWIST}
    assert all("head-on" in r.remedy for r in result.missing)


def test_a_pull_buoy_spoils_the_hips_and_leaves_the_shoulders():
    shot, marks, plane, _ = filmed(PLAIN, "front_under", marked=EVERYTHING)
    result = measure_roll(replace(shot, swim=Swim("a", kit="pull buoy")), marks, plane, bands=BANDS)
    assert isinstance(result.get("shoulder_roll_deg", "l"), Finding)
    assert isinstance(result.get("hip_roll_deg", "l"), NotMeasured)
    assert isinstance(result.get(TWIST, ""), NotMeasured)


def test_roll_is_shown_and_not_judged_until_the_coach_switches_its_band_on():
    assert {f.verdict for f in head_on()[0].findings} == {"shown"}


def test_stills_are_the_most_rolled_frames_with_the_line_drawn():
    result, truth = head_on()
    tilt = across(truth, "shoulder")
    for still in result.stills:
        down = -tilt if still.side == "l" else tilt
        assert down[still.frame] > 0.95 * down.max()
        assert len(still.drawing.measure[0]) == 2 and still.drawing.labels[0].text.endswith("°")
    assert {s.key for s in result.stills} == {"most_l", "most_r"}


def test_curves_run_over_the_whole_cycle_and_name_what_they_are():
    result = head_on()[0]
    assert {c.quantity for c in result.curves} == {"shoulder_deg", "hip_deg", "twist_deg"}
    for curve in result.curves:
        assert 0 <= curve.cycle_pct[0] < 3 and 97 < curve.cycle_pct[-1] <= 100
        assert len(curve.frames) == len(curve.value) == len(curve.sigma)


def _points(swimmer, camera, t, sigma, rng):
    """Marks of shoulders and hips by the camera's own projection, with an error of their own."""
    joints = swimmer.joints(t)
    xy = camera.project(np.stack([joints[n] for n in POINTS], 1), t)[0]
    xy = xy + rng.normal(0, sigma, xy.shape)
    shape = xy.shape[:2]
    level = Plane.given(1).level(xy)
    return joints, Points(
        POINTS, np.arange(len(t)), t, True, float(t[1] - t[0]), level, xy, np.full(shape, sigma), np.full(shape, True),
        np.zeros(shape, bool),
    )  # fmt: skip


def test_intervals_hold_the_roll_in_over_two_thousand_peaks():
    rng = np.random.default_rng(8)
    held, halves = {"shoulder": [], "hip": []}, {"shoulder": [], "hip": []}
    for seed in range(240):
        swimmer = Swimmer(
            stature_m=rng.uniform(1.5, 1.95), rate=rng.uniform(35, 58), roll=rng.uniform(25, 50),
            hip_roll=rng.uniform(10, 32), breathing="none", variation=1.0, seed=seed,
        )  # fmt: skip
        camera = camera_for("front_under", speed=swimmer.speed, distance_m=rng.uniform(2.5, 6.0))
        t = np.arange(0, 6, 1 / 60)
        joints, points = _points(swimmer, camera, t, rng.uniform(0.5, 2.5), rng)
        shot = SimpleNamespace(view="front_under", clip=SimpleNamespace(size=camera.size))
        roll = roll_of(shot, points)
        for name in held:
            d = joints[f"{name}_l"] - joints[f"{name}_r"]
            tilt = np.degrees(np.arctan(d[:, 2] / d[:, 1]))
            peaks = peaks_of(roll, name)
            for k in range(len(peaks)):
                near = np.abs(t - peaks.clock[k]) < 0.15
                true = (tilt if peaks.side[k] == "l" else -tilt)[near].max()
                half = 1.96 * np.hypot(peaks.sigma[k], peaks.lens[k])
                held[name].append(abs(peaks.value[k] - true) < half)
                halves[name].append(half)
    assert min(map(len, held.values())) >= 2000
    for name, inside in held.items():
        print(
            f"{name}: {len(inside)} peaks, {100 * np.mean(inside):.1f} % held, half width {np.mean(halves[name]):.2f}"
        )
        assert np.mean(inside) > 0.93, name


@pytest.mark.parametrize(
    "swimmer", [replace(PLAIN, roll=42.0), Swimmer(roll=48.0, breath_every=2, variation=0.5, seed=3)]
)
def test_a_shoulder_out_of_the_water_is_stood_in_for_by_the_neck(swimmer):
    """Head-on under water the raised shoulder is hidden at its largest roll: with the neck marked roll is read all the
    same, with a wider interval that holds the truth; without it, it is refused and the neck asked for."""
    seen = ("visible",)
    shot, marks, plane, truth = filmed(swimmer, "front_under", sigma=2.0, seconds=8.0, marked=seen)
    result = measure_roll(shot, marks, plane, bands=BANDS)
    tilt = across(truth, "shoulder")
    found = [f for f in result.findings if f.quantity == LINES["shoulder"]]
    assert {f.side for f in found} == {"l", "r"}
    for f in found:
        # The largest roll of the very cycles that were read.
        most = [
            (tilt if f.side == "r" else -tilt)[max(0, s.frames[0] - 15) : s.frames[0] + 15].max() for s in f.strokes
        ]
        assert f.these.low < np.mean(most) < f.these.high
        assert 5 < f.these.half < 14
        assert any("neck" in note for note in f.notes)
    bare = marks.pick([p for p in marks.points if p != "neck"])
    without = measure_roll(shot, bare, plane, bands=BANDS)
    for side in "lr":
        gap = without.get(LINES["shoulder"], side)
        assert isinstance(gap, NotMeasured) or "neck" not in "".join(gap.notes)
        if isinstance(gap, NotMeasured):
            assert "base of the neck" in gap.remedy


def test_the_neck_stands_in_within_a_degree_and_a_half_on_swimmers_whose_blades_do_not_slide():
    for roll in (35.0, 50.0):
        shot, marks, plane, _ = filmed(replace(PLAIN, roll=roll), "front_under", seconds=6.0, marked=("visible",))
        names = (*POINTS, "neck")
        got = roll_of(shot, points_of(shot, marks, plane, names))
        every = filmed(replace(PLAIN, roll=roll), "front_under", seconds=6.0, marked=EVERYTHING)[1]
        whole = roll_of(shot, points_of(shot, every, plane, names)).shoulder
        off = (got.shoulder - whole[got.points.frames])[got.by_neck]
        assert got.by_neck.sum() > 50
        assert np.abs(off).max() < 1.5
