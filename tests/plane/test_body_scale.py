"""Body height as the last resort of a scale."""

from __future__ import annotations

import math

import pytest
from plane_makers import length, shot

from casebook.errors import CasebookError
from casebook.marks.points import PAIRED
from casebook.plane.body_scale import SEGMENTS, body_length
from casebook.plane.make import plane_of
from casebook.plane.scale import fit_scale


def test_shares_of_standing_height():
    # Source: Drillis and Contini (1966), as in Winter (2009), figure 4.1; from memory.
    printed = {"upper arm": 0.186, "forearm": 0.146, "hand": 0.108, "trunk": 0.288, "thigh": 0.245, "shank": 0.246}
    assert {name: share for name, (_, _, share) in SEGMENTS.items()} == printed
    assert all(point in PAIRED for a, b, _ in SEGMENTS.values() for point in (a, b))


def test_segment_becomes_a_known_length_with_a_large_error():
    mark = body_length("forearm", 1.80, 12, (100, 300, 200, 330))
    assert mark.length_m == pytest.approx(0.146 * 1.80)
    # By hand: 5 % between people, 4.5 % for pointing out of the picture, 1 cm of 180 in the height.
    assert mark.sigma_m / mark.length_m == pytest.approx(math.sqrt(0.05**2 + 0.045**2 + (1 / 180) ** 2))
    assert "by body height" in mark.what


def test_anything_of_known_length_outweighs_the_body():
    pole = length(500, 1.5, sigma_m=0.01, what="pole")
    arm = body_length("upper arm", 1.80, 0, (100, 300, 210, 300))
    both = fit_scale([pole, arm])
    assert math.exp(both.ln_m_per_px) == pytest.approx(0.003, rel=0.01)
    assert both.sigma < 1.05 * fit_scale([pole]).sigma


def test_scale_from_the_body_alone_says_so_and_how_unsure_it_is():
    plane = plane_of(shot(), (), [body_length("forearm", 1.80, 0, (100, 300, 200, 300))])
    assert plane.scale_sigma > 0.06
    assert any("rests on body height alone" in s for s in plane.limits)
    with_pole = plane_of(
        shot(), (), [body_length("forearm", 1.80, 0, (100, 300, 200, 300)), length(500, 1.5, what="pole")]
    )
    assert not any("body height alone" in s for s in with_pole.limits)


@pytest.mark.parametrize(("segment", "height", "words"), [("neck", 1.8, "neck"), ("hand", 180.0, "180.0 m tall")])
def test_what_cannot_be_is_refused(segment, height, words):
    with pytest.raises(CasebookError, match=words):
        body_length(segment, height, 0, (0, 0, 1, 1))
