"""case.toml from somebody who means harm is read as words or refused with a sentence; it is never a way out."""

from __future__ import annotations

import shutil

import pytest
from hostile import EVERYWHERE, NAMES, WRONG_IDS

from casebook.case.case import Case
from casebook.case.create import ClipAnswers, add_clip, new_case
from casebook.case.permitted import MOST_BYTES
from casebook.case.settings import read_settings, write_settings
from casebook.errors import CasebookError, CaseError, MarksError

HEAD = 'schema = 1\nalias = "heron"\n'
#: Files that are no settings, by what is wrong with them.
BROKEN = {
    "a number that never ends": f"{HEAD}[body]\nstature_m = {'9' * 5000}\n".encode(),
    "a huge number": f"{HEAD}[body]\nstature_m = {'9' * 400}\n".encode(),
    "a huge power": f"{HEAD}[body]\nstature_m = 1e400\n".encode(),
    "no number": f"{HEAD}[body]\nstature_m = nan\n".encode(),
    "a huge frame": f'{HEAD}[[shot]]\nid = "s"\nclip = "s.mp4"\nstop = {2**80}\n'.encode(),
    "a schema of words": b'schema = "1"\n',
    "a schema of the future": b"schema = 99\n",
    "a schema that is true": b"schema = [1]\n",
    "deep lists": f"{HEAD}events = {'[' * 3000}{']' * 3000}\n".encode(),
    "deep tables": f"{HEAD}aims = {'{a=' * 2000}1{'}' * 2000}\n".encode(),
    "a deep name": f"{HEAD}{'.'.join('a' * 3000)} = 1\n".encode(),
    "bytes that are no letters": HEAD.encode() + b'aims = "\xff\xfe\x80"\n',
    "half a letter": HEAD.encode() + b'aims = "\xed\xa0\x80"\n',
    "sixteen bits a letter": HEAD.encode("utf-16"),
    "a null": HEAD.encode() + b'aims = "a\x00b"\n',
    "an escape": HEAD.encode() + b'aims = "a\\u001b[2Jb"\n',
    "a turned direction": HEAD.encode() + 'aims = "a\u202eb"\n'.encode(),
    "half of a pair": HEAD.encode() + b'aims = "\\ud800"\n',
    "a name twice": HEAD.encode() + b'alias = "wren"\n',
    "a table twice": HEAD.encode() + b"[body]\n[body]\n",
    "a table that is a word": HEAD.encode() + b'body = "x"\n',
    "words for a table": HEAD.encode() + b'shot = "x"\n',
    "rows that are words": HEAD.encode() + b'shot = ["x", 3]\n',
    "a shot of nothing": HEAD.encode() + b"[[shot]]\n",
    "a consent of nothing": HEAD.encode() + b"[[consent]]\n",
    "a decision of nothing": HEAD.encode() + b"[[decision]]\n",
    "a list for a name": b"schema = 1\nalias = [1]\n",
    "trust of its own": HEAD.encode() + b"trusted = true\n",
    "a dunder": HEAD.encode() + b"__class__ = 1\n",
    "an order of nonsense": HEAD.encode() + b'order = ["../catch"]\n',
    "a level of nonsense": HEAD.encode() + b'level = "../sprint"\n',
    "an endless word": HEAD.encode() + b'aims = "' + b"a" * 30_000 + b'"\n',
    "an endless file": HEAD.encode() + b"#" * MOST_BYTES,
    "nothing": b"",
    "a program": b"#!/bin/sh\nrm -rf /\n",
    "a picture": b"\x89PNG\r\n\x1a\n" + bytes(range(256)),
}


@pytest.fixture
def folder(tmp_path):
    case = tmp_path / "around" / "heron"
    for name in ("clips", "marks", "notebooks", "out"):
        (case / name).mkdir(parents=True)
    return case


@pytest.mark.parametrize("raw", BROKEN.values(), ids=BROKEN.keys())
def test_what_is_no_sound_settings_file_is_refused_with_a_sentence(folder, raw):
    (folder / "case.toml").write_bytes(raw)
    with pytest.raises(CaseError) as told:
        Case.open(folder)
    assert len(str(told.value)) < 2000
    assert str(told.value).replace("\n", "").isprintable()
    assert (folder / "case.toml").read_bytes() == raw


def test_a_byte_order_mark_and_a_day_without_quotes_are_read(folder):
    text = '\ufeffschema = 1\nalias = "heron"\n[[consent]]\npurpose = "sharing"\ndate = 2026-05-02\n'
    (folder / "case.toml").write_text(text, "utf-8")
    assert Case.open(folder).consents[0].date == "2026-05-02"


@pytest.mark.parametrize("words", EVERYWHERE.values(), ids=EVERYWHERE.keys())
def test_hostile_words_in_settings_come_back_as_they_are_or_are_refused(folder, words):
    settings = {"schema": 1, "alias": words, "coach": words, "aims": words, "about": words, "intake": {"times": words}}
    try:
        write_settings(folder, settings)
        case = Case.open(folder)
    except (CaseError, UnicodeError):
        return
    assert (case.alias, case.aims, case.intake.times) == (words, words, words)


@pytest.mark.parametrize("name", NAMES.values(), ids=NAMES.keys())
def test_a_clip_cannot_lie_outside_the_case(folder, name, short_clip):
    write_settings(folder, {"schema": 1, "alias": "heron", "shot": [{"id": "s", "clip": name}]})
    shutil.copyfile(short_clip, folder.parent / "x.mp4")
    with pytest.raises(CasebookError) as told:
        Case.open(folder).shot("s")
    assert "leads out" in str(told.value) or f'no file "{folder}' in str(told.value)


@pytest.mark.parametrize("name", WRONG_IDS.values(), ids=WRONG_IDS.keys())
def test_a_shot_cannot_be_named_so_that_its_marks_lie_elsewhere(folder, name):
    row = {"id": name, "clip": "s.mp4"}
    with pytest.raises(CaseError):
        write_settings(folder, {"schema": 1, "alias": "heron", "shot": [row]})
        read_settings(folder)


@pytest.mark.parametrize("name", ["rowan_side_under", "Möwe_2", "2026-05-02 lane 3", "a+b", "鷺_front"])
def test_a_shot_may_have_any_honest_name(folder, name):
    write_settings(folder, {"schema": 1, "alias": "heron", "shot": [{"id": name, "clip": "s.mp4"}]})
    assert read_settings(folder)["shot"][0]["id"] == name


@pytest.mark.parametrize("alias", {**WRONG_IDS, **NAMES}.values(), ids={**WRONG_IDS, **NAMES}.keys())
def test_an_alias_never_becomes_a_path(tmp_path, folder, alias, short_clip, monkeypatch):
    """Neither in a new case nor where somebody wrote it into the settings of an old one."""
    monkeypatch.setattr("casebook.case.create.lay_out", lambda *_: [])  # notebooks have nothing to do with it
    before = sorted(p for p in tmp_path.rglob("*") if folder not in p.parents)
    try:
        write_settings(folder, {"schema": 1, "alias": alias})
        add_clip(folder, short_clip, ClipAnswers())
    except CaseError:
        pass
    assert sorted(p for p in tmp_path.rglob("*") if folder not in p.parents) == before
    assert all(p.parent == folder / "clips" for p in folder.rglob("*.mp4"))
    try:
        made = new_case(folder.parent / "fresh", short_clip, ClipAnswers(), alias=alias)
    except CaseError:
        return
    assert len(list((made / "clips").iterdir())) == 1
    assert {p.name for p in folder.parent.iterdir()} == {"heron", "fresh"}


@pytest.mark.parametrize("coach", ["=1+1", "@SUM(1)", "-x", "+x", "\uff1d1", "a" * 41])
def test_a_coach_whose_initials_a_spreadsheet_would_run_cannot_mark(folder, coach, short_clip):
    write_settings(folder, {"schema": 1, "alias": "heron", "coach": coach})
    add_clip(folder, short_clip, ClipAnswers())
    with pytest.raises(MarksError, match=r"[Ii]nitials"):
        print(Case.open(folder).desk().store)
    assert not list((folder / "marks").glob("*.csv"))
