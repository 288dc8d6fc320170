"""Kicks of a leg whose every angle is known in closed form."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from made_leg import MadeLeg, marked
from scipy.optimize import minimize_scalar

from casebook.stroke.kick import kicks_of, leg_of
from casebook.stroke.kick_timing import meeting
from casebook.stroke.points import Unread

LEG = MadeLeg()
T = np.arange(0, 5, 1 / 60)


def kicks(leg=LEG, t=T, **how):
    return kicks_of(leg_of(marked(leg.joints(t), t, **how), "r"))


def height(leg, t):
    """Ankle over hip at one instant. [m]"""
    p = leg.joints(np.array([t]))[0]
    return float(p[2, 1] - p[0, 1])


def true_turns(leg=LEG, last=5.0):
    """Tops and bottoms of the ankle by minimising the closed form."""
    half = 0.5 / leg.kicks_per_s
    grid = np.arange(0, last, half / 40)
    h = np.array([height(leg, t) for t in grid])
    out = {}
    for name, sign in (("top", -1), ("bottom", 1)):
        k = np.flatnonzero((sign * h[1:-1] < sign * h[:-2]) & (sign * h[1:-1] <= sign * h[2:])) + 1
        out[name] = np.array(
            [minimize_scalar(lambda t, s=sign: s * height(leg, t), (grid[i - 1], grid[i], grid[i + 1])).x for i in k]
        )
    return out


def test_downbeats_lie_where_the_closed_form_has_them():
    found, true = kicks(), true_turns()
    assert len(found) == 10
    for at, bottom in zip(found.top_s, found.bottom_s, strict=True):
        assert np.abs(true["top"] - at).min() < 0.004
        assert np.abs(true["bottom"] - bottom).min() < 0.004
    travel = np.array([height(LEG, a) - height(LEG, b) for a, b in zip(found.top_s, found.bottom_s, strict=True)])
    assert found.travel_px == pytest.approx(400 * travel, rel=0.012)
    middle = [height(LEG, a) for a in found.middle_s]
    assert middle == pytest.approx([(height(LEG, a) + height(LEG, b)) / 2 for a, b in
                                    zip(found.top_s, found.bottom_s, strict=True)], abs=0.004)  # fmt: skip


def test_knee_thigh_and_foot_are_those_put_in():
    found = kicks()
    assert found.knee_deg == pytest.approx(180 - 40, abs=0.8)
    assert found.thigh_deg == pytest.approx(8 + 9, abs=0.6)
    assert found.foot_deg[1:] == pytest.approx(25, abs=0.1)


def test_the_trunks_tilt_is_not_the_thighs():
    for tilt in (-5.0, 12.0):
        assert kicks(replace(LEG, tilt=tilt)).thigh_deg == pytest.approx(17, abs=0.6)


def test_a_hooked_foot_is_told_from_a_pointed_one_whichever_way_the_leg_lies():
    assert kicks(replace(LEG, foot=70.0)).foot_deg[1:] == pytest.approx(70, abs=0.1)
    assert kicks(replace(LEG, foot=-4.0)).foot_deg[1:] == pytest.approx(-4, abs=0.1)


@pytest.mark.parametrize("fps", [25, 50, 120])
def test_the_rate_of_pictures_hardly_matters(fps):
    t = np.arange(0, 5, 1 / fps)
    found = kicks(t=t)
    assert found.knee_deg[1:] == pytest.approx(140, abs=2.5)
    assert len(found) == 10


def test_a_swap_of_noise_for_kicks_is_not_made():
    still = replace(LEG, thigh_swing=0.0, knee_bend=0.0)
    found = kicks(still, noise=2.0)
    assert isinstance(found, Unread)


def test_what_is_missing_is_named():
    points = marked(LEG.joints(T), T)
    points.level[:, 2] = np.nan
    found = kicks_of(leg_of(points, "r"))
    assert isinstance(found, Unread) and "ankle" in found.reason and "Mark" in found.remedy
    toeless = marked(LEG.joints(T), T)
    toeless.level[:, 4] = np.nan
    assert np.isnan(kicks_of(leg_of(toeless, "r")).foot_deg).all()


def test_a_kick_across_a_gap_is_not_one():
    points = marked(LEG.joints(T), T)
    lost = (T > 2.0) & (T < 2.6)
    points.level[lost] = np.nan
    found = kicks_of(leg_of(points, "r"))
    assert not ((found.top_s < 2.0) & (found.bottom_s > 2.6)).any()
    assert len(set(found.run)) == 2
    phases = meeting(found, "l", "catch", [2.3])
    assert isinstance(phases, Unread)


def test_an_event_at_the_middle_of_a_downbeat_is_in_phase_and_names_both_sides():
    found = kicks()
    together = meeting(found, "r", "catch", found.middle_s[1:6], 0.004)
    assert np.abs((together.phases + 180) % 360 - 180).max() < 1e-6
    assert together.tied and together.kicks_down == "r"
    assert together.text() == "As the right hand starts its catch, the right foot kicks down."
    between = meeting(found, "l", "entry", (found.middle_s[1:6] + found.middle_s[2:7]) / 2)
    assert between.phases == pytest.approx(180, abs=2)
    assert between.kicks_down == "l"
    assert between.text() == "As the left hand enters, the right foot comes up, so that the left foot would kick down."


def test_events_of_no_fixed_phase_are_not_called_tied():
    found = kicks()
    loose = meeting(found, "r", "catch", np.linspace(found.middle_s[0] + 0.01, found.middle_s[-1] - 0.01, 8) ** 1.0)
    spread = loose.together.length
    assert spread < 0.6 and not loose.tied and loose.kicks_down == ""
    assert "no fixed step" in loose.text()


def test_the_phases_error_is_that_of_the_event_over_the_kick():
    found = kicks()
    sharp, vague = (meeting(found, "r", "catch", found.middle_s[2:5], s) for s in (0.0, 0.05))
    period = float(np.diff(found.middle_s).mean())
    assert sharp.sigma == pytest.approx(360 * (0.5 / 60) / period, rel=0.02)
    assert vague.sigma == pytest.approx(360 * np.hypot(0.05, 0.5 / 60) / period, rel=0.02)
