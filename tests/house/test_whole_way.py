"""The whole way as a coach walks it: a video file, a case, marks, the notebook run, one page."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from casebook.case.case import Case
from casebook.case.notebooks import execute_all, read_notebook, write_notebook
from casebook.case.overview import overview
from casebook.checkpoints.finding import Finding, NotMeasured
from casebook.demo.case import build_demo_case
from casebook.demo.truth_files import read_truth
from casebook.demo.truth_marks import key_still_frames, marks_from_truth
from casebook.errors import CasebookError
from casebook.resources import shipped


def casebook(*words: object, data: Path) -> subprocess.CompletedProcess[str]:
    import os

    return subprocess.run(
        [sys.executable, "-m", "casebook.cli", *map(str, words)],
        capture_output=True, text=True, encoding="utf-8", stdin=subprocess.DEVNULL, check=False,
        env=os.environ | {"CASEBOOK_DATA": str(data), "PYTHONIOENCODING": "utf-8"},
    )  # fmt: skip


@pytest.fixture(scope="module")
def demo(tmp_path_factory) -> Path:
    """The demo case, run and rendered by the command line."""
    place = tmp_path_factory.mktemp("demo")
    done = casebook("demo", place / "rowan", data=place / "data")
    assert done.returncode == 0, done.stderr
    assert "Open this page" in done.stdout and "cell" in done.stderr, "it says where the page is and shows progress"
    return place / "rowan"


@pytest.fixture(scope="module")
def heron(tmp_path_factory) -> Path:
    """A case made from a clip by the command line, then marked on a handful of frames: no water line, no scale."""
    place = tmp_path_factory.mktemp("own")
    film = shutil.copy(shipped("demo_clips") / "heron_side.mp4", place / "VID_0007.mp4")
    data = place / "data"
    made = casebook("new", place / "heron", film, "--direction", "left", "--camera", "following", data=data)
    assert made.returncode == 0, made.stderr
    assert "can answer" in made.stdout and "cannot answer" in made.stdout and "left arm is nearer" in made.stdout
    # A coach who looks at the catch alone says so, and the other checkpoints are left out.
    settings = place / "heron" / "case.toml"
    settings.write_text('order = ["catch"]\n' + settings.read_text("utf-8"), "utf-8")
    truth = read_truth(shipped("demo_clips"), "heron_side")
    with Case.open(place / "heron").desk().store as store:
        names = [f"{p}_l" for p in ("shoulder", "elbow", "wrist", "fingertip")]
        store.put_marks(marks_from_truth(truth, names, key_still_frames(truth, "l", 2), sigma_px=2.0, seed=3))
        assert store.marks.n_marked == 24, "three stills of two strokes, four points each"
    for command in ("run", "render"):
        done = casebook(command, place / "heron", data=data)
        assert done.returncode == 0, done.stderr
    return place / "heron"


def test_the_demo_page_is_one_file_with_nothing_of_this_machine_in_it(demo):
    page = (demo / "out" / "rowan.html").read_text("utf-8")
    assert len(page) < 15e6
    assert "invented swimmer" in page and "Tip, hold, press" in page.replace("tip, hold, press", "Tip, hold, press")
    for secret in (str(demo), str(Path.home()), "Traceback"):
        assert secret not in page
    links = set(re.findall(r'(?:src|href)="(?!data:|#)([^"]+)"', page))
    assert not links, "nothing is fetched"


def test_the_demo_measures_what_is_true(demo):
    truth = read_truth(shipped("demo_clips"), "rowan_side")
    catch = Case.open(demo).desk().catch()
    own = next(c for c in truth.catches if c.side == "r")
    plain = own.classes == "none"
    for quantity in ("hand_ahead_pct", "elbow_height_pct", "elbow_angle_45_deg", "elbow_angle_under_deg"):
        found = catch.get(quantity, "r")
        assert isinstance(found, Finding), str(found)
        assert found.these.low <= own.values[quantity][plain].mean() <= found.these.high, quantity
        assert len(found.strokes) == plain.sum()
    assert catch.get("hand_ahead_pct", "r").verdict == "outside"
    assert catch.get("elbow_height_pct", "r").outcome == "bent above"


def test_a_case_of_an_honest_coach_is_not_replaced_by_the_demo(demo, heron):
    with pytest.raises(CasebookError, match="not the demo"):
        build_demo_case(heron)


def test_a_dropped_elbow_is_found_from_24_clicks_without_water_line_or_scale(heron):
    catch = Case.open(heron).desk().catch()
    truth = next(c for c in read_truth(shipped("demo_clips"), "heron_side").catches if c.side == "l")
    found = catch.get("elbow_height_pct", "l")
    assert isinstance(found, Finding), str(found)
    assert found.outcome == "dropped below"
    true = truth.values["elbow_height_pct"][:2].mean()
    assert abs(found.value - true) < 3 * found.these.half / 1.96, "within three standard deviations"
    assert found.habit is None, "two strokes say nothing about a habit"
    metres = catch.get("elbow_height_m", "l")
    assert isinstance(metres, NotMeasured) and metres.remedy


def test_a_page_of_an_own_clip_says_nothing_of_invented_swimmers(heron):
    page = (heron / "out" / "heron.html").read_text("utf-8")
    assert "VID_0007" not in page
    assert "heron (invented" not in page


def test_the_coachs_words_survive_running_renewing_and_rendering_again(heron, tmp_path):
    path = next(p for p in Case.open(heron).notebooks if p.stem == "04_catch")
    notebook = read_notebook(path)
    cells = [c for c in notebook.cells if "coach" in c.metadata.get("tags", [])]
    words = "Six times 25, *one* thought: <b>tip</b>, hold, press. ÄÖ 10 % & more"
    cells[-1].source = words
    write_notebook(path, notebook)
    for command in ("refresh", "run", "render"):
        assert casebook(command, heron, data=heron.parent / "data").returncode == 0
    assert [c.source for c in read_notebook(path).cells if "coach" in c.metadata.get("tags", [])][-1] == words
    page = (heron / "out" / "heron.html").read_text("utf-8")
    assert "one</em> thought" in page and "&lt;b&gt;tip&lt;/b&gt;" in page


def test_a_case_from_elsewhere_is_rendered_without_running_and_run_only_when_told(heron, tmp_path):
    stranger = tmp_path / "heron"
    shutil.copytree(heron, stranger)
    refused = casebook("run", stranger, data=tmp_path / "data")
    assert refused.returncode == 2 and "not made on this computer" in refused.stdout
    before = [p.read_bytes() for p in (stranger / "notebooks").iterdir()]
    assert casebook("render", stranger, data=tmp_path / "data").returncode == 0
    assert [p.read_bytes() for p in (stranger / "notebooks").iterdir()] == before


def test_running_again_gives_the_same_notebooks_and_page(demo):
    again = [p for p in Case.open(demo).notebooks if p.stem[:2] in ("04", "10", "13")]
    first = (demo / "out" / "rowan.html").read_bytes(), [p.read_bytes() for p in again]
    execute_all(again)
    assert casebook("render", demo, data=demo.parent / "data").returncode == 0
    assert ((demo / "out" / "rowan.html").read_bytes(), [p.read_bytes() for p in again]) == first


def test_the_page_begins_with_what_to_work_on_and_leaves_out_what_could_not_be_measured(demo, heron):
    page = (demo / "out" / "rowan.html").read_text("utf-8")
    sections = re.findall(r'<section[^>]* id="([^"]+)"', page)
    assert sections[0] == "13-priorities" and sections[1:] == sorted(sections[1:])
    assert {"01-body-line", "02-entry", "03-extension", "04-catch", "05-pull", "10-kick", "12-rate"} <= set(sections)
    own = re.findall(r'<section[^>]* id="([^"]+)"', (heron / "out" / "heron.html").read_text("utf-8"))
    assert own == ["13-priorities", "04-catch"]
    told = overview(Case.open(heron))
    assert told.plan.first.fault.key == "dropped_elbow"


def test_a_zip_of_a_case_holds_no_absolute_path(demo, tmp_path):
    archive = shutil.make_archive(str(tmp_path / "rowan"), "zip", demo)
    for name in zipfile.ZipFile(archive).namelist():
        if name.endswith((".toml", ".csv", ".ipynb", ".journal")):
            assert str(demo.parent).encode() not in zipfile.ZipFile(archive).read(name), name
