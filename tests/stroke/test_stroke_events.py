"""Events of a stroke against the closed form of the motion that was filmed."""

from __future__ import annotations

import numpy as np
import pytest
from planar_arm import Camera, PlanarArm, with_
from scipy.optimize import brentq

from casebook.clip.shot import Stretch
from casebook.marks.events import EventMark
from casebook.stroke.arm import arm_of
from casebook.stroke.events import SHAPES, stroke_events
from casebook.stroke.moment import Moment, NoMoment
from casebook.stroke.onset import MOTIONS
from casebook.stroke.setup import set_ups

ARM = PlanarArm(period=1.6, first=0.5, pull=0.8)
CAMERA = Camera(seconds=3.8)


def events(arm=ARM, camera=CAMERA, frames=None, marks=(), **noise):
    shot = camera.shot()
    stroke = set_ups(shot, arm_of(shot, camera.marks(arm, frames, **noise), "r"), camera.plane())[1]
    return {e.event: e for e in stroke_events(shot, stroke, arm.length * camera.px_per_m, marks)}


def moment(rate, low, high):
    """Where a speed passes zero, by the motion's formula."""
    return brentq(lambda t: rate(t + 1e-6) - rate(t - 1e-6), low, high)


def test_shape_events_are_where_the_formula_has_them():
    got = events()
    for degrees in (45, 60, 90):
        assert got[f"forearm_{degrees}"].time_s == pytest.approx(ARM.forearm_at(degrees, 1), abs=1e-3)
    under = ARM.instant(lambda p: p[0, 0] - p[2, 0], 1)
    assert got["shoulder"].time_s == pytest.approx(under, abs=1e-3)


def test_the_catch_comes_after_the_hand_passes_the_body():
    got = events()
    start = ARM.first + ARM.period

    def wrist(t):
        return ARM.joints(np.array(t))[2, 0]

    water = moment(wrist, start + 0.1, start + 0.5)
    assert got["catch"].time_s == pytest.approx(water, abs=0.01)
    assert got["past_body"].time_s < got["catch"].time_s - 0.1


def test_the_end_of_extension_is_where_the_fingertip_starts_down():
    start = ARM.first + ARM.period

    def speed(t):
        p, q = ARM.joints(np.array(t + 1e-5)), ARM.joints(np.array(t - 1e-5))
        return (p[3, 1] - p[0, 1] - q[3, 1] + q[0, 1]) / 2e-5

    expected = brentq(lambda t: speed(t) + 0.15 * ARM.length, start, start + 0.3)
    assert events()["end_of_extension"].time_s == pytest.approx(expected, abs=0.015)


@pytest.mark.parametrize(
    ("camera", "word"),
    [
        (with_(CAMERA, following=True), "camera moves"),
        (with_(CAMERA, place="flume"), "flume"),
    ],
)
def test_against_the_water_needs_a_background_that_stands_still(camera, word):
    got = events(camera=camera)
    assert not got["catch"]
    assert word in got["catch"].reason
    assert got["catch"].remedy
    assert got["past_body"]


def test_no_event_is_surer_than_half_a_frame():
    for fps in (30.0, 60.0):
        for event in events(camera=with_(CAMERA, fps=fps), sigma_px=0.01).values():
            assert event.sigma_s >= 0.5 / fps - 1e-12


def test_noise_widens_the_uncertainty_of_a_motion_event():
    calm, rough = events(sigma_px=0.5)["catch"], events(sigma_px=20.0)["catch"]
    assert rough.sigma_s > 2 * calm.sigma_s


def test_what_the_coach_set_takes_the_place_of_what_would_be_found():
    frame = float(round((ARM.first + ARM.period + 0.2) * 60))
    got = events(marks=[EventMark("end_of_extension", "r", frame), EventMark("catch", "l", frame)])
    assert got["end_of_extension"].by_coach
    assert got["end_of_extension"].frame == frame
    assert got["end_of_extension"].time_s == pytest.approx(frame / 60)
    assert not got["catch"].by_coach


def test_key_stills_give_shape_events_unsure_by_half_their_gap_and_no_motion_events():
    stills = CAMERA.key_stills(ARM, (0, 1))
    got = events(frames=stills)
    assert all(isinstance(got[name], NoMoment) and "key stills" in got[name].reason for name in MOTIONS)
    assert got["forearm_60"].sigma_s == pytest.approx((stills[5] - stills[4]) / 60 / 2)
    assert got["forearm_60"].time_s == pytest.approx(ARM.forearm_at(60, 1), abs=0.01)


def test_events_of_a_slowed_file_have_real_times_or_none():
    slowed = with_(CAMERA, extra={"stretches": (Stretch(0, 228, 4.0),)})
    unknown = with_(CAMERA, extra={"stretches": (Stretch(0, 228, None),)})
    plain = events()
    assert events(camera=slowed)["forearm_90"].time_s == pytest.approx(plain["forearm_90"].time_s / 4, rel=1e-3)
    assert np.isnan(events(camera=unknown)["forearm_90"].time_s)
    assert events(camera=unknown)["forearm_90"].frame == pytest.approx(plain["forearm_90"].frame, abs=0.01)


def test_the_first_crossing_is_not_early_under_noise():
    # A forearm that is slow through straight down, and noise that makes single marks cross up to 0.1 s early.
    slow = PlanarArm(period=2.6, first=0.5, pull=1.6)
    camera = with_(CAMERA, seconds=5.0)
    rng = np.random.default_rng(11)
    true = slow.forearm_at(90, 1)
    late = [events(slow, camera, noise_px=4.0, rng=rng)["forearm_90"].time_s - true for _ in range(40)]
    assert abs(np.mean(late)) < 3 * np.std(late) / np.sqrt(40)
    assert abs(np.mean(late)) < 0.005


def test_every_event_has_a_place_in_the_answer():
    assert list(events()) == [*MOTIONS, *SHAPES]
    assert all(isinstance(e, Moment) for e in events().values())
