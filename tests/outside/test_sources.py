"""The published tables say where they come from, and no comparison is left unasserted."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest
from source_tables import SOURCES, rows

TESTS = Path(__file__).parents[1]
NEEDED = ("citation", "what", "unit", "terms")


@pytest.mark.parametrize("path", sorted(p for p in SOURCES.iterdir() if p.is_file()), ids=lambda p: p.name)
def test_every_source_table_names_its_source(path):
    assert re.fullmatch(r"[a-z]+_\d{4}_[a-z0-9_]+\.csv", path.name), "author_year_what.csv"
    head = [line[1:].strip() for line in path.read_text("utf-8").splitlines() if line.startswith("#")]
    for word in NEEDED:
        assert any(re.match(rf"{word}: \S", line) for line in head), f"no {word}"
    table = rows(path.name)
    assert table
    assert all(None not in row and None not in row.values() for row in table), (
        "a row is longer or shorter than the head"
    )


def loose_comparisons(text: str) -> list[int]:
    """Lines where the yes or no of a comparison by tolerance is thrown away."""
    tree = ast.parse(text)
    return [
        node.lineno
        for node in ast.walk(tree)
        if isinstance(node, ast.Expr)
        and isinstance(node.value, ast.Call)
        and ast.unparse(node.value.func).split(".")[-1]
        in ("allclose", "isclose", "array_equal", "approx", "all", "any")
    ]


def test_the_lint_sees_a_comparison_that_is_thrown_away():
    assert loose_comparisons("np.allclose(a, b)\nassert np.allclose(a, b)\nnp.testing.assert_allclose(a, b)\n") == [1]


def test_no_test_throws_a_comparison_away():
    found = {
        str(path.relative_to(TESTS)): lines
        for path in sorted(TESTS.rglob("*.py"))
        if (lines := loose_comparisons(path.read_text("utf-8")))
    }
    assert not found
