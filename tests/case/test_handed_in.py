"""Marks that twenty coaches handed in, and what else lies in their folder."""

from __future__ import annotations

import shutil
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from casebook.case.case import Case
from casebook.case.desk import Desk
from casebook.case.handed_in import LARGEST_FILE, handed_in
from casebook.checkpoints.finding import Finding
from casebook.demo.case import build_demo_case
from casebook.demo.workshop import invented_marks, open_handed_in
from casebook.errors import CaseError

COACHES = 20


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Desk:
    return Case.open(build_demo_case(tmp_path_factory.mktemp("case") / "wren", "wren")).desk("wren_side_under")


@pytest.fixture(scope="module")
def room(tmp_path_factory: pytest.TempPathFactory, desk: Desk) -> Path:
    """Twenty folders, one a coach."""
    folder = tmp_path_factory.mktemp("room")
    invented_marks(desk, folder, "catch", COACHES)
    return folder


def test_twenty_folders_are_read_and_their_numbers_lie_about_the_reference(desk, room):
    found = handed_in(desk, room, "catch")
    assert found.coaches == COACHES and not found.problems
    own = {(f.quantity, f.side, f.stroke_class): f for f in desk.measure("catch").results if isinstance(f, Finding)}
    assert found.quantities
    for each in found.quantities:
        assert each.reference == own[each.quantity, each.side, each.stroke_class].value
        assert len(each.values) > COACHES / 2
        assert each.between.low < each.between.value < each.between.high
        assert abs(each.off.value) < 4 * each.between.value
    assert f"{COACHES} coaches marked wren_side_under." in found.text()


def test_the_same_marks_as_the_reference_are_not_off_at_all(desk, tmp_path):
    for name in ("a", "b", "c"):
        (tmp_path / name).mkdir()
        shutil.copy(desk.case.folder / "marks" / "wren_side_under.csv", tmp_path / name)
    found = handed_in(desk, tmp_path, "catch")
    assert all(q.off.value == pytest.approx(0, abs=1e-9) and q.between.value < 1e-9 for q in found.quantities)
    assert found.reference.agreement == 1.0


def test_what_cannot_be_read_is_named_and_the_rest_counts(desk, room, tmp_path):
    good = "coach_01"
    shutil.copytree(room / good, tmp_path / good)
    name = "wren_side_under.csv"
    for other, raw in {
        "empty": b"",
        "torn": b"frame,time_s,point,x_px,y_px,sigma_px,origin,by\n12,",
        "picture": b"\x89PNG\r\n\x1a\n\0\0\0",
        "elsewhere": b"frame,time_s,point,x_px,y_px,sigma_px,origin,by\n99999,,hip_r,1,2,2,hand,x\n",
        "formula": b"frame,time_s,point,x_px,y_px,sigma_px,origin,by\n1,,hip_r,=1+1,2,2,hand,x\n",
    }.items():
        (tmp_path / other).mkdir()
        (tmp_path / other / name).write_bytes(raw)
    (tmp_path / "without").mkdir()
    (tmp_path / "stray.csv").write_text("x", "utf-8")
    (tmp_path / "link").symlink_to(room / "coach_02")
    found = handed_in(desk, tmp_path, "catch")
    assert found.coaches == 1 and len(found.problems) == 8
    for other in ("empty", "torn", "picture", "elsewhere", "formula", "without", "stray.csv", "link"):
        assert [p for p in found.problems if p.startswith(f'"{other}"')], other


def test_a_file_that_is_far_too_large_is_not_opened(desk, tmp_path, monkeypatch):
    (tmp_path / "a").mkdir()
    with (tmp_path / "a" / "wren_side_under.csv").open("wb") as out:
        out.truncate(LARGEST_FILE + 1)
    assert "too large" in handed_in(desk, tmp_path, "catch").problems[0]


def test_nobody_has_handed_in_marks_of_a_case_of_one_s_own(desk, tmp_path):
    other = SimpleNamespace(case=SimpleNamespace(invented=False, alias="finch"))
    with pytest.raises(CaseError, match="Nobody"):
        open_handed_in(other, "demo")
    with pytest.raises(CaseError, match="no folder"):
        handed_in(desk, tmp_path / "nowhere", "catch")
    (tmp_path / "empty").mkdir()
    found = handed_in(desk, tmp_path / "empty", "catch")
    assert found.coaches == 0 and not found.quantities and np.isnan(found.verdicts.value.value)
