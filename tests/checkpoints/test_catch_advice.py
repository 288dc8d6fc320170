"""What may be said about the catch: complete, attributed, and with its cautions."""

from __future__ import annotations

import pytest

from casebook.checkpoints.advice import load_advice
from casebook.errors import CaseError

ADVICE = load_advice("catch")


def test_every_fault_that_can_be_found_has_a_cause_and_a_drill():
    for fault in ("late", "straight on", "dropped below"):
        assert [c for c in ADVICE.causes if c.seen == fault]
        assert ADVICE.drills_for(fault)


def test_straight_and_dropped_arms_get_different_drills():
    assert not set(ADVICE.drills_for("straight on")) & set(ADVICE.drills_for("dropped below"))


def test_a_cue_has_three_to_five_words_and_a_drill_its_dose():
    for drill in ADVICE.drills:
        assert 2 < len(drill.cue.split()) < 6
        assert " x 25 m" in drill.dose
        assert drill.check


def test_the_shoulder_s_caution_always_stands_and_pain_comes_first():
    always = ADVICE.cautions_when()
    assert len(always) == 1
    assert "doctor" in always[0]
    assert any("decides first" in words for words in ADVICE.cautions_when("pain"))


def test_it_says_that_it_has_no_source():
    assert ADVICE.source == "common practice, no source"


def test_an_unknown_checkpoint_is_told():
    with pytest.raises(CaseError, match="no advice"):
        load_advice("juggling")
