"""Errors of angles against random draws, a general uncertainty library, and worked numbers."""

from __future__ import annotations

import math

import numpy as np
import pytest
from source_tables import numbers

from casebook.plane.geometry import angle_sigma_deg, inclination_deg, inclination_sigma_deg, joint_angle_deg
from casebook.plane.propagate import first_order, jacobian

CASES = numbers("taylor_1997_angle_errors.csv")
JOINTS = [r for r in CASES if r["l2_m"]]


def arm(row: dict[str, float]) -> np.ndarray:
    """Three points (3, 2) with the joint in the origin, turned by an odd angle."""
    first, second = math.radians(17), math.radians(17 + row["angle_deg"])
    return np.array(
        [
            [row["l1_m"] * math.cos(first), row["l1_m"] * math.sin(first)],
            [0, 0],
            [row["l2_m"] * math.cos(second), row["l2_m"] * math.sin(second)],
        ]
    )


def of_rows(x: np.ndarray) -> np.ndarray:
    p = x.reshape(-1, 3, 2)
    return joint_angle_deg(p[:, 0], p[:, 1], p[:, 2])


@pytest.mark.parametrize("row", JOINTS)
def test_closed_form_matches_the_worked_numbers(row):
    # Half the last digit.
    assert angle_sigma_deg(*arm(row), row["sigma_m"]) == pytest.approx(row["sigma_deg"], abs=5.1e-4)
    assert angle_sigma_deg(*arm(row), row["sigma_m"]) == pytest.approx(row["random_draws_deg"], rel=0.01)


def test_inclination_error_matches_the_worked_number():
    row = next(r for r in CASES if not r["l2_m"])
    assert inclination_sigma_deg([0, 0], [0, -row["l1_m"]], row["sigma_m"]) == pytest.approx(
        row["sigma_deg"], abs=5.1e-4
    )


@pytest.mark.parametrize("row", JOINTS)
def test_closed_form_and_jacobian_match_random_draws(row):
    random = np.random.default_rng(20)
    draws = arm(row) + random.normal(0, row["sigma_m"], (200_000, 3, 2))
    spread = joint_angle_deg(draws[:, 0], draws[:, 1], draws[:, 2]).std()
    by_jacobian = first_order(jacobian(of_rows, arm(row).ravel()), np.full(6, row["sigma_m"] ** 2))
    # 200,000 draws know a standard deviation to 0.16 %; near a straight arm the second order adds up to 0.5 %.
    assert angle_sigma_deg(*arm(row), row["sigma_m"]) == pytest.approx(spread, rel=0.01)
    assert math.sqrt(by_jacobian[0, 0]) == pytest.approx(spread, rel=0.01)


@pytest.mark.parametrize("row", JOINTS)
@pytest.mark.parametrize("sigmas", [(1.0, 1.0, 1.0), (0.5, 2.0, 1.0), (3.0, 0.1, 1.0)])
def test_joint_angle_error_matches_the_general_library(row, sigmas):
    # Source: package "uncertainties", linear propagation by automatic differentiation.
    uncertainties = pytest.importorskip("uncertainties")
    from uncertainties import umath

    s = [row["sigma_m"] * k for k in sigmas]
    (ax, ay), (bx, by), (cx, cy) = (
        [uncertainties.ufloat(v, sigma) for v in p] for p, sigma in zip(arm(row), s, strict=True)
    )
    u, v = (ax - bx, ay - by), (cx - bx, cy - by)
    theirs = umath.degrees(umath.atan2(u[0] * v[1] - u[1] * v[0], u[0] * v[0] + u[1] * v[1]))
    assert angle_sigma_deg(*arm(row), *s) == pytest.approx(theirs.s, rel=1e-9)
    assert joint_angle_deg(*arm(row)) == pytest.approx(theirs.n, rel=1e-12)
    by_jacobian = first_order(jacobian(of_rows, arm(row).ravel()), np.repeat(np.square(s), 2))
    assert math.sqrt(by_jacobian[0, 0]) == pytest.approx(theirs.s, rel=1e-6)


def test_correlated_errors_match_the_general_library():
    # Source: package "uncertainties", correlated_values.
    uncertainties = pytest.importorskip("uncertainties")
    from uncertainties import umath

    covariance = np.array([[4.0, 1.0, 2.0, 0], [1.0, 3.0, 0, 0.5], [2.0, 0, 5.0, 0], [0, 0.5, 0, 2.0]])
    at = np.array([100.0, 200.0, 180.0, 120.0])
    ax, az, bx, bz = uncertainties.correlated_values(at, covariance)
    theirs = umath.degrees(umath.atan2(-(bz - az), bx - ax))
    jac = jacobian(lambda x: inclination_deg(x[:, :2], x[:, 2:]), at)
    assert math.sqrt(first_order(jac, covariance)[0, 0]) == pytest.approx(theirs.s, rel=1e-7)
    assert inclination_deg(at[:2], at[2:]) == pytest.approx(theirs.n, rel=1e-12)


def test_students_t_matches_printed_tables():
    # Source: any printed table of t, two-sided 95 %: 12.706 (1), 4.303 (2), 3.182 (3), 2.120 (16), 1.980 (120).
    from casebook.plane.propagate import t95

    np.testing.assert_allclose(t95([1, 2, 3, 16, 120]), [12.706, 4.303, 3.182, 2.120, 1.980], atol=5e-4)
