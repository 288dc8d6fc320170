"""How long limbs are, from evidence of different kinds."""

from __future__ import annotations

import numpy as np
import pytest

from casebook.errors import CasebookError
from casebook.plane.segments import (
    SHARES,
    longest_seen,
    of_whole,
    other_side,
    segment_lengths,
    stated,
    usual_ratio,
)

ARM = ("upper_arm", "forearm")


def seen_lengths(rng, out_deg, strokes, sigma, true=100.0):
    out = np.tile(np.asarray(out_deg, float), strokes)
    seen = true * np.cos(np.radians(out)) + rng.normal(0, sigma, len(out))
    return seen, np.full(len(out), sigma), np.repeat(np.arange(strokes), len(out_deg))


@pytest.mark.parametrize("out_deg", [np.zeros(12), np.linspace(0, 30, 12), np.linspace(0, 50, 12)])
@pytest.mark.parametrize("sigma", [1.0, 4.0])
def test_longest_seen_is_freed_from_noise_and_from_foreshortening(out_deg, sigma):
    """The longest of many marks is too long by two standard deviations and more, the mean of all too short."""
    rng = np.random.default_rng(0)
    found = [longest_seen(ARM, "forearm", *seen_lengths(rng, out_deg, 4, sigma)) for _ in range(40)]
    off = np.array([e.value for e in found]) - np.log(100)
    stated_sigma = np.mean([e.sigma for e in found])
    assert abs(off.mean()) < stated_sigma
    assert np.mean(np.abs(off) < 1.96 * stated_sigma) >= 0.93
    assert stated_sigma < 0.05


def test_one_frame_marked_on_the_wrong_place_does_not_set_the_length():
    rng = np.random.default_rng(1)
    seen, sigma, stroke = seen_lengths(rng, np.linspace(0, 30, 20), 2, 1.5)
    seen[7] = 160.0
    found = longest_seen(ARM, "forearm", seen, sigma, stroke)
    assert np.exp(found.value) == pytest.approx(100, abs=2 * 100 * found.sigma)


def test_no_frame_is_no_evidence():
    assert longest_seen(ARM, "forearm", [np.nan], [1.0], [0]) is None


def test_a_limb_is_its_published_share_of_stature():
    """Drillis and Contini (1966) as handbooks print it, from memory: upper arm 0.186, forearm 0.146 of stature."""
    found = segment_lengths(ARM, [of_whole(ARM, name, 1.78, 0.01) for name in ARM])
    np.testing.assert_allclose(found.lengths, [1.78 * 0.186, 1.78 * 0.146])
    assert np.sqrt(found.relative[0, 0]) == pytest.approx(np.hypot(0.06, 0.01 / 1.78))
    of_arm = of_whole(ARM, "forearm", 0.78, 0.0, ("upper_arm", "forearm", "hand"))
    assert np.exp(of_arm.value) == pytest.approx(0.78 * 0.146 / 0.440)
    assert SHARES["upper_arm"] + SHARES["forearm"] + SHARES["hand"] == pytest.approx(0.440)


def test_evidence_counts_by_its_error():
    found = segment_lengths(ARM, [stated(ARM, "upper_arm", 0.33, 0.0033), usual_ratio(ARM, *ARM)])
    assert found.lengths[0] == pytest.approx(0.33)
    assert found.lengths[1] == pytest.approx(0.33 * 0.146 / 0.186)
    assert np.sqrt(found.relative[1, 1]) == pytest.approx(np.hypot(0.01, 0.06), rel=1e-6)
    both = segment_lengths(
        ARM, [stated(ARM, "upper_arm", 0.33, 0.0033), stated(ARM, "forearm", 0.25, 0.0025), usual_ratio(ARM, *ARM)]
    )
    assert both.lengths[1] == pytest.approx(0.25, rel=0.003)
    wider = both.widened(0.02)
    np.testing.assert_allclose(wider.relative - both.relative, 4e-4)


def test_the_other_arm_tells_a_hidden_one():
    right = segment_lengths(ARM, [stated(ARM, "upper_arm", 0.33, 0.003), stated(ARM, "forearm", 0.26, 0.003)])
    left = segment_lengths(ARM, other_side(ARM, right))
    np.testing.assert_allclose(left.lengths, right.lengths)
    assert (np.diag(left.relative) > np.diag(right.relative)).all()


def test_a_length_that_nothing_tells_is_an_error_with_a_remedy():
    with pytest.raises(CasebookError, match=r"upper arm, forearm.*Mark the limb"):
        segment_lengths(ARM, [usual_ratio(ARM, *ARM)])
