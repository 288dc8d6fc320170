"""A case without a mark is not praised: nothing is measured, and that is what it says."""

from __future__ import annotations

from casebook.case.case import Case
from casebook.case.create import ClipAnswers, new_case
from casebook.case.overview import overview
from casebook.pages import show
from casebook.resources import shipped


def test_an_unmarked_case_says_that_nothing_is_measured(tmp_path):
    seen = ClipAnswers(direction="left", camera="following")
    case = Case.open(new_case(tmp_path / "heron", shipped("demo_clips") / "heron_side.mp4", seen))
    found = overview(case)
    assert found.is_empty and found.plan.first is None and not found.goods
    told = show.first(case, found)
    assert "Nothing is measured yet" in told.words and "keep swimming" not in told.words
    assert told.data["measured"] is False


def test_what_was_seen_by_eye_is_enough_to_say_something(tmp_path):
    seen = ClipAnswers(direction="left", camera="following")
    case = Case.open(new_case(tmp_path / "heron", shipped("demo_clips") / "heron_side.mp4", seen))
    found = overview(case.saw("breathing", "out", "held"))
    assert not found.is_empty and found.plan.first.fault.key == "breath_held"
    assert "breathe out" in show.first(case, found).words.lower()
