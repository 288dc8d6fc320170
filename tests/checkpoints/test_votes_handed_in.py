"""Votes from a folder of files: three forms, and whatever a room hands in told and left out."""

from __future__ import annotations

from pathlib import Path

import pytest

from casebook.checkpoints.choices import NOTHING, OTHER, choices_for
from casebook.checkpoints.first_agreement import CaseVotes, case_agreement, first_agreement
from casebook.checkpoints.votes import VOTES, read_votes, write_lists
from casebook.demo.workshop import COACHES, demo_choices, demo_workshop, invented_votes
from casebook.errors import MarksError
from casebook.marks.folder_table import LARGEST

CHOICES = choices_for(["crosses_at_entry", "dropped_elbow"], most=4)
CASES = {"Heron": "crosses_at_entry", "Wren": NOTHING}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    write_lists(tmp_path, CHOICES, CASES)
    (tmp_path / VOTES).mkdir()
    return tmp_path


def hand_in(folder: Path, name: str, text: str | bytes) -> None:
    raw = text.encode("utf-8") if isinstance(text, str) else text
    (folder / VOTES / name).write_bytes(raw)


def number_of(key: str) -> int:
    return next(c.number for c in CHOICES if c.key == key)


def test_twenty_coaches_with_a_file_each_are_all_read(folder):
    for n in range(20):
        hand_in(folder, f"coach {n}.csv", f"case,choice\nHeron,{1 + n % 3}\nWren,{len(CHOICES)}\n")
    found = read_votes(folder)
    assert found.participants == 20 and len(found.said) == 40 and not found.problems
    assert [c.n for c in found.counted] == [20, 20]
    assert found.counted[1].counts[-1] == 20


def test_number_key_and_words_mean_the_same_choice(folder):
    key = "dropped_elbow"
    title = next(c.title for c in CHOICES if c.key == key)
    rows = f"participant,case,choice\na,Heron,{number_of(key)}\nb,heron,{key}\nc,1,{title.upper()}.\n"
    hand_in(folder, "votes.csv", rows)
    found = read_votes(folder)
    assert not found.problems and set(found.said.values()) == {key}


@pytest.mark.parametrize(
    "raw",
    [
        "case;choice\r\nHeron;1\r\n".encode("utf-8-sig"),
        b"Choice\tCASE\tremark\n1\tHeron\t\xe9\xe8\n",
        "case,choice\nHeron,1\n".encode("utf-16"),
        b'\n"case","choice"\n\n"Heron","1"\n,\n',
    ],
)
def test_tables_as_spreadsheets_of_all_countries_save_them(folder, raw):
    hand_in(folder, "anna.csv", raw)
    found = read_votes(folder)
    assert not found.problems and list(found.said.values()) == [CHOICES[0].key]


def test_a_tally_counts_where_there_are_no_files_of_coaches(folder):
    hand_in(folder, "tally.csv", f"case,choice,hands\nHeron,crosses_at_entry,9\nHeron,{OTHER},2\n")
    found = read_votes(folder)
    assert found.counted[0].n == 11 and found.counted[1].n == 0
    hand_in(folder, "anna.csv", "case,choice\nHeron,1\n")
    assert read_votes(folder).counted[0].n == 1  # a second count of the same hands is none


@pytest.mark.parametrize(
    ("name", "raw", "says"),
    [
        ("empty.csv", b"", '"empty.csv" is empty'),
        ("blank.csv", b"\n\n , ,\n", '"blank.csv"'),
        ("nothing.csv", b"case,choice\nHeron,\n", '"nothing.csv" holds no vote'),
        ("other.csv", b"a,b\n1,2\n", 'no column "case"'),
        ("photo.csv", b"\x89PNG\r\n\x1a\n\0\0", '"photo.csv" is no table'),
        ("huge.csv", b"case,choice\n" + b"x" * LARGEST, '"huge.csv" is too large'),
        ("notes.txt", b"case,choice\nHeron,1\n", '"notes.txt" is no CSV'),
        ("far.csv", b"case,choice\nHeron,99\n", '"99" is not on the list'),
        ("who.csv", b"case,choice\nFinch,1\n", 'no case "Finch"'),
        ("minus.csv", b"case,choice,hands\nHeron,1,-3\n", "whole number"),
        ("formula.csv", b"case,choice\nHeron,=cmd|' /C calc'!A0\n", "is not on the list"),
        ("formula2.csv", b"participant,case,choice\n,Heron,1\n", "whose vote"),
    ],
)
def test_what_cannot_be_used_is_told_by_its_file_and_the_rest_counts(folder, name, raw, says):
    hand_in(folder, name, raw)
    hand_in(folder, "good.csv", "case,choice\nHeron,2\n")
    found = read_votes(folder)
    assert len(found.said) == 1 and len(found.problems) == 1
    assert says in found.problems[0] and name in found.problems[0]
    assert f"Left out: {found.problems[0]}" in found.text()


def test_a_second_copy_of_a_coach_s_file_counts_once(folder):
    for name in ("anna.csv", "Anna (1).csv", "anna - Copy.csv"):
        hand_in(folder, name, "case,choice\nHeron,1\nWren,2\n")
    found = read_votes(folder)
    assert found.participants == 1 and len(found.said) == 2
    assert len(found.problems) == 2 and all("already" in p for p in found.problems)


def test_two_votes_of_one_coach_on_a_case_are_one(folder):
    hand_in(folder, "votes.csv", "participant,case,choice\nann,Heron,1\nANN,Heron,2\n")
    found = read_votes(folder)
    assert list(found.said.values()) == [CHOICES[0].key] and "line 3" in found.problems[0]


def test_links_and_folders_are_not_followed(folder, tmp_path):
    outside = tmp_path / "outside.csv"
    outside.write_text("case,choice\nHeron,1\n", "utf-8")
    (folder / VOTES / "link.csv").symlink_to(outside)
    (folder / VOTES / "folder.csv").mkdir()
    hand_in(folder, ".hidden.csv", "case,choice\nHeron,1\n")
    found = read_votes(folder)
    assert not found.said and [p for p in found.problems if "link.csv" in p]


def test_a_list_with_hostile_words_is_no_formula_to_a_spreadsheet(tmp_path):
    write_lists(tmp_path, CHOICES, {"=2+3": NOTHING, "@home": NOTHING})
    (tmp_path / VOTES).mkdir()
    lines = (tmp_path / "answers.csv").read_text("utf-8").splitlines()
    assert not [line for line in lines if line.lstrip('"').startswith(("=", "@"))]
    assert read_votes(tmp_path).cases == ("=2+3", "@home")


def test_a_folder_without_votes_is_told(tmp_path):
    write_lists(tmp_path, CHOICES, CASES)
    with pytest.raises(MarksError, match="votes"):
        read_votes(tmp_path)
    with pytest.raises(MarksError, match=r"choices\.csv"):
        read_votes(tmp_path / "nowhere")


def test_the_list_keeps_what_must_stand_on_it_and_ends_with_none_of_them():
    keys = [c.key for c in choices_for(["late_catch", "legs_sink"], most=6)]
    assert {"late_catch", "legs_sink"} <= set(keys) and keys[-2:] == [OTHER, NOTHING] and len(keys) == 8
    assert [c.number for c in CHOICES] == list(range(1, len(CHOICES) + 1))


def test_all_of_one_mind_and_all_apart():
    keys = [str(k) for k in range(10)]
    same = case_agreement(CaseVotes("x", (15, *[0] * 9), "0"), keys)
    assert same.pairs.value == 1 and 0 < same.pairs.low < 1 and same.leading == (0,)
    assert same.with_reference.value == 1 and same.with_reference.low == pytest.approx(0.80, abs=0.01)
    apart = case_agreement(CaseVotes("x", (1,) * 10, "0"), keys)
    assert apart.pairs.value == 0 and apart.beyond_guessing.value < 0 and len(apart.leading) == 10
    nobody = case_agreement(CaseVotes("x", (0,) * 10), keys)
    assert nobody.leading == () and nobody.pairs.value != nobody.pairs.value


def test_the_invented_votes_are_the_same_every_time_and_agree_better_than_chance():
    assert invented_votes(demo_choices()) == invented_votes(demo_choices())
    votes = read_votes(demo_workshop())
    assert votes.participants == COACHES and "is empty" in votes.problems[0]
    found = first_agreement(votes.counted, votes.choices, votes.ballots)
    assert found.together.value.low > 0 and found.other_coaches.low > 0
    assert found.other_coaches.low < found.together.value.value < found.other_coaches.high
