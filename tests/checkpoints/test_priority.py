"""One or two things to work on first, by the coach's rule. The rule is coach's practice, no source."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from casebook.checkpoints.advice import CONCERNS, all_faults
from casebook.checkpoints.finding import Band, Finding, Interval, Observed
from casebook.checkpoints.priority import chain, plan
from casebook.checkpoints.seen import SeenFault, faults_in, goods_in

FAULTS = all_faults()


def by_eye(key: str, side: str = "") -> SeenFault:
    return SeenFault(FAULTS[key], (), (Observed(FAULTS[key].checkpoint, "demo", 3, FAULTS[key].seen, side),))


def measured(key: str, side: str = "r", beyond: float = 3.0, verdict: str = "outside") -> SeenFault:
    fault = FAULTS[key]
    low, high = (10.0, None) if fault.when == "low" else (None, 10.0)
    value = 10.0 - beyond if fault.when == "low" else 10.0 + beyond
    band = Band(fault.quantity, low, high, 1.0, "", "common practice, no source")
    these = Interval(value - 1, value + 1)
    finding = Finding(
        fault.checkpoint, fault.quantity, side, "none", value, "", these, None, (), (), 1, 1, verdict, "", band,
        fault.outcomes[0] if fault.outcomes else "",
    )  # fmt: skip
    return SeenFault(fault, (finding,))


class Results:
    def __init__(self, *results):
        self.results = results


def test_a_cause_comes_before_what_it_causes_wherever_it_stands():
    told = plan([measured("dropped_elbow"), measured("crosses_at_entry")])
    assert told.first.fault.key == "crosses_at_entry"
    assert "usually behind the elbow drops" in told.reasons[0]


def test_what_the_first_may_mend_by_itself_is_no_second_thing():
    told = plan([measured("dropped_elbow"), by_eye("breath_held")])
    assert told.first.fault.key == "breath_held"
    assert told.second is None, "the held breath is behind the falling front arm, and that is behind the elbow"


def test_two_things_are_a_line_and_a_feel_cue():
    told = plan([measured("straight_arm"), measured("crosses_at_entry"), measured("over_rolled")])
    assert [s.fault.cue for s in told.chosen] == ["line", "feel"]


@pytest.mark.parametrize("facts", [{"level": "learner"}, {"sessions_a_week": 2}, {"sessions_a_week": 1}])
def test_there_is_one_thing_for_a_learner_and_for_few_sessions(facts):
    told = plan([measured("straight_arm"), measured("over_rolled")], **facts)
    assert told.second is None and "One thing at a time." in told.reasons


def test_what_is_only_near_its_edge_is_watched_and_waits():
    near = measured("legs_sink", beyond=0.5, verdict="near")
    told = plan([near, measured("late_catch")])
    assert told.first.fault.key == "late_catch" and told.second is None
    assert [s.fault.key for s in told.later] == ["legs_sink"]
    assert plan([near]).first.fault.key == "legs_sink"


def test_pain_comes_first_and_spares_the_shoulder():
    told = plan([measured("dropped_elbow"), measured("knee_kick")], pain_now="left shoulder")
    assert told.first.fault.key == "knee_kick"
    assert [s.fault.key for s in told.held_back] == ["dropped_elbow"]
    assert told.reasons[0].startswith("Pain first (left shoulder)")


def test_the_coach_overrules_in_one_line_and_it_is_said():
    told = plan(
        [measured("crosses_at_entry"), measured("knee_kick")], coach_first="knee_kick", coach_why="It nags him."
    )
    assert told.first.fault.key == "knee_kick" and "It nags him." in told.reasons[0]


def test_a_decision_moves_a_checkpoint_up_or_out():
    faults = [measured("crosses_at_entry"), measured("straight_arm")]
    assert plan(faults, decisions={"catch": "work on now"}).first.fault.key == "straight_arm"
    left = plan(faults, decisions={"entry": "leave alone"})
    assert left.first.fault.key == "straight_arm" and left.later[0].fault.key == "crosses_at_entry"


def test_nothing_seen_is_nothing_to_do():
    told = plan([])
    assert told.first is None and told.chosen == () and "Nothing" in told.reasons[-1]


keys = st.lists(st.sampled_from(sorted(FAULTS)), unique=True, min_size=1, max_size=8)


@settings(max_examples=200, deadline=None)
@given(keys, st.randoms(use_true_random=False))
def test_the_plan_keeps_its_own_rule_whatever_shows(found, random):
    seen = [by_eye(k) if not FAULTS[k].quantity else measured(k, beyond=random.uniform(2, 6)) for k in found]
    told = plan(seen)
    assert told.first is not None and 1 <= len(told.chosen) <= 2
    assert not chain(told.first.fault.key, seen), "nothing that shows is behind the first thing"
    assert len({s.fault.cue for s in told.chosen}) == len(told.chosen)
    assert {s.fault.key for s in (*told.chosen, *told.later)} == set(found), "nothing is lost"
    shuffled = list(seen)
    random.shuffle(shuffled)
    assert plan(shuffled).first.fault.key == told.first.fault.key


def test_concerns_are_taken_in_their_order_when_nothing_is_linked():
    one_each = {}
    for fault in FAULTS.values():
        one_each.setdefault(fault.concern, fault.key)
    for a, b in itertools.combinations(CONCERNS, 2):
        pair = [one_each[b], one_each[a]]
        seen = [by_eye(k) if not FAULTS[k].quantity else measured(k) for k in pair]
        if not any(chain(k, seen) for k in pair):
            assert plan(seen).first.fault.concern == a


def finding(verdict: str, value: float, quantity: str = "knee_least_deg", side: str = "r") -> Finding:
    band = Band(quantity, 130.0, None, 5.0, "deg", "common practice, no source")
    these = Interval(value - 2, value + 2)
    return Finding(
        "kick", quantity, side, "none", value, "deg", these, None, (), (), 1, 1, verdict, "", band
    )  # fmt: skip


def test_only_what_lies_wholly_beyond_the_edge_shows_a_fault():
    for verdict, value, shown in (
        ("outside", 110.0, ["knee_kick"]), ("near", 127.0, ["knee_kick"]), ("undecided", 129.0, []),
        ("within", 150.0, []), ("shown", 100.0, []),
    ):  # fmt: skip
        seen = faults_in("kick", Results(finding(verdict, value)))
        assert [s.fault.key for s in seen] == shown, verdict
    assert faults_in("kick", Results(finding("outside", 110.0, side="l")), sides=("r",)) == ()


def test_what_is_seen_by_eye_shows_without_a_number_and_a_good_thing_is_told():
    seen = faults_in("breathing", None, observed=[Observed("breathing", "demo", 12, "held")])
    assert [s.fault.key for s in seen] == ["breath_held"] and seen[0].is_clear
    assert [g.quantity for g in goods_in("kick", Results(finding("within", 150.0)))] == ["knee_least_deg"]
    assert goods_in("kick", Results(finding("within", 150.0), finding("outside", 100.0, side="l"))) == ()
