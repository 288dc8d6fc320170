"""Reliability, limits of agreement and kappa against published tables. Each table names its source in tests/sources."""

from __future__ import annotations

import numpy as np
import pytest
from source_tables import numbers, rows

from casebook.marks.intraclass import intraclass
from casebook.marks.kappa import cohen_kappa, fleiss_kappa, table_of
from casebook.marks.reliability import limits_of_agreement, typical_error, within_sd

PEOPLE = numbers("bland_1986_peak_flow.csv")
LARGE, MINI = (np.array([[row[f"{meter}_1"], row[f"{meter}_2"]] for row in PEOPLE]) for meter in ("large", "mini"))


def ratings(name: str, columns: int) -> np.ndarray:
    return np.array([list(row.values())[1 : 1 + columns] for row in numbers(name)])


def test_the_six_forms_on_the_table_of_the_paper():
    """Shrout & Fleiss 1979: printed .17, .29, .71 and up to .91; digits and mean squares worked out apart from us."""
    got = intraclass(ratings("shrout_1979_ratings.csv", 4))
    forms = [e.value for e in (got.one, got.two, got.three, got.one_k, got.two_k, got.three_k)]
    assert [round(v, 2) for v in forms[:3]] == [0.17, 0.29, 0.71]
    assert forms == pytest.approx([0.1657, 0.2898, 0.7148, 0.4428, 0.6201, 0.9093], abs=5e-5)
    assert (got.between, got.within, got.judges, got.error) == pytest.approx((11.242, 6.264, 32.486, 1.019), abs=5e-4)


def test_intervals_of_the_six_forms():
    """As the ICC function of the R package psych prints them for the same table; from memory."""
    got = intraclass(ratings("shrout_1979_ratings.csv", 4))
    ends = [(e.low, e.high) for e in (got.one, got.two, got.three, got.one_k, got.two_k, got.three_k)]
    printed = [(-0.133, 0.72), (0.019, 0.76), (0.342, 0.95), (-0.884, 0.91), (0.071, 0.93), (0.676, 0.99)]
    for (low, high), (low_printed, high_printed) in zip(ends, printed, strict=True):
        assert low == pytest.approx(low_printed, abs=5e-4)
        assert high == pytest.approx(high_printed, abs=5e-3)


def test_the_two_errors_of_measurement_differ_by_the_judges():
    """Weir 2005, J Strength Cond Res 19:231-240, formulas; worked by hand on the same table: 1.010 and 2.503."""
    got = intraclass(ratings("shrout_1979_ratings.csv", 4))
    assert (got.sem_consistency, got.sem_agreement) == pytest.approx((1.010, 2.503), abs=5e-4)


def test_wines_and_their_judges():
    """Values and mean squares worked out apart from us; intervals [.43, .93] and [.75, .98] as the package's manual
    prints them, from memory."""
    got = intraclass(ratings("pingouin_2018_wines.csv", 4))
    forms = [e.value for e in (got.one, got.two, got.three, got.one_k, got.two_k, got.three_k)]
    assert forms == pytest.approx([0.7275, 0.7277, 0.7295, 0.9144, 0.9145, 0.9152], abs=5e-5)
    assert (got.between, got.within, got.judges, got.error) == pytest.approx((26.888, 2.302, 2.448, 2.281), abs=5e-4)
    assert (got.one.low, got.one.high) == pytest.approx((0.43, 0.93), abs=5e-3)
    assert (got.one_k.low, got.one_k.high) == pytest.approx((0.75, 0.98), abs=5e-3)


def test_limits_of_agreement_of_two_meters():
    """Bland & Altman 1986, first readings: bias -2.1, SD 38.8 l/min as printed; the limits with 1.96 SD as re-used."""
    got = limits_of_agreement(LARGE[:, 0], MINI[:, 0])
    assert (got.bias.value, got.sd) == pytest.approx((-2.118, 38.765), abs=5e-4)
    assert (got.low.value, got.high.value) == pytest.approx((-78.10, 73.86), abs=5e-3)
    assert got.n == 17


def test_limits_of_two_standard_deviations_and_their_intervals():
    """The paper's own factor of 2: bias -22.0 to 17.8, limits -114 to -45 and 41 to 110 (printed whole, from memory;
    decimals worked out apart from us)."""
    got = limits_of_agreement(LARGE[:, 0], MINI[:, 0], spread=2.0)
    assert (got.low.value, got.high.value) == pytest.approx((-79.65, 75.41), abs=5e-3)
    assert (got.bias.low, got.bias.high) == pytest.approx((-22.05, 17.81), abs=5e-3)
    ends = (got.low.low, got.low.high, got.high.low, got.high.high)
    assert ends == pytest.approx((-114.2, -45.1, 40.9, 109.9), abs=0.05)


def test_replicates_put_their_spread_back():
    """The paper corrects the 33.2 l/min of the means' differences to 37.7; from memory. By its formula:
    sqrt(33.2^2 + 21.6^2 / 4 + 28.2^2 / 4), the last two the standard deviations of the replicates' differences."""
    got = limits_of_agreement(LARGE, MINI)
    assert (LARGE.mean(1) - MINI.mean(1)).std(ddof=1) == pytest.approx(33.2, abs=0.05)
    assert got.sd == pytest.approx(37.7, abs=0.05)
    assert got.bias.value == pytest.approx((LARGE - MINI).mean())


@pytest.mark.parametrize(
    ("meter", "within", "paper"),
    # Within-subject SD worked out apart from us; the paper's coefficients 43.2 and 56.4 from memory (it rounds on the
    # way: 43.29 and 56.32).
    [("large", 15.31, 43.2), ("mini", 19.91, 56.4)],
)
def test_repeatability_of_a_meter(meter, within, paper):
    got = within_sd(LARGE if meter == "large" else MINI)
    assert got.sd.value == pytest.approx(within, abs=5e-3)
    # The paper takes 2 standard deviations of the difference.
    assert 2 * np.sqrt(2) * got.sd.value == pytest.approx(paper, abs=0.15)


def test_typical_error_and_smallest_change_of_a_meter():
    """Hopkins 2000, Weir 2005, formulas; worked on the large meter: 15.36 and 42.43 l/min."""
    assert typical_error(LARGE[:, 0], LARGE[:, 1]).sd.value == pytest.approx(15.36, abs=5e-3)
    assert within_sd(LARGE).smallest_change.value == pytest.approx(42.43, abs=5e-3)


@pytest.mark.parametrize("row", rows("seabold_2010_kappa.csv"), ids=lambda row: f"{row['case']} {row['weights']}")
def test_kappa_as_two_statistics_programs_print_it(row):
    if row["case"] == "sas":
        table = np.array([[0, 4, 1], [0, 8, 0], [0, 1, 5]])
    else:
        both = ratings("gamer_2012_anxiety.csv", 3)[:, 1:]
        grades, table, _ = table_of(both[:, 0].tolist(), both[:, 1].tolist())
        assert 5.0 not in grades
    got = cohen_kappa(table, row["weights"])
    own = {"kappa": got.value.value, "ase": got.se, "low": got.value.low, "high": got.value.high,
           "ase_null": got.se_null, "z": got.z}  # fmt: skip
    for key, value in own.items():
        if row[key]:
            digits = len(row[key].partition(".")[2])
            assert value == pytest.approx(float(row[key]), abs=0.51 * 10.0**-digits), key


def test_kappa_with_all_grades_of_the_scale_is_another():
    """The scale has six grades: with the unused one counted in, weights change (worked out apart from us)."""
    both = ratings("gamer_2012_anxiety.csv", 3)[:, 1:]
    _, table, _ = table_of(both[:, 0].tolist(), both[:, 1].tolist(), [1.0, 2.0, 3.0, 4.0, 5.0, 6.0])
    assert cohen_kappa(table, "linear").value.value == pytest.approx(0.1262, abs=5e-5)
    assert cohen_kappa(table, "squared").value.value == pytest.approx(0.2298, abs=5e-5)


@pytest.mark.parametrize(
    ("table", "agreement", "kappa"),
    # Textbook tables: the second and third agree as often and differ in prevalence alone (worked by hand).
    [
        ([[20, 5], [10, 15]], 0.70, 0.400),
        ([[45, 15], [25, 15]], 0.60, 0.130),
        ([[25, 35], [5, 35]], 0.60, 0.259),
    ],
)
def test_kappa_of_two_words(table, agreement, kappa):
    got = cohen_kappa(table)
    assert got.agreement == pytest.approx(agreement)
    assert got.value.value == pytest.approx(kappa, abs=5e-4)


def test_kappa_of_fourteen_raters():
    table = numbers("seabold_2010_fourteen_raters.csv")
    counts = np.array([[row[f"c{i}"] for i in range(1, 6)] for row in table])
    got = fleiss_kappa(counts)
    assert got.value.value == pytest.approx(0.210, abs=5e-4)
    assert got.agreement == pytest.approx(np.mean([row["agreeing"] for row in table]), abs=5e-4)


def test_kappa_of_six_raters_and_its_error_under_chance():
    """R package irr: kappa 0.4302445, z 17.65183, the latter by the error of Fleiss, Nee & Landis 1979."""
    counts = np.array([[row[f"c{i}"] for i in range(1, 6)] for row in numbers("fleiss_1971_diagnoses.csv")])
    got = fleiss_kappa(counts)
    assert got.value.value == pytest.approx(0.4302445, abs=5e-8)
    assert got.z == pytest.approx(17.65183, abs=5e-6)
