"""What must hold of agreement whatever the readings: bounds, symmetries, missing values, how often intervals hold."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from casebook.errors import MarksError
from casebook.marks.intraclass import intraclass
from casebook.marks.kappa import WEIGHTS, cohen_kappa, fleiss_kappa, table_of
from casebook.marks.reliability import limits_of_agreement, mean_estimate, typical_error, within_sd

READINGS = st.floats(-100, 100, allow_nan=False, width=32)


def tables(k=3):
    return arrays(np.int64, (k, k), elements=st.integers(0, 12)).filter(
        lambda t: (t.sum(0) + t.sum(1) > 0).sum() > 1 and t.sum() > 1
    )


@given(arrays(float, st.tuples(st.integers(2, 12), st.just(2)), elements=READINGS))
def test_of_two_rounds_the_within_error_is_the_typical_error_and_the_shift(x):
    n, d = len(x), x[:, 0] - x[:, 1]
    typical, within = typical_error(x[:, 0], x[:, 1]).sd.value, within_sd(x).sd.value
    assert n * within**2 == pytest.approx((n - 1) * typical**2 + n * d.mean() ** 2 / 2, rel=1e-9, abs=1e-9)


@given(arrays(float, st.tuples(st.integers(3, 12), st.just(2)), elements=READINGS), READINGS, st.floats(0.1, 9))
def test_limits_move_and_stretch_with_the_readings(x, shift, factor):
    one, other = limits_of_agreement(x[:, 0], x[:, 1]), limits_of_agreement(factor * x[:, 0] + shift, factor * x[:, 1])
    for a, b in ((one.bias, other.bias), (one.low, other.low), (one.high, other.high)):
        assert b.value == pytest.approx(factor * a.value + shift, rel=1e-6, abs=1e-6)
    turned = limits_of_agreement(x[:, 1], x[:, 0])
    assert (turned.low.value, turned.high.value) == pytest.approx((-one.high.value, -one.low.value), abs=1e-9)


@given(arrays(float, st.tuples(st.integers(3, 12), st.integers(2, 4)), elements=READINGS), READINGS, st.floats(0.1, 9))
def test_intraclass_stays_in_its_bounds_and_knows_no_unit(x, shift, factor):
    k = x.shape[1]
    got = intraclass(x)
    assume(got.error > 1e-6 and got.within > 1e-6)
    for e in (got.one, got.three):
        assert -1 / (k - 1) - 1e-9 <= e.value <= 1 + 1e-9
        assert e.low <= e.value + 1e-9 <= e.high + 2e-9
    other = intraclass(factor * x + shift)
    assert other.two.value == pytest.approx(got.two.value, abs=1e-5)
    # Judges apart by a constant change agreement and not consistency.
    assert intraclass(x + 50 * np.arange(k)).three.value == pytest.approx(got.three.value, abs=1e-4)


@given(tables(), st.permutations(range(3)))
def test_kappa_does_not_know_the_names_of_the_words(table, order):
    one, other = cohen_kappa(table), cohen_kappa(table[np.ix_(order, order)])
    assert other.value.value == pytest.approx(one.value.value, abs=1e-12)
    assert other.se == pytest.approx(one.se, abs=1e-12)


@given(tables(), st.sampled_from(WEIGHTS))
def test_kappa_treats_both_judges_alike_and_never_passes_one(table, weights):
    one, other = cohen_kappa(table, weights), cohen_kappa(table.T, weights)
    assume(np.isfinite(one.value.value))
    assert other.value.value == pytest.approx(one.value.value, abs=1e-12)
    assert -1 <= one.value.low <= one.value.value <= one.value.high <= 1


@given(tables(2))
def test_with_two_words_weights_change_nothing(table):
    each = [cohen_kappa(table, w).value.value for w in WEIGHTS]
    assert each == pytest.approx([each[0]] * 3, abs=1e-12, nan_ok=True)


@given(st.lists(st.sampled_from("abc"), min_size=3, max_size=15), st.integers(0, 2))
def test_two_judges_by_the_way_of_many(words, turn):
    """Fleiss' kappa of two judges who use all words equally often is Cohen's."""
    second = words[turn:] + words[:turn]
    assume(len(set(words)) > 1)
    names, table, _ = table_of(words, second)
    counts = np.array([[(a == w) + (b == w) for w in names] for a, b in zip(words, second, strict=True)])
    assert fleiss_kappa(counts).value.value == pytest.approx(cohen_kappa(table).value.value, abs=1e-12)


def test_missing_readings_are_left_out_and_counted():
    x = np.array([[1.0, 2.0, 4.0], [3.0, np.nan, 5.0], [np.nan, 1.0, np.nan], [4.0, 4.5, 6.0], [9.0, 8.0, 8.5]])
    assert intraclass(x).left_out == 2
    assert intraclass(x).three.value == pytest.approx(intraclass(x[[0, 3, 4]]).three.value)
    assert (within_sd(x).n, within_sd(x).dof, within_sd(x).left_out) == (4, 7, 1)
    assert typical_error(x[:, 0], x[:, 1]).left_out == 2
    got = limits_of_agreement(x[:, 0], x[:, 2])
    assert (got.n, got.left_out) == (4, 1)
    _, table, left_out = table_of(["a", None, "b", float("nan")], ["a", "a", "a", "b"])
    assert (table.sum(), left_out) == (2, 2)


def test_too_little_is_not_known_rather_than_sure():
    assert np.isnan(intraclass(np.array([[1.0, 2.0]])).two.value)
    assert np.isnan(limits_of_agreement([1.0], [2.0]).low.value)
    assert np.isnan(within_sd(np.array([[1.0, np.nan]])).sd.value)
    assert np.isnan(cohen_kappa([[7, 0], [0, 0]]).value.value)
    assert np.isnan(cohen_kappa(np.zeros((2, 2))).value.value)
    assert np.isnan(fleiss_kappa(np.zeros((0, 3))).value.value)
    assert np.isnan(mean_estimate([]).value)


def test_full_agreement_on_few_things_is_no_certainty():
    few, many = cohen_kappa([[3, 0], [0, 3]]), cohen_kappa([[60, 0], [0, 60]])
    assert few.value.value == many.value.value == 1
    assert few.value.low < 0.1
    # Clopper & Pearson: 120 of 120 means 97.0 % at least; of kappa, with chance at a half, 0.939.
    assert many.value.low == pytest.approx(0.939, abs=1e-3)


def test_wrong_shapes_say_what_is_wanted():
    for wrong in (
        lambda: typical_error([1, 2], [1]),
        lambda: limits_of_agreement([1, 2], [1]),
        lambda: intraclass([1, 2]),
        lambda: within_sd([1, 2]),
        lambda: cohen_kappa([[1, 2]]),
        lambda: cohen_kappa(np.eye(2), "cubed"),
        lambda: fleiss_kappa([1, 2]),
        lambda: table_of(["a"], ["a", "b"]),
        lambda: table_of(["a"], ["z"], ["a", "b"]),
    ):
        with pytest.raises(MarksError):
            wrong()


def test_intervals_hold_the_truth_as_often_as_they_say():
    """2,000 studies of 20 frames each: error known to be 2, judges 1.5 apart, places spread by 10."""
    rng = np.random.default_rng(3)
    n, studies = 20, 2000
    truth = rng.normal(0, 10, (studies, n, 1))
    x = truth + rng.normal(0, 2, (studies, n, 2)) + np.array([0.0, 1.5])
    held = np.zeros((studies, 4), bool)
    for i, one in enumerate(x):
        error, limits = typical_error(one[:, 0], one[:, 1]).sd, limits_of_agreement(one[:, 0], one[:, 1])
        consistency = intraclass(one).three
        held[i] = (
            error.low < 2 < error.high,
            limits.bias.low < -1.5 < limits.bias.high,
            limits.low.low < -1.5 - 1.959964 * 2 * np.sqrt(2) < limits.low.high,
            consistency.low < 100 / 104 < consistency.high,
        )
    # Three standard errors of a share of 95 % among 2,000: 1.5 %.
    np.testing.assert_allclose(held.mean(0), 0.95, atol=0.015)


def test_intervals_of_kappa_hold_the_truth_about_as_often_as_they_say():
    """1,000 pairs of judges of 60 and 120 clips; the truth from the table of chances itself. Normal intervals are a
    little short with few clips: 90 to 98 % is what we ask."""
    rng = np.random.default_rng(5)
    p = np.array([[0.40, 0.06, 0.04], [0.05, 0.15, 0.05], [0.02, 0.03, 0.20]])
    truth = {w: cohen_kappa(p * 1e6, w).value.value for w in WEIGHTS}
    for n in (60, 120):
        drawn = rng.multinomial(n, p.ravel(), 1000).reshape(-1, 3, 3)
        for w in WEIGHTS:
            got = [cohen_kappa(t, w).value for t in drawn]
            assert 0.90 <= np.mean([k.low < truth[w] < k.high for k in got]) <= 0.98


def test_intervals_of_many_judges_hold_the_truth_about_as_often_as_they_say():
    """600 studies of 40 things by 5 judges, who say the true word in 7 of 10 cases and else any of three."""
    rng = np.random.default_rng(6)
    chance = 0.7 + 0.3 / 3, 0.1, 0.1
    agree = chance[0] ** 2 + 2 * 0.1**2
    truth = (agree - 1 / 3) / (1 - 1 / 3)
    held = []
    for _ in range(600):
        word = rng.integers(0, 3, 40)
        said = np.where(rng.random((40, 5)) < 0.7, word[:, None], rng.integers(0, 3, (40, 5)))
        counts = (said[..., None] == np.arange(3)).sum(1)
        k = fleiss_kappa(counts).value
        held.append(k.low < truth < k.high)
    assert 0.90 <= np.mean(held) <= 0.98
