"""Consent: what stands on which day, for whom, and for what.

The rules are those of published club guidance on filming swimmers (written consent of a parent for anyone under 18; it
may be refused or withdrawn; pictures are kept no longer than their purpose); lengths of time are own judgement.
"""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from casebook.case.case import Case
from casebook.case.consent import (
    DEFERS,
    PURPOSES,
    Consent,
    give,
    note_release,
    releases,
    reminders,
    require,
    standing,
    standing_of,
    withdraw,
)
from casebook.case.settings import write_settings
from casebook.errors import CaseError, ConsentError

DAY = date(2026, 5, 2)
ADULT = Consent("sharing", "swimmer", date="2026-05-01")
CHILD = Consent("sharing", "mother", guardian=True, date="2026-05-01", until="2027-05-01")


def told(row: Consent, *, minor: bool = False, on: date = DAY):
    return standing_of([row], row.purpose, minor=minor, on=on)


@pytest.mark.parametrize(
    ("row", "minor"),
    [
        (ADULT, False),
        (CHILD, True),
        (CHILD, False),
        (Consent("analysis", "K", date="2026-05-02"), False),
        (Consent("teaching", "swimmer", date="2026-01-01", until="2026-05-02", audience="coaches in May"), False),
        (Consent("sharing", "father", True, "2026-05-02", "2028-05-02"), True),
        (Consent("sharing", "swimmer", date="2026-05-01", withdrawn="2026-05-03"), False),
    ],
)
def test_what_stands(row, minor):
    found = told(row, minor=minor)
    assert found.ok and found.consent == row and row.given_by in found.sentence


@pytest.mark.parametrize(
    ("row", "minor", "why"),
    [
        (Consent("sharing", "swimmer"), False, "no date"),
        (Consent("sharing", "swimmer", date="last spring"), False, "no day such as"),
        (Consent("sharing", "swimmer", date="2026-02-30"), False, "no day such as"),
        (Consent("sharing", "swimmer", date="20260501"), False, "no day such as"),
        (Consent("sharing", "", date="2026-05-01"), False, "who gave it"),
        (Consent("sharing", "  ", date="2026-05-01"), False, "who gave it"),
        (Consent("sharing", "swimmer", date="2026-05-03"), False, "begins only on"),
        (Consent("sharing", "swimmer", date="2026-05-01", until="summer"), False, "no day such as"),
        (Consent("sharing", "swimmer", date="2025-05-01", until="2026-05-01"), False, "ran out on 2026-05-01"),
        (Consent("sharing", "swimmer", date="2026-05-01", withdrawn="2026-05-02"), False, "withdrawn"),
        (Consent("sharing", "swimmer", date="2026-05-01", withdrawn="yes"), False, "withdrawn"),
        (Consent("teaching", "swimmer", date="2026-05-01"), False, "audience"),
        (Consent("sharing", "swimmer", date="2026-05-01", until="2027-05-01"), True, "not given by a guardian"),
        (Consent("sharing", "mother", True, "2026-05-01"), True, "no end"),
        (Consent("sharing", "mother", True, "2026-05-01", "2028-05-02"), True, "2 years at most"),
        (Consent("sharing", "mother", True, "2024-02-29", "2026-05-03"), True, "2 years at most"),
    ],
)
def test_what_does_not_stand_says_why(row, minor, why):
    found = told(row, minor=minor)
    assert not found.ok and why in found.sentence


@pytest.mark.parametrize("purpose", PURPOSES)
def test_no_purpose_follows_from_another(purpose):
    others = [Consent(p, "swimmer", date="2026-05-01", audience="coaches") for p in PURPOSES if p != purpose]
    found = standing_of(others, purpose, minor=False, on=DAY)
    assert not found.ok and "does not cover it" in found.sentence
    assert not standing_of([], purpose, minor=False, on=DAY).ok


def test_an_invented_swimmer_needs_none():
    for purpose in PURPOSES:
        found = standing_of([], purpose, minor=True, invented=True)
        assert found.ok and "invented" in found.sentence and not found.warning


@pytest.mark.parametrize(
    ("days_left", "says"), [(31, ""), (30, "in 30 days"), (2, "in 2 days"), (1, "tomorrow"), (0, "today")]
)
def test_it_warns_within_a_month_of_the_end(days_left, says):
    end = DAY + timedelta(days=days_left)
    found = told(Consent("sharing", "swimmer", date="2026-05-01", until=end.isoformat()))
    assert found.ok and (says in found.warning if says else not found.warning)


def test_it_warns_of_an_old_one_without_end_and_of_a_guardians_for_somebody_of_age():
    assert not told(ADULT, on=date(2028, 5, 1)).warning
    assert "older than 2 years" in told(ADULT, on=date(2028, 5, 2)).warning
    assert "come of age" in told(CHILD).warning and not told(CHILD, minor=True).warning


def test_of_several_the_one_that_lasts_longest_counts():
    rows = [
        Consent("sharing", "A", date="2026-01-01", until="2026-05-10"),
        Consent("sharing", "B", date="2026-04-01", until="2027-05-10"),
        Consent("sharing", "C", date="2026-04-01", until="2028-05-10", withdrawn="2026-04-02"),
    ]
    found = standing_of(rows, "sharing", minor=False, on=DAY)
    assert found.ok and found.consent == rows[1] and not found.warning


@pytest.fixture
def folder(tmp_path):
    write_settings(tmp_path / "heron", {"schema": 1, "alias": "heron"})
    return tmp_path / "heron"


def test_refusing_says_whose_word_is_missing_for_what_and_what_to_type(folder):
    with pytest.raises(ConsentError) as refused:
        require(Case.open(folder), "teaching")
    for words in (
        '"heron"',
        "No consent for teaching",
        "Ask the swimmer",
        f"casebook consent {folder} --give teaching",
    ):
        assert words in str(refused.value)
    write_settings(folder, {"schema": 1, "alias": "heron", "minor": True})
    with pytest.raises(ConsentError, match="Ask a guardian"):
        require(Case.open(folder), "sharing")


def test_an_age_group_swimmer_counts_as_a_minor_unless_said_otherwise(folder):
    write_settings(folder, {"schema": 1, "alias": "heron", "level": "age_group"})
    assert Case.open(folder).minor
    write_settings(folder, {"schema": 1, "alias": "heron", "level": "age_group", "minor": False})
    assert not Case.open(folder).minor


def test_giving_and_taking_back_are_kept_and_the_coachs_file_stays_as_it_was(folder):
    text = '# mine\nschema = 1\nalias = "heron" # keep me\n'
    (folder / "case.toml").write_text(text, "utf-8")
    give(folder, ADULT, minor=False, on=DAY)
    assert standing(Case.open(folder), "sharing", DAY).ok
    assert require(Case.open(folder), "sharing", DAY).consent == ADULT
    assert withdraw(folder, "sharing", DAY) == 1
    assert withdraw(folder, "sharing", DAY) == 0
    assert not standing(Case.open(folder), "sharing", DAY).ok
    give(folder, Consent("sharing", "swimmer", date="2026-05-04"), minor=False, on=date(2026, 5, 4))
    assert standing(Case.open(folder), "sharing", date(2026, 5, 4)).ok
    assert (folder / "case.toml").read_text("utf-8").startswith(text)
    assert len(Case.open(folder).consents) == 2, "what was given and withdrawn stays on record"


def test_what_would_not_stand_is_not_recorded(folder):
    before = (folder / "case.toml").read_bytes()
    for row, minor in [(Consent("sharing", "swimmer"), False), (ADULT, True), (Consent("other", "x"), False)]:
        with pytest.raises(ConsentError):
            give(folder, row, minor, DAY)
    assert (folder / "case.toml").read_bytes() == before


def test_reminders_are_one_line_each_and_silent_about_what_was_never_asked_or_was_taken_back(folder):
    assert [line.split(".")[0] for line in reminders(Case.open(folder), DAY)] == [
        "No consent for analysis (filming and analysing the swimmer) is recorded"
    ]
    give(folder, Consent("analysis", "swimmer", date="2026-05-01"), False, DAY)
    assert reminders(Case.open(folder), DAY) == []
    give(folder, Consent("sharing", "swimmer", date="2026-05-01", until="2026-05-20"), False, DAY)
    assert "in 18 days" in reminders(Case.open(folder), DAY)[0]
    assert "ran out" in reminders(Case.open(folder), date(2026, 6, 1))[0]
    withdraw(folder, "sharing", DAY)
    assert reminders(Case.open(folder), date(2026, 6, 1)) == []
    assert not any("\n" in line for line in reminders(Case.open(folder), DAY))


def test_what_went_out_is_remembered(folder):
    note_release(Case.open(folder), "pack", "spring workshop", DAY)
    note_release(Case.open(folder), "parcel", "heron.zip", DAY)
    assert releases(folder) == [
        {"kind": "pack", "where": "spring workshop", "date": "2026-05-02"},
        {"kind": "parcel", "where": "heron.zip", "date": "2026-05-02"},
    ]


def test_an_unknown_purpose_is_named(folder):
    with pytest.raises(ConsentError, match="analysis, sharing, teaching"):
        standing(Case.open(folder), "marketing")


def test_a_consent_without_purpose_is_a_setting_to_mend(folder):
    (folder / "case.toml").write_text('schema = 1\n[[consent]]\ndate = "2026-05-01"\n', "utf-8")
    with pytest.raises(CaseError, match='"purpose" is missing'):
        Case.open(folder)


def test_no_sentence_claims_that_anything_is_lawful():
    """The record defers to local rules; it never says that what stands is enough."""
    sentences = [told(ADULT).sentence, told(CHILD, minor=True).sentence, DEFERS, *PURPOSES.values()]
    for word in ("legal", "lawful", "compliant", "sufficient", "gdpr", "valid"):
        assert not any(word in sentence.lower() for sentence in sentences)
    assert "safeguarding" in DEFERS
