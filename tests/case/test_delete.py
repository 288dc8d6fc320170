"""Deleting a case: all of it, nothing else, and a receipt that proves it and names nobody."""

from __future__ import annotations

import errno
import hashlib
import json
import os
import re
import stat
import sys
from datetime import date
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path
from threading import Thread

import pytest
from filelock import FileLock
from film import film

from casebook.case.case import Case
from casebook.case.consent import note_release
from casebook.case.create import ClipAnswers, new_case
from casebook.case.delete import PLAN, contents_of, delete_case
from casebook.case.trust import is_trusted, trust
from casebook.cli import main
from casebook.errors import CaseError

links = pytest.mark.skipif(os.name == "nt", reason="making links needs a privilege on Windows")
DAY = date(2026, 5, 2)


@pytest.fixture(autouse=True)
def own_computer(tmp_path, monkeypatch):
    """No record of trust and no notebook server but the test's own."""
    monkeypatch.setenv("CASEBOOK_DATA", str(tmp_path / "data"))
    monkeypatch.setenv("JUPYTER_RUNTIME_DIR", str(tmp_path / "runtime"))


@pytest.fixture
def case(tmp_path, monkeypatch):
    """A case as months of work leave it behind; of its notebooks a few words stand in for all."""
    monkeypatch.setattr("casebook.case.create.lay_out", lambda *_: [])
    around = tmp_path / "cases"
    folder = new_case(around / "heron", film(tmp_path / "IMG_1.mp4", 4), ClipAnswers())
    left = {
        "marks/heron.csv": "marks", "marks/heron.journal": "journal", "marks/heron.lock": "",
        "marks/heron.csv.schema0": "old", "notebooks/00_a.ipynb": "one", "notebooks/01_b.ipynb": "two",
        "notebooks/.ipynb_checkpoints/00-checkpoint.ipynb": "copy", ".ipynb_checkpoints/case-checkpoint.toml": "copy",
        "out/heron.html": "page", "out/media/x.jpg": "picture", "voice/catch.mp4": "voice",
        ".blind-x/round.csv": "blind", "notes of mine.txt": "own", "marks/.heron.csv.1a2b.part": "half",
    }  # fmt: skip
    for name, words in left.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(words, "utf-8")
    trust(folder)
    (around / "wren").mkdir()
    (around / "wren" / "case.toml").write_text("schema = 1\n", "utf-8")
    return folder


def digest_by_hand(folder: Path) -> str:
    """The receipt's SHA-256 as its own words describe it."""
    each = sorted(hashlib.sha256(p.read_bytes()).hexdigest() for p in folder.rglob("*") if p.is_file())
    return hashlib.sha256("".join(f"{d}\n" for d in each).encode()).hexdigest()


def sizes(folder: Path) -> list[int]:
    return [p.stat().st_size for p in folder.rglob("*") if p.is_file() and not p.is_symlink()]


def test_everything_of_the_case_goes_and_nothing_beside_it(case, tmp_path):
    expected, measured = digest_by_hand(case), sizes(case)
    receipt, place = delete_case(case, on=DAY)
    assert not case.exists() and not list((tmp_path / "data" / "trusted").iterdir())
    assert sorted(p.name for p in case.parent.iterdir()) == sorted(["wren", place.name])
    assert (receipt.files, receipt.size, receipt.digest) == (len(measured), sum(measured), expected)
    assert (tmp_path / "IMG_1.mp4").exists(), "the coach's original is not the case's"


def test_the_receipt_says_what_is_gone_and_names_nobody(case):
    note_release(Case.open(case), "pack", "Heron at the workshop", DAY)
    note_release(Case.open(case), "parcel", "heron.zip", DAY)
    expected = digest_by_hand(case)
    receipt, place = delete_case(case, on=DAY)
    words = place.read_text("utf-8")
    assert "heron" not in (words + place.name).lower() and str(case.parent) not in words
    for fact in (
        receipt.number,
        "2026-05-02",
        f"{receipt.files}",
        f"{receipt.size}",
        expected,
        "Not reached",
        "backups",
    ):
        assert fact in words
    assert "a workshop pack on 2026-05-02" in words and "a parcel on 2026-05-02" in words
    assert re.fullmatch(r"deletion_receipt_[0-9A-F]{4}-[0-9A-F]{4}-[0-9A-F]{4}\.txt", place.name)


def test_what_went_out_comes_into_the_receipt_without_the_words_that_stood_there(case):
    text = (case / "case.toml").read_text("utf-8")
    (case / "case.toml").write_text(f'{text}\n[[released]]\nkind = "Anna"\ndate = "Anna Example"\n', "utf-8")
    words = delete_case(case)[1].read_text("utf-8")
    assert "Anna" not in words and "a copy on 0000-00-00" in words


@links
def test_links_are_removed_and_what_they_point_to_is_never_touched(case, tmp_path):
    private = tmp_path / "private"
    private.mkdir()
    (private / "letter.txt").write_text("mine", "utf-8")
    (case / "clips" / "out.mp4").symlink_to(private / "letter.txt")
    (case / "more").symlink_to(private, target_is_directory=True)
    (case / "lost").symlink_to(tmp_path / "nowhere")
    (case / "round").symlink_to(case)
    private.chmod(0o500)
    receipt, _ = delete_case(case)
    assert receipt.links == 4 and not case.exists()
    assert (private / "letter.txt").read_text("utf-8") == "mine" and stat.S_IMODE(private.stat().st_mode) == 0o500


def test_write_protected_files_and_folders_go_too(case):
    for path in sorted(case.rglob("*"), reverse=True):
        path.chmod(0o500 if path.is_dir() else 0o400)
    case.chmod(0o500)
    delete_case(case)
    assert not case.exists()


def test_a_system_that_keeps_write_protected_files_is_overruled(case, monkeypatch):
    """As Windows does, and as any system does for a protected folder and whoever is not its administrator."""
    real, kept = os.unlink, []

    def keeping(path, *args, **kwargs):
        if not os.lstat(path).st_mode & stat.S_IWUSR:
            kept.append(path)
            raise PermissionError(errno.EACCES, "write-protected", str(path))
        return real(path, *args, **kwargs)

    for path in case.rglob("*.*"):
        if path.is_file():
            path.chmod(0o400)
    monkeypatch.setattr(os, "unlink", keeping)
    delete_case(case)
    assert len(kept) > 5 and not case.exists()


def test_a_file_that_resists_is_named_and_the_rest_goes_on_when_asked_again(case, monkeypatch):
    """As on a system where a program holds a file open."""
    expected, count = digest_by_hand(case), len(sizes(case))
    clip = next((case / "clips").iterdir())
    real = os.unlink

    def held(path, *args, **kwargs):
        if Path(path).name == clip.name:
            raise PermissionError(errno.EACCES, "held by another program", str(path))
        return real(path, *args, **kwargs)

    monkeypatch.setattr(os, "unlink", held)
    with pytest.raises(CaseError, match="held by another program") as told:
        delete_case(case, on=DAY)
    assert clip.name in str(told.value) and "casebook delete" in str(told.value)
    assert clip.exists() and not list(case.parent.glob("deletion_receipt*")), "no receipt before all is gone"
    assert not is_trusted(case)
    monkeypatch.setattr(os, "unlink", real)
    receipt, _ = delete_case(case, on=date(2026, 5, 9))
    assert (receipt.digest, receipt.files, receipt.date) == (expected, count, "2026-05-02")
    assert not case.exists()


@pytest.mark.parametrize("after", [0, 1, 7, 14])
def test_a_deletion_that_was_cut_short_goes_on_and_still_counts_everything(case, monkeypatch, after):
    expected, measured = digest_by_hand(case), sizes(case)
    real, done = os.unlink, 0

    def cut(path, *args, **kwargs):
        nonlocal done
        done += case in Path(path).parents
        if done > after:
            raise KeyboardInterrupt
        return real(path, *args, **kwargs)

    monkeypatch.setattr(os, "unlink", cut)
    with pytest.raises(CaseError, match="part-way"):
        delete_case(case)
    monkeypatch.setattr(os, "unlink", real)
    assert contents_of(case).begun and contents_of(case).files == len(measured) - after
    receipt, place = delete_case(case)
    assert (receipt.digest, receipt.files, receipt.size) == (expected, len(measured), sum(measured))
    assert not case.exists() and place.exists()


def test_it_goes_on_even_where_the_settings_are_gone_and_counts_what_came_since(case, monkeypatch):
    before = len(sizes(case))
    real = os.rmdir
    monkeypatch.setattr(os, "rmdir", lambda *a, **k: (_ for _ in ()).throw(KeyboardInterrupt))
    with pytest.raises(CaseError):
        delete_case(case)
    monkeypatch.setattr(os, "rmdir", real)
    (case / "case.toml").unlink(missing_ok=True)
    (case / "late.txt").write_text("saved by a program meanwhile", "utf-8")
    receipt, _ = delete_case(case)
    assert receipt.files == before + 1 and not case.exists()


def test_a_plan_that_somebody_else_wrote_does_not_come_into_the_receipt(case):
    expected, count = digest_by_hand(case), len(sizes(case))
    plan = {"schema": 1, "number": "Anna", "date": "Anna", "files": {}, "links": [], "linked": 0, "gone_out": []}
    (case / PLAN).write_text(json.dumps(plan), "utf-8")
    receipt, place = delete_case(case)
    assert "Anna" not in place.read_text("utf-8") + place.name
    assert (receipt.digest, receipt.files) == (expected, count)


@pytest.mark.skipif(sys.platform == "win32", reason="a file that is open cannot be deleted there")
def test_an_open_file_does_not_stop_it(case):
    with next((case / "clips").iterdir()).open("rb") as held:
        delete_case(case)
        assert not case.exists() and held.read(1)


def test_a_second_name_of_a_file_is_told_of(case, tmp_path):
    os.link(next((case / "clips").iterdir()), tmp_path / "second.mp4")
    receipt, place = delete_case(case)
    assert receipt.linked == 1 and "second name" in place.read_text("utf-8") and (tmp_path / "second.mp4").exists()


def test_what_is_no_case_is_left_alone(tmp_path):
    (tmp_path / "photos").mkdir()
    (tmp_path / "photos" / "a.jpg").write_bytes(b"x")
    (tmp_path / "file").write_bytes(b"x")
    for name in ("photos", "file", "missing"):
        with pytest.raises(CaseError, match="is not a case"):
            delete_case(tmp_path / name)
    assert (tmp_path / "photos" / "a.jpg").exists() and (tmp_path / "file").exists()


@links
def test_a_link_to_a_case_and_a_link_for_settings_are_refused(case, tmp_path):
    (tmp_path / "door").symlink_to(case, target_is_directory=True)
    with pytest.raises(CaseError, match="Name the folder itself"):
        delete_case(tmp_path / "door")
    (tmp_path / "photos").mkdir()
    (tmp_path / "photos" / "case.toml").symlink_to(case / "case.toml")
    with pytest.raises(CaseError, match="is not a case"):
        delete_case(tmp_path / "photos")
    assert case.exists() and (tmp_path / "photos" / "case.toml").is_symlink()


def test_a_folder_that_is_far_more_than_a_case_is_left_alone(case, tmp_path, monkeypatch):
    (case.parent / "case.toml").write_text("schema = 1\n", "utf-8")
    with pytest.raises(CaseError, match="holds another case"):
        delete_case(case.parent)
    monkeypatch.setattr(Path, "home", lambda: case)
    with pytest.raises(CaseError, match="far more than a case"):
        delete_case(case)
    monkeypatch.undo()
    monkeypatch.chdir(case / "marks")
    with pytest.raises(CaseError, match="Your terminal stands in"):
        delete_case(case)
    assert len(sizes(case)) > 10


def test_the_receipt_cannot_lie_in_what_is_deleted_or_nowhere(case, tmp_path):
    for place in (case, case / "out", tmp_path / "missing"):
        with pytest.raises(CaseError, match="receipt cannot lie"):
            delete_case(case, place)
    assert case.exists()
    (tmp_path / "office").mkdir()
    assert delete_case(case, tmp_path / "office")[1].parent == tmp_path / "office"


def test_nobodys_marks_are_deleted_under_his_hands(case):
    with FileLock(case / "marks" / "heron.lock"), pytest.raises(CaseError, match=r'writing "heron\.csv"'):
        delete_case(case)
    assert (case / "case.toml").exists()


def server_on(folder: Path, tmp_path: Path, url: str = "http://127.0.0.1:9/") -> None:
    """The file that a running notebook server leaves where others look for it."""
    (tmp_path / "runtime").mkdir(exist_ok=True)
    facts = {"pid": os.getpid(), "root_dir": str(folder), "url": url, "token": "t", "port": 9, "version": "2"}
    (tmp_path / "runtime" / "jpserver-1.json").write_text(json.dumps(facts), "utf-8")


@pytest.mark.parametrize("place", [".", "notebooks"])
def test_a_case_on_which_jupyterlab_is_open_is_not_deleted(case, tmp_path, place):
    server_on(case / place, tmp_path)
    with pytest.raises(CaseError, match="JupyterLab is open"):
        delete_case(case)
    (tmp_path / "runtime" / "jpserver-1.json").unlink()
    delete_case(case)


@pytest.fixture
def sessions():
    """A server that says which notebooks it has open; the test fills in what."""

    class Answer(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            right = self.path == "/api/sessions" and self.headers["Authorization"] == "token t"
            self.send_response(200 if right else 403)
            self.end_headers()
            self.wfile.write(json.dumps(self.server.open).encode())

        def log_message(self, *_: object) -> None:
            pass

    server = HTTPServer(("127.0.0.1", 0), Answer)
    server.open = []
    thread = Thread(target=server.serve_forever, daemon=True)
    thread.start()
    yield server
    server.shutdown()
    server.server_close()
    thread.join()


def test_a_server_on_a_larger_folder_stops_it_only_while_it_has_a_notebook_of_the_case_open(case, tmp_path, sessions):
    server_on(case.parent, tmp_path, f"http://127.0.0.1:{sessions.server_port}/")
    sessions.open = [{"path": "wren/notebooks/04_catch.ipynb"}, {"path": "heron/notebooks/04_catch.ipynb"}]
    with pytest.raises(CaseError, match=r"04_catch\.ipynb"):
        delete_case(case)
    sessions.open.pop()
    delete_case(case)
    assert not case.exists()


@pytest.mark.parametrize("answer", ["", "n", "yes", "Heron", "heron2"])
def test_only_the_alias_confirms(case, monkeypatch, capsys, answer):
    monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
    monkeypatch.setattr("builtins.input", lambda _: answer)
    assert main(["delete", str(case)]) == 2
    told = capsys.readouterr()
    assert "Nothing was deleted" in told.err and "notes of mine.txt" in told.out, "what casebook did not make is named"
    assert (case / "case.toml").exists()


def test_the_alias_typed_or_a_yes_deletes(case, monkeypatch, capsys):
    assert main(["delete", str(case)]) == 2, "away from the keyboard nothing is deleted without --yes"
    monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
    monkeypatch.setattr("builtins.input", lambda question: "heron" if "heron" in question else "")
    assert main(["delete", str(case)]) == 0
    told = capsys.readouterr().out
    assert "The receipt, which holds no name" in told and "Not reached" in told and not case.exists()


def test_a_case_whose_settings_cannot_be_read_can_still_be_deleted(case):
    (case / "case.toml").write_bytes(b"\xff\xfe torn")
    assert contents_of(case).word == "heron"
    assert main(["delete", str(case), "--yes"]) == 0 and not case.exists()
