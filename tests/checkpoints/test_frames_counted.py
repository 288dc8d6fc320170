"""How many frames were seen of how many needed: of each class of strokes its own, and of single moments each stroke."""

from __future__ import annotations

import numpy as np
import pytest
from demo_shots import EVERYTHING, filmed

from casebook.checkpoints.bands import load_bands
from casebook.checkpoints.measure import BodyFacts, measure
from casebook.demo.swimmer import Swimmer
from casebook.marks.events import EventMark

SWIMMER = Swimmer(rate=40.0, breathing="r", breath_every=2)


@pytest.fixture(scope="module")
def seen():
    shot, marks, plane, truth = filmed(SWIMMER, seconds=8.0, marked=EVERYTHING)
    events = [
        EventMark("stroke_class", s.side, round(60 * float(s.times["past_body"])), s.stroke_class)
        for s in truth.strokes
        if 0 <= s.times["past_body"] < 7.9
    ]
    return shot, marks, plane, events


def counts(seen, checkpoint, quantity, marks=None):
    shot, full, plane, events = seen
    bands = load_bands("distance")
    found = measure(checkpoint, shot, marks or full, plane, bands=bands, events=events, facts=BodyFacts())
    return {f.stroke_class: (f.seen, f.needed, len(f.strokes)) for f in found.findings if f.quantity == quantity}


@pytest.mark.parametrize(("checkpoint", "quantity"), [("body_line", "trunk_tilt_deg"), ("kick", "knee_least_deg")])
def test_each_class_counts_the_frames_of_its_own_cycles(seen, checkpoint, quantity):
    told = counts(seen, checkpoint, quantity)
    assert len(told) == 2, "some cycles have a breath, some have none"
    cycle = 60 * SWIMMER.period_s
    for had, needed, strokes in told.values():
        assert had == needed == pytest.approx(strokes * cycle, abs=2 * strokes)


def test_frames_hidden_in_one_class_are_missed_in_that_class_alone(seen):
    _, full, _, _ = seen
    before = counts(seen, "kick", "knee_least_deg")
    marks = full.pick(full.points, full.frames)
    marks.xy[100:104, marks.index("knee_r")] = np.nan
    after = counts(seen, "kick", "knee_least_deg", marks)
    lost = {name: before[name][0] - after[name][0] for name in before}
    assert sorted(lost.values()) == [0, 4] and all(after[n][1] == before[n][1] for n in before)


def test_a_single_moment_counts_once_a_stroke(seen):
    told = counts(seen, "extension", "reach_slope_deg")
    assert all(had == strokes and needed >= strokes for had, needed, strokes in told.values())
