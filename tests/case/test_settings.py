"""case.toml: read with plain errors, written without losing what the coach wrote."""

from __future__ import annotations

import os

import pytest

from casebook.case.settings import add_row, inside, read_settings, write_settings
from casebook.errors import CaseError


def test_what_is_written_is_what_is_read(tmp_path):
    settings = {
        "schema": 1, "alias": "heron", "events": ["1500 m"], "body": {"stature_m": 1.78},
        "swim": [{"id": "a", "effort": "steady"}, {"id": "b", "effort": "sprint", "strokes": 38}],
    }  # fmt: skip
    write_settings(tmp_path, settings, {"alias": "never a real name"})
    assert read_settings(tmp_path) == settings
    assert "# never a real name" in (tmp_path / "case.toml").read_text("utf-8")


def test_adding_a_swim_keeps_comments_and_order(tmp_path):
    text = '# my own remark\nschema = 1\nalias = "heron" # keep me\n\n[[swim]]\nid = "a"\n'
    (tmp_path / "case.toml").write_text(text, "utf-8")
    add_row(tmp_path, "swim", {"id": "b"})
    now = (tmp_path / "case.toml").read_text("utf-8")
    assert now.startswith(text.rstrip("\n"))
    assert [s["id"] for s in read_settings(tmp_path)["swim"]] == ["a", "b"]


def test_every_setting_to_mend_is_named_at_once(tmp_path):
    (tmp_path / "case.toml").write_text('schema = 1\nalais = "x"\nlevel = 3\n[[shot]]\nid = "s"\nstrat = 1\n', "utf-8")
    with pytest.raises(CaseError) as told:
        read_settings(tmp_path)
    for word in ('"alais" is unknown (did you mean "alias"?)', '"level" = 3', '[[shot]] number 1: "strat"', '"start"'):
        assert word in str(told.value)


@pytest.mark.parametrize(
    ("text", "word"),
    [("schema = 2\n", "schema 2"), ("schema = \n", "cannot be read"), ("alias = 'x'\n", "schema None")],
)
def test_a_newer_torn_or_unmarked_file_is_refused_with_a_sentence(tmp_path, text, word):
    (tmp_path / "case.toml").write_text(text, "utf-8")
    with pytest.raises(CaseError, match=word):
        read_settings(tmp_path)


def test_a_folder_that_is_no_case_says_how_to_make_one(tmp_path):
    with pytest.raises(CaseError, match="casebook new"):
        read_settings(tmp_path)


@pytest.mark.parametrize("name", ["../x.mp4", "/etc/passwd", "a/../../x", "C:\\x.mp4", "..\\..\\x.mp4"])
def test_names_that_lead_out_of_the_case_are_refused(tmp_path, name):
    with pytest.raises(CaseError, match="leads out"):
        inside(tmp_path / "case", name, "clip")


@pytest.mark.skipif(os.name == "nt", reason="making links needs a privilege on Windows")
def test_a_link_out_of_the_case_is_refused(tmp_path):
    case = tmp_path / "case"
    case.mkdir()
    (tmp_path / "secret.mp4").write_bytes(b"x")
    (case / "link.mp4").symlink_to(tmp_path / "secret.mp4")
    with pytest.raises(CaseError, match="leads out"):
        inside(case, "link.mp4", "clip")
