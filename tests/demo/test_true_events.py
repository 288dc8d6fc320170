"""Events of the demo swimmer against their definitions, found a second way."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq

from casebook.demo.cast import CAST
from casebook.demo.events import DOWNWARD_ARMS_PER_S, EVENTS, true_strokes
from casebook.demo.plane_truth import catch_truth
from casebook.demo.roots import roots
from casebook.demo.swimmer import Swimmer

EACH = pytest.mark.parametrize("name", ["plain", *CAST])


def swimmer_of(name):
    return Swimmer() if name == "plain" else CAST[name].swimmer


def speed(swimmer, t, point, axis, against=""):
    """Velocity by a five-point difference. [m/s]"""
    h = 1e-3
    joints = swimmer.joints(np.array([t - 2 * h, t - h, t + h, t + 2 * h]))
    x = joints[point][:, axis] - (joints[against][:, axis] if against else 0.0)
    return (x[0] - 8 * x[1] + 8 * x[2] - x[3]) / (12 * h)


@EACH
def test_each_event_is_where_its_definition_says(name):
    swimmer = swimmer_of(name)
    for stroke in swimmer.events(1.0, 5.0):
        s, t = stroke.side, stroke.times
        tip, wrist, shoulder = f"fingertip_{s}", f"wrist_{s}", f"shoulder_{s}"

        def solved(function, at):
            return brentq(function, at - 0.004, at + 0.004, xtol=1e-12)

        def height(x, point):
            return swimmer.joints(x)[point][0, 2]

        def ahead(x, wrist=wrist, shoulder=shoulder):
            joints = swimmer.joints(x)
            return joints[wrist][0, 0] - joints[shoulder][0, 0]

        assert solved(lambda x, p=tip: height(x, p), t["entry"]) == pytest.approx(t["entry"], abs=1e-7)
        assert solved(lambda x, p=wrist: height(x, p), t["exit"]) == pytest.approx(t["exit"], abs=1e-7)
        assert solved(ahead, t["shoulder"]) == pytest.approx(t["shoulder"], abs=1e-7)
        catch = solved(lambda x, p=wrist: speed(swimmer, x, p, 0), t["catch"])
        assert catch == pytest.approx(t["catch"], abs=1e-5)
        past = solved(lambda x, p=wrist, q=shoulder: speed(swimmer, x, p, 0, q), t["past_body"])
        assert past == pytest.approx(t["past_body"], abs=1e-5)
        slow = DOWNWARD_ARMS_PER_S * swimmer.arm_length_m
        tips = -speed(swimmer, t["end_of_extension"] + 0.01, tip, 2, shoulder)
        assert tips > 0.9 * slow


@EACH
def test_events_of_a_stroke_follow_one_another(name):
    for stroke in swimmer_of(name).events(0.5, 6.0):
        t = [stroke.times[event] for event in EVENTS]
        assert np.isfinite(t).all()
        assert t[0] < t[1] and t[0] < t[2] < t[3] < t[4] < t[5]
        assert t[1] < t[4]


@EACH
def test_the_hand_keeps_going_backward_from_catch_to_shoulder_and_down_from_entry_side(name):
    swimmer = swimmer_of(name)
    for stroke in swimmer.events(1.0, 4.0):
        span = np.linspace(stroke.times["catch"] + 1e-3, stroke.times["shoulder"], 200)
        x = swimmer.joints(span)[f"wrist_{stroke.side}"][:, 0]
        assert (np.diff(x) < 0).all()
        wet = np.linspace(stroke.times["entry"] + 1e-4, stroke.times["exit"] - 0.06, 200)
        assert (swimmer.joints(wet)[f"fingertip_{stroke.side}"][:, 2] < 0).all()


def test_the_stretch_asked_for_changes_nothing():
    swimmer = CAST["heron"].swimmer
    whole = {(s.side, s.number): s for s in swimmer.events(0.0, 9.0)}
    for stroke in swimmer.events(3.0, 5.5):
        same = whole[stroke.side, stroke.number]
        assert stroke.stroke_class == same.stroke_class
        assert stroke.times == pytest.approx(same.times, abs=1e-9)
        assert 3.0 <= stroke.times["entry"] < 5.5


def test_rate_is_that_of_the_entries():
    entries = [s.times["entry"] for s in Swimmer(rate=42.0).events(0.0, 12.0) if s.side == "r"]
    np.testing.assert_allclose(np.diff(entries), 60.0 / 42.0, atol=1e-7)


def test_the_breath_belongs_to_the_stroke_of_the_arm_in_front():
    right = Swimmer(breathing="r").events(1.0, 6.0)
    assert {s.stroke_class for s in right if s.side == "l"} == {"breath_r"}
    assert {s.stroke_class for s in right if s.side == "r"} == {"none"}
    both = [s.stroke_class for s in Swimmer(breathing="both").events(2.0, 14.0)]
    assert set(both) == {"none", "breath_l", "breath_r"}
    assert all(both[i : i + 3].count("none") == 2 for i in range(len(both) - 2))
    assert {s.stroke_class for s in Swimmer(breathing="none").events(0.0, 5.0)} == {"none"}


@pytest.mark.parametrize("rate", [42.0, 45.0, 48.0])
def test_the_forearm_dips_from_reach_to_straight_down_in_a_human_time_without_turning_back(rate):
    swimmer = Swimmer(rate=rate)
    truth = catch_truth(swimmer, "l", np.arange(1, 4), way="square")
    for k in range(3):
        far = np.linspace(truth.events["entry"][k], truth.instants["forearm_90"][k], 800)
        joints = swimmer.joints(far)
        reach = far[np.argmax(joints["fingertip_l"][:, 0] - joints["shoulder_l"][:, 0])]
        # common practice, no source
        assert 0.33 < truth.instants["forearm_90"][k] - reach < 0.6
        down = swimmer.measures(np.linspace(reach, truth.instants["forearm_90"][k], 400))["forearm_inclination_l"]
        assert 5 < down[0] < 15
        assert (np.diff(down) > -1e-3).all()


def test_left_and_right_strokes_are_counted_by_the_swimmer_and_not_by_the_window():
    strokes = true_strokes(Swimmer(), 0.0, 8.0)
    for side in "lr":
        numbers = [s.number for s in strokes if s.side == side]
        assert numbers == list(range(numbers[0], numbers[0] + len(numbers)))


def test_roots_of_a_known_function_first_last_and_none():
    grid = np.linspace(0.0, 10.0, 81)[None].repeat(2, 0)
    shift = np.array([[0.3], [1.1]])

    def wave(t):
        return np.sin(t - shift)

    np.testing.assert_allclose(roots(wave, grid, wave(grid)), [0.3, 1.1], atol=1e-10)
    np.testing.assert_allclose(roots(wave, grid, wave(grid), "last"), 2 * np.pi + shift[:, 0], atol=1e-10)
    assert np.isnan(roots(lambda t: -1.0 - 0 * t, grid, -np.ones_like(grid))).all()
