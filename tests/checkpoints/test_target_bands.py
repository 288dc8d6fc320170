"""Bands are data with a source; a case may replace any of them."""

from __future__ import annotations

import pytest

from casebook.checkpoints.bands import OF_THE_SHOULDER, SAME_AS, load_bands
from casebook.errors import CaseError
from casebook.words import LEVELS, QUANTITIES


def test_every_band_of_every_level_names_its_source_and_a_known_quantity():
    for level in LEVELS:
        for quantity, band in load_bands(level).bands.items():
            assert quantity in QUANTITIES
            assert band.unit == QUANTITIES[quantity].unit
            assert band.source == "common practice, no source"
            assert band.margin > 0
            assert band.level == level


def test_hand_ahead_and_elbow_height_are_judged_and_angles_are_shown():
    bands = load_bands("distance")
    assert bands.get("hand_ahead_pct").on
    assert bands.get("hand_ahead_pct").low == 20
    assert bands.get("hand_ahead_pct").high is None
    assert bands.get("elbow_height_pct").on
    assert not bands.get("elbow_angle_45_deg").on
    assert not bands.get("elbow_angle_under_deg").on
    assert bands.get("upper_arm_turn_deg") is None


def test_a_learner_has_no_band_for_the_hand_ahead():
    assert load_bands("learner").get("hand_ahead_pct") is None
    assert load_bands("learner").get("elbow_height_pct").high is None


def write(tmp_path, text):
    path = tmp_path / "bands.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_case_replaces_what_it_names_and_its_file_stands_in_the_source(tmp_path):
    bands = load_bands("distance", write(tmp_path, "[hand_ahead_pct]\nlow = 15\n"))
    band = bands.get("hand_ahead_pct")
    assert (band.low, band.high, band.margin) == (15, None, 3)
    assert "bands.toml" in band.source
    assert bands.get("elbow_height_pct").source == "common practice, no source"


def test_a_case_switches_a_band_on_and_leaves_its_edges(tmp_path):
    band = load_bands("distance", write(tmp_path, "[elbow_angle_45_deg]\non = true\n")).get("elbow_angle_45_deg")
    assert band.on
    assert (band.low, band.high) == (135, 165)


def test_a_case_may_band_what_has_none_and_cite_a_source_of_its_own(tmp_path):
    text = '[upper_arm_turn_deg]\nhigh = 20\nmargin = 4\nsource = "own squad, 2026"\n'
    band = load_bands("learner", write(tmp_path, text)).get("upper_arm_turn_deg")
    assert (band.low, band.high, band.unit) == (None, 20, "deg")
    assert band.source == "own squad, 2026 (bands.toml of this case)"


def test_a_squad_s_file_holds_for_all_and_the_swimmer_s_own_goes_before_it(tmp_path):
    squad, own = (tmp_path / name for name in ("bands.toml", "own.toml"))
    squad.write_text("[hand_ahead_pct]\nlow = 16\n[heel_depth_m]\nhigh = 0.3\n", "utf-8")
    own.write_text("[hand_ahead_pct]\nlow = 11\n", "utf-8")
    bands = load_bands("distance", own, squad_toml=squad)
    assert bands.get("hand_ahead_pct").low == 11 and "(own.toml of this case)" in bands.get("hand_ahead_pct").source
    assert bands.get("heel_depth_m").high == 0.3 and "(bands.toml of the squad)" in bands.get("heel_depth_m").source


def test_a_band_for_an_event_holds_for_those_who_swim_it(tmp_path):
    text = '[hand_ahead_pct]\nlow = 15\n[event."50 m freestyle".hand_ahead_pct]\nlow = 4\n'
    sprinter = load_bands("sprint", write(tmp_path, text), events=("50 m Freestyle", "100 m freestyle"))
    other = load_bands("sprint", write(tmp_path, text), events=("100 m freestyle",))
    assert sprinter.get("hand_ahead_pct").low == 4 and other.get("hand_ahead_pct").low == 15
    assert sprinter.get("hand_ahead_pct").source.endswith("(bands.toml of this case for 50 m freestyle)")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ('[event."50 m"]\nlow = 3\n', "hand_ahead_pct"),
        ("[hand_ahed_pct]\nlow = 1\n", 'Did you mean "hand_ahead_pct"?'),
        ("[hand_ahead_pct]\nlo = 1\n", 'Did you mean "low"?'),
        ("[hand_ahead_pct]\nlow = 9\nhigh = 3\n", "Make low smaller than high"),
        ("[hand_ahead_pct\n", "not valid TOML"),
        ("low = 3\n", "Put it under a table"),
        ("schema = 99\n", "newer casebook"),
    ],
)
def test_a_slip_in_the_file_is_told_with_a_way_out(tmp_path, text, says):
    with pytest.raises(CaseError) as told:
        load_bands("distance", write(tmp_path, text))
    assert says in str(told.value)


def test_an_unknown_level_is_told_with_those_there_are():
    with pytest.raises(CaseError, match="learner"):
        load_bands("elite")


def test_masters_and_middle_distance_start_from_another_level_s_bands():
    for level, other in SAME_AS.items():
        mine, theirs = load_bands(level), load_bands(other)
        assert {q: (b.low, b.high) for q, b in mine.bands.items()} == {
            q: (b.low, b.high) for q, b in theirs.bands.items()
        }
        assert all(b.level == level for b in mine.bands.values())


def test_spare_shoulders_are_not_judged_by_the_catch_of_supple_ones(tmp_path):
    bands = load_bands("distance", spare_shoulders=True)
    assert not any(bands.get(q).on for q in OF_THE_SHOULDER) and bands.get("knee_least_deg").on
    own = tmp_path / "bands.toml"
    own.write_text("[hand_ahead_pct]\nlow = 8.0\non = true\n", "utf-8")
    assert load_bands("distance", own, spare_shoulders=True).get("hand_ahead_pct").on, "the coach's own word counts"
