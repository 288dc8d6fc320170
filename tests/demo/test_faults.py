"""Each fault of the demo swimmer moves its own measures, and leaves the others."""

from __future__ import annotations

import pytest

from casebook.demo.faults import EFFECTS, LIMITS, changes, fault_table, signature
from casebook.demo.swimmer import FAULTS, Swimmer

BODIES = {"plain": Swimmer(), "small and quick": Swimmer(stature_m=1.62, rate=56.0, breathing="l", roll=34.0)}
EACH = pytest.mark.parametrize("body", BODIES.values(), ids=BODIES.keys())


def test_every_fault_has_its_table():
    assert set(EFFECTS) == set(FAULTS)
    for effect in EFFECTS.values():
        assert effect.must and set(effect.must) | set(effect.may) <= set(LIMITS)
    assert set(signature(Swimmer())) == set(LIMITS)


@EACH
@pytest.mark.parametrize("fault", FAULTS)
def test_a_fault_moves_what_it_must_and_leaves_what_it_must_leave(fault, body):
    effect, change = EFFECTS[fault], changes(body, fault)
    for name, least in effect.must.items():
        assert change[name] / least >= 1.0, f"{name} moved by {change[name]:.3f}, wanted {least}"
    for name, limit in LIMITS.items():
        if name not in effect.must and name not in effect.may:
            assert abs(change[name]) <= limit, f"{name} moved by {change[name]:.3f}"


@pytest.mark.parametrize("fault", FAULTS)
def test_half_a_fault_moves_the_same_way_but_less(fault):
    half, whole = changes(Swimmer(), fault, 0.5), changes(Swimmer(), fault)
    for name, least in EFFECTS[fault].must.items():
        assert 0 < half[name] / least < whole[name] / least


def test_the_crossing_hand_crosses_the_middle_and_the_plain_one_does_not():
    assert signature(Swimmer())["hand_beside_midline_m"] > 0.1
    assert signature(Swimmer(crossover=1.0))["hand_beside_midline_m"] < -0.05


def test_the_table_names_every_fault_and_quantity():
    text = fault_table(Swimmer())
    assert all(name in text for name in (*EFFECTS, *LIMITS))
