"""Tables that a spreadsheet opens: every number is a number, and no text is ever a formula."""

from __future__ import annotations

import csv
import io
import math
from dataclasses import replace
from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from invented_catch import ELBOW, HAND, InventedCatch, invented_desk

from casebook.case.overview import Answer
from casebook.pages.tables import FINDINGS, SCHEMA, STROKES, cell, csv_text, findings_csv, strokes_csv

#: What a spreadsheet takes for the beginning of a formula, and the wide forms of the same signs.
DANGEROUS = "=+-@\t\r\n\uff1d\uff0b\uff0d\uff20"
numbers = st.floats(-1e6, 1e6, allow_nan=False) | st.integers(-(10**9), 10**9)


def read(text: str) -> list[list[str]]:
    return list(csv.reader(io.StringIO(text, newline=""), strict=True))


def table(found: object, make: object) -> list[dict[str, str]]:
    rows = read(make(found))  # type: ignore[operator]
    return [dict(zip(rows[0], row, strict=True)) for row in rows[1:]]


@given(
    st.lists(
        st.tuples(st.text(st.characters(blacklist_categories=("Cs",))), st.text(DANGEROUS + "1a ,\"'")), max_size=6
    )
)
def test_any_text_comes_back_and_none_begins_a_formula(rows):
    (head, *back) = read(csv_text(("a", "b"), rows))
    assert head == ["schema", "a", "b"] and len(back) == len(rows)
    for told, given_row in zip(back, rows, strict=True):
        assert told[0] == str(SCHEMA)
        for out, text in zip(told[1:], given_row, strict=True):
            assert out.removeprefix("'") == text.removeprefix("'")
            assert out[:1] not in DANGEROUS or not out


@given(st.lists(numbers, min_size=1, max_size=8))
def test_numbers_stay_numbers_below_zero_too(values):
    (_, row) = read(csv_text([f"c{k}" for k in range(len(values))], [values]))
    for out, value in zip(row[1:], values, strict=True):
        assert float(out) == pytest.approx(value, abs=1e-6)


def test_what_is_missing_is_an_empty_cell():
    assert [cell(v) for v in (None, math.nan, math.inf, "")] == ["", "", "", ""]


def test_lines_end_and_quotes_double_as_the_standard_has_it():
    """RFC 4180, section 2: CRLF after each line, quotes inside a quoted cell doubled."""
    assert csv_text(("a",), [['x "y", z']]) == 'schema,a\r\n1,"x ""y"", z"\r\n'


@pytest.fixture(scope="module")
def found(tmp_path_factory):
    desk = invented_desk(tmp_path_factory.mktemp("case"), alias="=HYPERLINK(1)", shots=("rowan_side",))
    return SimpleNamespace(answers=(Answer("catch", desk, InventedCatch(), ("r",)),))


def test_every_finding_stands_with_both_intervals_and_what_it_rests_on(found):
    rows = table(found, findings_csv)
    assert set(rows[0]) == {"schema", *FINDINGS}
    hand = next(r for r in rows if r["quantity"] == "hand_ahead_pct")
    assert float(hand["value"]) == pytest.approx(sum(HAND) / len(HAND), abs=1e-6)
    assert float(hand["these_low"]) < float(hand["value"]) < float(hand["these_high"]) < float(hand["habit_high"])
    assert (hand["unit"], hand["verdict"], hand["n_strokes"]) == ("% of arm length", "outside", str(len(HAND)))
    assert (hand["band_low"], hand["band_high"]) == ("20.0", "")
    assert hand["band_source"] == "common practice, no source"
    assert (hand["decision"], hand["frames"]) == ("work on now", "10 20 30")


def test_what_was_not_measured_says_why_and_holds_no_number(found):
    gap = next(r for r in table(found, findings_csv) if r["quantity"] == "upper_arm_turn_deg")
    assert gap["value"] == gap["these_low"] == gap["verdict"] == ""
    assert gap["not_measured"].startswith("The hip is hidden.")


def test_every_stroke_has_a_row_with_its_two_errors(found):
    rows = table(found, strokes_csv)
    assert set(rows[0]) == {"schema", *STROKES}
    elbow = [r for r in rows if r["quantity"] == "elbow_height_pct"]
    assert [float(r["value"]) for r in elbow] == list(ELBOW)
    assert {(r["sigma_own"], r["sigma_shared"], r["shot"]) for r in elbow} == {("1.2", "0.8", "1")}


def test_passes_of_one_swim_stand_by_their_shots(found):
    answer = found.answers[0]
    hand = answer.result.results[0]
    other = [replace(s, shot="rowan_side_2", frames=(99,)) for s in hand.strokes[2:]]
    result = InventedCatch((replace(hand, strokes=(*hand.strokes[:2], *other), frames=(20, 99)),))
    answer.desk.case.shots = ("rowan_side", "rowan_front", "rowan_side_2")
    pooled = SimpleNamespace(answers=(replace(answer, result=result),))
    (row,) = table(pooled, findings_csv)
    assert (row["shots"], row["frames"]) == ("1 3", "20")
    assert [r["shot"] for r in table(pooled, strokes_csv)] == ["1", "1", "3", "3", "3"]


def test_an_alias_that_would_be_a_formula_is_a_text(found):
    assert all(r["swimmer"] == "'=HYPERLINK(1)" for r in table(found, findings_csv) + table(found, strokes_csv))


def test_no_name_of_a_clip_or_shot_is_told(found):
    """A shot is called after its file, and a file may be called after a person."""
    assert "rowan_side" not in findings_csv(found) + strokes_csv(found)
