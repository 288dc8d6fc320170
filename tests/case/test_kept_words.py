"""What a coach decides, sees by eye and puts first is kept in case.toml, beside his own remarks, and read again."""

from __future__ import annotations

import pytest

from casebook.case.case import Case
from casebook.errors import CaseError

TOML = """schema = 1
alias = "heron"
level = "distance"  # he swims 1500 m

# my own remark
[intake]
sessions_a_week = 3
times = "100 in 1:25"
"""


@pytest.fixture
def case(tmp_path):
    (tmp_path / "case.toml").write_text(TOML, "utf-8")
    return Case.open(tmp_path)


def test_a_second_answer_replaces_the_first_and_remarks_stay(case):
    case = case.saw("breathing", "out", "held", frame=12)
    case = case.saw("breathing", "out", "burst", frame=14).saw("breathing", "goggle", "lifted")
    assert [(o.word, o.frame) for o in case.observed] == [("burst", 14), ("lifted", -1)]
    text = (case.folder / "case.toml").read_text("utf-8")
    assert "# my own remark" in text and "# he swims 1500 m" in text


def test_a_decision_is_kept_once_for_a_checkpoint(case):
    case = case.decide("catch", "work on now", "Timing.").decide("catch", "later")
    assert [(d.decision, d.why) for d in case.decisions] == [("later", "")]


def test_the_coach_s_own_first_thing_is_kept_and_can_be_taken_back(case):
    assert case.put_first("knee_kick", "It nags.").coach_first == "knee_kick"
    assert case.put_first("").coach_first == ""


def test_what_was_told_before_filming_is_read(case):
    assert case.intake.sessions_a_week == 3 and case.intake.times == "100 in 1:25" and case.intake.years is None


@pytest.mark.parametrize(
    ("ask", "told"),
    [
        (lambda c: c.saw("breathing", "out", "loudly"), "steady, held, burst"),
        (lambda c: c.saw("breathing", "ears", "held"), "out, goggle"),
        (lambda c: c.saw("breething", "out", "held"), 'Did you mean "breathing"'),
        (lambda c: c.decide("catch", "never"), "work on now"),
        (lambda c: c.put_first("nee_kick"), 'Did you mean "knee_kick"'),
    ],
)
def test_a_slip_of_the_pen_is_told_and_nothing_is_written(case, ask, told):
    with pytest.raises(CaseError) as caught:
        ask(case)
    assert told in str(caught.value)
    assert (case.folder / "case.toml").read_text("utf-8") == TOML


def test_a_case_may_set_its_own_order_and_leave_checkpoints_out(case):
    (case.folder / "notebooks").mkdir()
    for name in ("00_clip_and_marks", "02_entry", "04_catch", "10_kick", "13_priorities"):
        (case.folder / "notebooks" / f"{name}.ipynb").write_text("{}", "utf-8")
    text = (case.folder / "case.toml").read_text("utf-8")
    (case.folder / "case.toml").write_text(f'order = ["kick", "entry"]\n{text}', "utf-8")
    names = [p.stem for p in Case.open(case.folder).notebooks]
    assert names == ["00_clip_and_marks", "10_kick", "02_entry", "13_priorities"]
