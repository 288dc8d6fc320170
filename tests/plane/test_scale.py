"""Metres per pixel: one length, several, the nearer and farther, and those that disagree."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from plane_makers import length

from casebook.plane.scale import fit_scale


def test_one_length_is_metres_over_pixels():
    fit = fit_scale([length(500, 2.0, sigma_px=1.0)])
    assert math.exp(fit.ln_m_per_px) == pytest.approx(0.004)
    assert fit.sigma == pytest.approx(math.sqrt(2) / 500)
    assert fit.dof == 0
    assert math.isnan(fit.p)


def test_error_of_the_tape_and_of_the_distance_widen_the_scale():
    fit = fit_scale([length(500, 2.0, sigma_px=0.0, sigma_m=0.02, ratio=0.8, ratio_sigma=0.04)])
    assert math.exp(fit.ln_m_per_px) == pytest.approx(0.004 * 0.8)
    assert fit.sigma == pytest.approx(math.hypot(0.01, 0.05), rel=1e-6)


@given(st.floats(1.0, 20), st.floats(0.3, 1.9), st.floats(0.2, 5))
def test_marking_at_any_distance_gives_the_swimmers_scale(distance, ratio, metres):
    # A pinhole of focal length f draws L at distance D as f L / D pixels; the swimmer swims at ratio * D.
    focal = 1500.0
    fit = fit_scale([length(focal * metres / distance, metres, ratio=ratio)])
    assert math.exp(fit.ln_m_per_px) == pytest.approx(distance * ratio / focal)


def test_two_lengths_weigh_by_their_errors():
    fit = fit_scale([length(1000, 2.0, sigma_px=1.0, what="pole"), length(1020, 2.0, sigma_px=3.0, what="rope")])
    weights = np.array([1 / (1 / 1000) ** 2, 1 / (3 / 1020) ** 2])
    expected = weights @ [math.log(2 / 1000), math.log(2 / 1020)] / weights.sum()
    assert fit.ln_m_per_px == pytest.approx(expected)
    assert fit.dof == 1


def test_marking_the_same_rope_again_does_not_make_the_rope_better_known():
    once = fit_scale([length(500, 5.0, sigma_m=0.05, what="rope")])
    often = fit_scale([length(500, 5.0, sigma_m=0.05, what="rope", frame=i) for i in range(100)])
    assert once.sigma > often.sigma > 0.01
    assert often.sigma == pytest.approx(0.01, rel=0.05)
    other = fit_scale([length(500, 5.0, sigma_m=0.05, what=f"rope {i}") for i in range(100)])
    assert other.sigma < 0.002


def test_errors_of_the_scale_match_random_draws():
    random = np.random.default_rng(11)
    off, said = [], []
    for _ in range(2000):
        rope, away = random.normal(0, 0.05), random.normal(0, 0.02)
        marks = []
        for i in range(4):
            ends = np.array([[100.0, 300.0], [700.0, 310.0]]) + random.normal(0, 2, (2, 2))
            px = float(np.linalg.norm(ends[1] - ends[0]))
            marks.append(length(px, 5.0, what="rope", frame=i, sigma_m=0.05, ratio=0.9, ratio_sigma=0.02))
        true = math.log((5.0 + rope) / np.hypot(600, 10) * (0.9 + away))
        fit = fit_scale(marks)
        off.append(fit.ln_m_per_px - true)
        said.append(fit.sigma)
    assert np.std(off) == pytest.approx(np.median(said), rel=0.05)
    assert 0.93 < np.mean(np.abs(off) < 1.96 * np.array(said)) < 0.97


def test_lengths_that_agree_are_not_widened_and_raise_no_note():
    fit = fit_scale([length(500, 2.0, what="a"), length(251, 1.0, what="b"), length(1002, 4.0, what="c")])
    assert fit.p > 0.05
    assert fit.notes == ()
    weight = sum((px / 2) ** 2 / 2 for px in (500, 251, 1002))
    assert fit.sigma == pytest.approx(1 / math.sqrt(weight))


def test_odd_one_out_is_named_kept_and_paid_for():
    good = [length(500, 2.0, what=f"pole {i}") for i in range(4)]
    # Yards taken for metres.
    fit = fit_scale([*good, length(500, 2.0 / 0.9144, what="rope in yards", frame=7)])
    assert fit.p < 1e-6
    assert len(fit.notes) == 1
    assert '"rope in yards" on frame 7 makes a pixel 9 % longer' in fit.notes[0]
    assert fit.sigma > 5 * fit_scale(good).sigma
    assert math.exp(fit.ln_m_per_px) > 0.004


def test_two_that_disagree_are_both_under_suspicion():
    fit = fit_scale([length(500, 2.0, what="pole"), length(400, 2.0, what="rope")])
    assert "disagree by 25 %" in fit.notes[0]
    assert fit.sigma > math.log(1.25) / 3


def test_one_rope_that_changes_its_size_between_frames_is_as_uncertain_as_it_changes():
    random = np.random.default_rng(2)
    sizes = 600 * np.exp(random.normal(0, 0.05, 30))
    fit = fit_scale([length(s, 5.0, what="rope", sigma_m=0.01, frame=i) for i, s in enumerate(sizes)])
    assert fit.sigma == pytest.approx(0.05, rel=0.3)
