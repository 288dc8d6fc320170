"""Every demo case is told as it was planted: the cause first, one thing for a learner, nothing for a clean swimmer.

What stands beside each check are the faults of the invented swimmers (``demo.cast``); the measuring code never sees
them.
"""

from __future__ import annotations

import re
import tomllib
from importlib.resources import files
from pathlib import Path

import pytest

from casebook.case.case import Case
from casebook.case.notebooks import COACH, PARAMETERS, execute_all, read_notebook
from casebook.case.overview import Overview, overview
from casebook.checkpoints.finding import Finding
from casebook.demo.case import build_demo_case
from casebook.demo.case_plans import CASES
from casebook.demo.cast import CAST
from casebook.demo.desk import open_case
from casebook.demo.faults import signature
from casebook.demo.swimmer import FAULTS
from casebook.demo.truth_files import read_truth
from casebook.errors import CaseError
from casebook.pages.page import render_case
from casebook.pages.show_plan import change
from casebook.resources import shipped

#: What may show of each planted fault: itself, and what it brings with it (``demo.faults.EFFECTS``).
SHOWN_BY = {
    "dropped_elbow": {"dropped_elbow", "late_catch"},
    "crossover": {"crosses_at_entry"},
    "scissor": {"scissor"},
    "head_lift": {"head_up", "legs_sink", "body_steep", "breath_lift"},
    "late_hand": {"late_catch"},
}
#: True of a swimmer without being planted as a fault: Heron turns the arms over faster than the band, Rowan's heels lie
#: deeper (``test_what_is_told_beside_the_faults_is_true``).
ALSO_TRUE = {"heron": {"rate_high"}, "rowan": {"legs_sink"}}


@pytest.fixture(scope="module")
def cases(tmp_path_factory) -> dict[str, Case]:
    place = tmp_path_factory.mktemp("cases")
    return {alias: Case.open(build_demo_case(place / alias, alias)) for alias in CASES}


@pytest.fixture(scope="module")
def told(cases) -> dict[str, Overview]:
    return {alias: overview(case) for alias, case in cases.items()}


def keys(found: Overview) -> set[str]:
    return {s.fault.key for s in found.seen}


def test_everybody_of_the_cast_has_a_case_in_which_all_clips_are_his_own():
    assert set(CASES) == set(CAST)
    for alias, plan in CASES.items():
        assert all(shot.clip.startswith(f"{alias}_") for shot in plan.shots)
        assert len({shot.seen.view for shot in plan.shots}) >= 2, "from the side, and in line with the swimmer"


@pytest.mark.parametrize("alias", sorted(CASES))
def test_nothing_is_told_that_was_not_planted(told, alias):
    planted = [name for name in FAULTS if getattr(CAST[alias].swimmer, name)]
    allowed = set().union(*(SHOWN_BY[name] for name in planted)) | ALSO_TRUE.get(alias, set())
    assert keys(told[alias]) <= allowed


@pytest.mark.parametrize("alias", sorted(CASES))
def test_every_planted_fault_shows(told, alias):
    for name in FAULTS:
        if getattr(CAST[alias].swimmer, name):
            assert keys(told[alias]) & SHOWN_BY[name], name


def test_what_is_told_beside_the_faults_is_true(cases):
    assert 2 * CAST["heron"].swimmer.rate > cases["heron"].desk().bands.get("strokes_per_min").high
    assert signature(CAST["rowan"].swimmer)["heels_deep_m"] > cases["rowan"].desk().bands.get("heel_depth_m").high


def test_heron_is_told_of_the_cause_first_and_of_the_elbow_because_of_it(told):
    heron = told["heron"]
    assert heron.plan.first is not None and heron.plan.first.fault.key == "crosses_at_entry"
    elbow = next(s for s in heron.seen if s.fault.key == "dropped_elbow")
    assert elbow.is_clear and elbow in heron.plan.later, "what the first thing may mend by itself is no second thing"
    assert heron.plan.first.fault.seen in heron.chain_of(elbow)
    assert heron.plan.second is None


def test_alder_is_told_one_thing_of_balance_or_line_before_anything_of_the_arms(told):
    alder = told["alder"]
    assert alder.plan.first is not None and alder.plan.second is None
    assert alder.plan.first.fault.concern in ("breath_balance", "line")
    assert {"head_up", "legs_sink", "scissor"} <= keys(alder)
    assert not any(s.fault.checkpoint in ("catch", "pull", "extension", "recovery") for s in alder.seen)


def test_alders_feet_and_legs_are_found_by_number_and_not_by_eye_alone(told):
    for key in ("legs_sink", "scissor"):
        one = next(s for s in told["alder"].seen if s.fault.key == key)
        assert one.findings and not one.observed


def test_wren_is_told_nothing_to_change_and_two_good_things(told):
    wren = told["wren"]
    assert not wren.seen and not wren.plan.chosen
    assert len(wren.goods) == 2


def test_the_first_page_shows_a_picture_of_the_one_change_or_of_the_first_good_thing(cases, told):
    heads = {alias: change(cases[alias], told[alias]) for alias in ("alder", "wren")}
    assert all(head.kind == "stills" and head.data["pictures"] for head in heads.values())
    assert "face in" in heads["alder"].words and "Hand just in" in heads["wren"].words


@pytest.mark.parametrize("alias", sorted(CASES))
def test_a_swimmer_with_a_fault_hears_good_things_too(told, alias):
    assert len(told[alias].goods) == 2


@pytest.mark.parametrize(("alias", "side"), [("heron", "l"), ("alder", "r"), ("wren", "r")])
def test_the_catch_of_each_agrees_with_the_truth(cases, alias, side):
    """Within three standard deviations of the mean of the same strokes."""
    truth = read_truth(shipped("demo_clips"), f"{alias}_side")
    own = next(c for c in truth.catches if c.side == side)
    catch = cases[alias].desk().catch()
    found = [r for r in catch.results if isinstance(r, Finding) and r.side == side and r.quantity == "elbow_height_pct"]
    assert found
    for one in found:
        true = own.values["elbow_height_pct"][own.classes == one.stroke_class].mean()
        assert abs(one.value - true) < 3 * one.these.half / 1.96, one.stroke_class


@pytest.mark.parametrize("alias", sorted(CASES))
def test_the_coachs_words_stand_in_slots_that_the_notebooks_have(cases, alias):
    words = tomllib.loads(files("casebook.demo").joinpath(f"{alias}_words.toml").read_text("utf-8"))
    cells = {
        cell.metadata["casebook"]["slot"]: cell.source
        for path in cases[alias].notebooks
        for cell in read_notebook(path).cells
        if COACH in cell.metadata.get("tags", [])
    }
    assert words and all(cells[slot] == text.strip() for slot, text in words.items())


def test_no_notebook_of_another_case_asks_for_a_shot_of_rowans(cases):
    for path in cases["wren"].notebooks:
        (cell,) = [c for c in read_notebook(path).cells if PARAMETERS in c.metadata.get("tags", [])]
        assert "rowan_" not in cell.source, path.name


def test_alders_page_is_run_and_rendered_with_one_thing_first_and_the_coachs_letter(tmp_path):
    folder = build_demo_case(tmp_path / "alder", "alder")
    for path in Case.open(folder).notebooks:
        if path.stem not in ("01_body_line", "10_kick", "13_priorities"):
            path.unlink()
    case = Case.open(folder)
    execute_all(case.notebooks)
    page = render_case(case).read_text("utf-8")
    assert re.findall(r'<section[^>]* id="([^"]+)"', page) == ["13-priorities", "01-body-line", "10-kick"]
    assert "invented swimmer" in page and "Dear Alder" in page
    # Alder is learning: said in a learner's words.
    assert "traight down at the floor" in page.partition('id="01-body-line"')[0]
    assert "Traceback" not in page and str(tmp_path) not in page


@pytest.mark.parametrize("alias", sorted(CASES))
def test_every_demo_case_says_that_it_is_invented(cases, alias):
    case = cases[alias]
    assert case.invented and case.alias == alias and case.level == CAST[alias].level


def test_a_demo_case_opens_by_the_swimmers_name(tmp_path, monkeypatch):
    monkeypatch.setenv("CASEBOOK_CACHE", str(tmp_path))
    assert open_case("demo:wren").alias == "wren"
    assert open_case("demo").alias == "rowan"


def test_who_is_not_of_the_cast_is_answered_with_those_who_are(tmp_path: Path):
    with pytest.raises(CaseError, match="heron"):
        build_demo_case(tmp_path / "x", "nobody")
    assert not (tmp_path / "x").exists()


def test_a_hand_that_lingers_at_the_water_line_enters_once(tmp_path):
    desk = Case.open(build_demo_case(tmp_path / "wren", "wren")).desk()
    found = desk.measure("rate").get("strokes_per_min")
    assert abs(found.value - 2 * CAST["wren"].swimmer.rate) < 4.0
