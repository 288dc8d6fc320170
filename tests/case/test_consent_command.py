"""The command ``casebook consent`` and the lines about consent beside other commands, as a coach meets them."""

from __future__ import annotations

from datetime import date, timedelta

import nbformat
import pytest
from nbformat.v4 import new_code_cell, new_notebook, new_output

from casebook.case.case import Case
from casebook.case.consent import standing
from casebook.case.consent_talk import looks_like_a_name
from casebook.case.create import ClipAnswers, new_case
from casebook.cli import main

TODAY = date.today()
NEXT_YEAR = (TODAY + timedelta(days=360)).isoformat()


@pytest.fixture(autouse=True)
def without_notebooks(tmp_path, monkeypatch):
    """Notebooks have nothing to do with consent."""
    monkeypatch.setenv("CASEBOOK_DATA", str(tmp_path / "data"))
    monkeypatch.setattr("casebook.case.create.lay_out", lambda *_: [])


@pytest.fixture
def child(tmp_path):
    return new_case(tmp_path / "heron", None, ClipAnswers(), minor=True)


@pytest.fixture
def adult(tmp_path):
    return new_case(tmp_path / "alder", None, ClipAnswers())


@pytest.fixture
def keyboard(monkeypatch):
    """Answers in the order of the questions."""

    def answers(*words: str) -> list[str]:
        asked: list[str] = []
        left = list(words)
        monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
        monkeypatch.setattr("builtins.input", lambda question: (asked.append(question), left.pop(0))[1])
        return asked

    return answers


def test_a_new_case_tells_how_to_write_a_consent_and_reads_it_once_the_remarks_are_taken_away(child):
    text = (child / "case.toml").read_text("utf-8")
    rows = text[text.index("# [[consent]]") :].splitlines()
    lines = [line[2:] for line in rows if line.startswith("# ") and ("[[" in line or " = " in line)]
    written = "\n".join(lines).replace("2026-05-02", TODAY.isoformat()).replace("2027-05-02", NEXT_YEAR)
    (child / "case.toml").write_text(text[: text.index("# Who agreed")] + written + "\n", "utf-8")
    assert standing(Case.open(child), "sharing").ok


def test_a_new_case_records_that_the_swimmer_is_a_minor(tmp_path):
    for words, minor in [(["--minor"], True), ([], False), (["--level", "age_group"], True)]:
        folder = tmp_path / f"case{len(words)}{minor}"
        assert main(["new", str(folder), *words]) == 0
        assert Case.open(folder).minor is minor


def test_it_shows_where_a_case_stands(child, capsys):
    assert main(["consent", str(child)]) == 0
    told = capsys.readouterr().out
    assert told.count("NO ") == 3 and "counts as under 18" in told and "a guardian (and the swimmer too)" in told
    assert "Local safeguarding rules" in told


def test_a_consent_to_analysis_that_ran_out_leads_to_the_end_of_the_case(adult, capsys):
    row = '\n[[consent]]\npurpose = "analysis"\ngiven_by = "swimmer"\ndate = 2025-01-01\nuntil = 2025-06-01\n'
    (adult / "case.toml").write_text((adult / "case.toml").read_text("utf-8") + row, "utf-8")
    assert main(["consent", str(adult)]) == 0
    told = capsys.readouterr().out
    assert "it ran out on 2025-06-01" in told and f"casebook delete {adult}" in told


def test_giving_by_options_and_taking_back(child, capsys):
    give = ["consent", str(child), "--give", "sharing", "--by", "mother", "--guardian", "--until", NEXT_YEAR]
    assert main(give) == 0
    assert f"yes  sharing: Agreed to sharing by mother on {TODAY}, until {NEXT_YEAR}" in capsys.readouterr().out
    assert main(["consent", str(child), "--withdraw", "sharing"]) == 0
    assert "sharing" in capsys.readouterr().out and not standing(Case.open(child), "sharing").ok


@pytest.mark.parametrize(
    "words", [[], ["--by", "mother"], ["--by", "mother", "--until", NEXT_YEAR], ["--by", "mother", "--guardian"]]
)
def test_what_is_missing_is_named_where_nobody_can_be_asked(child, capsys, words):
    before = (child / "case.toml").read_bytes()
    assert main(["consent", str(child), "--give", "sharing", *words]) == 2
    told = capsys.readouterr().err
    assert "--by" in told or "--until" in told or "guardian" in told
    assert (child / "case.toml").read_bytes() == before


def test_what_is_missing_is_asked_at_the_keyboard(child, keyboard, capsys):
    asked = keyboard("", "y", "", "coaches at the spring workshop")
    assert main(["consent", str(child), "--give", "teaching"]) == 0
    assert len(asked) == 4 and "full name" in asked[0] and "guardian" in asked[1]
    row = standing(Case.open(child), "teaching").consent
    assert (row.given_by, row.guardian, row.audience) == ("guardian", True, "coaches at the spring workshop")
    assert row.date == TODAY.isoformat() and TODAY < date.fromisoformat(row.until) <= TODAY + timedelta(days=366)


def test_an_adult_is_not_asked_for_a_guardian(adult, keyboard):
    asked = keyboard("", "")
    assert main(["consent", str(adult), "--give", "sharing"]) == 0
    assert len(asked) == 2 and not any("guardian" in question for question in asked)
    assert standing(Case.open(adult), "sharing").consent.given_by == "swimmer"


def test_a_full_name_is_warned_of(adult, capsys):
    assert main(["consent", str(adult), "--give", "sharing", "--by", "Anna Example"]) == 0
    assert "No full name belongs into a case" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("words", "name"),
    [("Anna Example", True), ("Dr. Anna M. Example", True), ("Ånna Øxample", True), ("mother", False), ("A.E.", False),
     ("AE", False), ("his father", False), ("Guardian", False), ("club secretary", False), ("", False)],
)  # fmt: skip
def test_what_reads_like_a_full_name(words, name):
    assert looks_like_a_name(words) is name


def test_rendering_is_for_the_coachs_own_eyes_until_sharing_is_agreed_to(tmp_path, capsys):
    folder = new_case(tmp_path / "wren", None, ClipAnswers())
    cell = new_code_cell("x", outputs=[new_output("display_data", data={"text/plain": "saved words"})])
    nbformat.write(new_notebook(cells=[cell]), folder / "notebooks" / "00_a.ipynb")
    assert main(["render", str(folder)]) == 0
    told = capsys.readouterr().out
    assert "For your own eyes only" in told and f"casebook consent {folder} --give sharing" in told
    assert main(["consent", str(folder), "--give", "sharing", "--by", "swimmer", "--until", NEXT_YEAR]) == 0
    assert main(["consent", str(folder), "--give", "analysis", "--by", "swimmer", "--until", NEXT_YEAR]) == 0
    capsys.readouterr()
    assert main(["render", str(folder)]) == 0
    assert "consent" not in capsys.readouterr().out
