"""Planted faults are found and clean swimmers come back clean, over all checkpoints, from marks with a hand's error.

The bands are those of a distance swimmer (coach's practice, no source). The printed lines give sensitivity for each
fault and specificity over clean swimmers.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from demo_shots import filmed

from casebook.checkpoints.answers import near_side
from casebook.checkpoints.bands import load_bands
from casebook.checkpoints.measure import VIEWS_FOR, BodyFacts, measure
from casebook.checkpoints.seen import faults_in
from casebook.demo.swimmer import Swimmer
from casebook.plane.measured import Measured

BANDS = load_bands("distance")
#: Five bodies; none shares a beat with 60 pictures a second.
CLEAN = [
    Swimmer(stature_m=s, rate=r, pitch=3.5, depth=0.11, breathing="none", variation=0.5, seed=k)
    for k, (s, r) in enumerate([(1.78, 41.3), (1.66, 43.9), (1.86, 38.7), (1.72, 42.1), (1.80, 40.2)])
]
#: What is planted in the demo swimmer, the view in which it is looked for, the faults of which one must show, and in
#: how many of three. A hand on the midline lies within the doubt about the camera's own place.
PLANTED = {
    "dropped elbow": ({"dropped_elbow": 1.0}, "side_under", {"dropped_elbow"}, 3),
    "straight arm": ({"straight_arm": 1.0}, "side_under", {"straight_arm", "late_catch"}, 3),
    "late hand": ({"late_hand": 1.0, "early_forearm": 0.4}, "side_under", {"late_catch"}, 3),
    "crossing hand": ({"crossover": 1.0}, "front_under", {"crosses_at_entry"}, 2),
    "feet apart on the breath": ({"scissor": 1.0, "breathing": "r"}, "rear_under", {"scissor"}, 3),
    "lifted head": ({"head_lift": 1.0}, "side_under", {"head_up", "legs_sink", "body_steep"}, 3),
}


def shown(swimmer, view, seed):
    """Keys of all faults that show in one view, whatever the checkpoint."""
    shot, marks, plane, _ = filmed(swimmer, view, seconds=5.0, sigma=2.0, seed=seed)
    near = near_side(shot)
    facts = BodyFacts(body_length=Measured(swimmer.stature_m, 0.01), distance=Measured(3.6, 0.4))
    found = set()
    for checkpoint, views in VIEWS_FOR.items():
        if view in views:
            result = measure(checkpoint, shot, marks, plane, bands=BANDS, facts=facts)
            found |= {s.fault.key for s in faults_in(checkpoint, result, sides=(near,) if near else ("l", "r"))}
    return found


@pytest.mark.parametrize("view", ["side_under", "front_under", "rear_under"])
def test_clean_swimmers_come_back_clean(view):
    seen = {k: shown(swimmer, view, seed=k) for k, swimmer in enumerate(CLEAN[:4])}
    alarms = {k: keys for k, keys in seen.items() if keys}
    print(f"\n{view}: {len(seen) - len(alarms)} of {len(seen)} clean swimmers come back clean; {alarms or ''}")
    assert not alarms


@pytest.mark.parametrize("fault", PLANTED)
def test_a_planted_fault_is_found(fault):
    amounts, view, wanted, least = PLANTED[fault]
    seen = [shown(replace(swimmer, **amounts), view, seed=k) for k, swimmer in enumerate(CLEAN[:3])]
    found = sum(bool(keys & wanted) for keys in seen)
    print(f"\n{fault}, {view}: found in {found} of {len(seen)}; {seen}")
    assert found >= least
