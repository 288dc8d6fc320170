"""Rate, length and speed measured on the demo swimmer's marks, against his own rate and speed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from filmed_swimmer import CAST, Film

from casebook.checkpoints.bands import load_bands
from casebook.checkpoints.rate import LENGTHS, RATES, WAYS, measure_rate
from casebook.clip.shot import Stretch, Swim
from casebook.demo.swimmer import Swimmer
from casebook.marks.events import EventMark
from casebook.marks.marks import Marks
from casebook.stroke.lengths import Length
from casebook.stroke.speed import HIP_DEPTH

BANDS = load_bands("sprint")
SWIMMER = Swimmer(rate=52.7, speed=1.55, variation=0.5, seed=4)
NOTHING = Marks.empty(["wrist_r"], [])


def measured(film, marks=None, **given):
    _, own, shot, plane = film.make()
    changes = given.pop("changes", {})
    return measure_rate(replace(shot, **changes), own if marks is None else marks, plane, bands=BANDS, **given)


@pytest.mark.parametrize("swimmer", [SWIMMER, CAST[1], CAST[4]])
def test_the_rate_is_the_swimmers_in_both_units(swimmer):
    result = measured(Film(swimmer, seconds=9.0))
    strokes, cycles = result.get("strokes_per_min"), result.get("cycles_per_min")
    assert strokes.value == pytest.approx(2 * cycles.value)
    assert cycles.value == pytest.approx(swimmer.rate, rel=0.01)
    assert strokes.unit == "strokes/min, each arm"
    assert cycles.unit == "cycles/min"


def test_distance_and_speed_are_the_swimmers_and_fit_together():
    film = Film(SWIMMER, seconds=9.0, unrolled=True)
    result = measured(film)
    speed, way, rate = (result.get(q).value for q in ("speed_m_s", "distance_per_cycle_m", "cycles_per_min"))
    # The hip lies nearer to the camera than the arm's plane, by a few centimetres of four metres.
    assert speed == pytest.approx(SWIMMER.speed, rel=0.02)
    assert way == pytest.approx(60 * SWIMMER.speed / SWIMMER.rate, rel=0.02)
    assert speed == pytest.approx(rate / 60 * way, rel=0.01)
    assert result.get("stroke_index").value == pytest.approx(speed * way, rel=0.01)
    assert result.get("pace_100_s").value == pytest.approx(100 / speed, rel=0.01)


def test_the_swing_of_the_hip_is_the_poses():
    film = Film(SWIMMER, seconds=9.0, unrolled=True, sigma_px=1.0)
    truth = film.make()[0]
    hip = truth.world[:, truth.index("hip_r"), 0]
    v = np.gradient(hip, truth.times)
    true = 100 * v[60:-60].std() / v[60:-60].mean()
    got = measured(film).get("speed_swing_pct")
    assert got.these.low - 1 < true < got.these.high + 1


def test_a_wrong_scale_is_carried_once_and_twice():
    film = Film(SWIMMER, seconds=6.0, unrolled=True)
    _, marks, shot, plane = film.make()
    covariance = plane.covariance.copy()
    covariance[0, 0] = 0.03**2
    result = measure_rate(shot, marks, replace(plane, covariance=covariance), bands=BANDS)
    for quantity, power in (("speed_m_s", 1), ("stroke_index", 2)):
        got = result.get(quantity)
        assert got.strokes[0].common == pytest.approx(np.hypot(0.03, HIP_DEPTH) * power * got.strokes[0].value)


def test_two_entries_set_by_the_coach_are_a_rate():
    events = [EventMark("entry", "l", f) for f in (30.0, 98.3, 166.6)]
    got = measured(Film(SWIMMER, seconds=4.0), NOTHING, events=events).get("cycles_per_min")
    assert got.value == pytest.approx(60 * 60 / 68.3, rel=1e-6)
    assert len(got.strokes) == 2


def test_a_track_without_entries_is_a_rate_too():
    film = Film(SWIMMER, view="front_under", seconds=6.0)
    _, marks, shot, plane = film.make()
    wrist = marks.pick(["wrist_r", "elbow_r"])
    got = measure_rate(replace(shot, view="top", direction="right"), wrist, plane, bands=BANDS).get("cycles_per_min")
    assert got.value == pytest.approx(SWIMMER.rate, rel=0.01)
    assert any("tracked points" in n for n in got.notes)


def test_a_rate_nobody_swims_points_to_the_slow_motion():
    result = measured(Film(SWIMMER), changes={"stretches": (Stretch(0, 480, 8.0),)})
    got = result.get("strokes_per_min")
    assert not got
    assert "slow motion" in got.remedy


def test_what_a_moving_camera_kit_or_company_spoil_is_said():
    assert "camera moves" in measured(Film(SWIMMER)).get("speed_m_s").reason
    fins = measured(Film(SWIMMER, unrolled=True), changes={"swim": Swim("a", kit="fins")})
    assert all("fins" in fins.get(q).reason for q in (*RATES, *WAYS))
    behind = measured(Film(SWIMMER, unrolled=True), changes={"swim": Swim("a", lane="behind another")})
    assert behind.get("strokes_per_min")
    assert "wake" in behind.get("distance_per_cycle_m").reason


def test_lengths_come_from_the_coachs_count_or_the_swims_own():
    counted = [Length("a", n, 25.0, "m", 15.0 + n / 10, 17 + n) for n in (1, 2, 3)]
    result = measured(Film(SWIMMER, seconds=3.0), lengths=counted)
    strokes, seconds = (result.get(q) for q in LENGTHS)
    assert strokes.value == pytest.approx(19)
    assert strokes.band is not None
    assert seconds.value == pytest.approx(15.2)
    own = measured(Film(SWIMMER, seconds=3.0), changes={"swim": Swim("a", place="50 m", seconds=31.0, strokes=40)})
    assert own.get("strokes_per_length").value == 40
    # The band is one for 25 m.
    assert own.get("strokes_per_length").band is None
    assert "counted" in measured(Film(SWIMMER, seconds=3.0)).get("strokes_per_length").reason


def test_the_demo_clip_of_a_pass_gives_speed_and_distance_within_their_intervals(tmp_path):
    """Marks with a hand's error, a scale from a rope behind the swimmer: all that a real pass has."""
    from casebook.case.case import Case
    from casebook.demo.case import build_demo_case
    from casebook.demo.cast import CAST as ROLES

    case = Case.open(build_demo_case(tmp_path / "demo"))
    desk = next(d for d in map(case.desk, case.shots) if d.shot.camera == "still" and d.shot.view == "side_under")
    swimmer, result = ROLES["rowan"].swimmer, desk.measure("rate")
    for quantity, true in (
        ("speed_m_s", swimmer.speed),
        ("distance_per_cycle_m", 60 * swimmer.speed / swimmer.rate),
        ("cycles_per_min", swimmer.rate),
    ):
        found = [f for f in result.findings if f.quantity == quantity]
        assert found
        assert all(f.these.low < true < f.these.high for f in found)
