"""A case that somebody else made: looked at without running anything, run only after the coach said yes to this one."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from hostile import OUTPUTS, RUN
from nbformat.v4 import new_code_cell, new_markdown_cell, new_output
from safe_page import faults
from stranger_page import write_cells

from casebook.case.case import Case
from casebook.case.settings import write_settings
from casebook.case.trust import SEAL, distrust, is_trusted, trust
from casebook.cli import main
from casebook.errors import CaseError


@pytest.fixture(autouse=True)
def own_computer(tmp_path, monkeypatch):
    """A coach's computer that has never seen a case."""
    monkeypatch.setenv("CASEBOOK_DATA", str(tmp_path / "data"))


@pytest.fixture
def marker(tmp_path):
    return tmp_path / "ran"


@pytest.fixture
def received(tmp_path, marker):
    """A case as it comes by mail: saved outputs that would run, and code that leaves a mark where it runs."""
    folder = tmp_path / "received" / "heron"
    outputs = [new_output("display_data", data=data) for data in OUTPUTS.values()]
    cells = [
        new_markdown_cell("# Looked at closely"),
        new_code_cell(f"open({str(marker)!r}, 'w').close()", outputs=outputs, metadata={"tags": ["parameters"]}),
        new_code_cell(f"open({str(marker)!r}, 'w').close()", outputs=outputs),
        new_code_cell("x", outputs=[new_output("display_data", data={"text/plain": "saved words"})]),
    ]
    write_cells(folder / "notebooks" / "00_a.ipynb", cells)
    for name in ("clips", "marks", "out/media"):
        (folder / name).mkdir(parents=True)
    write_settings(folder, {"schema": 1, "alias": "heron", "aims": f"<script>{RUN}</script>"})
    return folder


def casebook(*words: object) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "casebook.cli", *map(str, words)],
        capture_output=True, text=True, stdin=subprocess.DEVNULL, check=False, timeout=120,
    )  # fmt: skip


def test_rendering_shows_what_was_saved_and_runs_none_of_it(received, marker):
    done = casebook("render", received)
    page = (received / "out" / "heron.html").read_text("utf-8")
    assert done.returncode == 0, done.stderr
    assert "saved words" in page and not faults(page)
    assert not marker.exists() and not is_trusted(received)


@pytest.mark.parametrize("verb", ["run", "open"])
def test_nothing_runs_where_nobody_can_say_yes(received, marker, verb):
    before = sorted(received.rglob("*"))
    done = casebook(verb, received, *(["--no-browser"] if verb == "open" else []))
    assert done.returncode == 2
    assert "not made on this computer" in done.stdout and "Nothing was run" in done.stderr
    assert not marker.exists() and not is_trusted(received) and sorted(received.rglob("*")) == before


def test_the_coachs_yes_runs_it_so_the_silence_above_means_something(received, marker):
    path = received / "notebooks" / "00_a.ipynb"
    notebook = json.loads(path.read_text("utf-8"))
    notebook["cells"].pop()  # its code would stop the run
    path.write_text(json.dumps(notebook), "utf-8")
    assert casebook("run", "--yes", received).returncode == 0
    assert marker.exists() and is_trusted(received)


@pytest.mark.parametrize(
    ("answer", "starts"), [("n", False), ("", False), ("yes please", False), ("y", True), ("YES", True)]
)
def test_opening_in_jupyterlab_asks_first(received, monkeypatch, answer, starts):
    started: list[list[str]] = []
    monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
    monkeypatch.setattr("builtins.input", lambda _: answer)
    monkeypatch.setattr("subprocess.run", lambda command, **_: started.append(command))
    assert main(["open", str(received)]) == (0 if starts else 2)
    assert bool(started) == starts == is_trusted(received)
    if starts:
        monkeypatch.setattr("builtins.input", lambda _: pytest.fail("asked twice"))
        assert main(["open", str(received)]) == 0


@pytest.mark.parametrize("line", ["trusted = true", "trust = true", "made_here = true", "[trust]\nyes = true"])
def test_a_case_cannot_say_of_itself_that_it_is_trusted(received, line):
    path = received / "case.toml"
    path.write_text(path.read_text("utf-8").replace("schema = 1", f"schema = 1\n{line}"), "utf-8")
    with pytest.raises(CaseError, match="unknown"):
        Case.open(received)
    assert not is_trusted(received)


def test_a_case_cannot_bring_its_own_seal(received, tmp_path):
    trust(received)
    elsewhere = shutil.copytree(received, tmp_path / "copy")
    assert is_trusted(received) and not is_trusted(elsewhere)
    shutil.rmtree(tmp_path / "data")
    assert not is_trusted(received)


@pytest.mark.parametrize("with_seal", [False, True], ids=["without the seal", "with a copy of the seal"])
def test_another_folder_in_the_place_of_a_trusted_one_is_not_trusted(received, tmp_path, with_seal):
    trust(received)
    times = (received / SEAL).stat()
    received.rename(tmp_path / "before")
    shutil.copytree(tmp_path / "before", received)
    if with_seal:
        os.utime(received / SEAL, ns=(times.st_atime_ns, times.st_mtime_ns))
    else:
        (received / SEAL).unlink()
    assert not is_trusted(received)


@pytest.mark.skipif(os.name == "nt", reason="making links needs a privilege on Windows")
def test_a_link_in_the_place_of_a_trusted_folder_or_its_seal_is_not_trusted(received, tmp_path):
    trust(received)
    received.rename(tmp_path / "before")
    shutil.copytree(tmp_path / "before", tmp_path / "other")
    received.symlink_to(tmp_path / "other", target_is_directory=True)
    assert not is_trusted(received)
    received.unlink()
    shutil.copytree(tmp_path / "other", received)
    (received / SEAL).unlink()
    (received / SEAL).symlink_to(tmp_path / "before" / SEAL)
    assert not is_trusted(received)


def test_working_in_a_trusted_case_keeps_it_trusted_and_the_yes_can_be_taken_back(received):
    trust(received)
    (received / "marks" / "s.csv").write_text("x", "utf-8")
    path = received / "notebooks" / "00_a.ipynb"
    path.write_text(path.read_text("utf-8").replace("closely", "again"), "utf-8")
    write_settings(received, {"schema": 1, "alias": "heron"})
    assert is_trusted(received) and is_trusted(Path(os.path.relpath(received)))
    assert distrust(received) and not is_trusted(received) and not distrust(received)


@pytest.mark.parametrize("raw", ["", "x", "x y", "\x00", "a b c", "0 0"])
def test_a_damaged_record_of_trust_is_no_trust(received, tmp_path, raw):
    trust(received)
    (ticket,) = (tmp_path / "data" / "trusted").iterdir()
    ticket.write_text(raw, "utf-8")
    assert not is_trusted(received)
