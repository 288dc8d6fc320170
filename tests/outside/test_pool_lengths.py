"""Pool markings against the facilities rules, and a pool drawn to scale measured by its own markings."""

from __future__ import annotations

import numpy as np
import pytest
from pool_picture import side_camera, swim_shot
from source_tables import rows

from casebook.plane.make import plane_of
from casebook.plane.markings import marking_length, markings

RULES = {r["key"]: float(r["length_m"]) for r in rows("fina_2009_pool.csv")}


@pytest.mark.parametrize("key", RULES)
def test_marking_has_the_length_of_the_rules(key):
    assert markings()[key].length_m == RULES[key]
    assert markings()[key].source


def test_every_marking_stands_in_the_rules_or_is_a_difference_of_two():
    loose = {k: m for k, m in markings().items() if k not in RULES}
    assert set(loose) == {"rope_5_to_15_m"}
    assert loose["rope_5_to_15_m"].length_m == RULES["rope_15_m"] - RULES["rope_end_colour"]


@pytest.mark.parametrize(("course", "key"), [(50.0, "floor_line_50_m_pool"), (25.0, "floor_line_25_m_pool")])
def test_floor_line_and_its_two_gaps_make_the_course(course, key):
    assert markings()[key].length_m + 2 * markings()["floor_line_to_wall"].length_m == course


def test_short_course_100_m_splits_into_the_published_segments():
    # Source: IJERPH 2020 17(17):6257: start 15 m, turns from 5 m before to 10 m after each of three walls, finish 5 m,
    # the rest is clean swimming: 35 m. The 5 m and 15 m marks of the rope are what these are read from.
    start, finish = markings()["rope_15_m"].length_m, markings()["rope_end_colour"].length_m
    assert 4 * 25 - start - 3 * (finish + 10) - finish == 35


@pytest.mark.parametrize("key", ["rope_end_colour", "rope_5_to_15_m", "floor_line_to_wall", "flags_to_wall"])
@pytest.mark.parametrize("direction", ["left", "right"])
def test_pool_drawn_to_scale_is_measured_by_its_own_marking(key, direction):
    camera = side_camera(distance_m=6.0, focal_px=400.0)
    length = markings()[key].length_m
    # The marking lies a lane's half width (1.25 m) behind the swimmer.
    ends = camera([[1.0, -0.2], [1.0 + length, -0.2]], distance_m=7.25)
    mark = marking_length(key, "side_under", 0, tuple(ends.ravel()), distance_ratio=6.0 / 7.25, distance_sigma=0.02)
    plane = plane_of(swim_shot(direction=direction), (), [mark])
    ahead = camera([[0.0, -0.5], [0.6, -0.5]], distance_m=6.0)
    # A reach of 0.6 m in the swimmer's own plane.
    assert abs(np.diff(plane.world(ahead)[:, 0])[0]) == pytest.approx(0.6, rel=1e-9)
    # What is known of the distance and of the marking is in the error; without marking error nothing else is.
    m = markings()[key]
    marking_error = np.sqrt(2) * 2.0 / np.linalg.norm(ends[1] - ends[0])
    expected = np.sqrt(marking_error**2 + (m.sigma_m / m.length_m) ** 2 + (0.02 * 7.25 / 6.0) ** 2)
    assert plane.scale_sigma == pytest.approx(expected, rel=1e-9)


def test_marking_behind_the_swimmer_taken_as_if_beside_him_makes_him_too_long():
    camera = side_camera(distance_m=6.0, focal_px=400.0)
    ends = camera([[1.0, 0], [6.0, 0]], distance_m=7.25)
    plane = plane_of(swim_shot(), (), [marking_length("rope_end_colour", "side_under", 0, tuple(ends.ravel()))])
    seen = np.diff(plane.world(camera([[0.0, -0.5], [0.6, -0.5]], distance_m=6.0))[:, 0])[0]
    assert seen == pytest.approx(0.6 * 7.25 / 6.0, rel=1e-9)
