"""Agreement on the first thing against published tables, from files of votes to the figure."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from source_tables import numbers, rows

from casebook.checkpoints.choices import Choice
from casebook.checkpoints.first_agreement import first_agreement, share_of
from casebook.checkpoints.votes import VOTES, read_votes, write_lists
from casebook.marks.folder_table import table_text
from casebook.marks.group_kappa import group_kappa

DIAGNOSES = numbers("fleiss_1971_diagnoses.csv")
COUNTS = np.array([[int(row[f"c{k}"]) for k in range(1, 6)] for row in DIAGNOSES])


@pytest.fixture(scope="module")
def clinic(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The thirty patients as cases and the six raters as coaches who handed in a file each."""
    folder = tmp_path_factory.mktemp("clinic")
    choices = [Choice(k + 1, f"c{k + 1}", f"diagnosis {k + 1}") for k in range(5)]
    write_lists(folder, choices, {f"patient {n + 1}": "c1" for n in range(len(COUNTS))})
    said = np.array([np.repeat(np.arange(5), row) for row in COUNTS])
    for rater in range(said.shape[1]):
        votes = [(f"patient {n + 1}", int(k) + 1) for n, k in enumerate(said[:, rater])]
        path = folder / VOTES / f"rater {rater}.csv"
        path.parent.mkdir(exist_ok=True)
        path.write_text(table_text(("case", "choice"), votes), "utf-8")
    return folder


def test_six_raters_and_thirty_patients_from_their_files(clinic):
    """Fleiss 1971, Psychol Bull 76:378-382: kappa 0.430, the mean share of pairs that agree 0.5556 and chance 0.2201
    (printed .556 and .220, from memory); kappa 0.4302445 as the R package irr prints it."""
    votes = read_votes(clinic)
    found = first_agreement(votes.counted, votes.choices, votes.ballots)
    assert votes.participants == 6 and not votes.problems
    assert found.together.value.value == pytest.approx(0.4302445, abs=5e-8)
    assert (found.together.agreement, found.together.chance) == pytest.approx((0.5556, 0.2201), abs=5e-4)
    assert np.mean([c.pairs.value for c in found.cases]) == pytest.approx(found.together.agreement, abs=1e-12)


def test_kappa_of_each_case_sets_even_guessing_apart(clinic):
    """Brennan & Prediger 1981: (P - 1/k) / (1 - 1/k); by hand for patient 2, 3 and 3 of 6: P = 12/30, so 0.25."""
    votes = read_votes(clinic)
    second = first_agreement(votes.counted, votes.choices).cases[1]
    assert second.pairs.value == pytest.approx(0.4) and second.beyond_guessing.value == pytest.approx(0.25)


@pytest.mark.parametrize(
    "row", [r for r in rows("seabold_2010_kappa.csv") if r["weights"] == "none"], ids=lambda r: r["case"]
)
def test_a_group_of_one_against_a_reference_is_two_judges(row):
    """With one judge in the group it is Cohen's kappa: the values that SAS and irr print."""
    if row["case"] == "sas":
        table = np.array([[0, 4, 1], [0, 8, 0], [0, 1, 5]])
        pairs = [(i, j) for i in range(3) for j in range(3) for _ in range(table[i, j])]
    else:
        grades = [(int(r["r2"]), int(r["r3"])) for r in _anxiety()]
        pairs = [(a - 1, b - 1) for a, b in grades]
    k = 1 + max(max(p) for p in pairs)
    counts = np.eye(k)[[b for _, b in pairs]]
    found = group_kappa(counts, [a for a, _ in pairs])
    assert found.value.value == pytest.approx(float(row["kappa"]), abs=5e-5)
    assert found.n == len(pairs)


def _anxiety() -> list[dict[str, float]]:
    table = numbers("gamer_2012_anxiety.csv")
    names = list(table[0])
    return [{f"r{k}": row[name] for k, name in enumerate(names[-3:], 1)} for row in table]


@pytest.mark.parametrize(
    ("k", "n", "low", "high"),
    [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718)],
)
def test_interval_of_a_share(k, n, low, high):
    """Newcombe 1998, Stat Med 17:857-872, table I, the score method without correction; from memory."""
    assert (share_of(k, n).low, share_of(k, n).high) == pytest.approx((low, high), abs=5e-5)


def test_an_interval_over_the_cases_holds_the_truth_about_as_often_as_it_says():
    """Simulated rooms: 15 coaches who find the reference in 6 of 10, over 8 cases; what they would do over all cases is
    known, and 95 % intervals hold it in 88 to 99 % of 300 rooms."""
    rng = np.random.default_rng(3)
    k, n, m, p = 6, 8, 15, 0.6
    chances = np.full((k, k), (1 - p) / (k - 1)) + np.eye(k) * (p - (1 - p) / (k - 1))
    truth = (p - 1 / k) / (1 - 1 / k)
    held = []
    for _ in range(300):
        reference = rng.integers(0, k, n)
        counts = np.array([rng.multinomial(m, chances[r]) for r in reference])
        found = group_kappa(counts, reference.tolist())
        held.append(found.value.low <= truth <= found.value.high)
    assert 0.88 <= np.mean(held) <= 0.99


def test_nobody_and_one_word_only():
    assert math.isnan(group_kappa(np.zeros((2, 3)), [0, 1]).value.value)
    assert math.isnan(group_kappa([[3, 0], [3, 0]], [0, 0]).value.value)
