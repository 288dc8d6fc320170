"""Values and cells of a stranger's notebook on their way into the coach's: they stay values and words."""

from __future__ import annotations

import ast

import pytest
from hostile import EVERYWHERE, NAMES
from nbformat.v4 import new_code_cell, new_markdown_cell, new_notebook

from casebook.case.notebooks import filled, merged_with

#: Parameter cells that are no plain values.
CODE = {
    "a call": "SHOT = __import__('os').system('touch ran')",
    "a call behind a value": "SHOT = 'a'; open('ran', 'w')",
    "a comprehension": "SHOT = [open('ran', 'w') for _ in 'a']",
    "a format": 'SHOT = f\'{open("ran", "w")}\'',
    "a walrus": "SHOT = (x := open('ran', 'w'))",
    "deep": "SHOT = " + "(" * 5000 + "1" + ")" * 5000,
    "deep signs": "SHOT = " + "-" * 20_000 + "1",
    "a null": "SHOT = 'a\x00'",
    "no code": "SHOT = = =",
    "a magic": "%run ran.py\n!touch ran\nSHOT = 'a'",
    "keys that are none": "SHOT = {[]: 1}",
}


def template():
    parameters = new_code_cell('CASE = ".."\nSHOT = ""  # which one', metadata={"tags": ["parameters"]})
    return new_notebook(cells=[new_markdown_cell("# New"), parameters])


@pytest.mark.parametrize("words", (EVERYWHERE | NAMES).values(), ids=(EVERYWHERE | NAMES).keys())
def test_a_value_put_into_a_notebook_is_that_value_and_nothing_more(words):
    source = filled(template(), {"SHOT": words}).cells[1].source
    case, shot = ast.parse(source.encode("utf-8", "surrogatepass").decode("utf-8", "replace")).body
    assert ast.literal_eval(case.value) == ".."
    assert ast.literal_eval(shot.value) == words.encode("utf-8", "surrogatepass").decode("utf-8", "replace")


@pytest.mark.parametrize("code", CODE.values(), ids=CODE.keys())
def test_code_in_the_place_of_values_is_not_carried_into_the_renewed_notebook(tmp_path, monkeypatch, code):
    monkeypatch.chdir(tmp_path)
    old = new_notebook(cells=[new_code_cell(code, metadata={"tags": ["parameters"]})])
    merged = merged_with(template(), old)
    body = ast.parse(merged.cells[1].source).body
    assert all(isinstance(node, ast.Assign) and isinstance(node.value, ast.Constant) for node in body)
    assert "open" not in merged.cells[1].source and not list(tmp_path.iterdir())
