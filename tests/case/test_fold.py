"""All questions in one notebook and apart again: nothing of the coach is lost either way, and the page is the same."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from nbformat.v4 import new_code_cell, new_markdown_cell, new_notebook, new_output

from casebook import cli
from casebook.case.case import Case
from casebook.case.create import ClipAnswers, new_case
from casebook.case.fold import fold, folded, is_folded, parts_of, refresh, unfold
from casebook.case.notebooks import COACH, execute, read_notebook, write_notebook
from casebook.errors import CaseError
from casebook.pages.page import render_case
from casebook.resources import templates

TEXT = st.text(max_size=40)


@pytest.fixture
def case(tmp_path) -> Case:
    return Case.open(new_case(tmp_path / "heron", None, ClipAnswers(), alias="heron"))


def write_in(case: Case, stem: str, words: str) -> None:
    """The coach fills the first of his cells in a notebook."""
    path = next(p for p in case.notebooks if p.stem in (stem, "analysis"))
    notebook = read_notebook(path)
    own = [c for c in notebook.cells if COACH in c.metadata.get("tags", [])]
    cell = next(c for c in own if c.metadata["casebook"].get("part", stem) == stem)
    cell.source = words
    write_notebook(path, notebook)


def all_coach_words(case: Case) -> dict[str, str]:
    return {
        c.metadata["casebook"]["slot"]: c.source
        for path in sorted((case.folder / "notebooks").rglob("*.ipynb"))
        for c in read_notebook(path).cells
        if COACH in c.metadata.get("tags", [])
    }


def test_a_case_is_folded_into_one_notebook_and_taken_apart_word_for_word(case):
    write_in(case, "04_catch", "Tip, hold,\npress.  ")
    before = {p.name: p.read_text("utf-8") for p in case.notebooks}
    assert [p.name for p in [fold(case.folder)]] == ["analysis.ipynb"] == [p.name for p in case.notebooks]
    assert list((case.folder / "notebooks").iterdir()) == case.notebooks
    unfold(case.folder)
    assert {p.name: p.read_text("utf-8") for p in case.notebooks} == before


def test_what_the_coach_leaves_out_waits_with_his_words(case):
    write_in(case, "10_kick", "Leave it.")
    fold(case.folder, ["catch", "entry"])
    parts = parts_of(read_notebook(case.notebooks[0]))
    assert list(parts) == ["00_clip_and_marks", "04_catch", "02_entry", "13_priorities"]
    assert "Leave it." in all_coach_words(case).values()
    fold(case.folder, ["kick"])  # folded anew, with another choice
    assert list(parts_of(read_notebook(case.notebooks[0]))) == ["00_clip_and_marks", "10_kick", "13_priorities"]
    unfold(case.folder)
    assert len(case.notebooks) == len(templates()) and "Leave it." in all_coach_words(case).values()


def test_the_order_of_the_case_is_the_order_of_the_one_notebook(case):
    text = (case.folder / "case.toml").read_text("utf-8")
    (case.folder / "case.toml").write_text(f'order = ["kick", "entry"]\n{text}', "utf-8")
    fold(case.folder)
    checkpoints = [s for s in parts_of(read_notebook(case.notebooks[0])) if "01" <= s < "13"]
    assert checkpoints == ["10_kick", "02_entry"]


def test_words_written_into_the_one_notebook_go_back_to_their_own(case):
    fold(case.folder)
    write_in(case, "04_catch", "Written here.")
    notebook = read_notebook(case.notebooks[0])
    at = next(k for k, c in enumerate(notebook.cells) if c.source == "Written here.")
    notebook.cells.insert(at + 1, new_markdown_cell("A cell of my own."))
    write_notebook(case.notebooks[0], notebook)
    unfold(case.folder)
    catch = [c.source for c in read_notebook(case.folder / "notebooks" / "04_catch.ipynb").cells]
    assert catch[catch.index("Written here.") + 1] == "A cell of my own."


def test_a_folded_case_is_renewed_and_stays_folded(case):
    fold(case.folder, ["catch"])
    write_in(case, "04_catch", "Mine.")
    notebook = read_notebook(case.notebooks[0])
    notebook.cells = [c for c in notebook.cells if "desk.catch()" not in c.source and ".measure(" not in c.source]
    write_notebook(case.notebooks[0], notebook)
    assert [p.name for p in refresh(case.folder)] == ["analysis.ipynb"]
    again = read_notebook(case.notebooks[0])
    assert any("catch = " in c.source for c in again.cells) and "Mine." in [c.source for c in again.cells]
    assert refresh(case.folder) == [] and is_folded(case.folder)


@settings(max_examples=30, deadline=None)
@given(st.lists(st.tuples(st.sampled_from(["same", "a", "b"]), TEXT, st.booleans()), min_size=1, max_size=12))
def test_cells_come_back_as_they_were_whatever_they_hold(made):
    notebooks = {}
    for k, stem in enumerate(["01_one", "02_two", "03_three"]):
        cells = []
        for n, (name, words, coach) in enumerate(made[k::3]):
            cell = new_markdown_cell(words) if coach else new_code_cell(words)
            cell["id"] = f"{name}-{n}"
            cell.metadata["tags"] = ["coach"] if coach else []
            cells.append(cell)
        if cells:
            notebooks[stem] = new_notebook(cells=cells, metadata={"casebook": {"page": "first"} if k == 2 else {}})
    back = parts_of(folded(notebooks))
    assert list(back) == list(notebooks)
    for stem, notebook in notebooks.items():
        assert [(c.cell_type, c.source, c.metadata["tags"]) for c in back[stem].cells] == [
            (c.cell_type, c.source, c.metadata["tags"]) for c in notebook.cells
        ]
    assert len({c["id"] for c in folded(notebooks).cells}) == sum(len(n.cells) for n in notebooks.values())


def test_the_page_is_the_same_folded_or_not(case, tmp_path):
    for path in case.notebooks:
        notebook = read_notebook(path)
        code = [c for c in notebook.cells if c.cell_type == "code" and not c.metadata.get("tags")]
        for c in code[:1]:
            c.outputs = [new_output("display_data", {"text/plain": f"a result of {path.stem}"})]
        write_notebook(path, notebook)
    write_in(case, "04_catch", "Tip, hold, press.")
    single = render_case(case, tmp_path / "single.html").read_text("utf-8")
    fold(case.folder)
    assert render_case(case, tmp_path / "one.html").read_text("utf-8") == single
    assert "Tip, hold, press." in single
    assert "a result of 04_catch" in single


def test_the_one_notebook_runs_from_top_to_bottom(case):
    for path in case.notebooks:
        cells = [new_code_cell('CASE = ".."', metadata={"tags": ["parameters"]}), new_code_cell("print(CASE, 6 * 7)")]
        write_notebook(path, new_notebook(cells=cells))
    fold(case.folder, ["entry"])
    execute(case.notebooks[0])
    outputs = [c.outputs[0].text for c in read_notebook(case.notebooks[0]).cells if c.get("outputs")]
    assert outputs == [".. 42\n"] * 3


def test_a_name_that_is_none_and_a_case_that_is_not_folded_are_told(case):
    with pytest.raises(CaseError, match="catch"):
        fold(case.folder, ["cach"])
    with pytest.raises(CaseError, match="not folded"):
        unfold(case.folder)
    assert len(case.notebooks) == len(templates())


def test_the_commands_say_what_they_did(case, capsys):
    assert cli.main(["fold", str(case.folder), "catch"]) == 0
    assert "analysis.ipynb" in capsys.readouterr().out
    assert cli.main(["unfold", str(case.folder)]) == 0
    assert f"{len(templates())} notebooks" in capsys.readouterr().out
    assert isinstance(case.folder, Path)
