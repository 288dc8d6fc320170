"""The catch told in a swimmer's words: what is said follows from what was measured, and nothing else is said."""

from __future__ import annotations

import itertools
import re
from pathlib import Path

import pytest
from invented_catch import HAND, InventedCatch, band, finding, invented_desk, usual_results

from casebook.checkpoints.finding import Decision, NotMeasured
from casebook.checkpoints.seen import faults_in
from casebook.pages import show
from casebook.pages.narrative import catch_story, elbow_place
from casebook.pages.telling import arm_spoken_of, number, stroke_spoken_of, value_words

#: Words that a swimmer would not understand. common practice, no source
NOT_FOR_SWIMMERS = re.compile(
    r"\b(outside|undecided|95\s?%|sigma|interval|coverage|NotMeasured|plane|foreshorten\w*|corridor|index|frames? \d)",
    re.I,
)
OUTCOMES = ("bent above", "straight on", "dropped below", "")
VERDICTS = ("within", "near", "outside", "undecided", "shown")


def catch_with(outcome: str, hand_verdict: str, hand: float = 16.0, n: int = 5) -> InventedCatch:
    return InventedCatch(
        (
            finding("hand_ahead_pct", (hand,) * n, hand_verdict, target=band("hand_ahead_pct", 20.0, None)),
            finding("elbow_height_pct", (12.0,) * n, "within", target=band("elbow_height_pct", 4, 18), outcome=outcome),
        )
    )


@pytest.mark.parametrize("outcome,verdict,n", list(itertools.product(OUTCOMES, VERDICTS, (1, 2, 3, 5))))
def test_every_result_is_told_in_plain_sentences(outcome: str, verdict: str, n: int) -> None:
    story = catch_story(catch_with(outcome, verdict, n=n), "r")
    told = " ".join([story.title, *story.lead, *story.meaning, *story.missing])
    assert not NOT_FOR_SWIMMERS.search(told), told
    assert len(story.lead) == 2 and all(s.endswith(".") for s in (*story.lead, *story.meaning))
    assert not story.title.endswith(".")


def test_the_three_places_of_the_elbow_are_told_apart() -> None:
    above, on, below = (catch_story(catch_with(outcome, "outside"), "r") for outcome in OUTCOMES[:3])
    assert "holds" in above.title and "straight" in on.title and "sinks" in below.title
    assert "stays above" in above.lead[0] and "almost straight" in on.lead[0] and "leads" in below.lead[0]


def elbow_at(value: float, verdict: str, outcome: str) -> InventedCatch:
    target = band("elbow_height_pct", 4.0, 18.0)
    elbow = finding("elbow_height_pct", (value,) * 5, verdict, target=target, outcome=outcome)
    hand = finding("hand_ahead_pct", (16.0,) * 5, "outside", target=band("hand_ahead_pct", 20.0, None))
    return InventedCatch((hand, elbow))


def test_the_elbow_comes_before_the_hand_and_there_is_one_change() -> None:
    for value, outcome in ((1.0, "straight on"), (-5.0, "dropped below"), (2.0, "bent above")):
        story = catch_story(elbow_at(value, "outside", outcome), "r")
        assert sum(p.startswith("What to change") for p in story.meaning) == 1
        assert "fingertips" in story.title or "forearm tip" in story.title
        assert "earlier" not in story.title


def test_what_the_coach_does_not_judge_is_described_and_not_advised() -> None:
    story = catch_story(elbow_at(-5.0, "shown", "dropped below"), "r")
    assert "let the fingertips" not in story.title and "below" in story.lead[0]
    within = catch_story(elbow_at(1.0, "within", "straight on"), "r")
    assert "within what your coach aims for" in within.lead[0] and "A straight arm" not in " ".join(within.meaning)


def test_just_off_is_something_to_keep_an_eye_on_and_not_to_change() -> None:
    story = catch_story(elbow_at(3.0, "near", "bent above"), "r")
    assert any("keep an eye on" in p for p in story.meaning)
    assert not any(p.startswith("What to change") for p in story.meaning)


def test_an_elbow_above_the_band_is_to_be_looked_at_head_on() -> None:
    story = catch_story(elbow_at(25.0, "outside", "bent above"), "r")
    assert any("head-on" in p for p in story.meaning)


def test_a_late_forearm_is_named_and_an_early_one_is_praised() -> None:
    late, early = (
        catch_story(catch_with("bent above", "outside"), "r"),
        catch_story(catch_with("bent above", "within", 25.0), "r"),
    )
    assert "earlier" in late.title and "drifted back" in late.lead[1]
    assert "keep" in early.title and "well ahead" in early.lead[1] and "earlier" not in early.title


def test_a_clean_swimmer_is_told_to_change_nothing() -> None:
    story = catch_story(catch_with("bent above", "within", 25.0), "r")
    assert not any("change" in p for p in story.meaning)


def test_what_the_clip_cannot_tell_says_what_to_film() -> None:
    story = catch_story(catch_with("bent above", "undecided"), "r")
    assert "can't tell" in story.lead[1]
    assert any("film" in p.lower() for p in story.meaning)
    assert "earlier" not in story.title and "early" not in story.title


def test_few_strokes_are_not_called_a_habit() -> None:
    assert any("seen twice" in p for p in catch_story(catch_with("bent above", "within", 25.0, n=2), "r").meaning)
    assert not any("seen" in p for p in catch_story(catch_with("bent above", "within", 25.0, n=5), "r").meaning)


def test_what_was_not_measured_is_said_once_with_its_remedy() -> None:
    gap = [
        NotMeasured("catch", q, "r", "The hip is hidden.", "Mark the hip.")
        for q in ("upper_arm_turn_deg", "wrist_angle_45_deg")
    ]
    other = NotMeasured("catch", "hand_ahead_pct", "l", "The far arm is hidden.", "Film the other side.")
    (said,) = catch_story(InventedCatch((*usual_results()[:2], *gap, other)), "r").missing
    assert said.count("The hip is hidden. Mark the hip.") == 1
    assert "upper arm" in said and "wrist" in said


def test_a_result_without_any_finding_is_a_plain_sentence_and_no_crash(tmp_path: Path) -> None:
    gap = NotMeasured("catch", "hand_ahead_pct", "r", "No stroke is marked.", "Mark four points at full reach.")
    desk, empty = invented_desk(tmp_path), InventedCatch((gap,), stills=())
    of_the_case = {"first", "change", "practice", "ignore", "reasons", "repeat_card"}
    of_the_desk = {"facts", "quality", "camera", "scale", "lens_and_window"}
    of_the_motion = {"angle", "beside", "cycle", "dials", "efforts", "phases", "tally", "way"}
    for name in set(show.__all__) - {"pair"} - of_the_desk - of_the_case - of_the_motion:
        assert getattr(show, name)(desk, empty).words.strip()
    headline = show.headline(desk, empty).words
    assert "Not measured yet" in headline and "No stroke is marked. Mark four points at full reach." in headline
    assert "No stroke is marked. Mark four points at full reach." in show.measures(desk, empty).words


def test_the_coachs_decision_is_told_as_his() -> None:
    story = catch_story(
        catch_with("bent above", "outside"), "r", decision=Decision("catch", "leave alone", "Sore shoulder.")
    )
    assert "Your coach's decision: leave alone. Sore shoulder." in story.meaning


def test_a_number_is_told_with_its_give_or_take_and_few_strokes_singly() -> None:
    many = finding("hand_ahead_pct", HAND, "outside")
    assert value_words(many) == ("16 % of your arm", f"give or take {round(many.these.half)}")
    assert value_words(finding("hand_ahead_pct", (12.0, 15.0), "shown"))[0] == "12 and 15 % of your arm"
    assert value_words(finding("hand_ahead_pct", (12.0, 15.0), "shown"))[1].startswith("seen twice, each give or take")
    assert value_words(finding("hand_ahead_pct", (1.0, 2.0, 3.0), "shown"))[1].startswith("seen in 3 strokes")
    assert value_words(finding("elbow_height_m", (0.09,) * 4, "shown", unit="m", sigma=0.01, common=0.005))[0] == "9 cm"
    assert number(-0.4) == "0"


def test_no_number_claims_more_than_one_unit() -> None:
    assert value_words(finding("hand_ahead_pct", HAND, "within", sigma=0.01, common=0.0))[1] == "give or take 1"


def test_the_page_speaks_of_the_near_arm_and_of_strokes_without_breath(tmp_path: Path) -> None:
    shot = invented_desk(tmp_path).shot
    far = finding("hand_ahead_pct", (20.0,) * 9, "within", side="l")
    breath = finding("hand_ahead_pct", (18.0,) * 6, "within", stroke_class="breath_l")
    near = finding("hand_ahead_pct", (16.0,) * 2, "outside")
    assert arm_spoken_of(InventedCatch((far, breath, near)), shot) == ("r", "none")
    assert arm_spoken_of(InventedCatch((far, breath)), shot) == ("r", "breath_l")
    assert arm_spoken_of(InventedCatch((far,)), shot) == ("l", "none")


def test_the_stroke_that_is_shown_is_the_middle_one_of_those_with_stills() -> None:
    catch = InventedCatch()
    assert stroke_spoken_of(catch, "r", "none") == 2
    assert stroke_spoken_of(InventedCatch(stills=()), "r", "none") == -1


@pytest.mark.parametrize("outcome,place", [("bent above", "above"), ("straight on", "on"), ("dropped below", "below")])
def test_outcomes_are_read_by_their_place(outcome: str, place: str) -> None:
    assert elbow_place(finding("elbow_height_pct", (1.0,), "shown", outcome=outcome)) == place


def test_cautions_name_the_shoulder_pain_and_minors(tmp_path: Path) -> None:
    catch = InventedCatch()
    plain = show.caution(invented_desk(tmp_path), catch).words
    assert "pinches" in plain and "licensed physiotherapist or doctor" in plain and "minor" not in plain
    hurt = show.caution(invented_desk(tmp_path, pain_now="left shoulder"), catch).words
    assert "treats" in hurt and "treats" not in plain and "left shoulder" not in hurt
    assert "local safeguarding rules" in show.caution(invented_desk(tmp_path, minor=True), catch).words


def test_only_a_change_brings_the_caution_about_changing(tmp_path: Path) -> None:
    clean = catch_with("bent above", "within", 25.0)
    assert "a little at a time" not in show.caution(invented_desk(tmp_path), clean).words
    assert "a little at a time" in show.caution(invented_desk(tmp_path), InventedCatch()).words


def test_drills_fit_what_was_found_and_a_clean_catch_gets_none(tmp_path: Path) -> None:
    desk = invented_desk(tmp_path)

    def keys(catch: InventedCatch) -> list[str]:
        return [s.fault.key for s in faults_in("catch", catch, sides=("r",))]

    assert keys(catch_with("bent above", "within", 25.0)) == []
    assert keys(elbow_at(-5.0, "outside", "dropped below")) == ["dropped_elbow", "late_catch"]
    assert keys(elbow_at(1.0, "within", "straight on")) == ["late_catch"]
    assert "asks for a drill" in show.drills(desk, catch_with("bent above", "within", 25.0)).words
    told = show.drills(desk, elbow_at(-5.0, "outside", "dropped below")).words
    assert "fists" in told and "Cue:" in told and "no source" in told


def test_an_invented_swimmer_is_called_so_and_a_real_one_is_not(tmp_path: Path) -> None:
    catch = InventedCatch()
    assert "invented" in show.headline(invented_desk(tmp_path), catch).words
    assert "invented" not in show.headline(invented_desk(tmp_path, invented=False), catch).words
    assert "invented" not in show.provenance(invented_desk(tmp_path, invented=False), catch).words


def test_another_unit_of_a_told_fact_is_not_missed() -> None:
    gap = NotMeasured("catch", "elbow_height_m", "r", "The picture has no scale.", "Mark a known length.")
    assert catch_story(InventedCatch((*usual_results()[:2], gap)), "r").missing == ()
    assert catch_story(InventedCatch((usual_results()[0], gap)), "r").missing


def test_how_level_and_scale_came_about_stands_with_what_they_cannot_see(tmp_path: Path) -> None:
    words = show.provenance(invented_desk(tmp_path), InventedCatch()).words
    assert "Level from the water line." in words and "No known length is marked" in words
