"""The wheel carries everything that an installed casebook needs, and the door opens cheaply."""

from __future__ import annotations

import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

import casebook
from casebook.resources import shipped, templates

ROOT = Path(casebook.__file__).parent.parent


@pytest.fixture(scope="module")
def wheel(tmp_path_factory) -> set[str]:
    folder = tmp_path_factory.mktemp("wheel")
    subprocess.run(
        [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(folder)],
        cwd=ROOT, check=True, capture_output=True,
    )  # fmt: skip
    (path,) = folder.glob("*.whl")
    return set(zipfile.ZipFile(path).namelist())


def test_the_wheel_carries_templates_and_demo_clips(wheel):
    for path in templates():
        assert f"casebook/_data/notebooks/{path.name}" in wheel
    clips = [p.name for p in shipped("demo_clips").glob("*.mp4")]
    assert clips and all(f"casebook/_data/demo_clips/{name}" in wheel for name in clips)


def test_the_wheel_carries_every_file_that_the_package_reads(wheel):
    shipped_files = {
        p.relative_to(ROOT).as_posix()
        for p in (ROOT / "casebook").rglob("*")
        if p.suffix in (".toml", ".css", ".js", ".json", ".py") and "_data" not in p.parts
    }
    assert shipped_files <= wheel


def test_every_name_of_the_door_is_there():
    for name in casebook.__all__:
        assert getattr(casebook, name) is not None
    with pytest.raises(AttributeError):
        _ = casebook.nothing_of_the_kind


def test_opening_and_rendering_load_neither_opencv_nor_the_pose_model():
    code = (
        "import sys, casebook\n"
        "for name in casebook.__all__: getattr(casebook, name)\n"
        "import casebook.cli, casebook.pages.page, casebook.demo.case, casebook.demo.aim\n"
        "heavy = {'cv2', 'mediapipe', 'tensorflow'} & set(sys.modules)\n"
        "assert not heavy, heavy\n"
    )
    subprocess.run([sys.executable, "-c", code], check=True)


def test_the_version_stands_once():
    import tomllib

    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    assert project["version"] == casebook.__version__
