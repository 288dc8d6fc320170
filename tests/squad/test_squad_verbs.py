"""``casebook squad`` from the empty folder to the page, as a coach types it; and the invented squad of the notebook."""

from __future__ import annotations

import ast
from pathlib import Path

import numpy as np
import pytest
from squad_maker import member, numbered_recording, squad_of
from test_squad_cuts import TIMES

import casebook.demo.squad
from casebook.cli import main
from casebook.demo.squad import RECORDING, SIZE, build_demo_squad, fill_demo_grid
from casebook.squad.grid import Grid, read_grid
from casebook.squad.squad import Squad
from casebook.squad.verbs import VERBS


def test_the_whole_way_by_command(tmp_path, capsys):
    folder = tmp_path / "squad"
    assert main(["squad", "new", str(folder)]) == 0
    (folder / "roster.csv").write_text(
        "number,alias,level,consent,until,sharing,minor,guardian,do_not_film,lane\n"
        "1,heron,learner,yes,2099-01-01,yes,no,,no,1\n2,owl,learner,yes,2099-01-01,yes,no,,yes,1\n", "utf-8",
    )  # fmt: skip
    recording = numbered_recording(tmp_path / "long.mp4", TIMES)
    (folder / "cuts.csv").write_text("from,to,number\n0:00,0:01,1\n0:01,0:02,2\n", "utf-8")
    Grid(folder / "grid.csv").put(1, "kick", "fault", "hooked_feet")
    capsys.readouterr()
    for words in (
        ["check"],
        ["slates"],
        ["paper"],
        ["cut", str(recording), "--blanked"],
        ["cards"],
        ["page"],
        ["case", "1"],
    ):
        assert main(["squad", words[0], str(folder), *words[1:]]) == 0, capsys.readouterr().err
    told = capsys.readouterr().out
    assert "DO NOT FILM\n  2 owl" in told and "NOT CUT, number 2" in told and "Made 1 card." in told
    assert {p.name for p in (folder / "out").iterdir()} == {
        "film_list.html", "slates.html", "grid_sheet.html", "recording_blanked.mp4", "cards.html", "squad.html",
    }  # fmt: skip
    assert (folder / "cases" / "1" / "case.toml").is_file() and not (folder / "swimmers" / "2").exists()
    assert main(["squad", "forget", str(folder), "1"]) == 0
    assert not (folder / "swimmers" / "1").exists() and not (folder / "cases" / "1").exists()
    assert read_grid(folder / "grid.csv") == {}


@pytest.mark.parametrize("verb", [v for v in VERBS if v != "new"])
def test_a_folder_that_is_no_squad_is_told_in_a_sentence(tmp_path, verb, capsys):
    more = {"cut": ["x.mp4"], "case": ["1"], "forget": ["1"]}.get(verb, [])
    assert main(["squad", verb, str(tmp_path), *more]) == 2
    assert "is not a squad" in capsys.readouterr().err and list(tmp_path.iterdir()) == []


def test_settings_that_are_misspelt_or_make_no_sense_are_told(tmp_path):
    squad = squad_of(tmp_path / "s", member(1))
    path = squad.folder / "squad.toml"
    kept = path.read_text("utf-8")
    for line, told in (
        ('plce = "x"', "place"), ('lanes = "4"', "wrong kind"), ("lanes = 0", "make no plan"),
        ('view = "drone"', "not a view"), ('checkpoints = ["katch"]', "catch"), ('date = "today"', "not a day"),
        ("x = = 1", "cannot be read"),
    ):  # fmt: skip
        key = line.partition(" ")[0]
        path.write_text("\n".join([*(k for k in kept.splitlines() if not k.startswith(f"{key} ")), line]), "utf-8")
        with pytest.raises(casebook.CasebookError, match=told):
            Squad.open(squad.folder)


def test_the_invented_squad_says_so_and_its_grid_is_filled_only_there(tmp_path, monkeypatch):
    # The notebook makes the whole recording; a short one serves here.
    monkeypatch.setattr(casebook.demo.squad, "_pictures", lambda plan: [np.zeros((*SIZE[::-1], 3), np.uint8)] * 3)
    squad = Squad.open(build_demo_squad(tmp_path / "demo"))
    assert squad.invented and (squad.folder / RECORDING).is_file() and len(squad.roster.members) == 12
    assert fill_demo_grid(squad) == len(read_grid(squad.grid_file)) > 40
    assert {n for n, _ in read_grid(squad.grid_file)} == {m.number for m in squad.filmable}
    assert fill_demo_grid(squad_of(tmp_path / "own", member(1), invented=False)) == 0


def test_opencv_is_loaded_only_where_a_slate_is_drawn_or_found():
    for path in (Path(casebook.__file__).parent / "squad").glob("*.py"):
        top = [n for n in ast.parse(path.read_text("utf-8")).body if isinstance(n, (ast.Import, ast.ImportFrom))]
        names = {a.name for n in top for a in n.names} | {n.module for n in top if isinstance(n, ast.ImportFrom)}
        assert not names & {"cv2", "av", "matplotlib", "PIL"}, path.name
