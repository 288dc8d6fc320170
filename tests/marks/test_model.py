"""Finding and fetching the pose model: what is told when it is missing, changed or out of reach."""

from __future__ import annotations

import os
import subprocess
import sys
import zipfile
from types import SimpleNamespace

import pytest

from casebook.errors import CasebookError
from casebook.marks import model as model_module
from casebook.marks.landmarker import Landmarker
from casebook.marks.model import (
    MODEL_VARIABLE,
    NETWORKS,
    bundle,
    cached_model,
    fetch_model,
    find_model,
    missing_library,
)


@pytest.fixture(autouse=True)
def own_cache(tmp_path, monkeypatch):
    monkeypatch.delenv(MODEL_VARIABLE, raising=False)
    monkeypatch.setattr(model_module, "cached_model", lambda: tmp_path / "cache" / "pose.task")
    return tmp_path / "cache" / "pose.task"


def archive(path, members):
    with zipfile.ZipFile(path, "w") as out:
        for name, raw in members.items():
            out.writestr(name, raw)
    return path


def test_the_kept_model_lies_in_the_users_cache_and_in_no_case():
    assert "casebook" in cached_model().parts and cached_model().is_absolute()


def test_a_missing_model_names_the_command_that_fetches_it():
    with pytest.raises(CasebookError, match="casebook fetch-model"):
        find_model()


def test_a_model_of_ones_own_is_taken_by_argument_or_environment(tmp_path, monkeypatch):
    own, other = (archive(tmp_path / name, {"a": b"b"}) for name in ("own.task", "other.task"))
    assert find_model(own) == own
    monkeypatch.setenv(MODEL_VARIABLE, str(other))
    assert find_model() == other and find_model(own) == own
    monkeypatch.setenv(MODEL_VARIABLE, str(tmp_path / "gone.task"))
    with pytest.raises(CasebookError, match=r"no pose model .*gone\.task"):
        find_model()


def test_a_file_that_is_no_bundle_is_refused(tmp_path):
    (tmp_path / "a.task").write_text("no")
    with pytest.raises(CasebookError, match="not a pose model bundle"):
        find_model(tmp_path / "a.task")


@pytest.mark.pose
def test_a_bundle_that_is_no_model_is_refused_with_a_sentence(tmp_path):
    with pytest.raises(CasebookError, match=r'"a\.task" cannot be opened as a pose model'):
        Landmarker(archive(tmp_path / "a.task", {"a": b"b"}))


def test_a_changed_network_is_not_kept(tmp_path, own_cache):
    package = archive(tmp_path / "p.whl", {n.inside: b"something else" for n in NETWORKS})
    with pytest.raises(CasebookError, match="not the model that was tested"):
        fetch_model(package, say=lambda _: None)
    assert not own_cache.exists()


@pytest.mark.parametrize("content", [{"readme": b""}, None])
def test_another_package_is_not_kept(tmp_path, own_cache, content):
    package = tmp_path / "p.whl"
    if content is None:
        package.write_bytes(b"no archive")
    else:
        archive(package, content)
    with pytest.raises(CasebookError, match=r'"p\.whl" does not hold the pose model'):
        fetch_model(package, say=lambda _: None)
    assert not own_cache.exists()


def test_a_failed_download_gives_the_reason_and_keeps_nothing(monkeypatch, own_cache):
    said, ran = [], []

    def no_connection(command, **_):
        if "--version" in command:
            return SimpleNamespace(returncode=0)
        ran.append(command)
        return SimpleNamespace(returncode=1, stdout="", stderr="...\nERROR: No matching distribution found\n")

    monkeypatch.setattr(subprocess, "run", no_connection)
    with pytest.raises(CasebookError, match=r"\(No matching distribution found\)\. Check the connection"):
        fetch_model(say=said.append)
    assert "36 MB" in said[0]
    assert ran[0][:3] == (sys.executable, "-m", "pip") and "mediapipe==0.10.21" in ran[0]
    assert not own_cache.exists()


def test_an_environment_without_pip_uses_that_of_its_maker(monkeypatch):
    """The documented set-up makes an environment without pip."""
    monkeypatch.setattr(sys, "_base_executable", "/base/python3", raising=False)
    tried = []

    def run(command, **_):
        tried.append(command[0])
        return SimpleNamespace(returncode=0 if command[0] == "/base/python3" else 1)

    monkeypatch.setattr(subprocess, "run", run)
    assert model_module._pip() == ("/base/python3", "-m", "pip")
    assert tried == [sys.executable, "/base/python3"]
    monkeypatch.setattr(subprocess, "run", lambda *_, **__: SimpleNamespace(returncode=1))
    with pytest.raises(CasebookError, match=f"there is none here.*{MODEL_VARIABLE}"):
        model_module._pip()


def test_a_model_that_is_here_is_not_fetched_again(monkeypatch, own_cache):
    own_cache.parent.mkdir()
    archive(own_cache, {"a": b"b"})
    monkeypatch.setattr(subprocess, "run", lambda *_, **__: pytest.fail("fetched again"))
    assert fetch_model(say=lambda _: None) == own_cache


def test_the_bundle_is_uncompressed_and_the_same_every_time(tmp_path):
    raw = bundle(dict.fromkeys(NETWORKS, b"x" * 100))
    assert raw == bundle(dict.fromkeys(NETWORKS, b"x" * 100))
    (tmp_path / "b.task").write_bytes(raw)
    with zipfile.ZipFile(tmp_path / "b.task") as opened:
        assert opened.namelist() == ["pose_detector.tflite", "pose_landmarks_detector.tflite"]
        assert {i.compress_type for i in opened.infolist()} == {zipfile.ZIP_STORED}


def test_a_missing_library_is_said_in_a_sentence(tmp_path, monkeypatch):
    for name in [m for m in sys.modules if m.split(".")[0] == "mediapipe"]:
        monkeypatch.delitem(sys.modules, name)
    monkeypatch.setitem(sys.modules, "mediapipe", None)
    for act in (lambda: fetch_model(say=lambda _: None), lambda: Landmarker(tmp_path / "a.task")):
        with pytest.raises(CasebookError, match=r"pip install .casebook\[pose\]"):
            act()


def test_a_missing_system_library_is_told_apart():
    error = missing_library(ImportError("libGL.so.1: cannot open shared object file"))
    assert "libGL.so.1" in error.problem and "libgl1" in error.remedy


def test_importing_the_store_and_the_draft_loads_no_heavy_library():
    heavy = "{'cv2', 'mediapipe', 'av', 'matplotlib', 'scipy', 'pandas'}"
    code = (
        "import sys, casebook.marks.store, casebook.marks.draft, casebook.marks.smooth, casebook.marks.scales;"
        f"sys.exit(', '.join({heavy} & set(sys.modules)) or None)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=False, env={**os.environ, "PYTHONUTF8": "1"}
    )
    assert done.returncode == 0, done.stderr
