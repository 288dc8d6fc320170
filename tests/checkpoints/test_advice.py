"""What may be said about each checkpoint: complete, attributed, with its cautions, and no drill that could hurt."""

from __future__ import annotations

import re

import pytest

from casebook.checkpoints.advice import CONCERNS, all_faults, load_advice
from casebook.errors import CaseError
from casebook.words import CHECKPOINTS, QUANTITIES

EVERY = pytest.mark.parametrize("name", CHECKPOINTS)


@EVERY
def test_every_fault_has_a_drill_a_cause_a_reason_and_a_way_to_be_seen(name):
    advice = load_advice(name)
    shown_by_eye = {word for q in advice.questions for word in q.answers}
    for fault in advice.faults:
        assert advice.drills_for(fault.key), fault.key
        assert fault.upstream or fault.behind, fault.key
        assert fault.concern in CONCERNS and fault.cue in ("line", "feel")
        assert fault.quantity or fault.by_eye, f"{fault.key} can never be seen"
        assert not fault.quantity or (fault.quantity in QUANTITIES and fault.when in ("low", "high"))
        assert set(fault.by_eye) <= shown_by_eye, fault.key
        for told in (fault.title, fault.change, fault.seen):
            assert told and not told.endswith(".")
        assert fault.why.endswith(".")


def test_the_chain_of_causes_names_known_faults_and_never_runs_in_a_circle():
    faults = all_faults()
    assert len(faults) == sum(len(load_advice(name).faults) for name in CHECKPOINTS), "keys are unique"
    done: set[str] = set()

    def walk(key: str, above: tuple[str, ...]) -> None:
        assert key in faults, f"{above[-1]} names {key}"
        assert key not in above, f"a circle: {' <- '.join((*above, key))}"
        if key not in done:
            for cause in faults[key].upstream:
                walk(cause, (*above, key))
            done.add(key)

    for key in faults:
        walk(key, ())


@EVERY
def test_a_cue_has_three_to_five_words_and_a_drill_its_dose_and_check(name):
    for drill in load_advice(name).drills:
        assert 2 < len(drill.cue.split()) < 6, drill.key
        assert " x 25 m" in drill.dose and drill.check and drill.how and drill.mistakes
        assert set(drill.faults) <= {f.key for f in load_advice(name).faults}


def test_no_drill_asks_for_holding_the_breath():
    for name in CHECKPOINTS:
        for drill in load_advice(name).drills:
            asked = f"{drill.name} {drill.how} {drill.cue}".lower()
            assert not re.search(r"hold (your|the) breath|without (a breath|breathing)|no breath|underwater", asked)


def test_straight_and_dropped_arms_get_different_drills():
    catch = load_advice("catch")
    assert not set(catch.drills_for("straight_arm")) & set(catch.drills_for("dropped_elbow"))


def test_the_shoulder_s_caution_always_stands_and_pain_comes_first():
    catch = load_advice("catch")
    always = catch.cautions_when()
    assert len(always) == 1
    assert "doctor" in always[0]
    assert any("decides first" in words for words in catch.cautions_when("pain"))


@EVERY
def test_it_says_that_it_has_no_source_why_it_matters_and_what_to_leave_alone(name):
    advice = load_advice(name)
    assert advice.source == "common practice, no source"
    assert set(advice.why) <= {"propulsion", "drag", "timing", "shoulder"} and len(advice.why) > 2
    assert advice.question.endswith(("?", "."))
    assert len(advice.harmless) > 1 and advice.cautions_when()
    assert {g.quantity for g in advice.goods} <= set(QUANTITIES)


def test_an_unknown_checkpoint_is_told():
    with pytest.raises(CaseError, match="no advice"):
        load_advice("juggling")
