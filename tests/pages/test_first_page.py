"""The first page and what stands behind it, run as a coach runs it, on the cases of two invented swimmers.

What is expected is what was planted (``demo.cast``) and the coach's rule; the rule is common practice, no source.
"""

from __future__ import annotations

import shutil
from dataclasses import replace

import numpy as np
import pytest

from casebook.case.case import Case
from casebook.case.overview import overview
from casebook.checkpoints.advice import all_faults
from casebook.checkpoints.measure import VIEWS_FOR
from casebook.demo.aim_moments import MOMENTS, moment_s
from casebook.demo.case import build_demo_case
from casebook.demo.desk import aim_for_first
from casebook.demo.swimmer import Swimmer
from casebook.pages import show
from casebook.pages.aims import LIKENESS


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    place = tmp_path_factory.mktemp("first")
    return {alias: build_demo_case(place / alias, alias) for alias in ("heron", "alder")}


@pytest.fixture
def heron(made, tmp_path) -> Case:
    return Case.open(shutil.copytree(made["heron"], tmp_path / "heron"))


@pytest.fixture(scope="module")
def alder(made) -> Case:
    return Case.open(made["alder"])


def edited(case: Case, old: str, new: str) -> Case:
    path = case.folder / "case.toml"
    text = path.read_text("utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), "utf-8")
    return Case.open(case.folder)


def test_the_page_begins_with_the_change_two_good_things_and_why(heron):
    block = show.first(heron, overview(heron))
    good, why = block.data["lead"]
    assert block.data["title"] == "Put the hand in wider than feels right, in front of its own shoulder"
    assert good.startswith("What is good: ") and good.count(".") == 2
    assert why.startswith("The one thing to change. The hand goes in across the middle.") and "bends the body" in why


def test_the_one_change_stands_beside_the_picture_to_aim_for_from_the_view_that_shows_it(heron):
    found = overview(heron)
    block = show.change(heron, found, aim_for_first(found))
    assert block.kind == "pair" and block.data["you"]["shot"] == "heron_front_under"
    assert {block.data[k]["file"] for k in ("you", "aim")} <= {p.name for p in (heron.out / "media").iterdir()}
    assert "beside the dashed middle" in block.data["caption"]


def test_one_drill_has_its_dose_its_cue_and_its_check_by_strokes_and_seconds(heron):
    items = show.practice(heron, overview(heron)).data["items"]
    assert "3 times a week" in items[1] and "Think: wider than feels right." in items[1]
    assert "strokes and seconds for 25 m" in items[-1]


def test_a_learner_hears_simpler_words_and_one_thing_to_leave(alder):
    found = overview(alder)
    assert found.plan.first.fault.key == "head_up" and found.plan.first.findings, "by number, and not by eye alone"
    assert show.first(alder, found).data["title"] == "Look straight down at the floor"
    assert len(show.ignore(alder, found).data["items"]) == 1
    assert show.change(alder, found, aim_for_first(found)).kind == "pair"


def test_each_question_is_looked_at_where_its_fault_shows(alder, heron):
    assert alder.shot_for("kick") == "alder_rear_under", "the feet fly apart, and only this view sees it"
    assert heron.shot_for("entry") == "heron_front_under"
    assert all(alder.view(alder.shot_for(name)) in VIEWS_FOR[name] for name in ("body_line", "catch", "roll"))


def test_pain_comes_before_everything_on_the_page(heron):
    heron = edited(heron, 'pain_now = ""', 'pain_now = "left shoulder, since May"') if "pain_now" in (
        heron.folder / "case.toml"
    ).read_text("utf-8") else edited(heron, "[body]\n", '[body]\npain_now = "left shoulder, since May"\n')  # fmt: skip
    found = overview(heron)
    assert show.first(heron, found).data["lead"][0].startswith("First of all: left shoulder, since May. ")
    assert {s.fault.key for s in found.plan.held_back} == {"dropped_elbow", "late_catch"}
    assert "not while it hurts" in show.ignore(heron, found).words
    catch = heron.desk("heron_side_under").catch()
    care = show.caution(heron.desk("heron_side_under"), catch).data["items"]
    assert "the person who treats it decides first" in care[0]


def test_the_coach_overrules_in_one_line_that_is_kept_and_told(heron):
    heron.put_first("dropped_elbow", "He has a race on Sunday.")
    found = overview(Case.open(heron.folder))
    assert found.plan.first.fault.key == "dropped_elbow"
    assert "Your coach puts this first" in found.plan.reasons[0] and "race on Sunday" in found.plan.reasons[0]
    heron.decide("entry", "leave alone", "He swims alone in a lake.")
    again = Case.open(heron.folder)
    told = show.meaning(again.desk("heron_front_under"), again.desk("heron_front_under").measure("entry"))
    assert "Your coach's decision: leave alone. He swims alone in a lake." in told.words


def test_the_chain_of_causes_can_be_shown(heron):
    told = show.reasons(heron, overview(heron)).words
    assert "The elbow drops and leads the way back: probably because the hand goes in across the middle" in told


def test_a_coachs_own_band_judges_and_the_page_says_whose_it_is(heron):
    rails = '[front_rails_pct]\nlow = -100.0\nsource = "for Heron, by his coach"\n'
    own = rails + "[front_from_midline_pct]\nlow = -100.0\n"
    (heron.folder / "bands.toml").write_text(own, "utf-8")
    again = Case.open(heron.folder)
    desk = again.desk("heron_front_under")
    entry = desk.measure("entry")
    assert "crosses_at_entry" not in {s.fault.key for s in overview(again).seen}
    assert "for Heron, by his coach (bands.toml of this case)" in show.sources(desk, entry).words


def test_what_only_just_shows_is_to_be_watched(heron):
    own = "[front_rails_pct]\nlow = -35.0\nmargin = 50.0\n\n[front_from_midline_pct]\nlow = -100.0\n"
    (heron.folder / "bands.toml").write_text(own, "utf-8")
    again = Case.open(heron.folder)
    found = overview(again)
    one = next(s for s in found.seen if s.fault.key == "crosses_at_entry")
    assert not one.is_clear and found.plan.first is not one
    desk = again.desk("heron_front_under")
    assert show.headline(desk, desk.measure("entry")).data["title"].startswith("Keep an eye on this")


def test_a_child_is_told_of_left_and_right_and_no_shoulder_is_judged(heron):
    child = edited(heron, 'level = "triathlete"', 'level = "age_group"')
    desk = child.desk("heron_front_under")
    assert "Left and right" in show.meaning(desk, desk.measure("entry")).words
    catch = child.desk("heron_side_under").catch()
    judged = {f.verdict for f in catch.results if f and f.quantity in ("hand_ahead_pct", "elbow_height_pct")}
    assert judged == {"shown"} and not any(s.fault.checkpoint == "catch" for s in overview(child).seen)


def test_stiff_shoulders_are_minded_in_words(heron):
    stiff = edited(heron, "[body]\n", '[body]\nstiff = "shoulders"\n') if 'stiff = ""' not in (
        heron.folder / "case.toml"
    ).read_text("utf-8") else edited(heron, 'stiff = ""', 'stiff = "shoulders"')  # fmt: skip
    desk = stiff.desk("heron_side_under")
    assert "Stiff shoulders set the shape" in show.caution(desk, desk.catch()).words


def test_the_repeat_card_names_each_way_of_filming_once(alder):
    data = show.repeat_card(alder, overview(alder)).data
    assert len(data["items"]) == len(set(data["items"])) == 2 and any("3.6 m" in item for item in data["items"])
    assert "25 m, steady effort, no kit" in data["paragraphs"][0]


def test_every_likeness_is_of_a_known_fault_and_moment():
    assert set(LIKENESS) <= set(all_faults())
    assert {like.moment for like in LIKENESS.values()} <= set(MOMENTS)
    assert {"crosses_at_entry", "reach_deep", "late_catch", "pulls_across", "scissor", "head_up", "breath_lift"} <= set(
        LIKENESS
    )


@pytest.mark.parametrize("side", ["l", "r"])
def test_the_figure_is_at_the_moment_that_its_words_say(side):
    swimmer = Swimmer(breathing="none")
    at = {
        name: moment_s(replace(swimmer, breathing=side) if name == "breath" else swimmer, name, side)
        for name in MOMENTS
    }
    joints = {name: {k: v[0] for k, v in swimmer.joints(t).items()} for name, t in at.items()}
    assert abs(joints["entry"][f"fingertip_{side}"][2]) < 0.01 and abs(joints["exit"][f"wrist_{side}"][2]) < 0.01
    other = "l" if side == "r" else "r"
    assert abs(joints["other_enters"][f"fingertip_{other}"][2]) < 0.01
    assert abs(joints["mid_pull"][f"wrist_{side}"][0] - joints["mid_pull"][f"shoulder_{side}"][0]) < 0.02
    knees = swimmer.measures(at["entry"] + 0.01 * swimmer.period_s * np.arange(100.0))[f"knee_angle_{side}"]
    assert swimmer.measures(at["knee_bent"])[f"knee_angle_{side}"][0] <= knees.min() + 0.2
    ahead = joints["in_front"][f"fingertip_{side}"][0] - joints["in_front"][f"shoulder_{side}"][0]
    assert ahead > 0.8 * swimmer.arm_length_m
