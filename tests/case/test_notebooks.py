"""A swimmer's notebooks: the coach's words and values survive every renewal."""

from __future__ import annotations

import nbformat
import pytest
from hypothesis import given
from hypothesis import strategies as st
from nbformat.v4 import new_code_cell, new_markdown_cell, new_notebook

from casebook.case.notebooks import execute, filled, merged_with, read_notebook, write_notebook
from casebook.errors import CaseError


def coach(text: str, slot: str = "") -> object:
    return new_markdown_cell(text, metadata={"tags": ["coach"], "casebook": {"slot": slot} if slot else {}})


def parameters(text: str) -> object:
    return new_code_cell(text, metadata={"tags": ["parameters"]})


def test_values_are_set_and_their_remarks_kept():
    book = new_notebook(cells=[parameters('CASE = "demo"  # the swimmer\'s folder\nSHOT = ""  # which shot')])
    assert filled(book, {"CASE": "..", "SHOT": "heron_side"}).cells[0].source == (
        'CASE = ".."  # the swimmer\'s folder\nSHOT = "heron_side"  # which shot'
    )


@given(words=st.text(max_size=60), extra=st.text(max_size=30))
def test_renewing_keeps_every_coach_cell_word_for_word(words, extra):
    old = new_notebook(
        cells=[parameters('CASE = ".."'), coach(words, "catch-now"), new_code_cell("old()"), coach(extra)]
    )
    new = new_notebook(cells=[parameters('CASE = "demo"'), new_code_cell("new()"), coach("write here", "catch-now")])
    cells = merged_with(new, old).cells
    assert [c.source for c in cells] == ['CASE = ".."', "new()", words, extra]


def test_a_slot_that_the_new_template_lacks_is_appended_not_dropped():
    old = new_notebook(cells=[parameters("CASE = 1"), coach("mine", "gone")])
    assert merged_with(new_notebook(cells=[parameters("CASE = 1")]), old).cells[-1].source == "mine"


def test_a_template_without_parameters_is_refused():
    with pytest.raises(CaseError, match="parameters"):
        filled(new_notebook(cells=[new_code_cell("1")]), {})


def test_running_saves_results_without_clock_times_and_twice_the_same(tmp_path):
    path = tmp_path / "a.ipynb"
    cells = [new_code_cell("print(6 * 7)")]
    cells[0]["id"] = "one"
    write_notebook(path, new_notebook(cells=cells))
    seen = []
    execute(path, lambda done, total: seen.append((done, total)))
    first = path.read_bytes()
    execute(path)
    assert seen == [(1, 1)] and path.read_bytes() == first
    assert nbformat.reads(first.decode(), 4).cells[0].outputs[0].text == "42\n"


def test_a_failing_cell_is_told_in_a_sentence_and_what_ran_is_saved(tmp_path):
    path = tmp_path / "a.ipynb"
    write_notebook(
        path, new_notebook(cells=[new_code_cell("print(1)"), new_code_cell("raise ValueError('no water line')")])
    )
    with pytest.raises(CaseError, match=r'"a\.ipynb" stopped: no water line'):
        execute(path)
    assert read_notebook(path).cells[0].outputs[0].text == "1\n"


def test_a_file_that_is_no_notebook_is_named(tmp_path):
    (tmp_path / "b.ipynb").write_text("nonsense", "utf-8")
    with pytest.raises(CaseError, match=r"b\.ipynb"):
        read_notebook(tmp_path / "b.ipynb")
