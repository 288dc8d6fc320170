"""Pool markings as known lengths."""

from __future__ import annotations

import pytest

from casebook.errors import CasebookError
from casebook.plane.markings import marking_length, markings
from casebook.words import VIEWS


@pytest.mark.parametrize("key", markings())
def test_every_marking_is_complete_and_serves_some_view(key):
    m = markings()[key]
    assert m.length_m > 0 < m.sigma_m < 0.2 * m.length_m
    assert m.source
    assert m.what
    assert any(m.serves(view) for view in VIEWS)


def test_marking_becomes_a_known_length():
    mark = marking_length(
        "rope_end_colour", "side_under", 4, (10, 20, 500, 22), distance_ratio=0.8, distance_sigma=0.05
    )
    assert (mark.frame, mark.length_m, mark.distance_ratio, mark.ends) == (4, 5.0, 0.8, (10, 20, 500, 22))
    assert "lane rope" in mark.what


def test_lane_width_cannot_be_seen_from_the_side_and_the_remedy_names_what_can():
    with pytest.raises(CasebookError, match="runs toward or away from the camera from the side") as caught:
        marking_length("lane_width", "side_under", 0, (0, 0, 1, 1))
    assert "rope_end_colour" in caught.value.remedy
    assert "floor_cross_line" not in caught.value.remedy
    assert markings()["lane_width"].serves("front_under")


def test_unknown_marking_names_the_known_ones():
    with pytest.raises(CasebookError, match="wall_target"):
        marking_length("rope", "side_under", 0, (0, 0, 1, 1))
