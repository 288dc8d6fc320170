"""Blocks about marking: what they say, what they draw, and what they say when there is nothing to compare."""

from __future__ import annotations

import json
from types import SimpleNamespace

import numpy as np
import pytest

from casebook.checkpoints.finding import StrokeValue
from casebook.marks.kappa import cohen_kappa
from casebook.marks.marking_error import marking_error
from casebook.marks.reliability import limits_of_agreement, typical_error
from casebook.marks.repeat import RepeatPlan, Round
from casebook.pages import show_agreement
from casebook.pages.agreement_chart import apart_shapes, error_shapes
from casebook.pages.figure import Ring, Words
from casebook.pages.section import HIDE

POINTS = ("elbow_r", "crown")


def study(seed=1, coaches=("ab", "cd"), rounds=(1, 2)):
    rng = np.random.default_rng(seed)
    plan = RepeatPlan("pool", POINTS, np.arange(30), ())
    for by in coaches:
        for k in rounds:
            xy = 100 + 40 * np.arange(60).reshape(30, 2, 1) % 97 + rng.normal(0, 2, (30, 2, 2))
            plan = plan.with_round(Round(by, k, xy, np.zeros((30, 2), bool)))
    return marking_error(plan)


def agreement(a, b, quantity="hand_ahead_pct"):
    pairs = tuple(
        (StrokeValue(i, x, 1.0, 0, (i,), i), StrokeValue(i, y, 1.0, 0, (i,), i))
        for i, (x, y) in enumerate(zip(a, b, strict=True))
    )
    return SimpleNamespace(
        quantity=quantity, unit="%", pairs=pairs, typical=typical_error(a, b), limits=limits_of_agreement(a, b)
    )


def test_errors_are_told_per_coach_and_drawn_per_point():
    block = show_agreement.errors(study())
    assert block.words.splitlines()[0] == "Error of one mark, each coordinate"
    assert [line.split(":")[0] for line in block.words.splitlines()[1:]] == ["Marked by ab", "Marked by cd"]
    shapes, _ = error_shapes(block.data)
    assert sum(isinstance(s, Ring) for s in shapes) == 2 * (1 + len(POINTS))
    said = [s.text for s in shapes if isinstance(s, Words)]
    assert {"right elbow", "crown", "all points", "usual: 2 px", "Marked by ab"} <= set(said)
    assert block.picture[:4] == b"\x89PNG"
    json.dumps(block.data)


def test_with_one_round_there_is_no_error_yet():
    block = show_agreement.errors(study(coaches=("ab",), rounds=(1,)))
    assert block.picture is None
    assert "nobody has marked a second round yet" in block.words


@pytest.mark.parametrize("sign", [1, -1])
def test_the_bias_is_told_from_whoever_reads_higher(sign):
    first, second = np.array([10.0, 14, 19, 12]), np.array([8.0, 13, 15, 11])
    a, b = (first, second) if sign > 0 else (second, first)
    names = ("ab", "cd") if sign > 0 else ("cd", "ab")
    block = show_agreement.apart([agreement(a, b)], names)
    assert "On average ab reads 2.0 % (-0.3 to 4.3) higher than cd." in block.words
    assert block.data["points"][0] == [9.0, 2.0 * sign]
    shapes, _ = apart_shapes(block.data)
    assert sum(isinstance(s, Ring) for s in shapes) == 4
    assert any(isinstance(s, Words) and s.text == f"{names[0]} minus {names[1]} [%]" for s in shapes)


def test_differences_that_are_all_the_same_can_be_drawn():
    block = show_agreement.apart([agreement([1.0, 1.0, 1.0], [1.0, 1.0, 1.0])], ("ab", "cd"))
    assert block.picture[:4] == b"\x89PNG"


def test_without_a_second_coach_every_block_says_how_to_have_one():
    for block in (show_agreement.apart((), ("ab", "")), show_agreement.verdicts(None)):
        assert block.words == show_agreement.NO_SECOND
        assert block.picture is None
    assert "Fewer than two strokes" in show_agreement.apart([agreement([1.0], [1.0])], ("ab", "cd")).words


def test_verdicts_come_with_interval_prevalence_and_a_warning_where_one_word_rules():
    even = show_agreement.verdicts(cohen_kappa([[10, 2], [3, 15]], categories=("within", "outside")))
    assert "kappa 0.66 (0.38 to 0.93)" in even.words
    assert "said: within 42 %, outside 58 %" in even.words
    assert "pulls kappa down" not in even.words
    ruled = show_agreement.verdicts(cohen_kappa([[16, 1], [1, 0]], categories=("within", "outside")))
    assert "pulls kappa down; with all verdicts as common it would be 0.78" in ruled.words
    assert "Only 18 verdicts" in ruled.words


def test_the_whole_notebook_stays_at_the_desk():
    import nbformat

    from casebook.resources import shipped

    notebook = nbformat.read(shipped("notebooks") / "15_my_marking.ipynb", as_version=4)
    assert all(HIDE & set(cell.metadata.get("tags", [])) for cell in notebook.cells)
