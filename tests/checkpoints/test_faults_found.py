"""Planted faults are found and clean swimmers come back clean, over all checkpoints, from marks with a hand's error.

Every fault parameter of the demo swimmer (``demo.swimmer.FAULTS``) is planted. The bands are those of a distance
swimmer (coach's practice, no source). The printed lines give sensitivity for each fault and specificity over clean
swimmers.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from demo_shots import filmed

from casebook.checkpoints.answers import near_side
from casebook.checkpoints.bands import load_bands
from casebook.checkpoints.measure import VIEWS_FOR, BodyFacts, measure
from casebook.checkpoints.seen import faults_in
from casebook.demo.cast import CAST
from casebook.demo.swimmer import FAULTS, Swimmer
from casebook.plane.measured import Measured

BANDS = load_bands("distance")
#: Five bodies; none shares a beat with 60 pictures a second.
CLEAN = [
    Swimmer(stature_m=s, rate=r, pitch=3.5, depth=0.11, breathing="none", variation=0.5, seed=k)
    for k, (s, r) in enumerate([(1.78, 41.3), (1.66, 43.9), (1.86, 38.7), (1.72, 42.1), (1.80, 40.2)])
]
#: Other kinds of swimmers with nothing to change, each with the bands of his own level. What a learner or a sprinter
#: does is his level's: steeper and deeper, or faster with more bend at the knee.
KINDS = {
    "distance, breath to the right": ("distance", replace(CLEAN[0], breathing="r", breath_every=2)),
    "distance, breath to both sides": ("distance", replace(CLEAN[3], breathing="both")),
    "triathlete, short": ("triathlete", replace(CLEAN[1], rate=36.7, pitch=6.0, depth=0.14, breathing="l")),
    "masters, tall, two-beat kick": ("masters", replace(CLEAN[2], rate=34.3, pitch=6.0, beats=2, breathing="r")),
    "learner": ("learner", replace(CLEAN[4], rate=26.3, speed=0.8, pitch=9.0, depth=0.17, early_forearm=0.5)),
    "age group": ("age_group", replace(CLEAN[1], stature_m=1.48, rate=37.3, pitch=5.0)),
    "sprint": ("sprint", replace(CAST["wren"].swimmer, variation=0.5)),
}
#: What is planted in the demo swimmer, the view in which it can be seen, and the faults of which one must show.
PLANTED = {
    "dropped_elbow": ({}, "side_under", {"dropped_elbow"}),
    "straight_arm": ({}, "side_under", {"straight_arm"}),
    # From a clear early forearm a late hand only falls to what the band still takes.
    "late_hand": ({"early_forearm": 0.4}, "side_under", {"late_catch"}),
    "late_catch": ({}, "side_under", {"dead_spot"}),
    "crossover": ({}, "front_under", {"crosses_at_entry"}),
    "wide_entry": ({}, "front_under", {"enters_wide"}),
    "scissor": ({"breathing": "r"}, "rear_under", {"scissor"}),
    "head_lift": ({}, "side_under", {"head_up", "legs_sink", "body_steep"}),
}
#: A long wait in front is right for some, so no band of casebook's judges it; this is a coach's own for one swimmer.
OWN_BAND = "[front_hand_pct]\nhigh = 55.0\nmargin = 5.0\non = true\n"
VIEWS = ("side_under", "front_under", "rear_under")


def shown(swimmer, view, seed, bands=BANDS):
    """Keys of all faults that show in one view, whatever the checkpoint."""
    shot, marks, plane, _ = filmed(swimmer, view, seconds=5.0, sigma=2.0, seed=seed)
    near = near_side(shot)
    facts = BodyFacts(body_length=Measured(swimmer.stature_m, 0.01), distance=Measured(3.6, 0.4))
    found = set()
    for checkpoint, views in VIEWS_FOR.items():
        if view in views:
            result = measure(checkpoint, shot, marks, plane, bands=bands, facts=facts)
            found |= {s.fault.key for s in faults_in(checkpoint, result, sides=(near,) if near else ("l", "r"))}
    return found


@pytest.fixture(scope="module")
def own_bands(tmp_path_factory):
    path = tmp_path_factory.mktemp("bands") / "bands.toml"
    path.write_text(OWN_BAND, "utf-8")
    return load_bands("distance", path)


def test_every_fault_that_can_be_planted_is_planted():
    assert set(PLANTED) == set(FAULTS)


@pytest.mark.parametrize("view", VIEWS)
def test_clean_swimmers_come_back_clean(view):
    seen = {k: shown(swimmer, view, seed=k) for k, swimmer in enumerate(CLEAN[:4])}
    alarms = {k: keys for k, keys in seen.items() if keys}
    print(f"\n{view}: {len(seen) - len(alarms)} of {len(seen)} clean swimmers come back clean; {alarms or ''}")
    assert not alarms


@pytest.mark.parametrize("kind", KINDS)
def test_clean_swimmers_of_every_kind_come_back_clean(kind):
    level, swimmer = KINDS[kind]
    alarms = {view: keys for view in VIEWS if (keys := shown(swimmer, view, 7, load_bands(level)))}
    print(f"\n{kind}: {alarms or 'clean in all three views'}")
    assert not alarms


@pytest.mark.parametrize("fault", FAULTS)
def test_a_planted_fault_is_found_in_the_view_that_can_see_it(fault, own_bands):
    amounts, view, wanted = PLANTED[fault]
    bands = own_bands if fault == "late_catch" else BANDS
    seen = [shown(replace(swimmer, **amounts, **{fault: 1.0}), view, k, bands) for k, swimmer in enumerate(CLEAN[:3])]
    found = sum(bool(keys & wanted) for keys in seen)
    beside = set().union(*seen) - wanted
    print(f"\n{fault}, {view}: found in {found} of {len(seen)}; with it {beside or 'nothing else'}")
    assert found == len(seen)


def test_a_coachs_own_band_gives_no_alarm_of_its_own(own_bands):
    seen = [shown(swimmer, "side_under", k, own_bands) for k, swimmer in enumerate(CLEAN[:3])]
    assert not any(seen), seen


@pytest.mark.parametrize(("fault", "view"), [("crossover", "side_under"), ("dropped_elbow", "front_under")])
def test_a_view_that_cannot_see_a_fault_says_nothing_of_it(fault, view):
    assert not shown(replace(CLEAN[0], **{fault: 1.0}), view, 0)
